package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"barwise/finding"
	"barwise/geom/mesh"
	"barwise/plan/survey"
)

type surveyCmd struct {
	Model      string  `arg:"" help:"A mesh: STL, OBJ, PLY or 3MF."`
	UnitMM     float64 `name:"unit-mm" help:"Millimetres of the mesh's unit, where the file states none." placeholder:"MM"`
	AcceptOpen bool    `help:"Take a mesh that is not closed as it is."`
	JSON       bool    `name:"json" help:"Print JSON instead of words."`
}

func (c *surveyCmd) Run(e *env) error {
	if c.UnitMM < 0 {
		return finding.Bad("unit", "--unit-mm", fmt.Sprintf("%g was given, more than 0 is allowed", c.UnitMM), "25.4 for inches, 1000 for metres")
	}
	e.talk.progress("reading "+c.Model, 0, 0)
	m, info, err := survey.Open(e.ctx, c.Model, mesh.Limits{})
	if err != nil {
		return err
	}
	e.talk.progress("looking", 0, 0)
	r, err := survey.Look(e.ctx, m, info, survey.Params{UnitMM: c.UnitMM, AcceptOpen: c.AcceptOpen})
	if err != nil {
		return err
	}
	e.talk.clear()
	if c.JSON {
		err = surveyJSON(e.out, c.Model, r)
	} else {
		err = surveyText(e.out, c.Model, r)
	}
	if err == nil && r.Blocking() {
		return errFindings
	}
	return err
}

func surveyText(w io.Writer, file string, r *survey.Report) error {
	var b strings.Builder
	row := func(label, format string, a ...any) {
		fmt.Fprintf(&b, "  %-12s %s\n", label, fmt.Sprintf(format, a...))
	}
	h := r.Health
	s := h.Box.Size()
	closed := "closed"
	if !r.Closed() {
		closed = "not closed"
	}
	fmt.Fprintf(&b, "%s: %s, %s\n", file, r.Format, closed)
	row("size", "%.4g × %.4g × %.4g mm (unit %s, %s)", s.X, s.Y, s.Z, r.Unit, unitFrom[r.UnitFrom])
	row("triangles", "%d, mean edge %.3g mm", h.Triangles, h.MeanEdge)
	row("surface", "%.1f mm², volume %.1f mm³", h.Area, h.Volume)
	for i, sh := range h.Shells {
		if i == 6 {
			row("", "… %d more", len(h.Shells)-i)
			break
		}
		text := fmt.Sprintf("%d triangles, %.1f mm²", sh.Triangles, sh.Area)
		if sh.Closed {
			text += ", closed"
			if g := sh.Genus(); g > 0 {
				text += fmt.Sprintf(", %d hole%s through it", g, plural(g))
			}
		} else {
			text += fmt.Sprintf(", %d boundary loop%s", sh.Loops, plural(sh.Loops))
		}
		row(fmt.Sprintf("shell %d", i+1), "%s", text)
	}
	for _, f := range r.Findings {
		wrap(&b, f.String(), width(w))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

var unitFrom = map[string]string{"given": "as given", "file": "from the file", "guess": "a guess by size"}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

// surveyJSON prints the same facts for a program.
func surveyJSON(w io.Writer, file string, r *survey.Report) error {
	h := r.Health
	s := h.Box.Size()
	type shell struct {
		Triangles int     `json:"triangles"`
		Area      float64 `json:"area_mm2"`
		Volume    float64 `json:"volume_mm3"`
		Euler     int     `json:"euler"`
		Loops     int     `json:"boundary_loops"`
	}
	type loop struct {
		Edges  int        `json:"edges"`
		Length float64    `json:"length_mm"`
		At     [3]float64 `json:"at_mm"`
	}
	out := struct {
		Model     string            `json:"model"`
		Format    string            `json:"format"`
		Closed    bool              `json:"closed"`
		UnitMM    float64           `json:"unit_mm"`
		UnitFrom  string            `json:"unit_from"`
		Size      [3]float64        `json:"size_mm"`
		Triangles int               `json:"triangles"`
		Vertices  int               `json:"vertices"`
		MeanEdge  float64           `json:"mean_edge_mm"`
		Area      float64           `json:"area_mm2"`
		Volume    float64           `json:"volume_mm3"`
		Shells    []shell           `json:"shells"`
		Loops     []loop            `json:"boundary_loops"`
		Findings  []finding.Finding `json:"findings"`
	}{file, r.Format, r.Closed(), r.UnitMM, r.UnitFrom, [3]float64{s.X, s.Y, s.Z}, h.Triangles, h.Vertices,
		h.MeanEdge, h.Area, h.Volume, []shell{}, []loop{}, append([]finding.Finding{}, r.Findings...)}
	for _, q := range h.Shells {
		out.Shells = append(out.Shells, shell{q.Triangles, q.Area, q.Volume, q.Euler, q.Loops})
	}
	for _, l := range h.Loops {
		out.Loops = append(out.Loops, loop{l.Edges, l.Length, [3]float64{l.At.X, l.At.Y, l.At.Z}})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(out)
}
