package cli

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
)

type point [3]float64

// bell is a dome on a cone, turned about Z: 7 mm across, 10 mm high, narrow end down. All of it can be
// reached from the sides.
func bell() [][3]point {
	rz := [][2]float64{{0, 6}}
	for k := 1; k <= 12; k++ {
		s, c := math.Sincos(math.Pi / 2 * float64(k) / 12)
		rz = append(rz, [2]float64{3.5 * s, 6 * c})
	}
	return turned(append(rz, [2]float64{1.5, -4}, [2]float64{0, -4}), 40)
}

// turned is the closed surface that a line of (radius, height) sweeps about Z; it begins and ends on
// the axis and goes down.
func turned(rz [][2]float64, around int) (out [][3]point) {
	at := func(i, j int) point {
		s, c := math.Sincos(2 * math.Pi * float64(j%around) / float64(around))
		return point{rz[i][0] * c, rz[i][0] * s, rz[i][1]}
	}
	for i := range len(rz) - 1 {
		for j := range around {
			if rz[i+1][0] > 0 {
				out = append(out, [3]point{at(i, j), at(i+1, j), at(i+1, j+1)})
			}
			if rz[i][0] > 0 {
				out = append(out, [3]point{at(i, j), at(i+1, j+1), at(i, j+1)})
			}
		}
	}
	return out
}

func moved(ts [][3]point, dx, dy, dz float64) (out [][3]point) {
	for _, t := range ts {
		for k := range t {
			t[k] = point{t[k][0] + dx, t[k][1] + dy, t[k][2] + dz}
		}
		out = append(out, t)
	}
	return out
}

// stl is the binary form: 80 bytes of header, a count, 50 bytes a triangle.
func stl(ts [][3]point) []byte {
	b := make([]byte, 80, 84+50*len(ts))
	b = binary.LittleEndian.AppendUint32(b, uint32(len(ts)))
	for _, t := range ts {
		b = append(b, make([]byte, 12)...)
		for _, p := range t {
			for _, v := range p {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
			}
		}
		b = append(b, 0, 0)
	}
	return b
}

func modelBytes(kind string) ([]byte, error) {
	switch kind {
	case "bell":
		return stl(bell()), nil
	case "open": // a hole where the first triangles were
		return stl(bell()[3:]), nil
	case "apart":
		return stl(append(bell(), moved(turned([][2]float64{{0, 1}, {1, 0}, {0, -1}}, 8), 0, 0, 9)...)), nil
	case "plane":
		return stl([][3]point{{{0, 0, 0}, {5, 0, 0}, {5, 5, 0}}, {{0, 0, 0}, {5, 5, 0}, {0, 5, 0}}}), nil
	case "nan":
		ts := bell()
		ts[7][1][2] = math.NaN()
		return stl(ts), nil
	case "truncated":
		b := stl(bell())
		return b[:len(b)*2/3], nil
	case "empty":
		return nil, nil
	case "notriangles":
		return stl(nil), nil
	case "words":
		return bytes.Repeat([]byte("this is not a mesh\n"), 20), nil
	}
	return nil, fmt.Errorf("no model %q", kind)
}
