package machine

import (
	"fmt"

	"barwise/finding"
)

// Tool changes a control can be told.
const (
	ChangeM6   = "m6"
	ChangeStop = "stop"
)

// Check returns what is wrong with the machine, Where being the key in its file.
func (m Machine) Check() []finding.Finding {
	var out []finding.Finding
	bad := func(is bool, where, format string, a ...any) {
		if is {
			out = append(out, finding.Finding{Code: "machine-size", Severity: finding.Blocking, Where: where, Text: fmt.Sprintf(format, a...)})
		}
	}
	for i, axis := range []string{"x", "y", "z"} {
		bad(!(m.Travel[i] > 0), "travel", "travel of %s is %g mm, allowed is more than 0", axis, m.Travel[i])
		bad(!(m.Rate[i] > 0), "rate", "rate of %s is %g mm/s, allowed is more than 0", axis, m.Rate[i])
		bad(!(m.Accel[i] > 0), "acceleration", "acceleration of %s is %g mm/s2, allowed is more than 0", axis, m.Accel[i])
	}
	bad(!(m.SpindleMax > 0), "spindle_max", "highest spindle speed is %g rpm, allowed is more than 0", m.SpindleMax)
	bad(m.SpindleMin < 0 || m.SpindleMin > m.SpindleMax, "spindle_min", "lowest spindle speed is %g rpm, allowed is 0 to %g", m.SpindleMin, m.SpindleMax)
	bad(m.Lookahead < 1, "lookahead", "%d blocks of look-ahead, allowed is at least 1", m.Lookahead)
	bad(!(m.CornerDeviation > 0), "corner_deviation", "corner deviation of %g mm, allowed is more than 0", m.CornerDeviation)
	bad(m.BlockRate < 0, "block_rate", "block rate of %g a second, allowed is 0 (no limit) or more", m.BlockRate)
	bad(m.Dialect.Decimals < 2 || m.Dialect.Decimals > 6, "decimals", "%d decimals, allowed is 2 to 6", m.Dialect.Decimals)
	return out
}
