// Package place puts a model into a bar: which way it lies, how large it is, and what it hangs on.
package place

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/bar"
)

// Params says how the model is to lie. At most one of Scale, Height and Fit is given; with none the
// model keeps its size.
type Params struct {
	Bar    bar.Bar
	UnitMM float64 // mm of the mesh's unit; 0: 1

	Along   string    // model axis that comes to point to the free end: "+x" … "-z"; "": "+y"
	Dir     geom.Vec3 // model direction that comes to point to the free end, of any length; unless zero, in place of Along
	TurnDeg float64   // turn about the bar's axis after that: what faced side 0 comes to face the side of this index angle

	Scale  float64 // times its size in mm
	Height float64 // mm along the bar
	Fit    bool    // the largest that fits the section and the length
	Margin float64 // mm kept to the flats and, with Fit, left over all round

	ShiftX, ShiftZ float64 // mm off the centred position, part frame
	Back           float64 // mm the model lies further from the free end than EndAllowance puts it

	Gap          float64 // mm of spigot between stub and model; 0 without a spigot
	Embed        float64 // mm the model's base stands in the stub where there is no spigot; 0: 0.5
	EndAllowance float64 // mm of bar beyond the model at the free end
	Stand        float64 // mm of bar at least between the grip and where cutting begins
	Spigot       *Spigot // nil: the model's own base stands on the stub
}

// Spigot is what the piece hangs on: a cylinder about the bar's axis, or a square bar with its flats to
// sides 0, 90, 180 and 270.
type Spigot struct {
	Radius float64 // mm; of a square one half the width across flats
	Square bool
	Fillet float64 // mm, radius of the hollow with which it runs out into the stub and into the piece
}

// DefaultEmbed is how far a base without a spigot stands in the stub, mm.
const DefaultEmbed = 0.5

// Placed is the model in the part frame.
type Placed struct {
	Mesh           *mesh.Mesh // the model, and behind it the spigot as a shell of its own
	ModelTriangles int        // how many of the triangles are the model's own; they come first
	Box            geom.Box3  // of the model, without the spigot
	Y0, Y1         float64    // the model's extent along the bar
	StubY          float64    // below it the bar is never cut
	Scale          float64    // part mm for a unit of the mesh as it was read
	To             Motion     // from the mesh as it was read to the part frame
	Spigot         *Held      // nil without one
	Contact        float64    // mm² by which the model hangs on the spigot or, without one, on the stub
	Clear          []Clear    // room between the model and each flat; for a round bar one entry
	LeastClear     float64    // the least of them, mm
	Findings       []finding.Finding
}

// Held is the spigot as it was made.
type Held struct {
	Spigot
	From, To    float64 // y of its ends, inside the stub and inside the model
	Share       float64 // part of its section that meets the model, 0 to 1
	Bare        float64 // mm along which it stands beside the model's lowest parts, outside the model
	StubFillet  float64 // mm, as made at the stub: less than asked for where the bar is no wider
	PieceFillet float64 // mm, as made at the piece: less where the base is no wider, 0 where Share is below 1
	Meets       float64 // y from which on the section grown by PieceFillet is inside the model: the fillet's upper end
	Facet       float64 // mm that a facet of it lies off the true surface at most
}

// Clear is the room between the model and a flat.
type Clear struct {
	Deg float64 // index angle of the flat
	MM  float64
}

// Place lays m, in its file's unit, into the bar. The model lies against the free end, or as far back
// from it as Params say, so that what is left of the bar stays in one piece. Errors of size and of Params are *finding.InputError.
func Place(ctx context.Context, m *mesh.Mesh, p Params) (*Placed, error) {
	p, err := p.checked()
	if err != nil {
		return nil, err
	}
	if len(m.Triangles) == 0 {
		return nil, mesh.Empty("model")
	}
	to := Toward(p.Dir, p.TurnDeg)
	f := measure(m, to, p.Bar)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if to.Scale, err = p.scale(f); err != nil {
		return nil, err
	}
	c := f.centre.Mul(to.Scale)
	to.Shift = geom.Vec3{X: p.ShiftX - c.X, Y: p.Bar.Length - p.EndAllowance - p.Back - float64(to.Scale*f.box.Max.Y), Z: p.ShiftZ - c.Y}
	out := &Placed{Mesh: m.Map(to.Apply), ModelTriangles: len(m.Triangles), Scale: to.Scale, To: to}
	out.Box = out.Mesh.Box()
	out.Y0, out.Y1 = out.Box.Min.Y, out.Box.Max.Y
	out.clear(p.Bar)
	if err := p.fits(out, f); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if p.Spigot != nil {
		err = out.hang(p)
	} else {
		err = out.stand(p)
	}
	if err != nil {
		return nil, err
	}
	finding.Sort(out.Findings)
	return out, nil
}

