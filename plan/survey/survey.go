// Package survey takes the first look at a model: whether it is a sound closed surface, and how large.
package survey

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/cross"
	"barwise/unit"
)

// Params says what the look takes for granted.
type Params struct {
	UnitMM     float64 // mm of the mesh's unit; 0: what the file states, else a guess by size
	AcceptOpen bool    // a mesh that is not closed gives a warning instead of a blocking finding
	MaxLoops   int     // boundary loops named one by one; 0: 8
}

// Report is what the look shows. Lengths are mm.
type Report struct {
	Format    string
	UnitMM    float64 // mm of the mesh's unit
	UnitFrom  string  // "given", "file" or "guess"
	Unit      string  // name of the unit
	Facets    int
	Collapsed int
	Guess     string       // why the unit was guessed so; empty where it is known
	Health    *mesh.Health // scaled to mm
	Holes     []Hole       // boundary loops, longest first
	Crossings []Crossing   // where the surface meets itself: worst kind first, then most pairs
	Cross     *cross.Found // every pair of triangles that meets; in the mesh's unit
	Findings  []finding.Finding
}

// Closed reports whether the mesh has an inside.
func (r *Report) Closed() bool { return r.Health.Closed }

// Blocking reports whether some finding stands in the way of planning.
func (r *Report) Blocking() bool {
	w, ok := finding.Worst(r.Findings)
	return ok && w == finding.Blocking
}

// Look looks at a mesh in its file's own unit. The error is ctx's or nil.
func Look(ctx context.Context, m *mesh.Mesh, info mesh.Info, p Params) (*Report, error) {
	r := &Report{Format: info.Format, Facets: info.Facets, Collapsed: info.Collapsed}
	if p.MaxLoops <= 0 {
		p.MaxLoops = 8
	}
	if err := until(ctx, func() { r.Health = m.Health() }); err != nil {
		return nil, err
	}
	r.settle(info, p)
	r.Health.Scale(r.UnitMM)
	r.holes(m)
	if err := r.crossings(ctx, m); err != nil {
		return nil, err
	}
	r.judge(m, p)
	finding.Sort(r.Findings)
	return r, nil
}

// until runs f and returns when it is done, or when ctx ends: then f runs on to its end, some seconds for
// tens of millions of triangles, and nothing may be made of what it does.
func until(ctx context.Context, f func()) error {
	done := make(chan struct{})
	go func() {
		defer close(done)
		f()
	}()
	select {
	case <-done:
	case <-ctx.Done():
	}
	return ctx.Err()
}

func (r *Report) add(code string, s finding.Severity, where, text, hint string) {
	r.Findings = append(r.Findings, finding.Finding{Code: code, Severity: s, Where: where, Text: text, Hint: hint})
}

// Names of units and what a model measures in them when its size is to be a thing for a small mill.
var units = []struct {
	name string
	mm   float64
}{{"mm", 1}, {"inch", 25.4}, {"m", 1000}}

