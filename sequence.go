package barwise

import (
	"barwise/plan/order"
	"barwise/report"
	"strings"
)

// step is one cutter at work on one side.
type step struct {
	kind order.Kind
	cut  int // index into the job's roughing or finishing cuts
	side int
}

// sequence settles in which order the job's cuts meet its sides. A plan looks at the bar between two cutters,
// so each is done with all sides before the next comes.
func (r *run) sequence() error {
	var ops []order.Op
	number := map[string]int{}
	add := func(kind order.Kind, cut, rank int, id string) {
		n, ok := number[id]
		if !ok {
			n = len(number)
			number[id] = n
		}
		for side := range r.job.Sides {
			ops = append(ops, order.Op{Side: side, Cutter: n, Kind: kind, Rank: rank})
			r.steps = append(r.steps, step{kind, cut, side})
		}
	}
	for k, c := range r.job.Rough {
		add(order.Rough, k, k, c.Cutter.ID)
	}
	for k, c := range r.job.Finish {
		add(order.Finish, k, k, c.Cutter.ID)
	}
	res, err := order.Plan(ops, r.orderParams(order.CutterFirst))
	if err != nil {
		return err
	}
	chosen := res.Chosen.Ops
	if r.job.Order == "same-way" {
		chosen = nil
		for i := range ops {
			chosen = append(chosen, i)
		}
	}
	steps := make([]step, len(chosen))
	for i, k := range chosen {
		steps[i] = r.steps[k]
	}
	r.steps = steps
	return nil
}

// sidesOf are the sides in the order a cut meets them.
func (r *run) sidesOf(kind order.Kind, cut int) []int {
	var out []int
	for _, s := range r.steps {
		if s.kind == kind && s.cut == cut {
			out = append(out, s.side)
		}
	}
	return out
}

// orderParams are the shop's own costs. Away from the work and back is a full retract and the way down.
func (r *run) orderParams(rule order.Rule) order.Params {
	m := r.job.Machine
	up := 0.0
	for _, d := range r.job.Sides {
		up = max(up, r.safe(d))
	}
	return order.Params{Change: m.ToolChange, Turn: m.Turn, Stop: 2 * up / m.Rate[2], Rule: rule}
}

// orderFacts is the order the programs are run in, beside what others would take.
func (r *run) orderFacts(progs []replayed) *report.Order {
	var ops []order.Op
	number, rank := map[string]int{}, map[[2]int]int{}
	side := map[float64]int{}
	for i, d := range r.job.Sides {
		side[d] = i
	}
	out := &report.Order{}
	p := r.orderParams(order.CutterFirst)
	for i, q := range progs {
		n, ok := number[q.Text.Cutter]
		if !ok {
			n = len(number)
			number[q.Text.Cutter] = n
		}
		kind := order.Finish
		if r.isRough(q) {
			kind = order.Rough
		}
		at := [2]int{side[q.SideDeg], int(kind)}
		ops = append(ops, order.Op{Side: side[q.SideDeg], Cutter: n, Kind: kind, Rank: rank[at], Seconds: q.time.Total()})
		rank[at]++
		out.Total += q.time.Total()
		if i == 0 {
			continue
		}
		change, turn := progs[i-1].Text.Cutter != q.Text.Cutter, progs[i-1].SideDeg != q.SideDeg
		if change {
			out.Changes++
		}
		if turn {
			out.Turns++
		}
		if change || turn {
			out.Handling += p.Stop
		}
	}
	out.Handling += float64(out.Changes)*p.Change + float64(out.Turns)*p.Turn
	out.Total = round(out.Total+out.Handling, 1)
	out.Handling = round(out.Handling, 1)
	res, err := order.Plan(ops, p)
	if err != nil {
		return out // text of another hand need not follow any rule
	}
	for _, a := range res.Alternatives {
		out.Others = append(out.Others, report.OtherOrder{Name: a.Name, Changes: a.Changes, Turns: a.Turns, Handling: round(a.Handling, 1), Total: round(a.Total, 1), Warning: a.Warning})
	}
	return out
}

// isRough reports whether a program roughs: by its cutter, and by its title where the cutter does both.
func (r *run) isRough(p replayed) bool {
	rough, finish := false, false
	for _, c := range r.job.Rough {
		rough = rough || c.Cutter.ID == p.Text.Cutter
	}
	for _, c := range r.job.Finish {
		finish = finish || c.Cutter.ID == p.Text.Cutter
	}
	return rough && (!finish || strings.HasPrefix(p.Title, "rough"))
}
