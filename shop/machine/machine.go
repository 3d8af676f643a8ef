// Package machine describes a three-axis mill: how far, how fast, and in which words it is told.
package machine

// Axis names a linear axis of the machine.
type Axis string

// AlongX and AlongY say which machine axis the bar lies along.
const (
	AlongX Axis = "x"
	AlongY Axis = "y"
)

// Machine is one mill. mm, mm/s, mm/s², mm/s³, seconds.
type Machine struct {
	ID              string
	Title           string
	Source          string     // where the figures come from
	Travel          [3]float64 // X, Y, Z
	Rate            [3]float64 // greatest rate of each axis
	Accel           [3]float64 // greatest acceleration of each axis
	Jerk            float64    // 0: not limited
	CornerDeviation float64    // permitted corner deviation
	Lookahead       int        // blocks planned ahead
	BlockRate       float64    // blocks per second; 0: not limited
	SpindleMin      float64    // rev/min
	SpindleMax      float64    // rev/min
	SpindleStart    float64    // seconds to come to speed
	ToolChange      float64    // seconds for a change
	Turn            float64    // seconds to turn the bar
	BarAlong        Axis       // how the vise lies
	Dialect         Dialect
}

// Dialect is what the control understands, by capability.
type Dialect struct {
	Arcs       bool   // takes G2 and G3
	ToolChange string // "m6" or "stop": a cutter is called by T and M6, or the program stops with M0
	Decimals   int    // digits after the point in mm
	LineEnd    string // "lf" or "crlf"
}
