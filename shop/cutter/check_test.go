package cutter

import (
	"math"
	"strings"
	"testing"
)

func sound() Cutter {
	return Cutter{ID: "ball-1", Shape: ShapeBall, Profile: Ball(0.5), Edges: 2, LCF: 3, LU: 14, DN: 0.95, DMM: 3, OAL: 50, StickOut: 22,
		Holder: []Collar{{0, 6}, {15, 10}}, RampDeg: 3}
}

// The relations between ISO 13399 symbols: LU ≥ APMX, OAL > LU, RE ≤ DC/2, DN ≤ DC.
func TestCheck(t *testing.T) {
	if f := sound().Check(); len(f) != 0 {
		t.Fatalf("a sound cutter: %v", f)
	}
	for _, c := range []struct {
		name, symbol, says string
		spoil              func(*Cutter)
	}{
		{"no diameter", "DC", "more than 0", func(c *Cutter) { c.Profile = Profile{} }},
		{"no edges", "ZEFP", "at least 1", func(c *Cutter) { c.Edges = 0 }},
		{"no flutes", "LCF", "more than 0", func(c *Cutter) { c.LCF = 0 }},
		{"corner beyond the half", "RE", "at most half", func(c *Cutter) { c.Profile = Profile{R: 0.5, Round: 0.6} }},
		{"deeper than the flutes", "APMX", "at most the flute length", func(c *Cutter) { c.APMX = 4 }},
		{"reach below the depth", "LU", "at least the depth of cut", func(c *Cutter) { c.LU, c.DN = 2, 0 }},
		{"neck wider than the edges", "DN", "at most the cutting diameter", func(c *Cutter) { c.DN = 1.2 }},
		{"neck without a place", "LU", "a neck of 0.95", func(c *Cutter) { c.LU = 3 }},
		{"shorter than its reach", "OAL", "more than 14", func(c *Cutter) { c.OAL = 14; c.StickOut = 13 }},
		{"no stick-out", "stick_out", "more than 0", func(c *Cutter) { c.StickOut = 0 }},
		{"flutes in the holder", "stick_out", "at least the flute length", func(c *Cutter) { c.StickOut = 2 }},
		{"sticking out whole", "stick_out", "less than the overall length", func(c *Cutter) { c.StickOut = 50 }},
		{"cone taller than its flutes", "LCF", "mm tall", func(c *Cutter) { c.Profile = Cone(3, math.Pi/12, 0); c.DN = 0 }},
		{"flank past level", "SIG", "less than 90", func(c *Cutter) { c.Half = 2 }},
		{"holder from the top down", "holder", "step 2", func(c *Cutter) { c.Holder = []Collar{{15, 10}, {0, 6}} }},
		{"ramp over the vertical", "ramp", "0 to 90", func(c *Cutter) { c.RampDeg = 91 }},
	} {
		x := sound()
		c.spoil(&x)
		found := false
		for _, f := range x.Check() {
			found = found || f.Where == c.symbol && strings.Contains(f.Text, c.says)
		}
		if !found {
			t.Errorf("%s: %v names no %s with %q", c.name, x.Check(), c.symbol, c.says)
		}
	}
}

func TestReach(t *testing.T) {
	c := sound() // shank Ø3 begins at LU 14
	near(t, "neck", c.Reach(), 14, 0)
	c.DMM = 1 // shank no wider than the edges: the holder's face
	near(t, "thin shank", c.Reach(), 22, 0)
	c.DMM, c.DN, c.LU = 3, 0, 3 // no neck: the flutes' end
	near(t, "no neck", c.Reach(), 3, 0)
	near(t, "depth without APMX", c.Depth(), 3, 0)
	c.APMX = 2
	near(t, "depth", c.Depth(), 2, 0)
}
