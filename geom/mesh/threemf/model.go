package threemf

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/scan"
)

// unitsMM is the table of units of 3MF Core §3.4.
var unitsMM = map[string]float64{
	"micron": 0.001, "millimeter": 1, "centimeter": 10, "inch": 25.4, "foot": 304.8, "meter": 1000,
}

// object is one resource: a mesh or a list of placed objects that were defined before it.
type object struct {
	built     bool // whether its type is one that is made
	vertices  []geom.Vec3
	triangles [][3]int32
	parts     []placed
	cost      int64 // about the triangles of it when built once, components counted too
}

type placed struct {
	object int // index into objects
	by     matrix
}

// matrix is an affine map of row vectors, as 3MF writes it: p' = p·M, the last row the shift (§3.3).
type matrix [12]float64

var identity = matrix{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0}

func (m *matrix) apply(p geom.Vec3) geom.Vec3 {
	row := func(k int) float64 {
		return float64(p.X*m[k]) + float64(p.Y*m[3+k]) + float64(p.Z*m[6+k]) + m[9+k]
	}
	return geom.Vec3{X: row(0), Y: row(1), Z: row(2)}
}

func (m *matrix) row(k int) geom.Vec3 { return geom.Vec3{X: m[3*k], Y: m[3*k+1], Z: m[3*k+2]} }

func (m *matrix) det() float64 { return m.row(0).Cross(m.row(1)).Dot(m.row(2)) }

// then returns the map that does m first and o after.
func (m *matrix) then(o *matrix) matrix {
	var out matrix
	for r := range 4 {
		v := m.row(r)
		if r < 3 { // rows of the linear part are directions
			w := matrix{o[0], o[1], o[2], o[3], o[4], o[5], o[6], o[7], o[8]}
			v = w.apply(v)
		} else {
			v = o.apply(v)
		}
		out[3*r], out[3*r+1], out[3*r+2] = v.X, v.Y, v.Z
	}
	return out
}

type parser struct {
	lim     mesh.Limits
	x       *markup
	unit    string
	objects []object
	ids     map[string]int
	items   []placed
	tris    int // triangles read
}

func (p *parser) model(x *markup) error {
	p.x, p.ids = x, map[string]int{}
	t, err := x.next()
	if err != nil {
		return err
	}
	if string(t.Local) != "model" || t.Space != core {
		return x.bad("the root element is '%s', a 3MF 'model' was expected", clip(t.Local))
	}
	if p.unit = t.get("unit"); p.unit == "" {
		p.unit = "millimeter"
	}
	if unitsMM[p.unit] == 0 {
		return x.bad("unit %q: micron, millimeter, centimeter, inch, foot or meter is allowed", clip([]byte(p.unit)))
	}
	for _, prefix := range strings.Fields(t.get("requiredextensions")) {
		return p.unsupported(fmt.Sprintf("the model requires the extension %q", clip([]byte(x.space(prefix)))))
	}
	err = p.children(func(t *tag) error {
		switch string(t.Local) {
		case "resources":
			return p.children(p.resource)
		case "build":
			return p.children(p.item)
		}
		return p.skip()
	})
	if err != nil {
		return err
	}
	if _, err = x.next(); !errors.Is(err, io.EOF) {
		return err
	}
	return nil
}

func (p *parser) unsupported(text string) error {
	return &finding.InputError{Code: "mesh-unsupported", Where: p.x.where(), Text: text, Unsupported: true,
		Hint: "export the model as plain 3MF, without extensions, or as STL"}
}

// children hands every child of the element just begun to f, up to its end; those outside the core
// namespace are passed over. f must go on to the child's own end.
func (p *parser) children(f func(*tag) error) error {
	for {
		t, err := p.x.next()
		if err != nil {
			return p.early(err)
		}
		if t.End {
			return nil
		}
		if t.Space != core {
			err = p.skip()
		} else {
			err = f(t)
		}
		if err != nil {
			return err
		}
	}
}

func (p *parser) early(err error) error {
	if errors.Is(err, io.EOF) {
		return p.x.cut()
	}
	return err
}

// skip goes on to the end of the element just begun.
func (p *parser) skip() error {
	for depth := 1; depth > 0; {
		t, err := p.x.next()
		if err != nil {
			return p.early(err)
		}
		if t.End {
			depth--
		} else {
			depth++
		}
	}
	return nil
}

func (p *parser) resource(t *tag) error {
	if string(t.Local) != "object" {
		return p.skip()
	}
	id, kind := t.get("id"), t.get("type")
	if id == "" {
		return p.x.bad("an object without an id")
	}
	if _, twice := p.ids[id]; twice {
		return p.x.bad("object id %q is used twice", clip([]byte(id)))
	}
	o := object{built: kind == "" || kind == "model" || kind == "surface"}
	err := p.children(func(t *tag) error {
		switch string(t.Local) {
		case "mesh":
			return p.children(func(t *tag) error { return p.mesh(t, &o) })
		case "components":
			return p.children(func(t *tag) error {
				if string(t.Local) != "component" {
					return p.skip()
				}
				return p.reference(t, &o.parts)
			})
		}
		return p.skip()
	})
	if err != nil {
		return err
	}
	o.cost = int64(max(len(o.triangles), len(o.vertices)/3)) + 1
	for _, c := range o.parts {
		// objects reference only what stands before them, so there is no ring; doubling at every level
		// still grows without bound
		o.cost = min(o.cost+p.objects[c.object].cost, math.MaxInt32)
	}
	p.ids[id] = len(p.objects)
	p.objects = append(p.objects, o)
	return nil
}

