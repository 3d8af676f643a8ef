// Package geom holds the vectors, boxes and rigid motions the rest of the house is measured in.
//
// Lengths are millimetres and angles radians. Sums of products are written with explicit float64
// conversions: the Go specification lets a compiler fuse x*y + z unless the product is converted, and
// a fused product would give other bytes on another CPU.
package geom

import "math"

// Vec2 is a point or a direction in a plane.
type Vec2 struct{ X, Y float64 }

// Vec3 is a point or a direction in space.
type Vec3 struct{ X, Y, Z float64 }

// Add returns a + b.
func (a Vec2) Add(b Vec2) Vec2 { return Vec2{a.X + b.X, a.Y + b.Y} }

// Sub returns a − b.
func (a Vec2) Sub(b Vec2) Vec2 { return Vec2{a.X - b.X, a.Y - b.Y} }

// Mul returns k·a. The products are guarded, for this is inlined into sums.
func (a Vec2) Mul(k float64) Vec2 { return Vec2{float64(a.X * k), float64(a.Y * k)} }

// Dot returns the inner product.
func (a Vec2) Dot(b Vec2) float64 { return float64(a.X*b.X) + float64(a.Y*b.Y) }

// Cross returns the z component of a × b: positive where b lies counter-clockwise of a.
func (a Vec2) Cross(b Vec2) float64 { return float64(a.X*b.Y) - float64(a.Y*b.X) }

// Len returns the length.
func (a Vec2) Len() float64 { return math.Sqrt(a.Dot(a)) }

// Add returns a + b.
func (a Vec3) Add(b Vec3) Vec3 { return Vec3{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }

// Sub returns a − b.
func (a Vec3) Sub(b Vec3) Vec3 { return Vec3{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }

// Mul returns k·a.
func (a Vec3) Mul(k float64) Vec3 { return Vec3{float64(a.X * k), float64(a.Y * k), float64(a.Z * k)} }

// Dot returns the inner product.
func (a Vec3) Dot(b Vec3) float64 {
	return float64(a.X*b.X) + float64(a.Y*b.Y) + float64(a.Z*b.Z)
}

// Cross returns the vector product a × b.
func (a Vec3) Cross(b Vec3) Vec3 {
	return Vec3{
		float64(a.Y*b.Z) - float64(a.Z*b.Y),
		float64(a.Z*b.X) - float64(a.X*b.Z),
		float64(a.X*b.Y) - float64(a.Y*b.X),
	}
}

// Len returns the length.
func (a Vec3) Len() float64 { return math.Sqrt(a.Dot(a)) }

// Unit returns a scaled to length 1; the zero vector stays zero.
func (a Vec3) Unit() Vec3 {
	l := a.Len()
	if l == 0 {
		return a
	}
	return a.Mul(1 / l)
}

// XY drops the height.
func (a Vec3) XY() Vec2 { return Vec2{a.X, a.Y} }

// Lerp returns a + t·(b − a).
func (a Vec3) Lerp(b Vec3, t float64) Vec3 {
	return Vec3{
		a.X + float64((b.X-a.X)*t),
		a.Y + float64((b.Y-a.Y)*t),
		a.Z + float64((b.Z-a.Z)*t),
	}
}

// Finite reports whether no coordinate is NaN or infinite.
func (a Vec3) Finite() bool {
	s := a.X - a.X + (a.Y - a.Y) + (a.Z - a.Z)
	return s == 0
}

// Box3 is an axis-aligned box, closed. The empty box has Min > Max.
type Box3 struct{ Min, Max Vec3 }

// EmptyBox is the box that holds nothing.
func EmptyBox() Box3 {
	i := math.Inf(1)
	return Box3{Vec3{i, i, i}, Vec3{-i, -i, -i}}
}

// Grow returns the smallest box holding b and p.
func (b Box3) Grow(p Vec3) Box3 {
	return Box3{
		Vec3{min(b.Min.X, p.X), min(b.Min.Y, p.Y), min(b.Min.Z, p.Z)},
		Vec3{max(b.Max.X, p.X), max(b.Max.Y, p.Y), max(b.Max.Z, p.Z)},
	}
}

// Union returns the smallest box holding both.
func (b Box3) Union(o Box3) Box3 { return b.Grow(o.Min).Grow(o.Max) }

// Empty reports whether the box holds nothing.
func (b Box3) Empty() bool { return b.Min.X > b.Max.X || b.Min.Y > b.Max.Y || b.Min.Z > b.Max.Z }

// Size returns the edge lengths.
func (b Box3) Size() Vec3 { return b.Max.Sub(b.Min) }

// Centre returns the middle.
func (b Box3) Centre() Vec3 { return b.Min.Add(b.Max).Mul(0.5) }