// checked fills what is left out and refuses what makes no sense.
func (p Params) checked() (Params, error) {
	if p.UnitMM == 0 {
		p.UnitMM = 1
	}
	if p.Along == "" {
		p.Along = "+y"
	}
	if !p.Dir.Finite() {
		return p, finding.Bad("placement", "direction", fmt.Sprintf("(%g, %g, %g): finite numbers are allowed", p.Dir.X, p.Dir.Y, p.Dir.Z), "")
	}
	if p.Embed == 0 {
		p.Embed = DefaultEmbed
	}
	along, ok := axes[p.Along]
	if !ok {
		return p, finding.Bad("placement", "along", fmt.Sprintf("%q: +x, -x, +y, -y, +z or -z is allowed", p.Along), "")
	}
	if p.Dir == (geom.Vec3{}) {
		p.Dir = along
	}
	given := 0
	for _, on := range [...]bool{p.Scale != 0, p.Height != 0, p.Fit} {
		if on {
			given++
		}
	}
	if given > 1 {
		return p, finding.Bad("placement", "scale, height, fit", "more than one of them is given", "give one: they all set the model's size")
	}
	for _, v := range [...]struct {
		name string
		v    float64
	}{{"unit", p.UnitMM}, {"scale", p.Scale}, {"height", p.Height}, {"margin", p.Margin}, {"gap", p.Gap},
		{"embed", p.Embed}, {"end allowance", p.EndAllowance}, {"back", p.Back}, {"stand", p.Stand}} {
		if !(v.v >= 0) || math.IsInf(v.v, 1) {
			return p, finding.Bad("placement", v.name, fmt.Sprintf("%g: 0 or more is allowed", v.v), "")
		}
	}
	if s := p.Spigot; s != nil {
		if !(s.Radius > 0) || !(s.Fillet >= 0) {
			return p, finding.Bad("placement", "spigot", fmt.Sprintf("radius %g and fillet %g: a radius above 0 and a fillet of 0 or more are needed", s.Radius, s.Fillet), "")
		}
		if p.Gap == 0 || p.Gap < 2*s.Fillet {
			return p, finding.Bad("spigot-gap", "gap", fmt.Sprintf("a gap of %.4g mm between stub and model, more than 0 and at least twice the spigot's fillet of %.4g mm is needed", p.Gap, s.Fillet),
				"give the spigot a length: the cutter that clears it has to go in")
		}
	} else if p.Gap > 0 {
		return p, finding.Bad("spigot-gap", "gap", fmt.Sprintf("a gap of %.4g mm between stub and model, and no spigot across it", p.Gap), "ask for a spigot, or leave the gap out")
	}
	return p, nil
}

// room is what of the bar's length the model may take.
func (p Params) room() float64 {
	r := p.Bar.Length - p.EndAllowance - p.Back - p.Bar.Grip - p.Stand - p.Gap
	if p.Spigot == nil {
		r += p.Embed
	}
	return r
}

// scale settles the model's scale.
func (p Params) scale(f figure) (float64, error) {
	size := f.box.Size()
	switch {
	case p.Height > 0:
		if size.Y <= 0 {
			return 0, finding.Bad("mesh-flat", "height", "the model has no extent along the bar", "choose another axis for it")
		}
		return p.Height / size.Y, nil
	case p.Fit:
		s := f.largest(p)
		if !(s > 0) || math.IsInf(s, 1) {
			return 0, finding.Bad("model-too-large", "bar", fmt.Sprintf("no scale makes the model fit: %.4g mm of the bar's length are free for it, with a margin of %.4g mm to its flats", p.room(), p.Margin),
				"take a longer bar, or less margin, gap or end allowance")
		}
		return s, nil
	case p.Scale > 0:
		return p.Scale * p.UnitMM, nil
	}
	return p.UnitMM, nil
}

// slack is by how much the model may overlap the bar's faces by rounding, mm.
const slack = 1e-6

