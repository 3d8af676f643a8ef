package cl

import (
	"context"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
)

// readOFF reads the vertices and the fanned faces of an ascii OFF file; nil where it is not one. Faults in
// the mesh itself are wanted here.
func readOFF(name string) *mesh.Mesh {
	b, err := os.ReadFile(name)
	if err != nil {
		return nil
	}
	lines := strings.Split(string(b), "\n")
	if len(lines) == 0 || strings.TrimSpace(lines[0]) != "OFF" {
		return nil
	}
	var rows [][]float64
	for _, l := range lines[1:] {
		l, _, _ = strings.Cut(l, "#")
		var row []float64
		for _, w := range strings.Fields(l) {
			x, err := strconv.ParseFloat(w, 64)
			if err != nil {
				return nil
			}
			row = append(row, x)
		}
		if len(row) > 0 {
			rows = append(rows, row)
		}
	}
	if len(rows) == 0 || len(rows[0]) < 2 || len(rows) < 1+int(rows[0][0]+rows[0][1]) {
		return nil
	}
	nv, nf := int(rows[0][0]), int(rows[0][1])
	m := &mesh.Mesh{}
	for _, r := range rows[1 : 1+nv] {
		if len(r) < 3 {
			return nil
		}
		m.Vertices = append(m.Vertices, geom.Vec3{X: r[0], Y: r[1], Z: r[2]})
	}
	for _, r := range rows[1+nv : 1+nv+nf] {
		if len(r) < int(r[0])+1 {
			return nil
		}
		for k := 2; k < int(r[0]); k++ {
			t := [3]int32{int32(r[1]), int32(r[k]), int32(r[k+1])}
			if min(t[0], t[1], t[2]) < 0 || int(max(t[0], t[1], t[2])) >= nv {
				return nil
			}
			m.Triangles = append(m.Triangles, t)
		}
	}
	return m
}

// TestOpenMeshes holds the patches against the tree on every OFF mesh below the folder BARWISE_MESHES, sound
// or not.
func TestOpenMeshes(t *testing.T) {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		t.Skip("BARWISE_MESHES does not name a folder of open meshes")
	}
	r := rand.New(rand.NewPCG(31, 32))
	count := 0
	err := filepath.WalkDir(filepath.Join(dir, "meshes"), func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(name) != ".off" {
			return err
		}
		m := readOFF(name)
		if m == nil || len(m.Triangles) == 0 {
			return nil
		}
		size, mid := m.Box().Size(), m.Box().Centre()
		k := 40 / max(size.X, size.Y, size.Z)
		m = m.Map(func(v geom.Vec3) geom.Vec3 { return v.Sub(mid).Mul(k) })
		s := NewSurface(m)
		count++
		for _, deg := range []float64{0, 90, 200} {
			turn := geom.TurnDeg(deg)
			ix := s.Index(turn)
			box := m.Map(turn.ToSide).Box()
			for pname, p := range cutters() {
				g := field.Grid{X0: box.Min.X - r.Float64(), Y0: box.Min.Y - r.Float64(), NX: 40, NY: 40}
				g.DX, g.DY = box.Size().X/39+0.02, box.Size().Y/39+0.02
				f, err := s.Field(context.Background(), turn, p, 0, g)
				if err != nil {
					return err
				}
				bad := 0
				for j := range g.NY {
					for i := range g.NX {
						got := float64(f.At(i, j))
						if ok, _ := agrees(ix, p, g.X(i), g.Y(j), got, 1e-5); ok {
							continue
						}
						if bad++; bad < 3 {
							t.Errorf("%s, %s from %v° at (%v, %v): field %v, index %v", filepath.Base(name), pname, deg, g.X(i), g.Y(j), got, ix.Height(p, g.X(i), g.Y(j)))
						}
					}
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d meshes", count)
}