// settle finds the unit. STL, OBJ and PLY carry none (common practice: mm; scans are often in metres
// and some drawings in inches). The guess is mm from 5 to 2000 of the largest measure, metres below
// 0.3, inches between; a guess costs a note.
func (r *Report) settle(info mesh.Info, p Params) {
	s := r.Health.Box.Size()
	largest := max(s.X, s.Y, s.Z)
	switch {
	case p.UnitMM > 0:
		r.UnitMM, r.UnitFrom, r.Unit = p.UnitMM, "given", name(p.UnitMM)
		return
	case info.UnitMM > 0:
		r.UnitMM, r.UnitFrom, r.Unit = info.UnitMM, "file", info.Unit
		return
	}
	u := units[0]
	switch {
	case largest < 0.3:
		u = units[2]
	case largest < 5:
		u = units[1]
	}
	r.UnitMM, r.UnitFrom, r.Unit = u.mm, "guess", u.name
	others := ""
	for _, o := range units {
		if o != u {
			others += fmt.Sprintf(", as %s %s mm", o.name, three(largest*o.mm))
		}
	}
	r.Guess = fmt.Sprintf("%s carries no unit; taken as %s by its size of %s, which makes its largest measure %s mm (it would be%s)",
		or(info.Format, "the file"), u.name, size(s, 1), three(largest*u.mm), others[1:])
	r.add("mesh-unit", finding.Note, "", r.Guess, "state the model's unit in the job, or the size it is to have")
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

func name(mm float64) string {
	for _, u := range units {
		if u.mm == mm {
			return u.name
		}
	}
	return fmt.Sprintf("%g mm", mm)
}

func size(s geom.Vec3, k float64) string {
	return fmt.Sprintf("%.4g × %.4g × %.4g", s.X*k, s.Y*k, s.Z*k)
}

func place(p geom.Vec3) string {
	return fmt.Sprintf("(%s, %s, %s) mm", unit.Number(p.X, 3), unit.Number(p.Y, 3), unit.Number(p.Z, 3))
}

// tiny and huge bound the largest measure that can be meant for a bar in a small mill, mm.
const (
	tiny = 0.5
	huge = 2000
)

func (r *Report) judge(m *mesh.Mesh, p Params) {
	h := r.Health
	s := h.Box.Size()
	switch largest := max(s.X, s.Y, s.Z); {
	case largest == 0:
		r.add("mesh-flat", finding.Blocking, place(h.Box.Min), "all of the model is one point", "export the model again")
		return
	case largest < tiny:
		r.add("mesh-tiny", finding.Warning, "", fmt.Sprintf("the model measures %s mm", size(s, 1)),
			"check its unit, or state the size it is to have")
	case largest > huge:
		r.add("mesh-huge", finding.Warning, "", fmt.Sprintf("the model measures %s mm", size(s, 1)),
			"check its unit, or state the size it is to have")
	}
	if least := min(s.X, s.Y, s.Z); least <= 1e-9*max(s.X, s.Y, s.Z) {
		r.add("mesh-flat", finding.Blocking, place(h.Box.Min),
			fmt.Sprintf("the model is a flat sheet of %d triangles, it has no thickness", h.Triangles), "export a solid")
	}
	r.open(p)
	r.facing()
	r.shells(m)
	r.meets()
	r.blemishes()
}

// facing judges which way the triangles face.
func (r *Report) facing() {
	h := r.Health
	if h.Flipped > 0 {
		text := fmt.Sprintf("at %d edges neighbours face opposite ways; %d of %d triangles would have to be turned over", h.Flipped, h.Turned, h.Triangles)
		if h.OneSided {
			text = fmt.Sprintf("at %d edges neighbours face opposite ways, and the surface has only one side", h.Flipped)
		}
		r.add("mesh-flipped", finding.Blocking, "first at "+place(h.FlippedAt), text,
			"make the normals agree in the program the model comes from")
		return
	}
	if h.Closed && h.Volume < 0 {
		r.add("mesh-inside-out", finding.Blocking, "",
			fmt.Sprintf("all triangles face inward: the volume is %.4g mm³", h.Volume),
			"turn the normals over in the program the model comes from")
	}
	if h.Closed && h.Volume == 0 {
		r.add("mesh-flat", finding.Blocking, "", "the model encloses no volume", "export a solid")
	}
}

// many is the number of triangles from which on a word on memory is due.
const many = 2_000_000

// blemishes are what a mesh may have and still be cut.
func (r *Report) blemishes() {
	h := r.Health
	if h.Crowded > 0 {
		sev := finding.Note
		if !h.Closed {
			sev = finding.Warning
		}
		r.add("mesh-nonmanifold", sev, "first at "+place(h.CrowdedAt),
			fmt.Sprintf("at %d edges more than two triangles meet", h.Crowded), "cut as it is; the surface touches itself there")
	}
	if h.Pinched > 0 {
		r.add("mesh-pinched", finding.Note, "first at "+place(h.PinchedAt),
			fmt.Sprintf("at %d vertices the surface touches itself", h.Pinched), "cut as it is")
	}
	if n := h.Degenerate + r.Collapsed; n > 0 {
		r.add("mesh-degenerate", finding.Note, r.firstDegenerate(),
			fmt.Sprintf("%d triangles have no area to speak of, %d of them with two corners in one point; %d were left out of the search for crossings",
				n, r.Collapsed, r.Cross.Skipped+r.Collapsed), "cut as it is")
	}
	if n := h.Triangles; n >= many {
		r.add("mesh-large", finding.Note, "", fmt.Sprintf("%d triangles: looking them over takes about %s of memory, planning takes more", n, mesh.GiB(mesh.Need(n))),
			"simplify the model where time or memory is short")
	}
	if h.Duplicates > 0 {
		r.add("mesh-duplicate", finding.Note, "first at "+place(h.DuplicateAt),
			fmt.Sprintf("%d triangles lie on the corners of another one", h.Duplicates), "cut as it is")
	}
	if n := h.Triangles; n < 4 {
		r.add("mesh-few", finding.Blocking, "", fmt.Sprintf("the model has %d triangles; a solid has at least 4", n), "export a solid")
	}
	if math.IsNaN(h.Volume + h.Area) {
		r.add("mesh-not-finite", finding.Blocking, "", "area or volume is not a number", "export the model again")
	}
}

func (r *Report) firstDegenerate() string {
	if r.Health.Degenerate == 0 {
		return ""
	}
	return "first at " + place(r.Health.DegenerateAt)
}
