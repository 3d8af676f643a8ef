package scan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"barwise/finding"
)

// strconv is the slow twin: correct rounding of every number.
func TestFloatAgainstStrconv(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	check := func(s string) {
		t.Helper()
		want, err := strconv.ParseFloat(s, 64)
		got, ok := Float([]byte(s))
		if ok != (err == nil || errors.Is(err, strconv.ErrRange)) || ok && math.Float64bits(got) != math.Float64bits(want) {
			t.Errorf("%q: got %v %v, want %v %v", s, got, ok, want, err)
		}
	}
	for _, s := range []string{"0", "-0", "1", "+1.5", ".5", "5.", ".", "", "-", "e5", "1e", "1e+", "1e5", "1E-5", "-1.25e+02",
		"9007199254740993", "9007199254740992", "0.1", "123456789012345678901234567890", "1e22", "1e23", "1e-22", "1e-23",
		"4.9e-324", "1e400", "-1e400", "1e-400", "nan", "inf", "-Infinity", "1.2.3", "1,5", "0x10", "1e99999999999", "12a",
		"00000000000000000000000000001.5", "1.00000000000000000000000000000000000001"} {
		check(s)
	}
	for range 20000 {
		x := math.Float64frombits(r.Uint64())
		check(strconv.FormatFloat(x, 'g', -1, 64))
		y := r.NormFloat64() * 100
		for _, f := range []byte{'f', 'e', 'g'} {
			check(strconv.FormatFloat(y, f, r.IntN(20), 64))
		}
	}
}

func TestInt(t *testing.T) {
	for s, want := range map[string]int32{"0": 0, "7": 7, "-3": -3, "+3": 3, "2147483647": math.MaxInt32, "-2147483648": math.MinInt32} {
		if n, ok := Int([]byte(s)); !ok || n != want {
			t.Errorf("%q: %d %v", s, n, ok)
		}
	}
	for _, s := range []string{"", "-", "+", "1.0", "2147483648", "-2147483649", "99999999999", "1e3", " 1", "--1"} {
		if n, ok := Int([]byte(s)); ok {
			t.Errorf("%q: read as %d", s, n)
		}
	}
}

func TestLines(t *testing.T) {
	long := strings.Repeat("x", 300<<10)
	text := "one\r\n\n three \n" + long + "\nlast"
	for name, r := range map[string]*Lines{
		"whole":        New(context.Background(), strings.NewReader(text)),
		"byte by byte": New(context.Background(), iotest.OneByteReader(strings.NewReader(text))),
		"half":         New(context.Background(), iotest.HalfReader(strings.NewReader(text))),
		"early EOF":    New(context.Background(), iotest.DataErrReader(strings.NewReader(text))),
	} {
		at := int64(0)
		for i, want := range []string{"one", "", " three ", long, "last"} {
			line, ok := r.Next()
			if !ok || string(line) != want || r.Line() != i+1 {
				t.Fatalf("%s: line %d: %d bytes, %v", name, r.Line(), len(line), ok)
			}
			at += int64(len(want)) + 1
			if i == 0 {
				at++
			}
			if want := min(at, int64(len(text))); r.Offset() != want {
				t.Errorf("%s: offset %d, want %d", name, r.Offset(), want)
			}
		}
		if _, ok := r.Next(); ok || r.Err() != nil {
			t.Errorf("%s: not at the end: %v", name, r.Err())
		}
	}
}

func TestLinesStop(t *testing.T) {
	r := New(context.Background(), iotest.TimeoutReader(strings.NewReader(strings.Repeat("a\n", 1<<20))))
	for {
		if _, ok := r.Next(); !ok {
			break
		}
	}
	if !errors.Is(r.Err(), iotest.ErrTimeout) {
		t.Error(r.Err())
	}
	r = New(context.Background(), strings.NewReader(strings.Repeat("a", 3<<20)))
	if _, ok := r.Next(); ok || !finding.IsInput(r.Err()) {
		t.Error("a line without end is read", r.Err())
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r = New(ctx, strings.NewReader("a\n"))
	if _, ok := r.Next(); ok || !errors.Is(r.Err(), context.Canceled) {
		t.Error(r.Err())
	}
}

func TestFloats(t *testing.T) {
	var x [3]float64
	rest, _, ok := Floats([]byte("\t1 -2.5  3e1 more"), x[:])
	if !ok || x != [3]float64{1, -2.5, 30} || string(rest) != " more" {
		t.Errorf("%v %q %v", x, rest, ok)
	}
	if _, w, ok := Floats([]byte("1 two 3"), x[:]); ok || string(w) != "two" {
		t.Errorf("%q %v", w, ok)
	}
	if _, w, ok := Floats([]byte("1 2"), x[:]); ok || len(w) != 0 {
		t.Errorf("%q %v", w, ok)
	}
}

func BenchmarkFloats(b *testing.B) {
	var line []byte
	for i := range 3 {
		line = fmt.Appendf(line, "%.6f ", 12.345678*float64(i+1))
	}
	var x [3]float64
	b.SetBytes(int64(len(line)))
	for b.Loop() {
		if _, _, ok := Floats(line, x[:]); !ok {
			b.Fatal("not read")
		}
	}
}
