package cli

import (
	"encoding/json"
	"fmt"
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
		enc := json.NewEncoder(e.out)
		enc.SetIndent("", "  ")
		return enc.Encode(s)
	}
	var b strings.Builder
	b.WriteString("cutters (mm)\n")
	for _, t := range s.Cutters {
		fmt.Fprintf(&b, "  %-18s DC %-6.4g flutes %-5.4g shank %-5.4g out %-4.4g  %s\n", t.ID, t.DC(), t.LCF, t.DMM, t.StickOut, describe(t))
	}
	b.WriteString("machines (mm, rev/min)\n")
	for _, m := range s.Machines {
		fmt.Fprintf(&b, "  %-18s travel %g × %g × %g, spindle %g to %g, %s\n", m.ID, m.Travel[0], m.Travel[1], m.Travel[2], m.SpindleMin, m.SpindleMax, m.Title)
	}
	b.WriteString("materials\n")
	for _, m := range s.Materials {
		fmt.Fprintf(&b, "  %-18s %.2f g/cm³, %g to %g m/min, %s\n", m.ID, m.Density.Value, m.Speed.Min, m.Speed.Max, m.Title)
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
