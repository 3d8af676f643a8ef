package gcode

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
)

// The reader never panics; what it refuses is the text's fault; what it takes can be written and is then
// read alike.
func FuzzRead(f *testing.F) {
	var b bytes.Buffer
	if err := Write(&b, sample(), Params{Arcs: true, ToolChange: "m6", SpindleDwell: 3}); err != nil {
		f.Fatal(err)
	}
	f.Add(b.String())
	for _, s := range []string{
		"%\ng21 g0 x0 y0 z5\nf100\ng1 z-1\n%", "g20\ng0x0y0z1\nf10\ng18 g2 x1 z1 r-3\ng81 g99 x1 z-1 r0 l3\nm2",
		"g21 g0 x+0. 12 34y 7z1 (a) m3 s100\ng93 g3 x0 i1 f2\ng91 g19 g2 y1 j0.5 f3\nn5 g4 p1\n/m30", "(side 5)\n(zero 3 mm above axis)\n(bar along x)\ng21",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, err := Read("a.nc", strings.NewReader(s), ReadParams{Bare: true, MaxMoves: 20000})
		if err != nil {
			if !finding.IsInput(err) {
				t.Fatalf("%v is not an input error", err)
			}
			return
		}
		for i, m := range x.Moves {
			if !m.To.Finite() || !m.Centre.Finite() || !(m.Feed >= 0) || math.IsInf(m.Feed, 0) {
				t.Fatalf("move %d: %+v", i, m)
			}
		}
		o := Params{Arcs: true, Frame: x.Frame, Inch: x.Inch, Decimals: 6}
		var first, second bytes.Buffer
		if Write(&first, x.Program, o) != nil {
			return // numbers, feeds or names that are not written
		}
		y, err := Read("a.nc", bytes.NewReader(first.Bytes()), ReadParams{Bare: true})
		if err != nil {
			t.Fatalf("%v in\n%s", err, first.String())
		}
		if err := Write(&second, y.Program, o); err != nil || first.String() != second.String() {
			t.Fatalf("%v: written\n%s\nand again\n%s", err, first.String(), second.String())
		}
	})
}

// finishing is raster passes of a wavy surface in moves of 0.05 mm.
func finishing(n int) path.Program {
	p := path.Program{Name: "a.nc", Cutter: "ball-1", SpindleRPM: 24000, Start: geom.Vec3{Z: 20}, Moves: make([]path.Move, n)}
	for i := range p.Moves {
		y := float64(i+1) * 0.05
		row := math.Floor(y / 80)
		p.Moves[i] = path.Move{To: geom.Vec3{X: row * 0.1, Y: math.Mod(y, 80), Z: math.Sin(y * 0.6)}, Mode: path.Line, Feed: 20}
	}
	return p
}

func BenchmarkWrite(b *testing.B) {
	p := finishing(1_000_000)
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(io.Discard, p, Params{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(p.Moves)*b.N)/b.Elapsed().Seconds()/1e6, "Mmoves/s")
}

func BenchmarkRead(b *testing.B) {
	var text bytes.Buffer
	if err := Write(&text, finishing(1_000_000), Params{}); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("a.nc", bytes.NewReader(text.Bytes()), ReadParams{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(1_000_000*b.N)/b.Elapsed().Seconds()/1e6, "Mlines/s")
}

func BenchmarkReadArcs(b *testing.B) {
	var text bytes.Buffer
	fmt.Fprint(&text, "g21\ng0 x0 y0 z5\nf100\ng2")
	for i := range 200_000 {
		fmt.Fprintf(&text, " x%d y0 i2.5 j0\n", 5*((i+1)%2))
		if i%2 == 0 {
			fmt.Fprint(&text, "g3")
		} else {
			fmt.Fprint(&text, "g2")
		}
	}
	s := strings.ReplaceAll(text.String(), "x0 y0 i2.5", "x0 y0 i-2.5")
	s = s[:len(s)-2] + "m2\n"
	for b.Loop() {
		if _, err := Read("a.nc", strings.NewReader(s), ReadParams{Bare: true}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(200_000*b.N)/b.Elapsed().Seconds()/1e6, "Mlines/s")
}
