package machine

import "testing"

func TestCheck(t *testing.T) {
	ok := Machine{Travel: [3]float64{300, 200, 90}, Rate: [3]float64{50, 50, 25}, Accel: [3]float64{400, 400, 200}, CornerDeviation: 0.01,
		Lookahead: 15, SpindleMax: 24000, Dialect: Dialect{Decimals: 4}}
	if f := ok.Check(); len(f) != 0 {
		t.Fatal(f)
	}
	for _, c := range []struct {
		where string
		spoil func(*Machine)
	}{
		{"travel", func(m *Machine) { m.Travel[2] = 0 }},
		{"rate", func(m *Machine) { m.Rate[0] = -1 }},
		{"acceleration", func(m *Machine) { m.Accel[1] = 0 }},
		{"spindle_max", func(m *Machine) { m.SpindleMax = 0 }},
		{"spindle_min", func(m *Machine) { m.SpindleMin = 30000 }},
		{"lookahead", func(m *Machine) { m.Lookahead = 0 }},
		{"corner_deviation", func(m *Machine) { m.CornerDeviation = 0 }},
		{"block_rate", func(m *Machine) { m.BlockRate = -1 }},
		{"decimals", func(m *Machine) { m.Dialect.Decimals = 1 }},
	} {
		m := ok
		c.spoil(&m)
		if f := m.Check(); len(f) == 0 || f[0].Where != c.where {
			t.Errorf("%v, want %s", f, c.where)
		}
	}
}
