package finish

import (
	"fmt"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// tower is a block of half widths a and b from z = −4 up to 4 on a plate, all of it covered by a skin.
func tower(a, b, skin float64) (*mesh.Mesh, *field.Field) {
	l := prism(7, []geom.Vec2{{X: -7, Y: -5}, {X: 7, Y: -5}, {X: 7, Y: -4}, {X: -7, Y: -4}})
	m := mesh.Join(l, prism(a, []geom.Vec2{{X: -b, Y: -4.5}, {X: b, Y: -4.5}, {X: b, Y: 4}, {X: -b, Y: 4}}))
	f := field.New(field.Cover(-7, 7, -7, 7, 0.1, 0.1), float32(-4+skin))
	for j := range f.NY {
		for i := range f.NX {
			if math.Abs(f.X(i)) <= a+skin && math.Abs(f.Y(j)) <= b+skin {
				f.Z[j*f.NX+i] = float32(4 + skin)
			}
		}
	}
	return m, f
}

// meets returns the greatest height above the tip of what a level or slanting move takes, more than thin
// inside the rim of the ball: the slow and separate account, every move sampled, on a grid of half the
// pitch. What a plunge takes from above does not count.
func meets(s SideOutput, seen *field.Field, r, thin float64) (most float64, at geom.Vec3) {
	g := field.New(field.Cover(seen.X(0), seen.X(seen.NX-1), seen.Y(0), seen.Y(seen.NY-1), seen.DX/2, seen.DX/2), 0)
	for k := range g.Z {
		i, j := seen.Nearest(geom.Vec2{X: g.X(k % g.NX), Y: g.Y(k / g.NX)})
		g.Z[k] = seen.At(min(i, seen.NX-1), min(j, seen.NY-1))
	}
	touch := func(p geom.Vec3, count bool) {
		for j := int((p.Y - r - g.Y0) / g.DY); j <= int((p.Y+r-g.Y0)/g.DY)+1; j++ {
			for i := int((p.X - r - g.X0) / g.DX); i <= int((p.X+r-g.X0)/g.DX)+1; i++ {
				if !g.Inside(i, j) {
					continue
				}
				d := math.Hypot(g.X(i)-p.X, g.Y(j)-p.Y)
				have := float64(g.Z[j*g.NX+i])
				if d > r || have <= p.Z+r-math.Sqrt(r*r-d*d) {
					continue
				}
				if count {
					if d < r-thin && have-p.Z > most {
						most, at = have-p.Z, p
					}
					continue
				}
				g.Z[j*g.NX+i] = float32(p.Z + r - math.Sqrt(r*r-d*d))
			}
		}
	}
	for _, p := range s.Passes {
		touch(p.Points[0], false)
		for k := 1; k < len(p.Points); k++ {
			a, b := p.Points[k-1], p.Points[k]
			aside := a.XY() != b.XY()
			n := int(b.Sub(a).Len()/0.04) + 1
			for i := 1; i <= n && aside; i++ {
				touch(a.Lerp(b, float64(i)/float64(n)), true)
			}
			for i := 1; i <= n; i++ {
				touch(a.Lerp(b, float64(i)/float64(n)), false)
			}
		}
	}
	return most, at
}

// doubt is half a cell's diagonal of the field of 0.1 mm, once for the beam that the planner watches and
// once for the finer grid of the account.
const doubt = 0.145

// With flutes shorter than a wall is tall, passes run on beside it because it was freed of its skin
// before, and nowhere does the cutter run sideways into more than its flutes reach.
func TestTallWallsAreFreed(t *testing.T) {
	const r, flutes, skin = 0.5, 3.0, 0.2
	for _, dir := range []Direction{Along, Across} {
		t.Run(fmt.Sprint(dir), func(t *testing.T) {
			m, seen := tower(2, 3, skin)
			surface := cl.NewSurface(m)
			in := Input{Input: share.Input{Surface: surface, Mesh: m, Cutter: cutter.Ball(r), YMin: -5, YMax: 5,
				Sides: []Side{{XMin: -4.5, XMax: 4.5, ZMin: -10}}}, Flutes: flutes}
			p := Params{Cusp: 0.05, Tolerance: 0.004, Decimals: 4, Direction: dir}
			before := mustPlan(t, in, p).Sides[0]
			in.Seen = []*field.Field{seen}
			after := mustPlan(t, in, p).Sides[0]
			if after.Figures.Passes*2 > before.Figures.Passes {
				t.Errorf("%d passes, %d where walls are not freed", after.Figures.Passes, before.Figures.Passes)
			}
			if most, at := meets(after, seen, r, doubt); most > flutes+0.1 {
				t.Errorf("at %.3f the cutter runs into %.3f mm above its tip, the flutes reach %g", at, most, flutes)
			}
			// the account can tell: without the levels the same ways meet the skin
			in.Flutes = 0
			if most, _ := meets(mustPlan(t, in, p).Sides[0], seen, r, doubt); most < flutes+1 {
				t.Errorf("without freeing the walls only %.3f mm stand above the tip: the test shows nothing", most)
			}
			ix := surface.Index(geom.TurnDeg(0))
			for _, q := range after.Passes {
				for k := 1; k < len(q.Points); k++ {
					if q.Points[k-1].XY().Sub(q.Points[k].XY()).Len() < 3e-4 {
						continue // upright at a wall, which stands to the last decimal
					}
					for i := range 6 {
						c := q.Points[k-1].Lerp(q.Points[k], float64(i)/5)
						// a ball less half the tolerance, about the same middle, is free of the surface
						if z := ix.Height(cutter.Ball(r-p.Tolerance/2), c.X, c.Y); c.Z+p.Tolerance/2 < z-1e-6 {
							t.Fatalf("%.4f lies %.4f mm too deep", c, z-c.Z-p.Tolerance/2)
						}
					}
				}
			}
		})
	}
}

// Stock higher than the flutes that no level frees is ridden over and not run into.
func TestStockBesideIsRiddenOver(t *testing.T) {
	const r, flutes = 0.5, 3.0
	m, seen := tower(2, 3, 0.1)
	// a post that roughing left on the plate, seven millimetres tall and thicker than any skin
	for j := range seen.NY {
		for i := range seen.NX {
			if math.Hypot(seen.X(i)-3.4, seen.Y(j)) < 0.7 {
				seen.Z[j*seen.NX+i] = 3
			}
		}
	}
	in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: -5, YMax: 5,
		Sides: []Side{{XMin: -4.5, XMax: 4.5, ZMin: -10}}}, Flutes: flutes, Seen: []*field.Field{seen}}
	s := mustPlan(t, in, Params{Cusp: 0.05, Tolerance: 0.004, Decimals: 4}).Sides[0]
	if most, at := meets(s, seen, r, doubt); most > flutes+0.15 {
		t.Errorf("at %.3f the cutter runs into %.3f mm above its tip, the flutes reach %g", at, most, flutes)
	}
}
