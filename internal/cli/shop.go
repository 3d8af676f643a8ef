package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"barwise/shop/catalog"
	"barwise/shop/cutter"
)

type shopCmd struct {
	List   shopListCmd   `cmd:"" default:"withargs" help:"List what it knows."`
	Export shopExportCmd `cmd:"" help:"Write the built-in shop as files to edit."`
}

type shopListCmd struct {
	Shop string `help:"A folder with files of a shop; they come before what is built in." placeholder:"DIR"`
	JSON bool   `name:"json" help:"Print JSON instead of words."`
}

func (c *shopListCmd) Run(e *env) error {
	s := catalog.Builtin()
	if c.Shop != "" {
		var err error
		if s, err = catalog.Load(c.Shop); err != nil {
			return err
		}
	}
	if c.JSON {
		return shopJSON(e.out, s)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%-20s %8s %8s %8s %9s   mm\n", "cutters", "DC", "flutes", "shank", "stick-out")
	for _, t := range s.Cutters {
		fmt.Fprintf(&b, "  %-18s %8.4g %8.4g %8.4g %9.4g   %s\n", t.ID, t.DC(), t.LCF, t.DMM, t.StickOut, describe(t))
	}
	fmt.Fprintf(&b, "%-20s %15s %15s   mm, rev/min\n", "machines", "travel", "spindle")
	for _, m := range s.Machines {
		fmt.Fprintf(&b, "  %-18s %15s %15s   %s\n", m.ID, fmt.Sprintf("%g×%g×%g", m.Travel[0], m.Travel[1], m.Travel[2]),
			fmt.Sprintf("%g–%g", m.SpindleMin, m.SpindleMax), m.Title)
	}
	fmt.Fprintf(&b, "%-20s %15s %15s   g/cm³, m/min\n", "materials", "density", "surface speed")
	for _, m := range s.Materials {
		fmt.Fprintf(&b, "  %-18s %15.2f %15s   %s\n", m.ID, m.Density.Value, fmt.Sprintf("%g–%g", m.Speed.Min, m.Speed.Max), m.Title)
	}
	b.WriteString("figures are typical or have a source in the files: barwise shop export DIR\n")
	_, err := fmt.Fprint(e.out, b.String())
	return err
}

func describe(c cutter.Cutter) string {
	if c.Title != "" {
		return c.Title
	}
	return fmt.Sprintf("%d flutes", c.Edges)
}

// shopJSON prints the shop for a program. Lengths mm, feeds mm/min, as in the files; upper-case keys are
// symbols of ISO 13399.
func shopJSON(w io.Writer, s *catalog.Catalog) error {
	type cutterRow struct {
		ID       string  `json:"id"`
		Title    string  `json:"title"`
		Shape    string  `json:"shape"`
		DC       float64 `json:"DC"`
		Edges    int     `json:"ZEFP"`
		LCF      float64 `json:"LCF"`
		LU       float64 `json:"LU"`
		DN       float64 `json:"DN,omitempty"`
		DMM      float64 `json:"DMM"`
		OAL      float64 `json:"OAL,omitempty"`
		StickOut float64 `json:"stick_out"`
		Source   string  `json:"source"`
	}
	type machineRow struct {
		ID       string     `json:"id"`
		Title    string     `json:"title"`
		Travel   [3]float64 `json:"travel"`
		Rate     [3]float64 `json:"rate"`
		Spindle  [2]float64 `json:"spindle_rpm"`
		BarAlong string     `json:"bar_along"`
		Source   string     `json:"source"`
	}
	type materialRow struct {
		ID       string     `json:"id"`
		Title    string     `json:"title"`
		Density  float64    `json:"density_g_cm3"`
		Speed    [2]float64 `json:"speed_m_min"`
		Cautions []string   `json:"cautions"`
	}
	out := struct {
		Cutters   []cutterRow   `json:"cutters"`
		Machines  []machineRow  `json:"machines"`
		Materials []materialRow `json:"materials"`
	}{}
	for _, c := range s.Cutters {
		out.Cutters = append(out.Cutters, cutterRow{c.ID, c.Title, string(c.Shape), c.DC(), c.Edges, c.LCF, c.LU, c.DN, c.DMM, c.OAL, c.StickOut, c.Source})
	}
	for _, m := range s.Machines {
		rate := [3]float64{m.Rate[0] * 60, m.Rate[1] * 60, m.Rate[2] * 60}
		out.Machines = append(out.Machines, machineRow{m.ID, m.Title, m.Travel, rate, [2]float64{m.SpindleMin, m.SpindleMax}, string(m.BarAlong), m.Source})
	}
	for _, m := range s.Materials {
		row := materialRow{m.ID, m.Title, m.Density.Value, [2]float64{m.Speed.Min, m.Speed.Max}, []string{}}
		for _, c := range m.AllCautions() {
			row.Cautions = append(row.Cautions, c.Text)
		}
		out.Materials = append(out.Materials, row)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(out)
}

type shopExportCmd struct {
	Dir string `arg:"" help:"The folder to write into."`
}

func (c *shopExportCmd) Run(e *env) error {
	files, err := catalog.Export(c.Dir)
	for _, f := range files {
		fmt.Fprintln(e.out, f)
	}
	return err
}
