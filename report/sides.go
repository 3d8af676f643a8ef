package report

import (
	"bytes"
	"encoding/json"

	"barwise/geom"
)

// Sides are index angles, degrees; the end side, geom.EndDeg, is written "end".
type Sides []float64

// MarshalJSON writes numbers, and the word for the end side.
func (s Sides) MarshalJSON() ([]byte, error) {
	out := make([]any, len(s))
	for i, d := range s {
		out[i] = sideJSON(d)
	}
	return json.Marshal(out)
}

// UnmarshalJSON reads them back.
func (s *Sides) UnmarshalJSON(b []byte) error {
	var in []json.RawMessage
	if err := json.Unmarshal(b, &in); err != nil {
		return err
	}
	*s = make(Sides, len(in))
	for i, v := range in {
		if string(v) == `"end"` {
			(*s)[i] = geom.EndDeg
		} else if err := json.Unmarshal(v, &(*s)[i]); err != nil {
			return err
		}
	}
	return nil
}

func sideJSON(deg float64) any {
	if geom.IsEnd(deg) {
		return geom.SideName(deg)
	}
	return deg
}

// MarshalJSON writes the word in the place of an index angle where the program is for the end side.
func (p Program) MarshalJSON() ([]byte, error) {
	type plain Program
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if !geom.IsEnd(p.SideDeg) {
		err := e.Encode(plain(p))
		return b.Bytes(), err
	}
	err := e.Encode(struct {
		Side any `json:"side_deg"` // hides the number
		plain
	}{sideJSON(p.SideDeg), plain(p)})
	return b.Bytes(), err
}
