// Package mend closes, orients and cleans a triangle mesh as far as asked, keeping account of every change.
//
// Sound triangles come through as they are: turned over at most, with a welded corner, or split where a
// neighbour has a vertex on their edge. A mesh with nothing to mend comes back itself.
package mend

import (
	"context"
	"fmt"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

// Params says what to mend; the zero value mends nothing. Lengths are in the mesh's unit.
type Params struct {
	Weld       float64 // border vertices within this of one another become one, edges are split at border vertices within this; 0 none
	Duplicates bool    // drop twins (triangles on the same three corners) and flat triangles, without opening the mesh
	Specks     float64 // drop shells whose box has a diagonal below this; 0 none
	Orient     bool    // make neighbours face the same way, then shells outward
	Fill       float64 // close boundary loops at most this wide (mesh.Loop.Across, or a winding crack's gap); 0 none
	UnitMM     float64 // mm of the mesh's unit, for the texts: they give lengths in mm then; 0: in the mesh's unit
}

// Kind names a change.
type Kind string

// The kinds of changes, in the order in which they are made.
const (
	Weld  Kind = "weld"       // vertices made one with another
	Split Kind = "split"      // edges split where a vertex lies on them
	Twin  Kind = "drop-twin"  // triangles on the corners of another one dropped
	Flat  Kind = "drop-flat"  // triangles without area dropped, their neighbours stitched
	Speck Kind = "drop-speck" // a shell dropped
	Turn  Kind = "turn"       // triangles of a shell turned over
	Fill  Kind = "fill"       // a boundary loop closed
)

// Change is one thing that was done.
type Change struct {
	Kind  Kind
	Count int         // vertices welded; edges split; triangles dropped, turned or added
	At    geom.Vec3   // where, for a label: the first of them, the middle of a loop
	Box   geom.Box3   // around all of it
	Loop  []geom.Vec3 // of a fill: the loop in order, as the mesh runs along it
	Area  float64     // of the triangles dropped, turned or added
	Text  string      // in plain words
}

// Left is one thing that was asked for and could not be mended, or one found on the way.
type Left struct {
	Kind  string // hole, crowded, one-sided, nested, flat, speck
	Count int
	At    geom.Vec3
	Box   geom.Box3
	Loop  []geom.Vec3 // of a hole
	Text  string      // what and why, in plain words
}

// Result is a mended mesh with the account of it.
type Result struct {
	Mesh          *mesh.Mesh // the mesh given, where nothing changed
	Changes       []Change
	Left          []Left
	New           []bool // per triangle of Mesh: made here (filled, split, stitched)
	Turned        []bool // per triangle of Mesh: turned over here
	Before, After *mesh.Health
}

// Changed reports whether the mesh is another one.
func (r *Result) Changed() bool { return len(r.Changes) > 0 }

// Mend returns m mended as far as p asks. m is not changed. A mesh with an index out of range or a
// coordinate that is not finite, and lengths that are negative or not finite, are an
// *finding.InputError. The same mesh and Params give the same result on any number of cores.
func Mend(ctx context.Context, m *mesh.Mesh, p Params) (*Result, error) {
	if err := check(m, p); err != nil {
		return nil, err
	}
	w := &work{ctx: ctx, p: p, in: m, v: m.Vertices, t: m.Triangles, box: m.Box()}
	r := &Result{}
	before := health(m)
	for _, stage := range [...]func() error{w.dropRepeats, w.weld, w.split, w.clean, w.specks, w.orient, w.fill} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := stage(); err != nil {
			return nil, err
		}
	}
	var err error
	if r.Before, err = await(ctx, before); err != nil {
		return nil, err
	}
	if len(w.changes) == 0 {
		r.Mesh, r.After = m, r.Before
		r.New, r.Turned = make([]bool, len(m.Triangles)), make([]bool, len(m.Triangles))
	} else {
		w.own()
		r.Mesh, r.New, r.Turned = w.pruned(), w.made, w.turned
		if r.After, err = await(ctx, health(r.Mesh)); err != nil {
			return nil, err
		}
	}
	if n := r.After.Crowded; n > 0 {
		w.leave(Left{Kind: "crowded", Count: n, At: r.After.CrowdedAt, Box: geom.EmptyBox().Grow(r.After.CrowdedAt),
			Text: many(n, "edge") + " at which more than two triangles meet, the first near " + w.place(r.After.CrowdedAt)})
	}
	r.Changes, r.Left = w.changes, w.leftOver
	return r, nil
}

// health looks a mesh over beside other work. It cannot be stopped; one who does not want it any more
// walks away.
func health(m *mesh.Mesh) <-chan *mesh.Health {
	done := make(chan *mesh.Health, 1)
	go func() { done <- m.Health() }()
	return done
}

