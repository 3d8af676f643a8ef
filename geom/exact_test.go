package geom

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// ratSign2 and ratSign3 are the twins: determinants by Leibniz over the rationals, of the matrix with a
// row of ones, which is another formula than the one in use.
func ratSign2(p ...Vec2) int {
	rows := make([][]*big.Rat, 3)
	for i, a := range p {
		rows[i] = []*big.Rat{rat(a.X), rat(a.Y), rat(1)}
	}
	return det(rows).Sign()
}

func ratSign3(p ...Vec3) int {
	rows := make([][]*big.Rat, 4)
	for i, a := range p {
		rows[i] = []*big.Rat{rat(a.X), rat(a.Y), rat(a.Z), rat(1)}
	}
	return -det(rows).Sign() // moving the column of ones to the front takes three exchanges
}

func rat(x float64) *big.Rat { return new(big.Rat).SetFloat64(x) }

// det develops along the first row.
func det(m [][]*big.Rat) *big.Rat {
	if len(m) == 1 {
		return m[0][0]
	}
	sum := new(big.Rat)
	for k, x := range m[0] {
		var sub [][]*big.Rat
		for _, row := range m[1:] {
			sub = append(sub, append(append([]*big.Rat{}, row[:k]...), row[k+1:]...))
		}
		term := new(big.Rat).Mul(x, det(sub))
		if k%2 == 1 {
			term.Neg(term)
		}
		sum.Add(sum, term)
	}
	return sum
}

// The textbook cases.
func TestOrientation(t *testing.T) {
	if Orient2D(Vec2{0, 0}, Vec2{1, 0}, Vec2{0, 1}) != 1 {
		t.Error("x then y is not counter-clockwise")
	}
	if Orient3D(Vec3{}, Vec3{X: 1}, Vec3{Y: 1}, Vec3{Z: 1}) != 1 {
		t.Error("z is not above the plane of x and y")
	}
}

// near-degenerate points: a point put on a line or a plane by rounded arithmetic and then moved by a
// few last places; grids; huge and tiny scales; far from the origin.
func adversary(r *rand.Rand) [4]Vec3 {
	pick := func() float64 {
		switch r.IntN(6) {
		case 0:
			return float64(r.IntN(5) - 2)
		case 1:
			return float64(float32(r.NormFloat64()))
		case 2:
			return 1e9 + r.Float64()
		case 3:
			return math.Ldexp(r.NormFloat64(), r.IntN(80)-40)
		case 4:
			return 12 + float64(r.IntN(100))/(1<<50)
		}
		return r.NormFloat64()
	}
	if r.IntN(3) == 0 {
		k := pick()
		f := pick
		pick = func() float64 { return k * float64(r.IntN(4)) * 0.1 } // multiples of a number with no end in binary
		if r.IntN(4) == 0 {
			pick = f
		}
	}
	if r.IntN(20) == 0 { // where expansions cannot hold the products
		e := [...]int{-500, -1000, 400, 900}[r.IntN(4)]
		pick = func() float64 { return math.Ldexp(float64(r.IntN(3))+float64(r.IntN(2))*0x1p-52, e) }
	}
	a, b, c := Vec3{pick(), pick(), pick()}, Vec3{pick(), pick(), pick()}, Vec3{pick(), pick(), pick()}
	s, u := float64(r.IntN(4))/3, r.Float64()
	d := a.Add(b.Sub(a).Mul(s)).Add(c.Sub(a).Mul(u))
	for range r.IntN(3) {
		d.X = math.Nextafter(d.X, math.Inf(r.IntN(2)*2-1))
		d.Z = math.Nextafter(d.Z, math.Inf(r.IntN(2)*2-1))
	}
	if r.IntN(8) == 0 {
		d = Vec3{pick(), pick(), pick()}
	}
	return [4]Vec3{a, b, c, d}
}

