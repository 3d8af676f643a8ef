package barwise_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"barwise"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
	"barwise/job"
)

// The models of these tests are surfaces of a radius that depends on the height and the direction
// about Y, closed at both ends on the axis. Lengths are mm.

// askewRadius has no symmetry at all: a bump toward +X at y 4, another toward +Z at y 7.5, a notch
// toward −X at y 6.
func askewRadius(y, deg float64) float64 {
	dent := func(at, towards, height float64) float64 {
		d := math.Remainder(deg-towards, 360) * math.Pi / 180 * 3
		return height * math.Exp(-(d*d+(y-at)*(y-at))/(2*1.3*1.3))
	}
	return bellRadius(y, 0) + dent(4, 90, 1.1) + dent(7.5, 0, 0.8) + dent(6, 270, -0.5)
}

// askewMiddle moves the low end of the askew body to the middle of its box, where the spigot is.
func askewMiddle(y float64) (x, z float64) {
	k := max(0, 1-y/4)
	return 0.6255 * k, 0.1607 * k
}

func straight(float64) (x, z float64) { return 0, 0 }

// bellRadius is a cone up to y 4 with a dome on it up to y 10.
func bellRadius(y, _ float64) float64 {
	if y < 4 {
		return 1.48 + 0.43*y
	}
	return 3.2 * math.Sqrt(max(0, 1-(y-4)*(y-4)/36))
}

// around is the closed surface of a radius over y from 0 to 10 and the index angle about Y: the angle
// grows from +Z toward +X, so that 90 is +X (docs/frames.md). Coordinates are those that STL can hold.
func around(radius func(y, deg float64) float64, middle func(y float64) (x, z float64)) *mesh.Mesh {
	const high, wide = 30, 48
	b := mesh.NewBuilder(0)
	at := func(i, j int) int32 {
		y := 10 * math.Sin(math.Pi/2*float64(i-1)/(high-2)) // closer toward the dome's top
		r := 0.0
		if i > 0 && i < high-1 {
			r = radius(y, 360*float64(j%wide)/wide)
		}
		s, c := math.Sincos(2 * math.Pi * float64(j%wide) / wide)
		single := func(v float64) float64 { return float64(float32(v)) }
		x, z := middle(y)
		return b.Vertex(geom.Vec3{X: single(r*s + x), Y: single(max(y, 0)), Z: single(r*c + z)})
	}
	for i := range high - 1 {
		for j := range wide {
			if i > 0 {
				b.Triangle(at(i, j), at(i, j+1), at(i+1, j+1))
			}
			if i < high-2 {
				b.Triangle(at(i, j), at(i+1, j+1), at(i+1, j))
			}
		}
	}
	m, _ := b.Mesh()
	return m
}

const askewJob = `model: model.stl
material: tooling-board
machine: {like: small-mill, arcs: false}
bar: {size: 10, length: 24, grip: 5}
lay: {along: +y, end: 2}
rough: {cutter: flat-3}
finish: {cutter: ball-3, cusp: 20 um, feed: 1200}
tolerance: 60 um
`

