package barwise

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"barwise/finding"
	"barwise/job"
	"barwise/shop/bar"
	"barwise/shop/catalog"
	"barwise/unit"
)

// Choices are what a survey of a bare model is told on the command line; what is left empty has a
// default. All are written as in a job file.
type Choices struct {
	Model      string   // path of the mesh
	Folder     string   // where the draft will lie: its paths are counted from there; "": the working folder
	Units      string   // mm or in, of plain numbers; "": mm
	ModelUnits string   // what one unit of the mesh's numbers is
	Shop       string   // folder of your own shop
	Material   string   // "": tooling-board
	Machine    string   // "": small-mill
	Bar        string   // such as '28', 'hexagonal 1 in', '40 x 30', or a mapping as in a job; "": the smallest standard square one
	Cutters    []string // from the first that roughs to the last that finishes; nil: flat-3, ball-1
	Along      string   // "": the best that is found, or +z where none is looked for
	Turn       string
	Scale      string
	Height     string
	Sides      string // such as '0, 180'
	Spigot     string // 'none', or a diameter
	Tolerance  string
	Cusp       string
	AcceptOpen bool
	Most       int    // triangles; 0: the job's default
	Mend       string // a mapping as in a job
}

// Defaults of Choices; common practice, no source.
const (
	stdMaterial = "tooling-board"
	stdMachine  = "small-mill"
	stdGripPart = 0.75 // of the bar's size
	leastGrip   = 15   // mm
)

var stdCutters = []string{"flat-3", "ball-1"}

// barWords is a bar as its size and how it lies are known: what is written in a job's bar.
type barWords struct {
	shape, size, width, height string
	whole                      string // a mapping, taken as it is
}

var times = regexp.MustCompile(`\s*[x×]\s*`)

// parseBar reads a bar as it is written on a command line.
func parseBar(s string) (barWords, error) {
	s = strings.TrimSpace(s)
	if s == "" || s[0] == '{' {
		return barWords{whole: s}, nil
	}
	var w barWords
	word, rest, _ := strings.Cut(s, " ")
	for _, shape := range []bar.Shape{bar.Square, bar.Rect, bar.Hex, bar.Round} {
		if strings.EqualFold(word, string(shape)) {
			w.shape, s = string(shape), strings.TrimSpace(rest)
		}
	}
	parts := times.Split(s, -1)
	if s == "" || !strings.ContainsRune("0123456789.", rune(s[0])) {
		parts = nil // a word that is no shape
	}
	switch {
	case len(parts) == 2 && parts[0] != "" && parts[1] != "" && (w.shape == "" || w.shape == string(bar.Rect)):
		w.shape, w.width, w.height = string(bar.Rect), parts[0], parts[1]
	case len(parts) == 1 && s != "" && w.shape != string(bar.Rect):
		w.size = s
	default:
		return w, finding.Bad("bar", "--bar", fmt.Sprintf("found %q", s), "write a size (28), a shape (square, rectangular, hexagonal, round) and a size (hexagonal 1 in), width x height (40 x 30), or a mapping as in a job ({size: 28, length: 95, grip: 22})")
	}
	if w.shape == "" {
		w.shape = string(bar.Square)
	}
	return w, nil
}

// section is the bar's section for a search, with the length still open; no width where none is written.
func (w barWords) section(sys unit.System) (bar.Bar, error) {
	b := bar.Bar{Shape: bar.Shape(or(w.shape, string(bar.Square)))}
	var bad error
	get := func(s string) float64 {
		v, err := unit.Lengths.Parse(s, sys)
		if s != "" && (err != nil || !(v > 0)) {
			bad = finding.Bad("bar", "--bar", fmt.Sprintf("found %q, allowed is %s", s, unit.Lengths.Allowed(sys)), "")
		}
		return v
	}
	if b.Shape == bar.Rect {
		b.Width, b.Height = get(w.width), get(w.height)
		return b, bad
	}
	if b.Shape == bar.Round {
		b.Block = bar.Square
	}
	b.Width = get(w.size)
	b.Height = b.Width
	return b, bad
}

func grip(b bar.Bar) float64 { return max(leastGrip, stdGripPart*min(b.Width, b.Height)) }