func (p *parser) item(t *tag) error {
	if string(t.Local) != "item" {
		return p.skip()
	}
	return p.reference(t, &p.items)
}

// reference reads an item or a component.
func (p *parser) reference(t *tag, out *[]placed) error {
	for _, a := range t.Attrs {
		if strings.HasSuffix(string(a.Name), ":path") {
			return p.unsupported("the model is spread over several parts of the package")
		}
	}
	k, ok := p.ids[t.get("objectid")]
	if !ok {
		return p.x.bad("objectid %q: no object before has this id", clip([]byte(t.get("objectid"))))
	}
	by := identity
	if s := t.raw("transform"); s != nil {
		rest, w, ok := scan.Floats(s, by[:])
		more, _ := scan.Word(rest)
		if !ok || len(more) > 0 {
			return p.x.bad("a transform needs 12 numbers; found %q", clip(append(w, more...)))
		}
		for _, v := range by {
			if !(math.Abs(v) <= mesh.MaxCoordinate) {
				return p.x.bad("a transform holds %g", v)
			}
		}
		if by.det() == 0 {
			return p.x.bad("a transform flattens its object: its determinant is 0")
		}
	}
	if p.objects[k].built {
		*out = append(*out, placed{k, by})
	}
	return p.skip()
}

func (p *parser) mesh(t *tag, o *object) error {
	switch string(t.Local) {
	case "vertices":
		return p.children(func(t *tag) error { return p.vertex(t, o) })
	case "triangles":
		return p.children(func(t *tag) error { return p.triangle(t, o) })
	}
	return p.skip()
}

func (p *parser) vertex(t *tag, o *object) error {
	if string(t.Local) != "vertex" {
		return p.skip()
	}
	var x [3]float64
	for k, name := range [...]string{"x", "y", "z"} {
		s := t.raw(name)
		var ok bool
		if x[k], ok = scan.Float(s); !ok {
			return p.x.bad("vertex %d: %s=%q is no number", len(o.vertices), name, clip(s))
		}
	}
	v := geom.Vec3{X: x[0], Y: x[1], Z: x[2]}
	if err := mesh.CheckVertex(v, func() string { return fmt.Sprintf("vertex %d (%s)", len(o.vertices), p.x.where()) }); err != nil {
		return err
	}
	if len(o.vertices) > 3*p.lim.Triangles {
		return p.lim.CheckTriangles(len(o.vertices)/3+1, p.x.where())
	}
	o.vertices = append(o.vertices, v)
	return p.skip()
}

func (p *parser) triangle(t *tag, o *object) error {
	if string(t.Local) != "triangle" {
		return p.skip()
	}
	var c [3]int32
	for k, name := range [...]string{"v1", "v2", "v3"} {
		s := t.raw(name)
		n, ok := scan.Int(s)
		if !ok || n < 0 || int(n) >= len(o.vertices) {
			return finding.Bad("mesh-index", fmt.Sprintf("triangle %d (%s)", len(o.triangles), p.x.where()),
				fmt.Sprintf("%s=%q: whole numbers from 0 to %d are allowed", name, clip(s), len(o.vertices)-1),
				"the file is damaged: export it again")
		}
		c[k] = n
	}
	o.triangles = append(o.triangles, c)
	p.tris++
	if err := p.lim.CheckTriangles(p.tris, p.x.where()); err != nil {
		return err
	}
	return p.skip()
}

// build places what the items reference.
func (p *parser) build(ctx context.Context) (*mesh.Mesh, mesh.Info, error) {
	info := mesh.Info{Format: "3MF", Unit: p.unit, UnitMM: unitsMM[p.unit]}
	total := int64(0)
	for _, it := range p.items {
		total = min(total+p.objects[it.object].cost, math.MaxInt32)
	}
	if err := p.lim.CheckTriangles(int(total)-len(p.items), "build"); err != nil {
		return nil, info, err
	}
	b := mesh.NewBuilder(int(total))
	for _, it := range p.items {
		if err := p.place(ctx, b, it, &identity, &info); err != nil {
			return nil, info, err
		}
	}
	m, collapsed := b.Mesh()
	info.Collapsed = collapsed
	if len(m.Triangles) == 0 {
		return nil, info, mesh.Empty("3MF")
	}
	return m, info, nil
}

func (p *parser) place(ctx context.Context, b *mesh.Builder, it placed, outer *matrix, info *mesh.Info) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	by := it.by.then(outer)
	o := &p.objects[it.object]
	index := make([]int32, len(o.vertices))
	for i, v := range o.vertices {
		v = by.apply(v)
		if err := mesh.CheckVertex(v, func() string { return fmt.Sprintf("build, vertex %d", i) }); err != nil {
			return err
		}
		index[i] = b.Vertex(v)
	}
	turn := by.det() < 0
	for _, t := range o.triangles {
		if turn {
			t[1], t[2] = t[2], t[1]
		}
		b.Triangle(index[t[0]], index[t[1]], index[t[2]])
	}
	info.Facets += len(o.triangles)
	info.Unwelded += len(o.vertices)
	for _, c := range o.parts {
		if err := p.place(ctx, b, c, &by, info); err != nil {
			return err
		}
	}
	return nil
}