// load writes model and job into a folder of their own and reads the job.
func load(t testing.TB, m *mesh.Mesh, text string) *job.Job {
	t.Helper()
	dir := t.TempDir()
	var b bytes.Buffer
	if err := stl.Write(&b, m, "test"); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"model.stl": b.Bytes(), "job.yaml": []byte(text)} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	j, err := job.Load(filepath.Join(dir, "job.yaml"), job.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func plan(t testing.TB, m *mesh.Mesh, text string) *barwise.Outcome {
	t.Helper()
	o, err := barwise.Plan(context.Background(), load(t, m, text), barwise.Options{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// replace makes another job of one.
func replace(t testing.TB, text string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("no %q in the job", pairs[i])
		}
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// step is one straight move as a plain reading of the text gives it, program coordinates.
type step struct {
	from, to geom.Vec3
	feed     bool
}

var word = regexp.MustCompile(`([A-Z])(-?[0-9.]+)`)

// steps reads the few words that these programs hold: an interpreter of its own, so that the reader
// under test is not asked about itself.
func steps(t testing.TB, text []byte) (out []step) {
	t.Helper()
	at := geom.Vec3{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
	feed := false
	for n, line := range strings.Split(string(text), "\n") {
		if i := strings.IndexByte(line, '('); i >= 0 {
			line = line[:i]
		}
		to, moves := at, false
		for _, w := range word.FindAllStringSubmatch(line, -1) {
			v, err := strconv.ParseFloat(w[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			switch w[1] {
			case "X":
				to.X, moves = v, true
			case "Y":
				to.Y, moves = v, true
			case "Z":
				to.Z, moves = v, true
			case "G":
				if v == 2 || v == 3 {
					t.Fatalf("line %d: an arc", n+1)
				}
				if v == 0 || v == 1 {
					feed = v == 1
				}
			}
		}
		if moves && at.Finite() {
			out = append(out, step{at, to, feed})
		}
		at = to
	}
	return out
}

// held is how a job's programs lie: which machine axis the bar lies along, and how high Z0 is.
type held struct {
	alongX bool
	zeroZ  float64
}

// side takes program coordinates to the side frame. With the bar along machine X: X = y, Y = −x.
func (h held) side(p geom.Vec3) geom.Vec3 {
	p.Z += h.zeroZ
	if h.alongX {
		p.X, p.Y = -p.Y, p.X
	}
	return p
}

// toSide is the turn as docs/frames.md states it, written out once more.
func toSide(p geom.Vec3, deg float64) geom.Vec3 {
	s, c := math.Sincos(deg * math.Pi / 180)
	return geom.Vec3{X: p.X*c - p.Z*s, Y: p.Y, Z: p.X*s + p.Z*c}
}

// removal is what programs take away, point by point and move by move: slow and plain.
type removal struct {
	sides []float64
	cuts  map[float64]map[int][]sweep // by side, then by whole mm of y
}

type sweep struct {
	step
	ball bool
}

const radius = 1.5 // of both cutters used here: flat-3 and ball-3

func newRemoval(t testing.TB, o *barwise.Outcome, h held) *removal {
	r := &removal{cuts: map[float64]map[int][]sweep{}}
	for i, p := range o.Facts.Programs {
		if r.cuts[p.SideDeg] == nil {
			r.cuts[p.SideDeg] = map[int][]sweep{}
			r.sides = append(r.sides, p.SideDeg)
		}
		for _, s := range steps(t, o.Texts[i].Data) {
			if !s.feed {
				continue
			}
			s.from, s.to = h.side(s.from), h.side(s.to)
			lo, hi := min(s.from.Y, s.to.Y)-radius, max(s.from.Y, s.to.Y)+radius
			for k := int(math.Floor(lo)); k <= int(math.Floor(hi)); k++ {
				r.cuts[p.SideDeg][k] = append(r.cuts[p.SideDeg][k], sweep{s, p.Cutter == "ball-3"})
			}
		}
	}
	return r
}

// gone reports whether some move takes away the point of the part.
func (r *removal) gone(p geom.Vec3) bool {
	for _, deg := range r.sides {
		q := toSide(p, deg)
		for _, s := range r.cuts[deg][int(math.Floor(q.Y))] {
			if s.takes(q) {
				return true
			}
		}
	}
	return false
}

// takes: along a straight move z_tip + h(distance) is convex, so its least value is found by thirds.
func (s sweep) takes(q geom.Vec3) bool {
	d, e := s.to.Sub(s.from), q.Sub(s.from)
	a := d.X*d.X + d.Y*d.Y
	lo, hi := 0.0, 1.0
	if a > 0 { // the part of the move that passes within a radius
		foot := (d.X*e.X + d.Y*e.Y) / a
		off := e.X*e.X + e.Y*e.Y - foot*foot*a
		if off >= radius*radius {
			return false
		}
		half := math.Sqrt((radius*radius - off) / a)
		lo, hi = max(0, foot-half), min(1, foot+half)
	} else if math.Hypot(e.X, e.Y) >= radius {
		return false
	}
	if lo > hi {
		return false
	}
	above := func(t float64) float64 {
		h, r := 0.0, math.Hypot(e.X-t*d.X, e.Y-t*d.Y)
		if s.ball {
			h = radius - math.Sqrt(max(0, radius*radius-r*r))
		}
		return s.from.Z + t*d.Z + h - q.Z
	}
	if min(above(lo), above(hi)) < 0 {
		return true
	}
	for range 30 {
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		if above(a) < above(b) {
			hi = b
		} else {
			lo = a
		}
	}
	return above(lo) < 0
}

// TestAskewModel takes a body without any symmetry through the whole job, and looks at what the text of
// the programs leaves by an interpreter and a removal of its own: it is the model, the right way round.
func TestAskewModel(t *testing.T) {
	m := around(askewRadius, askewMiddle)
	box := m.Box()
	// laid by hand: +y to the free end, the middle of the box on the axis, 2 mm left at the end
	shift := geom.Vec3{X: -(box.Min.X + box.Max.X) / 2, Y: 24 - 2 - box.Max.Y, Z: -(box.Min.Z + box.Max.Z) / 2}
	o := plan(t, m, askewJob)
	if o.Blocked() {
		t.Errorf("%s: %v", o.Facts.Verdict, o.Facts.Findings)
	}
	r := newRemoval(t, o, held{})
	checkBumps(t, r, shift)
	checkSurface(t, r, m, shift)
	checkRemoved(t, r, o)
}

// checkBumps looks at single points: where the bumps and the notch are, and where they would be if an
// axis were turned round or two were exchanged.
func checkBumps(t *testing.T, r *removal, shift geom.Vec3) {
	t.Helper()
	for _, c := range []struct {
		name    string
		y, deg  float64
		out     float64 // from the model's own axis
		isSolid bool
	}{
		{"bump toward +X, low", 4, 90, 4.1, true},
		{"the same toward -X", 4, 270, 4.1, false},
		{"the same toward +Z", 4, 0, 4.1, false},
		{"the same, high", 7.5, 90, 3.3, false},
		{"bump toward +Z, high", 7.5, 0, 3.3, true},
		{"the same toward -Z", 7.5, 180, 3.3, false},
		{"the same toward +X", 7.5, 90, 3.3, false},
		{"notch toward -X", 6, 270, 2.75, false},
		{"the same toward +X", 6, 90, 2.75, true},
		{"the same toward -Z", 6, 180, 2.75, true},
	} {
		s, co := math.Sincos(c.deg * math.Pi / 180)
		p := geom.Vec3{X: c.out * s, Y: c.y, Z: c.out * co}.Add(shift)
		if got := !r.gone(p); got != c.isSolid {
			t.Errorf("%s: solid is %v, want %v", c.name, got, c.isSolid)
		}
	}
}

// checkSurface samples the whole surface: a little inside of it all is solid, a little outside all is
// gone. 60 µm is the tolerance, half of which may be cut into.
func checkSurface(t *testing.T, r *removal, m *mesh.Mesh, shift geom.Vec3) {
	t.Helper()
	tried, wrong := 0, 0
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		n := b.Sub(a).Cross(c.Sub(a)).Unit()
		if n.Y < -0.9 {
			continue // the base, from which the spigot grows
		}
		q := a.Add(b).Add(c).Mul(1.0 / 3)
		if q.Y < 0.3 {
			continue // the ball does not get into the corner at the spigot
		}
		tried++
		q = q.Add(shift)
		in, out := r.gone(q.Sub(n.Mul(0.031))), !r.gone(q.Add(n.Mul(0.061)))
		if in || out {
			if wrong++; wrong < 5 {
				t.Errorf("at %v, normal %v: cut into %v, stock left %v", q, n, in, out)
			}
		}
	}
	if wrong > 0 || tried < 2000 {
		t.Errorf("%d of %d samples of the surface are wrong", wrong, tried)
	}
}

// checkRemoved counts a lattice of points: bar = removed + left, as the report gives them.
func checkRemoved(t *testing.T, r *removal, o *barwise.Outcome) {
	t.Helper()
	const n, long = 20, 48
	gone := 0
	for i := range n {
		for j := range n {
			for k := range long {
				p := geom.Vec3{X: (float64(i)+0.5)/n*10 - 5, Y: (float64(k) + 0.5) / long * 24, Z: (float64(j)+0.5)/n*10 - 5}
				if r.gone(p) {
					gone++
				}
			}
		}
	}
	b := o.Facts.Bar
	if whole := 10 * 10 * 24.0; math.Abs(b.Volume-whole) > 0.05 || math.Abs(b.Removed+b.Left-whole) > 0.15 {
		t.Errorf("a bar of %g mm³: %g removed and %g left of %g", whole, b.Removed, b.Left, b.Volume)
	}
	// a lattice of 0.5 mm on some 400 mm² of surface: its count is good to about 1 %
	if got := float64(gone) / (n * n * long) * 2400; math.Abs(got-b.Removed) > 0.015*2400 {
		t.Errorf("a count of points gives %.1f mm³ removed, the report %.1f", got, b.Removed)
	}
}

// TestHoldings: which way the bar lies, where Z0 is and the unit of the job change the text of the
// programs, and nothing of the geometry.
func TestHoldings(t *testing.T) {
	m := around(askewRadius, askewMiddle)
	base := plan(t, m, askewJob)
	// inches, exactly: a thousandth is 0.0254 mm
	inch := `units: in
model: model.stl
model_units: mm
material: tooling-board
machine: {like: small-mill, arcs: false}
bar: {size: 10 mm, length: 24 mm, grip: 5 mm}
lay: {along: +y, end: 2 mm}
rough: {cutter: flat-3}
finish: {cutter: ball-3, cusp: 20 um, feed: 1200 mm/min}
tolerance: 60 um
`
	for name, c := range map[string]struct {
		job string
		h   held
	}{
		"bar along x":              {askewJob + "hold: {bar_along: x}\n", held{alongX: true}},
		"zero on top":              {askewJob + "hold: {zero: top}\n", held{zeroZ: 5}},
		"along x, zero on top":     {askewJob + "hold: {bar_along: x, zero: top}\n", held{alongX: true, zeroZ: 5}},
		"job in inches":            {inch, held{}},
		"stepover instead of cusp": {replace(t, askewJob, "cusp: 20 um", "stepover: "+stepoverOf(20e-3)), held{}},
	} {
		o := plan(t, m, c.job)
		if err := sameMoves(t, base, held{}, o, c.h, 0); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if o.Facts.Verdict != base.Facts.Verdict || math.Abs(o.Facts.Gouge.Max-base.Facts.Gouge.Max) > 0.2 || math.Abs(o.Facts.Leftover.Max-base.Facts.Leftover.Max) > 0.2 {
			t.Errorf("%s: %s, gouge %g, left %g; %s, %g, %g before", name, o.Facts.Verdict, o.Facts.Gouge.Max, o.Facts.Leftover.Max,
				base.Facts.Verdict, base.Facts.Gouge.Max, base.Facts.Leftover.Max)
		}
	}
}

// stepoverOf is the stepover on level ground that leaves cusps of h, from h = R − √(R² − s²/4).
func stepoverOf(h float64) string {
	return fmt.Sprintf("%.12f mm", 2*math.Sqrt(h*(2*radius-h)))
}

// sameMoves wants the programs of b to move as those of a, on sides turned by deg.
func sameMoves(t testing.TB, a *barwise.Outcome, ha held, b *barwise.Outcome, hb held, deg float64) error {
	if len(a.Texts) != len(b.Texts) || len(a.Texts) == 0 {
		return fmt.Errorf("%d and %d programs", len(a.Texts), len(b.Texts))
	}
	for i := range a.Texts {
		pa, pb := a.Facts.Programs[i], b.Facts.Programs[i]
		if math.Mod(pa.SideDeg+deg, 360) != pb.SideDeg || pa.Cutter != pb.Cutter {
			return fmt.Errorf("program %d: side %g with %s, and side %g with %s", i, pa.SideDeg, pa.Cutter, pb.SideDeg, pb.Cutter)
		}
		sa, sb := steps(t, a.Texts[i].Data), steps(t, b.Texts[i].Data)
		if len(sa) != len(sb) {
			return fmt.Errorf("program %d: %d and %d moves", i, len(sa), len(sb))
		}
		for k := range sa {
			// both are rounded to the fourth digit
			if d := ha.side(sa[k].to).Sub(hb.side(sb[k].to)).Len(); d > 2e-4 || sa[k].feed != sb[k].feed {
				return fmt.Errorf("program %d, move %d: %v and %v", i, k, ha.side(sa[k].to), hb.side(sb[k].to))
			}
		}
	}
	return nil
}
