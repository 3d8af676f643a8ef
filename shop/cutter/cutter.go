package cutter

// Collar is one step of what stands above the flutes: a cylinder of radius R that begins Z above the
// tip and reaches up to the next one.
type Collar struct{ Z, R float64 }

// Cutter is a cutter in its holder. Lengths in mm from the tip.
type Cutter struct {
	ID       string   // name in the job
	Number   int      // T number; 0: not given yet
	Title    string   // words for a reader
	Shape    Shape    // kind of cutter
	Source   string   // where the dimensions come from
	Profile           // cutting shape
	APMX     float64  // largest depth of cut along the axis; 0: LCF
	Edges    int      // ZEFP, effective edges
	LCF      float64  // flute length
	LU       float64  // reach before the shank or holder is wider than the neck allows
	DN       float64  // neck diameter between LCF and LU; 0: no neck
	DMM      float64  // shank diameter
	OAL      float64  // overall length
	StickOut float64  // tip to the holder's face
	Holder   []Collar // steps of the holder, Z counted from the holder's face
	Plunges  bool     // cuts to its centre, may be fed straight down
	RampDeg  float64  // steepest ramp or helix descent, degrees from level
	MaxRPM   float64  // RPMX; 0: no limit stated
}

// DC is the cutting diameter.
func (c Cutter) DC() float64 { return 2 * c.R }

// Collars returns everything above the flutes that is not cutting, from the bottom up: neck, shank and
// holder, with Z counted from the tip. Each is to be kept off the stock.
func (c Cutter) Collars() []Collar {
	var out []Collar
	z := c.LCF
	if c.DN > 0 && c.LU > c.LCF {
		out = append(out, Collar{z, c.DN / 2})
		z = c.LU
	}
	if c.DMM > 0 && z < c.StickOut {
		out = append(out, Collar{z, c.DMM / 2})
	}
	for _, h := range c.Holder {
		out = append(out, Collar{c.StickOut + h.Z, h.R})
	}
	return out
}
