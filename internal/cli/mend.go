package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"barwise"
	"barwise/finding"
	"barwise/job"
	"barwise/unit"
)

type mendCmd struct {
	Model         string `arg:"" help:"A mesh: STL, OBJ, PLY or 3MF."`
	To            string `required:"" help:"File to write: STL, or 3MF, which keeps every coordinate." placeholder:"FILE"`
	Weld          string `help:"Vertices no farther apart than this become one." placeholder:"LENGTH"`
	Orient        bool   `help:"Turn triangles over so that all of them face outward."`
	Twins         bool   `help:"Take out doubled triangles and those without area."`
	Fill          string `help:"Close holes no wider than this." placeholder:"LENGTH"`
	Specks        string `help:"Drop loose shells that measure no more than this corner to corner." placeholder:"LENGTH"`
	ModelUnits    string `help:"What one unit of the mesh's numbers is, where the file states none: mm, um, cm, m, in, ft." enum:",mm,um,cm,m,in,ft" default:"" placeholder:"UNIT"`
	MostTriangles int    `help:"A mesh of more triangles than this is refused, with how much memory it would take; 20 million where not given." placeholder:"N"`
	Overwrite     bool   `help:"Replace a file that is there."`
}

func (c *mendCmd) Run(e *env) error {
	want, err := c.want()
	if err != nil {
		return err
	}
	if a, err := filepath.Abs(c.To); err == nil {
		if b, err := filepath.Abs(c.Model); err == nil && a == b {
			return finding.Bad("out-exists", c.To, "is the model itself", "name another file: the model is kept as it is")
		}
	}
	if err := barwise.MeshWritable(c.To, c.Overwrite); err != nil {
		return err
	}
	o, err := barwise.Mend(e.ctx, c.Model, want, job.ModelUnitMM(c.ModelUnits), c.MostTriangles, e.talk.progress)
	if err != nil {
		return err
	}
	if err := o.WriteMesh(c.To); err != nil {
		return err
	}
	e.talk.clear()
	if err := mendWords(e.out, o, c.To); err != nil {
		return err
	}
	if o.Blocked() {
		return errFindings
	}
	return nil
}

// want reads what is to be mended.
func (c *mendCmd) want() (job.Mend, error) {
	m := job.Mend{Orient: c.Orient, Twins: c.Twins}
	for _, l := range []struct {
		flag, text string
		to         *float64
	}{{"--weld", c.Weld, &m.Weld}, {"--fill", c.Fill, &m.Fill}, {"--specks", c.Specks, &m.Specks}} {
		if l.text == "" {
			continue
		}
		v, err := unit.Lengths.Parse(l.text, unit.MM)
		if err != nil || v < 0 {
			return m, finding.Bad("length", l.flag, fmt.Sprintf("found %q, allowed is %s", l.text, unit.Lengths.Allowed(unit.MM)), "")
		}
		*l.to = v
	}
	if m == (job.Mend{}) {
		return m, finding.Bad("mend", c.Model, "nothing is asked for, allowed are --weld, --orient, --twins, --fill, --specks", "barwise survey "+c.Model+" says what is wrong with it")
	}
	return m, nil
}

// mostChanges is how many changes a terminal is told.
const mostChanges = 20

func mendWords(w io.Writer, o *barwise.MendOutcome, to string) error {
	var b strings.Builder
	wide := width(w)
	r := o.Result
	fmt.Fprintf(&b, "%s: %d triangles before, %d after", to, r.Before.Triangles, r.After.Triangles)
	switch {
	case !r.Changed():
		b.WriteString("; nothing was changed\n")
	case o.After.Closed() && !o.Before.Closed():
		b.WriteString("; now closed\n")
	default:
		b.WriteString("\n")
	}
	for i, c := range r.Changes {
		if i == mostChanges {
			fmt.Fprintf(&b, "  … %d more changes\n", len(r.Changes)-i)
			break
		}
		wrap(&b, string(c.Kind)+": "+c.Text, wide)
	}
	for i, l := range r.Left {
		if i == mostChanges {
			fmt.Fprintf(&b, "  … %d more left as they are\n", len(r.Left)-i)
			break
		}
		wrap(&b, "left as it is: "+l.Text, wide)
	}
	if n := o.Rounded(to); n > 0 {
		wrap(&b, fmt.Sprintf("rounded: STL holds float32 numbers, and %d corners came to lie on others; write a .3mf to keep them apart", n), wide)
	}
	for _, f := range o.After.Findings {
		wrap(&b, f.String(), wide)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
