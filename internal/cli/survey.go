package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"barwise"
	"barwise/finding"
	"barwise/job"
	"barwise/report"
)

type surveyCmd struct {
	Model string `arg:"" help:"A mesh (STL, OBJ, PLY, 3MF), or a job file."`
	Out   string `help:"Folder for page, pictures and JSON; beside the model, under its name and -survey, where not given." placeholder:"DIR"`

	Bar      string   `help:"The bar: a size (28), a shape and a size ('hexagonal 1 in', '40 x 30'), or a mapping as in a job; the smallest standard square one where not given." placeholder:"BAR"`
	Cutters  []string `help:"Cutters from the first that roughs to the one that finishes; flat-3,ball-1 where not given." placeholder:"CUTTER,..."`
	Material string   `help:"What the bar is made of; tooling-board where not given." placeholder:"NAME"`
	Machine  string   `help:"The mill; small-mill where not given." placeholder:"NAME"`
	Shop     string   `help:"Folder with your own cutters, machines and materials." placeholder:"DIR"`

	Along  string `help:"Model direction that points to the free end: +x to -z, or [x, y, z]; the best that is found where not given." placeholder:"DIR"`
	Turn   string `help:"Turn of the model about the bar's axis." placeholder:"ANGLE"`
	Scale  string `help:"Size of the model times this." placeholder:"NUMBER"`
	Height string `help:"Length of the model along the bar, instead of scale." placeholder:"LENGTH"`
	Sides  string `help:"Index angles to cut from, such as 0,180." placeholder:"ANGLES"`
	Spigot string `help:"Diameter of the spigot, or none." placeholder:"LENGTH"`

	Tolerance  string `help:"How far the finished surface may lie from the model." placeholder:"LENGTH"`
	Cusp       string `help:"Height of the ridges that finishing leaves." placeholder:"LENGTH"`
	Units      string `help:"Unit of plain numbers: mm or in." placeholder:"UNIT"`
	ModelUnits string `help:"What one unit of the mesh's numbers is, where the file states none: mm, um, cm, m, in, ft." placeholder:"UNIT"`
	AcceptOpen bool   `help:"Take a mesh that is not closed as it is."`
	Mend       string `help:"Mend first, as in a job: '{fill: 5, orient: true}'." placeholder:"MAPPING"`

	MostTriangles int `help:"A mesh of more triangles than this is refused, with how much memory it would take; 5 million where not given." placeholder:"N"`

	NoSearch   bool `help:"Judge the model as it lies, and look for no better way."`
	NoPictures bool `help:"Leave out the pictures."`
	JSON       bool `name:"json" help:"Print survey.json instead of words."`
}

func (c *surveyCmd) Run(e *env) error {
	dir := c.Out
	if dir == "" {
		dir = strings.TrimSuffix(c.Model, filepath.Ext(c.Model)) + "-survey"
	}
	if err := barwise.Writable(dir, true); err != nil {
		return err
	}
	o := barwise.SurveyOptions{Say: e.talk.progress, Search: !c.NoSearch, NoPictures: c.NoPictures}
	var out *barwise.SurveyOutcome
	var err error
	switch strings.ToLower(filepath.Ext(c.Model)) {
	case ".yaml", ".yml":
		out, err = c.ofJob(e, o)
	default:
		out, err = barwise.SurveyModel(e.ctx, c.choices(dir), o)
	}
	if err != nil {
		return err
	}
	if err := out.Write(e.ctx, dir); err != nil {
		return err
	}
	e.talk.clear()
	if c.JSON {
		err = out.Facts.WriteJSON(e.out)
	} else {
		err = surveyWords(e.out, out, dir)
	}
	if err == nil && out.Blocked() {
		return errFindings
	}
	return err
}

// ofJob surveys a job's model; what the job says is not said again.
func (c *surveyCmd) ofJob(e *env, o barwise.SurveyOptions) (*barwise.SurveyOutcome, error) {
	for _, f := range []struct {
		flag string
		set  bool
	}{{"--bar", c.Bar != ""}, {"--cutters", c.Cutters != nil}, {"--material", c.Material != ""}, {"--machine", c.Machine != ""}, {"--shop", c.Shop != ""},
		{"--along", c.Along != ""}, {"--turn", c.Turn != ""}, {"--scale", c.Scale != ""}, {"--height", c.Height != ""}, {"--sides", c.Sides != ""}, {"--spigot", c.Spigot != ""},
		{"--tolerance", c.Tolerance != ""}, {"--cusp", c.Cusp != ""}, {"--units", c.Units != ""}, {"--model-units", c.ModelUnits != ""}, {"--accept-open", c.AcceptOpen}, {"--mend", c.Mend != ""}, {"--most-triangles", c.MostTriangles != 0}} {
		if f.set {
			return nil, finding.Bad("flag", f.flag, "is for a bare model, "+c.Model+" is a job", "write it into the job")
		}
	}
	j, err := job.Load(c.Model, job.Options{})
	if err != nil {
		return nil, err
	}
	return barwise.Survey(e.ctx, j, o)
}

func (c *surveyCmd) choices(dir string) barwise.Choices {
	return barwise.Choices{Model: c.Model, Folder: dir, Units: c.Units, ModelUnits: c.ModelUnits, Shop: c.Shop, Material: c.Material, Machine: c.Machine,
		Bar: c.Bar, Cutters: c.Cutters, Along: c.Along, Turn: c.Turn, Scale: c.Scale, Height: c.Height, Sides: c.Sides, Spigot: c.Spigot,
		Tolerance: c.Tolerance, Cusp: c.Cusp, AcceptOpen: c.AcceptOpen, Mend: c.Mend, Most: c.MostTriangles}
}

func surveyWords(w io.Writer, o *barwise.SurveyOutcome, dir string) error {
	var b strings.Builder
	b.WriteString(report.SurveyText(o.Facts, width(w)))
	fmt.Fprintf(&b, "  %-18s %s\n", "page", filepath.Join(dir, "survey.html"))
	if o.Draft != nil {
		fmt.Fprintf(&b, "  %-18s %s\n", "job to begin with", filepath.Join(dir, "job.yaml"))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
