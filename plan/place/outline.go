package place

import (
	"math"

	"barwise/geom"
)

// Outline is how far a model reaches across a side's view in slices along the bar: between Y[i] and
// Y[i+1] from Lo[i] to Hi[i], mm in the side's x; Lo is above Hi where a slice has nothing of the model.
type Outline struct {
	Deg    float64 // index angle of the side it is seen from
	Y      []float64
	Lo, Hi []float64
}

// outlineSlices is how many slices an outline has.
const outlineSlices = 160

// Outline returns the model's outline, without the spigot, seen from the side of index angle deg.
func (o *Placed) Outline(deg float64) Outline {
	n := outlineSlices
	out := Outline{Deg: deg, Y: make([]float64, n+1), Lo: make([]float64, n), Hi: make([]float64, n)}
	for i := range n + 1 {
		out.Y[i] = o.Y0 + float64((o.Y1-o.Y0)*(float64(i)/float64(n)))
	}
	for i := range n {
		out.Lo[i], out.Hi[i] = math.Inf(1), math.Inf(-1)
	}
	t := geom.TurnDeg(deg)
	for i := range o.ModelTriangles {
		a, b, c := o.Mesh.Corners(i)
		p := [3]geom.Vec3{t.ToSide(a), t.ToSide(b), t.ToSide(c)}
		for k := range p {
			out.edge(p[k], p[(k+1)%3])
		}
	}
	for i := range n {
		if out.Lo[i] > out.Hi[i] {
			out.Lo[i], out.Hi[i] = 0, -1
		}
	}
	return out
}

// edge widens the slices that an edge passes: by its ends and where it goes from one to the next.
func (o *Outline) edge(a, b geom.Vec3) {
	if a.Y > b.Y {
		a, b = b, a
	}
	first, last := o.slice(a.Y), o.slice(b.Y)
	o.widen(first, a.X)
	o.widen(last, b.X)
	for i := first + 1; i <= last; i++ {
		if b.Y <= a.Y {
			break
		}
		x := a.X + float64((b.X-a.X)*min(max((o.Y[i]-a.Y)/(b.Y-a.Y), 0), 1))
		o.widen(i-1, x)
		o.widen(i, x)
	}
}

func (o *Outline) slice(y float64) int {
	n := len(o.Lo)
	h := (o.Y[n] - o.Y[0]) / float64(n)
	if !(h > 0) {
		return 0
	}
	return min(max(int((y-o.Y[0])/h), 0), n-1)
}

func (o *Outline) widen(i int, x float64) {
	o.Lo[i], o.Hi[i] = min(o.Lo[i], x), max(o.Hi[i], x)
}