// draft writes a job to begin with. b is the bar to write where the choices give no whole one, lay the
// content of its key.
func (c Choices) draft(b bar.Bar, lay string) []byte {
	var t strings.Builder
	line := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&t, "%s: %s\n", key, value)
		}
	}
	fmt.Fprintf(&t, "# A job to begin with, for %s. Look every line over before it is cut.\n", filepath.Base(c.Model))
	line("units", c.Units)
	line("model", quote(c.from(c.Model)))
	line("model_units", c.ModelUnits)
	if c.Shop != "" {
		line("shop", quote(c.from(c.Shop)))
	}
	line("material", or(c.Material, stdMaterial))
	line("machine", or(c.Machine, stdMachine))
	line("bar", c.barLine(b))
	line("lay", "{"+lay+"}")
	if c.Sides != "" {
		line("sides", "["+c.Sides+"]")
	}
	cutters := c.Cutters
	if len(cutters) == 0 {
		cutters = stdCutters
	}
	rough, last := cutters[:len(cutters)-1], cutters[len(cutters)-1]
	if len(rough) == 0 {
		rough = cutters
	}
	t.WriteString("rough:\n")
	for _, r := range rough {
		fmt.Fprintf(&t, "  - {cutter: %s}\n", c.longEnough(r, b))
	}
	if q, ok := c.shop().Cutter(last); !ok || q.Round > 0 || len(cutters) > 1 { // one flat cutter roughs alone
		finish := "{cutter: " + c.longEnough(last, b)
		if c.Cusp != "" {
			finish += ", cusp: " + c.Cusp
		}
		line("finish", finish+"}")
	}
	line("tolerance", c.Tolerance)
	if c.AcceptOpen {
		line("accept", "open")
	}
	line("mend", c.Mend)
	if c.Most > 0 {
		line("most_triangles", strconv.Itoa(c.Most))
	}
	return []byte(t.String())
}

// from is a path as it is seen from the draft's folder.
func (c Choices) from(path string) string {
	if c.Folder == "" || filepath.IsAbs(path) {
		return path
	}
	to, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	at, err := filepath.Abs(c.Folder)
	if err != nil {
		return path
	}
	if rel, err := filepath.Rel(at, to); err == nil {
		return filepath.ToSlash(rel)
	}
	return to
}

// longEnough is a cutter as it is written in a job, mounted further out where the bar needs that: to the
// axis and a little beyond, with the holder clear of the stub.
func (c Choices) longEnough(id string, b bar.Bar) string {
	q, ok := c.shop().Cutter(id)
	top := 0.0
	for _, a := range b.Angles() {
		top = max(top, b.Top(a))
	}
	need := math.Ceil(top + 2*pastAndClear)
	if !ok || q.StickOut >= top+pastAndClear || q.OAL > 0 && need > q.OAL-mostHeld*q.DMM {
		return id
	}
	return fmt.Sprintf("{like: %s, stick_out: %g mm}", id, need)
}

// shop is where cutters are looked up; of a folder that cannot be read the job's own reader says so.
func (c Choices) shop() *catalog.Catalog {
	if c.Shop != "" {
		if own, err := catalog.Load(c.Shop); err == nil {
			return own
		}
	}
	return catalog.Builtin()
}

// pastAndClear is what a job's defaults ask for beyond the axis: half a millimetre past it, and the
// holder's clearance.
const pastAndClear = 1.5

func (c Choices) barLine(b bar.Bar) string {
	if w, err := parseBar(c.Bar); err == nil && w.whole != "" {
		return w.whole
	}
	return barLine(b)
}

// layLine is the content of the key lay, with the direction that is given.
func (c Choices) layLine(along, turn string) string {
	parts := []string{"along: " + along}
	add := func(key, v string) {
		if v != "" {
			parts = append(parts, key+": "+v)
		}
	}
	add("turn", turn)
	add("scale", c.Scale)
	add("height", c.Height)
	switch {
	case c.Spigot == "none":
		add("spigot", "none")
	case c.Spigot != "":
		add("spigot", "{diameter: "+c.Spigot+"}")
	}
	return strings.Join(parts, ", ")
}

func or(s, std string) string {
	if s == "" {
		return std
	}
	return s
}

// quote writes text so that YAML takes it as it is.
func quote(s string) string {
	b, _ := json.Marshal(s)
	return string(b)
}

// read makes a job of a draft. Places in errors are counted in the draft.
func (c Choices) read(text []byte) (*job.Job, error) {
	return job.Read(c.draftName(), text, job.Options{Model: c.Model})
}

// draftName is what a draft goes by as long as it is not written.
func (c Choices) draftName() string {
	return filepath.Join(c.Folder, "survey of "+filepath.Base(c.Model))
}