func await(ctx context.Context, c <-chan *mesh.Health) (*mesh.Health, error) {
	select {
	case h := <-c:
		return h, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func check(m *mesh.Mesh, p Params) error {
	for _, l := range [...]struct {
		name string
		x    float64
	}{{"weld", p.Weld}, {"specks", p.Specks}, {"fill", p.Fill}, {"unit", p.UnitMM}} {
		if !(l.x >= 0 && l.x <= mesh.MaxCoordinate) {
			return finding.Bad("mend-length", l.name, fmt.Sprintf("%g: a length from 0 to %g is allowed", l.x, float64(mesh.MaxCoordinate)), "give a length in the model's unit")
		}
	}
	for i, v := range m.Vertices {
		if err := mesh.CheckVertex(v, func() string { return fmt.Sprintf("vertex %d", i+1) }); err != nil {
			return err
		}
	}
	n := int32(len(m.Vertices))
	for i, t := range m.Triangles {
		if min(t[0], t[1], t[2]) < 0 || max(t[0], t[1], t[2]) >= n {
			return finding.Bad("mesh-index", fmt.Sprintf("triangle %d", i+1), fmt.Sprintf("corners %v: the mesh has %d vertices", t, n), "export the model again")
		}
	}
	return nil
}

// work is a mesh on the bench. v and t are those of the mesh given until own is called.
type work struct {
	ctx    context.Context
	p      Params
	in     *mesh.Mesh
	v      []geom.Vec3
	t      [][3]int32
	made   []bool // per triangle
	turned []bool
	owned  bool
	box    geom.Box3

	changes  []Change
	leftOver []Left
}

// own makes t and its marks the bench's own, to be written to.
func (w *work) own() {
	if w.owned {
		return
	}
	w.owned = true
	w.t = slices.Clone(w.t)
	w.made, w.turned = make([]bool, len(w.t)), make([]bool, len(w.t))
}

// add puts a triangle made here on the bench.
func (w *work) add(t [3]int32) {
	w.own()
	w.t, w.made, w.turned = append(w.t, t), append(w.made, true), append(w.turned, false)
}

// keep drops the triangles that are not to be kept, in order.
func (w *work) keep(ok func(i int) bool) {
	w.own()
	n := 0
	for i := range w.t {
		if ok(i) {
			w.t[n], w.made[n], w.turned[n] = w.t[i], w.made[i], w.turned[i]
			n++
		}
	}
	w.t, w.made, w.turned = w.t[:n], w.made[:n], w.turned[:n]
}

// mesh is what lies on the bench, to be looked at.
func (w *work) mesh() *mesh.Mesh { return &mesh.Mesh{Vertices: w.v, Triangles: w.t} }

// pruned is the mesh without vertices that no triangle uses.
func (w *work) pruned() *mesh.Mesh {
	index := make([]int32, len(w.v))
	for _, t := range w.t {
		index[t[0]], index[t[1]], index[t[2]] = 1, 1, 1
	}
	kept := make([]geom.Vec3, 0, len(w.v))
	for v, used := range index {
		if used != 0 {
			index[v] = int32(len(kept))
			kept = append(kept, w.v[v])
		}
	}
	for i := range w.t {
		for c, v := range w.t[i] {
			w.t[i][c] = index[v]
		}
	}
	return &mesh.Mesh{Vertices: kept, Triangles: w.t}
}

func (w *work) stopped() bool { return w.ctx.Err() != nil }

func (w *work) change(c Change) { w.changes = append(w.changes, c) }

func (w *work) leave(l Left) { w.leftOver = append(w.leftOver, l) }

// area is that of triangle i.
func (w *work) area(t [3]int32) float64 {
	a := w.v[t[0]]
	return w.v[t[1]].Sub(a).Cross(w.v[t[2]].Sub(a)).Len() / 2
}

// patch gathers where a change was made.
type patch struct {
	count int
	begun bool
	at    geom.Vec3
	box   geom.Box3
	area  float64
}

func (p *patch) point(v geom.Vec3) {
	if !p.begun {
		p.begun, p.box, p.at = true, geom.EmptyBox(), v
	}
	p.box = p.box.Grow(v)
}

func (w *work) triangle(p *patch, t [3]int32) {
	p.count++
	for _, v := range t {
		p.point(w.v[v])
	}
	p.area += w.area(t)
}

func (p *patch) change(k Kind, text string) Change {
	return Change{Kind: k, Count: p.count, At: p.at, Box: p.box, Area: p.area, Text: text}
}

func (p *patch) left(kind, text string) Left {
	return Left{Kind: kind, Count: p.count, At: p.at, Box: p.box, Text: text}
}

// many is '1 triangle', '2 triangles'.
func many(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	if what == "vertex" {
		return fmt.Sprintf("%d vertices", n)
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// long is a length for the reader.
func (w *work) long(x float64) string {
	if w.p.UnitMM > 0 {
		return fmt.Sprintf("%.4g mm", x*w.p.UnitMM)
	}
	return fmt.Sprintf("%.4g", x)
}

func (w *work) place(v geom.Vec3) string {
	if w.p.UnitMM > 0 {
		v = v.Mul(w.p.UnitMM)
	}
	return fmt.Sprintf("(%.4g, %.4g, %.4g)", v.X, v.Y, v.Z)
}

// dropRepeats drops triangles with a repeated corner, which no neighbour holds on to.
func (w *work) dropRepeats() error {
	if !w.p.Duplicates {
		return nil
	}
	var p patch
	for _, t := range w.t {
		if repeats(t) {
			w.triangle(&p, t)
		}
	}
	if p.count == 0 {
		return nil
	}
	w.keep(func(i int) bool { return !repeats(w.t[i]) })
	w.change(p.change(Flat, many(p.count, "triangle")+" with a repeated corner dropped"))
	return nil
}

func repeats(t [3]int32) bool { return t[0] == t[1] || t[1] == t[2] || t[2] == t[0] }
