package level

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// box is a block with its middle on (x, y), from z0 to z1.
func box(x, y, a, b, z0, z1 float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, z := range [2]float64{z0, z1} {
		for _, c := range [4][2]float64{{-a, -b}, {a, -b}, {a, b}, {-a, b}} {
			m.Vertices = append(m.Vertices, geom.Vec3{X: x + c[0], Y: y + c[1], Z: z})
		}
	}
	m.Triangles = [][3]int32{{0, 2, 1}, {0, 3, 2}, {4, 5, 6}, {4, 6, 7}}
	for i := range int32(4) {
		j := (i + 1) % 4
		m.Triangles = append(m.Triangles, [3]int32{i, j, 4 + j}, [3]int32{i, 4 + j, 4 + i})
	}
	return m
}

func looked(t *testing.T, m *mesh.Mesh, r, half float64) (*share.Set, *share.View) {
	t.Helper()
	s := share.New(share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: -half, YMax: half,
		Sides: []share.Side{{XMin: -half, XMax: half, ZMin: -20}}}, share.Params{})
	if err := s.All(context.Background()); err != nil {
		t.Fatal(err)
	}
	s.Spread(s.Views[0])
	return s, s.Views[0]
}

// A block on a plate: every line runs round it, R + what is left off its walls, by closed form, with the
// block on the right, and no level lies further below the one above than the flutes reach.
func TestLevelsRoundABlock(t *testing.T) {
	const (
		r, a, b       = 0.5, 2.0, 3.0
		top, foot     = 4.0, -5.0
		flutes, leave = 3.0, 0.03
	)
	m := mesh.Join(box(0, 0, 8, 8, foot-1, foot), box(0.3, -0.2, a, b, foot-0.5, top))
	s, v := looked(t, m, r, 7)
	w := Walls{Flutes: flutes, Leave: leave, Skin: 0.06}
	levels, err := w.Levels(context.Background(), s, v)
	if err != nil {
		t.Fatal(err)
	}
	last := top
	for _, lines := range levels {
		if len(lines) == 0 {
			continue
		}
		if len(lines) != 1 || !lines[0].Closed {
			t.Fatalf("%d lines at one level", len(lines))
		}
		l := lines[0]
		if d := last - l.Z; d > flutes-r || d <= 0 {
			t.Errorf("level %.3f comes %.3f below the one above", l.Z, d)
		}
		last = l.Z
		turn := 0.0
		for k, p := range l.Pts {
			dx, dy := math.Abs(p.X-0.3)-a, math.Abs(p.Y+0.2)-b
			d := math.Hypot(max(dx, 0), max(dy, 0))
			if d < r || d > r+leave+0.02 {
				t.Errorf("at z %.3f, (%.3f, %.3f): %.4f mm off the walls", l.Z, p.X, p.Y, d-r)
			}
			q := l.Pts[(k+1)%len(l.Pts)]
			turn += (p.X-0.3)*(q.Y+0.2) - (q.X-0.3)*(p.Y+0.2)
		}
		if turn >= 0 { // clockwise from above
			t.Errorf("at z %.3f the block is on the left", l.Z)
		}
	}
	if last > foot+flutes-r || last == top {
		t.Errorf("the lowest level is %.3f, the foot %.3f", last, foot)
	}
}

// Walls no higher than the flutes want nothing.
func TestLowWallsWantNoLevels(t *testing.T) {
	m := mesh.Join(box(0, 0, 8, 8, -3, -2), box(0, 0, 2, 2, -2.5, 0))
	s, v := looked(t, m, 0.5, 7)
	levels, err := Walls{Flutes: 3, Leave: 0.03, Skin: 0.06}.Levels(context.Background(), s, v)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range levels {
		if len(l) > 0 {
			t.Errorf("a level at %.3f", l[0].Z)
		}
	}
}
