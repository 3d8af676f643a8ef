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

// Hull is the convex hull of the model seen along the bar, counter-clockwise from +X to +Z: X of a
// point is x and Y is z of the part frame, mm.
func (o *Placed) Hull() []geom.Vec2 {
	vs := corners(o.Mesh, o.ModelTriangles)
	pts := make([]geom.Vec2, len(vs))
	for i, v := range vs {
		pts[i] = geom.Vec2{X: v.X, Y: v.Z}
	}
	return hull(pts)
}

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
	// the slice of each vertex and its place across the view; triangles within a slice are done then
	t := geom.TurnDeg(deg)
	in, x := make([]int16, len(o.Mesh.Vertices)), make([]float64, len(o.Mesh.Vertices))
	for i, v := range o.Mesh.Vertices {
		in[i], x[i] = int16(out.slice(v.Y)), t.ToSide(v).X
	}
	for _, tr := range o.Mesh.Triangles[:o.ModelTriangles] {
		for k, a := range tr {
			out.widen(int(in[a]), x[a])
			if b := tr[(k+1)%3]; in[a] != in[b] {
				out.edge(geom.Vec2{X: x[a], Y: o.Mesh.Vertices[a].Y}, geom.Vec2{X: x[b], Y: o.Mesh.Vertices[b].Y}, int(in[a]), int(in[b]))
			}
		}
	}
	for i := range n {
		if out.Lo[i] > out.Hi[i] {
			out.Lo[i], out.Hi[i] = 0, -1
		}
	}
	return out
}

// edge widens the slices that an edge passes, where it goes from one to the next. Points are (x, y).
func (o *Outline) edge(a, b geom.Vec2, from, to int) {
	if from > to {
		a, b, from, to = b, a, to, from
	}
	for i := from + 1; i <= to; i++ {
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
