package stl

import (
	"bytes"
	"context"
	"fmt"
	"io"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/scan"
)

// text reads ASCII STL: solids of facets of one loop of three vertices, a statement a line.
type text struct {
	lines *scan.Lines
	lim   mesh.Limits
	b     *mesh.Builder
	n     int // facets begun
}

func readText(ctx context.Context, r io.Reader, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error) {
	// a facet takes at least about 90 bytes, commonly 250
	t := text{lines: scan.New(ctx, r), lim: lim, b: mesh.NewBuilder(min(int(size/200), lim.Triangles))}
	for {
		line, ok := t.line()
		if !ok {
			break
		}
		if err := t.solid(line); err != nil {
			return nil, mesh.Info{}, err
		}
	}
	if err := t.lines.Err(); err != nil {
		return nil, mesh.Info{}, err
	}
	if t.n == 0 {
		return nil, mesh.Info{}, mesh.Empty("ASCII STL")
	}
	m, collapsed := t.b.Mesh()
	return m, mesh.Info{Format: "ASCII STL", Facets: t.n, Collapsed: collapsed, Unwelded: 3 * t.n}, nil
}

// line returns the next line that is not blank.
func (t *text) line() ([]byte, bool) {
	for {
		line, ok := t.lines.Next()
		if !ok {
			return nil, false
		}
		if w, _ := scan.Word(line); len(w) > 0 {
			return line, true
		}
	}
}

// must returns what follows the given words on the next line.
func (t *text) must(words ...string) ([]byte, error) {
	line, ok := t.line()
	if !ok {
		return nil, t.cut()
	}
	return t.after(line, words...)
}

func (t *text) after(line []byte, words ...string) ([]byte, error) {
	rest := line
	for _, want := range words {
		var w []byte
		w, rest = scan.Word(rest)
		if !bytes.EqualFold(w, []byte(want)) {
			return nil, t.bad(fmt.Sprintf("found %s where '%s' was expected", scan.Quote(w), want))
		}
	}
	return rest, nil
}

func (t *text) bad(what string) error {
	return finding.Bad("mesh-syntax", t.where(), what, "the file is damaged: export it again")
}

func (t *text) where() string {
	return fmt.Sprintf("facet %d (line %d)", max(t.n, 1), t.lines.Line())
}

func (t *text) cut() error {
	if err := t.lines.Err(); err != nil {
		return err
	}
	return finding.Bad("mesh-truncated", t.where(), "the file ends before 'endsolid'",
		"the file is cut off: copy or export it again")
}

func (t *text) solid(line []byte) error {
	line = bytes.TrimPrefix(line, []byte("\uFEFF"))
	if _, err := t.after(line, "solid"); err != nil {
		return err
	}
	for {
		line, ok := t.line()
		if !ok {
			return t.cut()
		}
		w, _ := scan.Word(line)
		if bytes.EqualFold(w, []byte("endsolid")) {
			return nil
		}
		if bytes.EqualFold(w, []byte("end")) { // 'end solid', as some write it
			_, err := t.after(line, "end", "solid")
			return err
		}
		t.n++
		if err := t.lim.CheckTriangles(t.n, t.where()); err != nil {
			return err
		}
		if _, err := t.after(line, "facet"); err != nil {
			return err
		}
		if err := t.facet(); err != nil {
			return err
		}
	}
}

func (t *text) facet() error {
	if _, err := t.must("outer", "loop"); err != nil {
		return err
	}
	var c [3]int32
	for k := range c {
		v, err := t.vertex()
		if err != nil {
			return err
		}
		c[k] = t.b.Vertex(v)
	}
	for _, w := range [...]string{"endloop", "endfacet"} {
		if _, err := t.must(w); err != nil {
			return err
		}
	}
	t.b.Triangle(c[0], c[1], c[2])
	return nil
}

func (t *text) vertex() (geom.Vec3, error) {
	line, err := t.must("vertex")
	if err != nil {
		return geom.Vec3{}, err
	}
	var x [3]float64
	if _, w, ok := scan.Floats(line, x[:]); !ok {
		return geom.Vec3{}, t.bad(fmt.Sprintf("found %s where a coordinate was expected", scan.Quote(w)))
	}
	v := geom.Vec3{X: x[0], Y: x[1], Z: x[2]}
	return v, mesh.CheckVertex(v, t.where)
}
