package threemf

import (
	"archive/zip"
	"bufio"
	"fmt"
	"io"
	"strconv"
	"time"

	"barwise/geom/mesh"
)

const contentTypes = `<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>
`

const rels = `<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="` + relations + `"><Relationship Id="rel0" Type="` + startPart + `" Target="/3D/3dmodel.model"/></Relationships>
`

// first is the earliest date a zip entry can carry: equal meshes give equal bytes.
var first = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// Write writes m as a 3MF package of one object built once. unit is that of the mesh, one of those of
// 3MF Core §3.4 (micron, millimeter, centimeter, inch, foot, meter); empty means millimeter. Numbers
// are the shortest that read back to the same float64, so Read gives the mesh back to the bit, but for
// vertices that no triangle uses and triangles with a repeated corner.
func Write(w io.Writer, m *mesh.Mesh, unit string) error {
	if unit == "" {
		unit = "millimeter"
	}
	if unitsMM[unit] == 0 {
		return fmt.Errorf("writing 3mf: unit %q: micron, millimeter, centimeter, inch, foot or meter is allowed", unit)
	}
	for i, v := range m.Vertices {
		if !v.Finite() {
			return fmt.Errorf("writing 3mf: vertex %d (%g, %g, %g) is not finite", i+1, v.X, v.Y, v.Z)
		}
	}
	z := zip.NewWriter(w)
	for _, p := range [...]struct {
		name string
		f    func(*bufio.Writer)
	}{
		{"[Content_Types].xml", func(b *bufio.Writer) { b.WriteString(contentTypes) }},
		{"_rels/.rels", func(b *bufio.Writer) { b.WriteString(rels) }},
		{"3D/3dmodel.model", func(b *bufio.Writer) { writeModel(b, m, unit) }},
	} {
		f, err := z.CreateHeader(&zip.FileHeader{Name: p.name, Method: zip.Deflate, Modified: first})
		if err != nil {
			return fmt.Errorf("writing 3mf: %w", err)
		}
		b := bufio.NewWriterSize(f, 64<<10)
		p.f(b)
		if err := b.Flush(); err != nil {
			return fmt.Errorf("writing 3mf: %w", err)
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("writing 3mf: %w", err)
	}
	return nil
}

func writeModel(b *bufio.Writer, m *mesh.Mesh, unit string) {
	fmt.Fprintf(b, `<?xml version="1.0" encoding="UTF-8"?>
<model unit="%s" xml:lang="en" xmlns="%s"><resources><object id="1" type="model"><mesh><vertices>
`, unit, core)
	var line []byte
	number := func(name string, x float64) {
		line = append(append(line, name...), `="`...)
		line = append(strconv.AppendFloat(line, x, 'g', -1, 64), '"')
	}
	for _, v := range m.Vertices {
		line = append(line[:0], "<vertex"...)
		number(" x", v.X)
		number(" y", v.Y)
		number(" z", v.Z)
		b.Write(append(line, "/>\n"...))
	}
	b.WriteString("</vertices><triangles>\n")
	for _, t := range m.Triangles {
		line = append(line[:0], "<triangle"...)
		for c, name := range [...]string{` v1="`, ` v2="`, ` v3="`} {
			line = append(strconv.AppendInt(append(line, name...), int64(t[c]), 10), '"')
		}
		b.Write(append(line, "/>\n"...))
	}
	b.WriteString("</triangles></mesh></object></resources><build><item objectid=\"1\"/></build></model>\n")
}
