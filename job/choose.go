package job

import (
	"fmt"
	"slices"
	"strings"

	"barwise/form"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
	"barwise/unit"
)

// Choose says which cuts are left to be chosen, and from what.
type Choose struct {
	Rough, Finish bool
	From          []cutter.Cutter // in the order of the shop
}

// ways resolves how the work is to be shared and ordered.
func (r *resolver) ways() error {
	r.SemiFinish = r.orWord(r.file.SemiFinish, "semi_finish", "none", "finishing frees tall walls of their skin by itself") == "auto"
	r.Shares = r.orWord(r.file.Shares, "shares", "merit", "shortest stick-out, kindest slope, least time")
	r.Order = r.orWord(r.file.Order, "order", "there-and-back", "all sides with one cutter, and no turn back to the first side")
	return r.drawer()
}

// drawer resolves the cutters at hand.
func (r *resolver) drawer() error {
	for i, name := range r.file.Cutters {
		c, err := named(r, name, fmt.Sprintf("cutters[%d]", i), r.shop.Cutter, r.shop.CutterNames())
		if err != nil {
			return err
		}
		r.hand = append(r.hand, c)
	}
	if r.file.Cutters == nil {
		r.hand = r.shop.Cutters
	}
	return nil
}

// isBest reports whether a cut's cutter is to be chosen.
func isBest(x form.NameOr[catalog.CutterForm]) bool { return x.Inline == nil && x.Name == bestWord }

// choose records that cuts are to be chosen, and the cutters they are chosen from.
func (r *resolver) choose(path string, rough bool, of int) error {
	if of > 1 {
		return r.Bad("size", path+".cutter", fmt.Sprintf("%s.cutter: found %s beside another cut of its kind, allowed is the one cut", path, bestWord),
			"the choice makes as many cuts as it takes; leave the others out")
	}
	if r.Choose == nil {
		r.Choose = &Choose{From: r.hand}
		if r.file.Cutters == nil {
			r.note("cutters", fmt.Sprintf("%d of the shop", len(r.hand)), "every cutter of the shop")
		}
	}
	r.Choose.Rough = r.Choose.Rough || rough
	r.Choose.Finish = r.Choose.Finish || !rough
	return nil
}

// trial is a job of one cut, to try a cutter with; its findings and defaults are not kept.
func (j *Job) trial(f *File) *resolver {
	t := *j
	t.Rough, t.Finish, t.Findings, t.Defaults, t.Choose = nil, nil, nil, nil, nil
	r := t.resolver()
	r.file = f
	if err := r.catalogues(); err != nil {
		return nil
	}
	return r
}

// RoughWith is the roughing cut to be chosen, made with a cutter of the shop.
func (j *Job) RoughWith(id string) (Rough, error) {
	f := *j.file
	r := j.trial(&f)
	for i, x := range f.Rough {
		if isBest(x.Cutter) {
			x.Cutter.Name = id
			if err := r.rough(fmt.Sprintf("rough[%d]", i), x); err != nil {
				return Rough{}, err
			}
			return r.Rough[0], nil
		}
	}
	return Rough{}, fmt.Errorf("job: no roughing cut is to be chosen")
}

// FinishWith is the finishing cut to be chosen, or, where none is, a cut like the first one, made with a
// cutter of the shop.
func (j *Job) FinishWith(id string) (Finish, error) {
	f := *j.file
	r := j.trial(&f)
	at := 0
	for i, x := range f.Finish {
		if isBest(x.Cutter) {
			at = i
			break
		}
	}
	if len(f.Finish) == 0 {
		return Finish{}, fmt.Errorf("job: there is no finishing cut")
	}
	x := f.Finish[at]
	x.Cutter = form.NameOr[catalog.CutterForm]{Name: id}
	x.Feed, x.EntryFeed, x.Spindle, x.Stepover = nil, nil, nil, nil
	if err := r.finish(fmt.Sprintf("finish[%d]", at), x); err != nil {
		return Finish{}, err
	}
	return r.Finish[0], nil
}

// ShopCutters are all cutters of the job's shop.
func (j *Job) ShopCutters() []cutter.Cutter {
	if r := j.trial(j.file); r != nil {
		return r.shop.Cutters
	}
	return nil
}

// Owned reports whether a cutter of the shop is known to be at hand: the job names it, in a cut or under
// cutters, or the shop is the user's own. What is built in is typical and need not be in his drawer.
func (j *Job) Owned(id string) bool {
	if j.file.Cutters != nil {
		return slices.Contains(j.file.Cutters, id)
	}
	for _, c := range j.Rough {
		if c.Cutter.ID == id {
			return true
		}
	}
	for _, c := range j.Finish {
		if c.Cutter.ID == id {
			return true
		}
	}
	return j.file.Shop != ""
}

// Semi is a cut to be put before the first finishing one.
type Semi struct {
	Cutter    string  // of the shop, or one that the job names
	Allowance float64 // mm
	Cusp      float64 // mm
}

// Chosen is the job with its open cuts made with the cutters named, in order, and with a semi-finishing
// cut where one is given. Everything else stays as it is written.
func (j *Job) Chosen(rough, finish []string, semi *Semi) (*Job, error) {
	f := *j.file
	f.Rough, f.Finish = nil, nil
	for _, x := range j.file.Rough {
		if !isBest(x.Cutter) {
			f.Rough = append(f.Rough, x)
			continue
		}
		for _, id := range rough {
			x.Cutter.Name = id
			f.Rough = append(f.Rough, x)
		}
	}
	if semi != nil {
		a, c := unit.Length(semi.Allowance), unit.Length(semi.Cusp)
		x := FinishForm{Allowance: &a, Cusp: &c}
		x.Cutter.Name = semi.Cutter
		for _, o := range j.file.Finish {
			if o.Cutter.Inline != nil && semi.Cutter == ownID(j.file, o) {
				x = FinishForm{Cutter: o.Cutter, Allowance: &a, Cusp: &c, Feed: o.Feed, EntryFeed: o.EntryFeed, Spindle: o.Spindle}
			}
		}
		f.Finish = append(f.Finish, x)
	}
	for _, x := range j.file.Finish {
		if !isBest(x.Cutter) {
			f.Finish = append(f.Finish, x)
			continue
		}
		for _, id := range finish {
			x.Cutter.Name = id
			f.Finish = append(f.Finish, x)
		}
	}
	n := &Job{File: j.File, Name: j.Name, Units: j.Units, doc: j.doc, file: &f, options: j.options}
	if err := n.resolver().all(j.options); err != nil {
		return nil, err
	}
	return n, nil
}

// ownID is the name that a cutter written into its finishing cut goes by.
func ownID(f *File, x FinishForm) string {
	for i, o := range f.Finish {
		if o.Cutter.Inline == x.Cutter.Inline {
			return ownName(fmt.Sprintf("finish[%d].cutter", i))
		}
	}
	return ""
}

func ownName(path string) string {
	return OwnCutter + strings.NewReplacer("[", "-", "].cutter", "").Replace(path)
}
