package pose

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
)

func rot(m *mesh.Mesh, t turned) *mesh.Mesh {
	return m.Map(func(p geom.Vec3) geom.Vec3 { return t.to(p) })
}

func show(n string, c Candidate) {
	p := c.Parts
	fmt.Printf("%-8s dir %6.3f %6.3f %6.3f turn %6.2f sides %d end %v %s cost %.2f missed %.1f%% held %.0f steep %.0f stick %.1f min %.1f+%.1f+%.1f across %.1f x %.1f long %.1f hold %.2f fits %v slack %.1f [%s]\n", n, c.Dir.X, c.Dir.Y, c.Dir.Z, c.TurnDeg, len(c.Sides), c.End, c.Shape, c.Cost, 100*p.MissedShare(), p.Held, p.Steep, p.StickOut, p.Finish, p.Rough, p.Turns, p.Across, p.High, p.Length, p.Hold, p.Fits, c.Slack, c.On)
}

func TestDev(t *testing.T) {
	q := turned{geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}}
	r := q.by(0, 33).by(1, 71).by(2, -27)
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{{"drilled", crossDrilled()}, {"cup", cup()}, {"tower", tower(0.3)}} {
		for k, m := range []*mesh.Mesh{c.m, rot(c.m, r)} {
			t0 := time.Now()
			var vol float64
			for i := range m.Triangles {
				a, b, d := m.Corners(i)
				vol += a.Dot(b.Cross(d)) / 6
			}
			f, err := Search(context.Background(), m, Params{})
			if err != nil {
				t.Fatal(err)
			}
			fmt.Println(c.name, k, time.Since(t0), f.Tried, len(m.Triangles), "vol", vol)
			for i, b := range f.Best {
				if k == 1 {
					b.Dir = geom.Vec3{X: r.x.Mul(b.Dir.X).Add(r.y.Mul(b.Dir.Y)).Add(r.z.Mul(b.Dir.Z)).X, Y: r.x.Mul(b.Dir.X).Add(r.y.Mul(b.Dir.Y)).Add(r.z.Mul(b.Dir.Z)).Y, Z: r.x.Mul(b.Dir.X).Add(r.y.Mul(b.Dir.Y)).Add(r.z.Mul(b.Dir.Z)).Z}
				}
				show(fmt.Sprint(i), b)
			}
			for _, b := range f.Compare {
				if k == 0 {
					show("cmp", b)
				}
			}
		}
	}
	_ = math.Pi
}
