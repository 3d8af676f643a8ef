package job

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"barwise/finding"
	"barwise/form"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
	"barwise/unit"
)

// Options are what a command line may say over a job file.
type Options struct {
	Model string // path of the mesh, used in place of the job's model; counted from the working folder
}

// Load reads, checks and resolves a job file. A fault of the file is a *finding.InputError whose Where
// is 'file:line:column'; Excerpt gives the marked lines. The model itself is not opened.
func Load(path string, o Options) (*Job, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, cannotRead(path, err)
	}
	defer f.Close()
	if st, err := f.Stat(); err == nil && st.IsDir() {
		return nil, cannotRead(path, errors.New("it is a folder"))
	}
	b, err := io.ReadAll(io.LimitReader(f, form.MaxBytes+1))
	if err != nil {
		return nil, cannotRead(path, err)
	}
	return Read(path, b, o)
}

func cannotRead(path string, err error) error {
	var p *os.PathError
	why := err.Error()
	if errors.As(err, &p) {
		why = p.Err.Error()
	}
	return &finding.InputError{Code: "job-read", Where: path, Text: "the job file cannot be read: " + why,
		Hint: "give the path of a job file, see docs/jobfile.md", Err: err}
}

// Read is Load for a file that was already read; path is its name, from whose folder others count.
func Read(path string, src []byte, o Options) (*Job, error) {
	d, err := form.Parse(path, "job", src)
	if err != nil {
		return nil, err
	}
	sys, err := catalog.System(d)
	if err != nil {
		return nil, err
	}
	var f File
	if err := d.Read(&f, sys); err != nil {
		return nil, err
	}
	base := filepath.Base(path)
	j := &Job{File: path, Name: strings.TrimSuffix(base, filepath.Ext(base)), Units: sys, doc: d, file: &f, options: o}
	return j, j.resolver().all(o)
}

func (j *Job) resolver() *resolver {
	return &resolver{Job: j, file: j.file, folder: filepath.Dir(j.File)}
}

// resolver turns what is written into what is meant, and records every default it uses.
type resolver struct {
	*Job
	file   *File
	folder string
	shop   *catalog.Catalog
	hand   []cutter.Cutter // what may be chosen from
}

func (r *resolver) all(o Options) error {
	for _, step := range []func() error{
		func() error { return r.model(o) }, r.catalogues, r.bar, r.lay, r.sides, r.tolerances, r.onMesh, r.hold, r.travel, r.ways, r.cuts, r.numbers, r.reach,
	} {
		if err := step(); err != nil {
			return err
		}
	}
	finding.Sort(r.Findings)
	return nil
}

// note records a default.
func (r *resolver) note(path, value, why string) {
	r.Defaults = append(r.Defaults, Default{path, value, why})
}

// warn adds a finding at a path.
func (r *resolver) warn(s finding.Severity, code, path, text, hint string) {
	r.Findings = append(r.Findings, finding.Finding{Code: "job-" + code, Severity: s, Where: r.Place(path), Text: path + ": " + text, Hint: hint})
}

// or returns the value written at p, or else the default, recorded.
func or[T ~float64](r *resolver, p *T, path string, std T, why string) float64 {
	if p != nil {
		return float64(*p)
	}
	r.note(path, r.show(std), why)
	return float64(std)
}

// orWord is or for a word.
func (r *resolver) orWord(w, path, std, why string) string {
	if w != "" {
		return w
	}
	r.note(path, std, why)
	return std
}

// show writes a value in the job's own units.
func (r *resolver) show(v any) string {
	switch x := v.(type) {
	case unit.Length:
		return x.In(r.Units)
	case unit.Feed:
		return x.In(r.Units)
	case fmt.Stringer:
		return x.String()
	case float64:
		return unit.Number(x, 6)
	}
	return fmt.Sprint(v)
}

// modelUnits are mm for one unit of a mesh. A foot is 304.8 mm.
var modelUnits = map[string]float64{"mm": 1, "um": 0.001, "cm": 10, "m": 1000, "in": 25.4, "ft": 304.8}

// ModelUnitMM is what a word of model_units means in mm; 0 for any other word.
func ModelUnitMM(word string) float64 { return modelUnits[word] }

func (r *resolver) model(o Options) error {
	if r.file.Units == "" {
		r.note("units", "mm", "no units are written")
	}
	switch m := r.file.Model; {
	case o.Model != "":
		r.Model = o.Model
	case m == "":
		return finding.Bad("job-missing", r.File, "no model is named", "add the line model: ..., or give one on the command line")
	case filepath.IsAbs(m):
		r.Model = m
	default:
		r.Model = filepath.Join(r.folder, filepath.FromSlash(m))
	}
	u := r.file.ModelUnits
	if u == "" {
		u = "mm"
		r.ModelOwn = true
		if strings.EqualFold(filepath.Ext(r.Model), ".3mf") {
			r.note("model_units", "as the file says", "a 3MF carries its unit")
		} else {
			r.note("model_units", "mm", "the file carries no unit")
		}
	}
	r.ModelUnit = modelUnits[u]
	return nil
}

func (r *resolver) catalogues() (err error) {
	r.shop = catalog.Builtin()
	if s := r.file.Shop; s != "" {
		if !filepath.IsAbs(s) {
			s = filepath.Join(r.folder, filepath.FromSlash(s))
		}
		if r.shop, err = catalog.Load(s); err != nil {
			var in *finding.InputError
			if errors.As(err, &in) && in.Code == "shop-read" {
				return r.Bad("shop", "shop", "shop: "+in.Where+": "+in.Text, in.Hint)
			}
			return err
		}
	}
	if x := r.file.Machine; x.Inline != nil {
		r.Machine, err = x.Inline.Resolve(r.doc, "machine", "own", r.shop.Machine)
	} else {
		r.Machine, err = named(r, x.Name, "machine", r.shop.Machine, r.shop.MachineNames())
	}
	if err != nil {
		return err
	}
	if x := r.file.Material; x.Inline != nil {
		r.Material, err = x.Inline.Resolve(r.doc, "material", "own", r.shop.Material)
	} else {
		r.Material, err = named(r, x.Name, "material", r.shop.Material, r.shop.MaterialNames())
	}
	return err
}

// named looks a name up; a name that is not there gets the nearest one offered. what is the last part
// of the path.
func named[T any](r *resolver, name, path string, find func(string) (T, bool), all []string) (T, error) {
	x, ok := find(name)
	if ok {
		return x, nil
	}
	what := path[strings.LastIndexByte(path, '.')+1:]
	if i := strings.IndexByte(what, '['); i >= 0 {
		what = strings.TrimSuffix(what[:i], "s") // one of a list
	}
	hint := "write one of them, or a mapping that describes it"
	if n := form.Near(name, all); n != "" {
		hint = "did you mean " + n + "?"
	}
	return x, r.Bad("name", path, fmt.Sprintf("%s: found no %s %q, allowed are %s", path, what, name, strings.Join(all, ", ")), hint)
}
