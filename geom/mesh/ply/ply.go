// Package ply reads the polygons of PLY files, ascii and binary of both byte orders.
//
// The format is that of Turk, The PLY Polygon File Format (1994): a header that declares elements with
// scalar and list properties, then their values. Used are x, y, z of 'vertex' and the list
// 'vertex_index' or 'vertex_indices' of 'face', indices from 0; everything else is passed over. PLY
// carries no unit.
package ply

import (
	"context"
	"fmt"
	"io"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

// source gives the values of a body one after the other.
type source interface {
	// row begins the next element.
	row() error
	// scalars reads the next values, of the given kinds.
	scalars(kinds []kind, out []float64) error
	// end closes an element.
	end() error
	// where names the element being read.
	where() string
	// room is the most elements of at least the given number of values that can still follow.
	room(values int) int64
}

type reader struct {
	ctx     context.Context
	h       header
	src     source
	lim     mesh.Limits
	b       *mesh.Builder
	welded  []int32
	corners []int32
	facets  int
}

// Read reads a PLY file of size bytes. Errors of the file are *finding.InputError with the line or the
// byte, the element and its number, counted from 0 as PLY does.
func Read(ctx context.Context, r io.ReaderAt, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error) {
	lim = lim.Or()
	if err := lim.CheckBytes(size, ""); err != nil {
		return nil, mesh.Info{}, err
	}
	h, err := readHeader(ctx, io.NewSectionReader(r, 0, size))
	if err != nil {
		return nil, mesh.Info{}, err
	}
	p := reader{ctx: ctx, h: h, lim: lim}
	body := io.NewSectionReader(r, h.bytes, size-h.bytes)
	if h.order == nil {
		p.src = newText(ctx, body, h.lines, size-h.bytes)
	} else {
		p.src = newBinary(body, h.bytes, size-h.bytes, h.order)
	}
	if err := p.read(); err != nil {
		return nil, mesh.Info{}, err
	}
	m, collapsed := p.b.Mesh()
	info := mesh.Info{Format: h.format + " PLY", Facets: p.facets, Collapsed: collapsed, Unwelded: len(p.welded)}
	if len(m.Triangles) == 0 {
		return nil, info, mesh.Empty("PLY")
	}
	return m, info, nil
}

func (p *reader) read() error {
	f := p.h.find("face")
	if err := p.lim.CheckTriangles(int(f.count), f.at); err != nil {
		return err
	}
	for _, e := range p.h.elements {
		if n := p.src.room(e.least()); e.count > n {
			return finding.Bad("mesh-truncated", e.at,
				fmt.Sprintf("%d elements '%s' are declared, and what follows has room for at most %d", e.count, e.name, n),
				"the file is cut off or the count is wrong: copy or export it again")
		}
		if err := p.element(e); err != nil {
			return err
		}
	}
	return nil
}

func (p *reader) element(e element) error {
	var take func(e element, at int) error
	switch e.name {
	case "vertex":
		// the header has made sure of 'face'
		p.b = mesh.NewBuilder(int(min(p.h.find("face").count, 2*e.count+16)))
		if e.count > 3*int64(p.lim.Triangles) {
			return p.lim.CheckTriangles(int(e.count/3), e.at)
		}
		p.welded = make([]int32, 0, e.count)
		take = p.vertexTaker(e)
	case "face":
		if p.b == nil {
			return finding.Bad("mesh-syntax", e.at, "element 'face' comes before 'vertex'", "export the model again")
		}
		take = p.face
	default:
		take = p.skip
	}
	for i := range int(e.count) {
		if i&0xfff == 0 {
			if err := p.ctx.Err(); err != nil {
				return err
			}
		}
		if err := p.src.row(); err != nil {
			return err
		}
		if err := take(e, i); err != nil {
			return p.name(err, e, i)
		}
		if err := p.src.end(); err != nil {
			return p.name(err, e, i)
		}
	}
	return nil
}

// name puts the element's name before the place of an error.
func (p *reader) name(err error, e element, i int) error {
	if b, ok := err.(*finding.InputError); ok {
		b.Where = fmt.Sprintf("%s %d (%s)", e.name, i, b.Where)
	}
	return err
}

func (p *reader) vertexTaker(e element) func(element, int) error {
	kinds := make([]kind, len(e.props))
	x := [3]int{}
	for i, pr := range e.props {
		kinds[i] = pr.kind
		switch {
		case pr.list != 0: // checked by the header
		case pr.name == "x":
			x[0] = i
		case pr.name == "y":
			x[1] = i
		case pr.name == "z":
			x[2] = i
		}
	}
	vals := make([]float64, len(kinds))
	return func(element, int) error {
		if err := p.src.scalars(kinds, vals); err != nil {
			return err
		}
		v := geom.Vec3{X: vals[x[0]], Y: vals[x[1]], Z: vals[x[2]]}
		if err := mesh.CheckVertex(v, p.src.where); err != nil {
			return err
		}
		p.welded = append(p.welded, p.b.Vertex(v))
		return nil
	}
}

func (p *reader) face(e element, _ int) error {
	for i := range e.props {
		pr := &e.props[i]
		if !pr.corners() {
			if err := p.property(pr); err != nil {
				return err
			}
			continue
		}
		if err := p.index(pr); err != nil {
			return err
		}
	}
	p.facets++
	if err := p.lim.CheckTriangles(p.b.Len()+len(p.corners)-2, p.src.where()); err != nil {
		return err
	}
	p.b.Polygon(p.corners)
	return nil
}

// index reads the corners of a face.
func (p *reader) index(pr *property) error {
	n, err := p.listLen(pr)
	if err != nil {
		return err
	}
	if n < 3 {
		return finding.Bad("mesh-syntax", p.src.where(), fmt.Sprintf("the face has %d corners, at least 3 are needed", n), "")
	}
	p.corners = p.corners[:0]
	one, v := [1]kind{pr.kind}, [1]float64{}
	for range n {
		if err := p.src.scalars(one[:], v[:]); err != nil {
			return err
		}
		k := int64(v[0])
		if float64(k) != v[0] || k < 0 || k >= int64(len(p.welded)) {
			return finding.Bad("mesh-index", p.src.where(),
				fmt.Sprintf("vertex index %g: whole numbers from 0 to %d are allowed", v[0], len(p.welded)-1),
				"the file is damaged, or its writer counted from 1: export it again")
		}
		p.corners = append(p.corners, p.welded[k])
	}
	return nil
}

// maxList is the most values a list may have.
const maxList = 1 << 20

func (p *reader) listLen(pr *property) (int, error) {
	v := [1]float64{}
	if err := p.src.scalars([]kind{pr.list}, v[:]); err != nil {
		return 0, err
	}
	n := int(v[0])
	if float64(n) != v[0] || n < 0 || n > maxList {
		return 0, finding.Bad("mesh-syntax", p.src.where(),
			fmt.Sprintf("list '%s' of %g values: a whole number up to %d is allowed", pr.name, v[0], maxList), "the file is damaged")
	}
	return n, nil
}

// property passes over one property.
func (p *reader) property(pr *property) error {
	n := 1
	if pr.list != 0 {
		var err error
		if n, err = p.listLen(pr); err != nil {
			return err
		}
	}
	one, v := [1]kind{pr.kind}, [1]float64{}
	for range n {
		if err := p.src.scalars(one[:], v[:]); err != nil {
			return err
		}
	}
	return nil
}

func (p *reader) skip(e element, _ int) error {
	for i := range e.props {
		if err := p.property(&e.props[i]); err != nil {
			return err
		}
	}
	return nil
}
