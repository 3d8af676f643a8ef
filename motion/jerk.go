package motion

import "math"

// rounds of smooth: each brings a ramp that has no level stretch four times closer, in the logarithm,
// to the speed it really reaches.
const rounds = 6

// smooth gives every ramp the time an S-curve needs. A ramp is a stretch of rising or falling speed
// without a level in it, over as many moves as it takes; over a change of speed Δv at acceleration a
// and jerk j it lasts Δv/a + a/j, or 2·√(Δv/j) where a is not reached. It is planned as a ramp of the
// constant acceleration that takes as long, which covers the same way, for both have the mean speed
// half way between their ends.
func (p *planner) smooth(jerk float64) {
	n := len(p.length)
	p.up, p.dn = make([]float64, n), make([]float64, n)
	copy(p.up, p.a)
	copy(p.dn, p.a)
	runs := make([]run, n)
	for range rounds {
		for i := range n {
			runs[i] = p.run(i)
		}
		p.rampsUp(runs, jerk)
		p.rampsDown(runs, jerk)
		p.solve()
	}
}

// slower returns by how much an S-curve takes longer than a ramp of seconds over dv.
func slower(dv, seconds, jerk float64) float64 {
	if dv <= 0 || seconds <= 0 {
		return 1
	}
	a := dv / seconds
	if dv >= a*a/jerk {
		return (seconds + a/jerk) / seconds
	}
	return 2 * math.Sqrt(dv/jerk) / seconds
}

// differ tells speeds apart that are not the same but for their last digits.
func differ(peak, v float64) bool { return peak-v > 1e-9*peak }

// rampsUp sets p.up over each stretch of rising speed.
func (p *planner) rampsUp(runs []run, jerk float64) {
	for i := 0; i < len(runs); {
		j, dv, seconds := i, 0.0, 0.0
		for ; j < len(runs); j++ {
			dv += runs[j].peak - p.v[j]
			seconds += (runs[j].peak - p.v[j]) / p.a[j]
			if runs[j].level > 0 || differ(runs[j].peak, p.v[j+1]) {
				j++
				break
			}
		}
		k := slower(dv, seconds, jerk)
		for ; i < j; i++ {
			p.up[i] = p.a[i] / k
		}
	}
}

// rampsDown sets p.dn over each stretch of falling speed, from the end back.
func (p *planner) rampsDown(runs []run, jerk float64) {
	for i := len(runs) - 1; i >= 0; {
		j, dv, seconds := i, 0.0, 0.0
		for ; j >= 0; j-- {
			dv += runs[j].peak - p.v[j+1]
			seconds += (runs[j].peak - p.v[j+1]) / p.a[j]
			if runs[j].level > 0 || differ(runs[j].peak, p.v[j]) {
				j--
				break
			}
		}
		k := slower(dv, seconds, jerk)
		for ; i > j; i-- {
			p.dn[i] = p.a[i] / k
		}
	}
}
