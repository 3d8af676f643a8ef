// Package obj reads the polygons of Wavefront OBJ files.
//
// Used are 'v' (more numbers than three, such as colours, are passed over) and 'f', with corners
// written v, v/vt, v//vn or v/vt/vn. Indices start at 1; negative ones count back from the latest
// vertex; 0 is invalid. A backslash continues a line. Free-form curves and surfaces are refused;
// everything else (normals, groups, materials, lines, points) is passed over. OBJ carries no unit.
package obj

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

type reader struct {
	lines   *scan.Lines
	lim     mesh.Limits
	b       *mesh.Builder
	welded  []int32 // vertex of the file → vertex of the mesh
	corners []int32
	facets  int
}

// Read reads an OBJ file of size bytes. Errors of the file are *finding.InputError with the line.
func Read(ctx context.Context, r io.ReaderAt, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error) {
	lim = lim.Or()
	if err := lim.CheckBytes(size, ""); err != nil {
		return nil, mesh.Info{}, err
	}
	// a triangle takes commonly 40 bytes and more with its share of the vertices
	o := reader{lines: scan.New(ctx, io.NewSectionReader(r, 0, size)), lim: lim,
		b: mesh.NewBuilder(min(int(size/40), lim.Triangles))}
	if err := o.read(); err != nil {
		return nil, mesh.Info{}, err
	}
	m, collapsed := o.b.Mesh()
	info := mesh.Info{Format: "OBJ", Facets: o.facets, Collapsed: collapsed, Unwelded: len(o.welded)}
	if len(m.Triangles) == 0 {
		return nil, info, mesh.Empty("OBJ")
	}
	return m, info, nil
}

func (o *reader) read() error {
	for {
		line, ok, err := o.line()
		if err != nil || !ok {
			return err
		}
		word, rest := scan.Word(line)
		switch string(word) {
		case "v":
			err = o.vertex(rest)
		case "f", "fo":
			err = o.face(rest)
		case "cstype", "curv", "curv2", "surf", "bzp", "bsp", "cdc", "cdp":
			err = &finding.InputError{Code: "mesh-unsupported", Where: o.lines.Where(), Unsupported: true,
				Text: "free-form curves and surfaces ('" + string(word) + "') are not read",
				Hint: "export the model as polygons"}
		default:
			if bytes.IndexByte(line, 0) >= 0 {
				err = o.lines.Bad("found a zero byte", "the file is not OBJ text")
			}
		}
		if err != nil {
			return err
		}
	}
}

// line returns the next line with those it continues on, without its comment.
func (o *reader) line() ([]byte, bool, error) {
	line, ok := o.lines.Next()
	if !ok {
		return nil, false, o.lines.Err()
	}
	if n := len(line); n > 0 && line[n-1] == '\\' {
		joined := append([]byte(nil), line[:n-1]...)
		for more := true; more; {
			if line, ok = o.lines.Next(); !ok {
				break
			}
			line, more = bytes.CutSuffix(line, []byte{'\\'})
			joined = append(append(joined, ' '), line...)
			if len(joined) > 16<<20 {
				return nil, false, o.lines.Bad("the continued line is longer than 16 MiB", "the file is damaged")
			}
		}
		line = joined
	}
	if i := bytes.IndexByte(line, '#'); i >= 0 {
		line = line[:i]
	}
	return line, true, o.lines.Err()
}

func (o *reader) vertex(rest []byte) error {
	var x [3]float64
	if _, w, ok := scan.Floats(rest, x[:]); !ok {
		return o.lines.Bad(fmt.Sprintf("found %s where a coordinate was expected", scan.Quote(w)), "")
	}
	v := geom.Vec3{X: x[0], Y: x[1], Z: x[2]}
	if err := mesh.CheckVertex(v, o.lines.Where); err != nil {
		return err
	}
	if len(o.welded) >= 3*o.lim.Triangles {
		return o.lim.CheckTriangles(len(o.welded)/3+1, o.lines.Where())
	}
	o.welded = append(o.welded, o.b.Vertex(v))
	return nil
}

func (o *reader) face(rest []byte) error {
	o.corners = o.corners[:0]
	for {
		var w []byte
		if w, rest = scan.Word(rest); len(w) == 0 {
			break
		}
		c, err := o.corner(w)
		if err != nil {
			return err
		}
		o.corners = append(o.corners, c)
	}
	if len(o.corners) < 3 {
		return o.lines.Bad(fmt.Sprintf("the face has %d corners, at least 3 are needed", len(o.corners)), "")
	}
	o.facets++
	o.b.Polygon(o.corners)
	return o.lim.CheckTriangles(o.b.Len(), o.lines.Where())
}

func (o *reader) corner(w []byte) (int32, error) {
	index := w
	if i := bytes.IndexByte(w, '/'); i >= 0 {
		index = w[:i]
	}
	n, ok := scan.Int(index)
	if !ok {
		return 0, o.lines.Bad(fmt.Sprintf("found %s where a vertex index was expected", scan.Quote(w)), "")
	}
	k := int(n) - 1
	if n < 0 {
		k = len(o.welded) + int(n)
	}
	if n == 0 || k < 0 || k >= len(o.welded) {
		return 0, finding.Bad("mesh-index", o.lines.Where(),
			fmt.Sprintf("vertex index %d: indices run from 1 to %d here, or from −1 back", n, len(o.welded)),
			"the file is damaged: export it again")
	}
	return o.welded[k], nil
}
