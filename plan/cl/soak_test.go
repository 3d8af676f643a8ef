package cl

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

func randomProfile(r *rand.Rand) cutter.Profile {
	p := cutter.Profile{R: 0.05 + 2*r.Float64()*r.Float64()}
	switch r.IntN(6) {
	case 0:
		return cutter.Ball(p.R)
	case 1:
		return cutter.FlatEnd(p.R)
	case 2:
		return cutter.Bull(p.R, p.R*r.Float64())
	case 3:
		return cutter.Cone(p.R, 0.05+1.4*r.Float64(), p.R*r.Float64()*float64(r.IntN(2)))
	case 4:
		return cutter.TaperedBall(p.R, p.R*r.Float64(), 0.02+1.4*r.Float64())
	}
	p.Flat, p.Round, p.Half = p.R*r.Float64(), 2*p.R*r.Float64(), 1.4*r.Float64()
	if p.Flat+p.Round < p.R {
		p.Half = max(p.Half, 0.02)
	}
	return p
}

// agrees reports whether a field's value is the index's height at (x, y) to tol, or failing that lies between
// the heights within 1 nm aside: on a wall that is all a place is worth.
func agrees(ix *Index, p cutter.Profile, x, y, got, tol float64) (ok, aside bool) {
	want := ix.Height(p, x, y)
	if got == want || math.Abs(got-want) <= tol {
		return true, false
	}
	lo, hi := want, want
	for a := range 16 {
		sn, cs := math.Sincos(float64(a) * math.Pi / 8)
		h := ix.Height(p, x+1e-6*cs, y+1e-6*sn)
		lo, hi = min(lo, h), max(hi, h)
	}
	return got >= lo-tol && got <= hi+tol, true
}

// TestSoak holds the patches against the tree on random meshes, cutters, sides and grids, as long as
// BARWISE_SOAK says (seconds; 1 means a minute). A field's value may be that of any place within 1 nm.
func TestSoak(t *testing.T) {
	seconds, _ := strconv.Atoi(os.Getenv("BARWISE_SOAK"))
	if seconds <= 0 {
		t.Skip("BARWISE_SOAK is not set")
	}
	if seconds == 1 {
		seconds = 60
	}
	end := time.Now().Add(time.Duration(seconds) * time.Second)
	points, asides := 0, 0
	for seed := uint64(1); time.Now().Before(end); seed++ {
		r := rand.New(rand.NewPCG(seed, 77))
		for mname, m := range sampleMeshes(r) {
			s := NewSurface(m)
			turn := geom.TurnDeg(float64(r.IntN(24)) * 15)
			ix := s.Index(turn)
			p := randomProfile(r)
			box := m.Map(turn.ToSide).Box()
			g := field.Grid{DX: 0.01 + 0.3*r.Float64(), DY: 0.01 + 0.3*r.Float64(), NX: 8 + r.IntN(60), NY: 8 + r.IntN(60)}
			g.X0 = box.Min.X - p.R + r.Float64()*(box.Size().X+2*p.R-float64(g.NX)*g.DX)
			g.Y0 = box.Min.Y - p.R + r.Float64()*(box.Size().Y+2*p.R-float64(g.NY)*g.DY)
			if r.IntN(2) == 0 { // nodes on the mesh's own round coordinates
				g.DX, g.DY = 0.25, 0.125
				g.X0, g.Y0 = math.Round(g.X0*8)/8, math.Round(g.Y0*8)/8
			}
			f := mustField(t, m, turn, p, 0, g)
			for j := range g.NY {
				for i := range g.NX {
					points++
					got := float64(f.At(i, j))
					ok, aside := agrees(ix, p, g.X(i), g.Y(j), got, 1e-6)
					if aside {
						asides++
					}
					if !ok {
						t.Fatalf("seed %d, %s, %+v, %+v at (%v, %v): field %v, index %v", seed, mname, p, turn, g.X(i), g.Y(j), got, ix.Height(p, g.X(i), g.Y(j)))
					}
				}
			}
		}
	}
	t.Logf("%d points, %d of them compared with the places within 1 nm", points, asides)
}