func TestOrientAgainstRationals(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	zero, filtered := 0, 0
	for range 25_000 {
		p := adversary(r)
		want := ratSign3(p[0], p[1], p[2], p[3])
		if got := Orient3D(p[0], p[1], p[2], p[3]); got != want {
			t.Fatalf("%v: %d, want %d", p, got, want)
		}
		// the exact way alone, where the filter would have decided
		if got := orient3DExact(p[0], p[1], p[2], p[3]); got != want {
			t.Fatalf("%v: exactly %d, want %d", p, got, want)
		}
		if want == 0 {
			zero++
		}
		s := [2]float64{float64(r.IntN(3)) / 3, r.Float64()}[r.IntN(2)]
		a, b := p[0].XY(), p[1].XY()
		c := a.Add(b.Sub(a).Mul(s))
		if r.IntN(2) == 0 {
			c.Y = math.Nextafter(c.Y, 2*c.Y)
		}
		want = ratSign2(a, b, c)
		if got := Orient2D(a, b, c); got != want {
			t.Fatalf("%v %v %v: %d, want %d", a, b, c, got, want)
		}
		if got := orient2DExact(a, b, c); got != want {
			t.Fatalf("%v %v %v: exactly %d, want %d", a, b, c, got, want)
		}
		if l := b.Sub(a).Cross(c.Sub(a)); want != 0 && math.Signbit(l) != (want < 0) || want != 0 && l == 0 || want == 0 && l != 0 {
			filtered++ // a plain float determinant is wrong here
		}
	}
	if zero < 500 || filtered < 500 {
		t.Errorf("the input is tame: %d in a plane, plain floats wrong at %d", zero, filtered)
	}
}

// Laws: an exchange of two points changes the sign, a shift by what can be added without rounding does
// not, nor does a scale by a power of two.
func TestOrientLaws(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for range 10_000 {
		p := adversary(r)
		s := Orient3D(p[0], p[1], p[2], p[3])
		for i := range 4 {
			for j := range i {
				q := p
				q[i], q[j] = q[j], q[i]
				if Orient3D(q[0], q[1], q[2], q[3]) != -s {
					t.Fatalf("%v: exchanging %d and %d does not turn the sign %d", p, i, j, s)
				}
			}
		}
		a, b, c := p[0].XY(), p[1].XY(), p[3].XY()
		s2 := Orient2D(a, b, c)
		if Orient2D(b, a, c) != -s2 || Orient2D(a, c, b) != -s2 || Orient2D(c, b, a) != -s2 || Orient2D(b, c, a) != s2 {
			t.Fatalf("%v %v %v: %d does not turn", a, b, c, s2)
		}
		// multiples of 2⁻²⁰ below 2²⁰, moved by such: sums stay within 53 bits
		g := func() float64 { return float64(r.IntN(1<<40)-1<<39) / (1 << 20) }
		shift := Vec3{g(), g(), g()}
		for i := range p {
			p[i] = Vec3{g(), g(), g()}
		}
		if r.IntN(2) == 0 { // in one plane, exactly
			p[2].X, p[2].Y, p[2].Z = 2*p[1].X-p[0].X, 2*p[1].Y-p[0].Y, 2*p[1].Z-p[0].Z
		}
		s = Orient3D(p[0], p[1], p[2], p[3])
		if Orient3D(p[0].Add(shift), p[1].Add(shift), p[2].Add(shift), p[3].Add(shift)) != s {
			t.Fatalf("%v moved by %v: not %d", p, shift, s)
		}
		k := math.Ldexp(1, r.IntN(400)-200)
		if Orient3D(p[0].Mul(k), p[1].Mul(k), p[2].Mul(k), p[3].Mul(k)) != s {
			t.Fatalf("%v scaled by %g: not %d", p, k, s)
		}
	}
}

func BenchmarkOrient3D(b *testing.B) {
	p := [4]Vec3{{0.1, 0.2, 0.3}, {1.1, 0.2, 0.35}, {0.4, 1.7, 0.5}, {0.3, 0.3, 0.9}}
	for b.Loop() {
		Orient3D(p[0], p[1], p[2], p[3])
	}
}

// Four corners of a float32 grid in one plane: what flat faces of a machine part ask.
func BenchmarkOrient3DInPlane(b *testing.B) {
	p := [4]Vec3{{float64(float32(0.1)), 2, 7}, {float64(float32(1.3)), 2, 7}, {4, 2.5, 7}, {3, 3, 7}}
	for b.Loop() {
		Orient3D(p[0], p[1], p[2], p[3])
	}
}

// The same in a tilted plane, where differences do not fit one float.
func BenchmarkOrient3DNearPlane(b *testing.B) {
	p := [4]Vec3{{0.1, 0.2, 0.3}, {1.1, 0.2, 0.35}, {0.4, 1.7, 0.5}, {}}
	p[3] = p[0].Add(p[1].Sub(p[0]).Mul(0.3)).Add(p[2].Sub(p[0]).Mul(0.4))
	for b.Loop() {
		Orient3D(p[0], p[1], p[2], p[3])
	}
}