// fits refuses a model that does not fit the bar.
func (p Params) fits(o *Placed, f figure) error {
	long := o.Y1 - o.Y0 - p.room()
	over := p.Margin - o.LeastClear
	if long <= slack && over <= slack {
		return nil
	}
	where, text := "bar", ""
	if over > slack {
		worst := o.Clear[0]
		for _, c := range o.Clear {
			if c.MM < worst.MM {
				worst = c
			}
		}
		where = fmt.Sprintf("flat at %g°", worst.Deg)
		if p.Bar.Shape == bar.Round {
			where = "round bar"
		}
		text = fmt.Sprintf("the model, %.4g mm across X and %.4g mm across Z, stands %.4g mm beyond the bar", o.Box.Size().X, o.Box.Size().Z, -worst.MM)
		if worst.MM >= 0 {
			text = fmt.Sprintf("the model comes within %.4g mm of the bar's face, a margin of %.4g mm is asked for", worst.MM, p.Margin)
		}
	}
	if long > slack {
		if text != "" {
			text += "; it"
		} else {
			where, text = "bar's length", "the model"
		}
		text += fmt.Sprintf(" is %.4g mm long and %.4g mm of the bar are free for it: the bar would have to be %.4g mm long",
			o.Y1-o.Y0, max(p.room(), 0), p.Bar.Length+long)
	}
	hint := "take a larger bar"
	if s := f.largest(p); s > 0 {
		hint = fmt.Sprintf("a scale of %.4g would fit, or take a larger bar", math.Floor(s/p.UnitMM*1e4)/1e4)
	}
	return finding.Bad("model-too-large", where, text, hint)
}

// clear measures the room to the bar's faces.
func (o *Placed) clear(b bar.Bar) {
	vs := corners(o.Mesh, o.ModelTriangles)
	if b.Shape == bar.Round {
		most := 0.0
		for _, v := range vs {
			most = max(most, math.Hypot(v.X, v.Z))
		}
		o.Clear = []Clear{{0, b.Width/2 - most}}
	}
	for _, fl := range b.Flats() {
		t, most := geom.TurnDeg(fl.Deg), math.Inf(-1)
		for _, v := range vs {
			most = max(most, t.ToSide(v).Z)
		}
		o.Clear = append(o.Clear, Clear{fl.Deg, fl.D - most})
	}
	o.LeastClear = math.Inf(1)
	for _, c := range o.Clear {
		o.LeastClear = min(o.LeastClear, c.MM)
	}
}

// corners are the vertices that the first n triangles use, each once.
func corners(m *mesh.Mesh, n int) []geom.Vec3 {
	out := make([]geom.Vec3, 0, len(m.Vertices))
	used := make([]bool, len(m.Vertices))
	for _, t := range m.Triangles[:n] {
		for _, v := range t {
			if !used[v] {
				used[v] = true
				out = append(out, m.Vertices[v])
			}
		}
	}
	return out
}

// stand puts the model's own base on the stub.
func (o *Placed) stand(p Params) error {
	o.StubY = o.Y0 + p.Embed
	if o.StubY >= o.Y1 {
		return finding.Bad("placement", "embed", fmt.Sprintf("the base stands %.4g mm in the stub and the model is %.4g mm long", p.Embed, o.Y1-o.Y0), "embed less, or hang the model on a spigot")
	}
	o.Contact = Section(o.Mesh, o.ModelTriangles, o.StubY)
	if o.Contact <= 0 {
		return finding.Bad("model-loose", fmt.Sprintf("y %.4g mm", o.StubY), "the model has no section where it is to stand on the stub",
			"bring the base down to the stub in the model, or let a spigot be made")
	}
	return nil
}

// Section returns the area of the section at y of the first n triangles, closed and facing outward.
func Section(m *mesh.Mesh, n int, y float64) float64 {
	sum := 0.0
	for i := range n {
		a, b, c := m.Corners(i)
		v := [3]geom.Vec3{a, b, c}
		var in, out geom.Vec2
		got := 0
		for k := range v {
			p, q := v[k], v[(k+1)%3]
			if (p.Y > y) == (q.Y > y) {
				continue
			}
			s := p.Lerp(q, (y-p.Y)/(q.Y-p.Y))
			// seen along −Y, with the outside to the right of the walk from falling to rising edge
			if p.Y > y {
				in = geom.Vec2{X: s.Z, Y: s.X}
			} else {
				out = geom.Vec2{X: s.Z, Y: s.X}
			}
			got++
		}
		if got == 2 {
			sum += in.Cross(out)
		}
	}
	return sum / 2
}
