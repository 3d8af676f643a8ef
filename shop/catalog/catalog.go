// Package catalog is the shop written down: cutters, machines and materials as YAML files to read,
// to edit and to take along.
//
// Cutters use the symbols of ISO 13399 as keys. What is built in is itself such a set of files, so
// that what is exported reads back as what was built in.
package catalog

import (
	"embed"
	"errors"
	"io"
	"os"
	"path/filepath"
	"sync"

	"barwise/finding"
	"barwise/form"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/shop/material"
	"barwise/unit"
)

//go:embed cutters.yaml machines.yaml materials.yaml
var builtin embed.FS

// Names of the files of a shop.
const (
	CuttersFile   = "cutters.yaml"
	MachinesFile  = "machines.yaml"
	MaterialsFile = "materials.yaml"
)

// Files lists the files of a shop.
var Files = []string{CuttersFile, MachinesFile, MaterialsFile}

// Catalog is a set of cutters, machines and materials, each in the order of its file.
type Catalog struct {
	Cutters   []cutter.Cutter
	Machines  []machine.Machine
	Materials []material.Material
}

// Builtin returns what Barwise knows by itself.
func Builtin() *Catalog { return built() }

var built = sync.OnceValue(func() *Catalog {
	c := &Catalog{}
	for _, name := range Files {
		b, err := builtin.ReadFile(name)
		if err == nil {
			err = c.add(name, name, b)
		}
		if err != nil {
			panic("shop/catalog: " + err.Error()) // our own file; a test reads it
		}
	}
	return c
})

// Text returns a built-in file as it stands, with its comments and sources.
func Text(name string) ([]byte, error) { return builtin.ReadFile(name) }

// Load reads a folder with any of cutters.yaml, machines.yaml and materials.yaml. What it names
// comes before, and hides, what is built in.
func Load(dir string) (*Catalog, error) {
	c, found := &Catalog{}, 0
	for _, name := range Files {
		p := filepath.Join(dir, name)
		b, err := readLimited(p)
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, &finding.InputError{Code: "shop-read", Where: p, Text: "cannot be read", Err: err, Hint: err.Error()}
		}
		if err := c.add(name, p, b); err != nil {
			return nil, err
		}
		found++
	}
	if found == 0 {
		return nil, finding.Bad("shop-read", dir, "found no file of a shop, allowed are cutters.yaml, machines.yaml, materials.yaml",
			"write a set to edit with: barwise shop export "+dir)
	}
	b := Builtin()
	c.Cutters = merge(c.Cutters, b.Cutters, func(x cutter.Cutter) string { return x.ID })
	c.Machines = merge(c.Machines, b.Machines, func(x machine.Machine) string { return x.ID })
	c.Materials = merge(c.Materials, b.Materials, func(x material.Material) string { return x.ID })
	return c, nil
}

// readLimited reads no more than a form may hold, and one byte to tell.
func readLimited(p string) ([]byte, error) {
	f, err := os.Open(p)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, form.MaxBytes+1))
}

func merge[T any](own, builtin []T, id func(T) string) []T {
	have := map[string]bool{}
	for _, x := range own {
		have[id(x)] = true
	}
	for _, x := range builtin {
		if !have[id(x)] {
			own = append(own, x)
		}
	}
	return own
}

// add reads one file, by its plain name, into the catalogue.
func (c *Catalog) add(file, where string, b []byte) error {
	d, err := form.Parse(where, "shop", b)
	if err != nil {
		return err
	}
	sys, err := System(d)
	if err != nil {
		return err
	}
	switch file {
	case CuttersFile:
		return c.addCutters(d, sys)
	case MachinesFile:
		return c.addMachines(d, sys)
	default:
		return c.addMaterials(d, sys)
	}
}

// System returns the system of plain numbers that a form's key 'units' names.
func System(d *form.Doc) (unit.System, error) {
	var u struct {
		Units string `yaml:"units" jsonschema:"enum=mm,enum=in"`
	}
	switch w := d.Word("units"); w {
	case "", "mm":
		return unit.MM, nil
	case "in":
		return unit.Inch, nil
	default:
		return unit.MM, d.ReadKey("units", &u)
	}
}

func (c *Catalog) addCutters(d *form.Doc, s unit.System) error {
	var f CuttersForm
	if err := d.Read(&f, s); err != nil {
		return err
	}
	for _, e := range f.Cutters {
		x, err := e.Value.Resolve(d, "cutters."+e.Name, e.Name, c.Cutter)
		if err != nil {
			return err
		}
		c.Cutters = append(c.Cutters, x)
	}
	return nil
}

func (c *Catalog) addMachines(d *form.Doc, s unit.System) error {
	var f MachinesForm
	if err := d.Read(&f, s); err != nil {
		return err
	}
	for _, e := range f.Machines {
		x, err := e.Value.Resolve(d, "machines."+e.Name, e.Name, c.Machine)
		if err != nil {
			return err
		}
		c.Machines = append(c.Machines, x)
	}
	return nil
}

func (c *Catalog) addMaterials(d *form.Doc, s unit.System) error {
	var f MaterialsForm
	if err := d.Read(&f, s); err != nil {
		return err
	}
	for _, e := range f.Materials {
		x, err := e.Value.Resolve(d, "materials."+e.Name, e.Name, c.Material)
		if err != nil {
			return err
		}
		c.Materials = append(c.Materials, x)
	}
	return nil
}

// Cutter returns the cutter of a name; ok is false where there is none.
func (c *Catalog) Cutter(id string) (x cutter.Cutter, ok bool) {
	return pick(c.Cutters, id, func(x cutter.Cutter) string { return x.ID })
}

// Machine returns the machine of a name; ok is false where there is none.
func (c *Catalog) Machine(id string) (x machine.Machine, ok bool) {
	return pick(c.Machines, id, func(x machine.Machine) string { return x.ID })
}

// Material returns the material of a name; ok is false where there is none.
func (c *Catalog) Material(id string) (x material.Material, ok bool) {
	return pick(c.Materials, id, func(x material.Material) string { return x.ID })
}

func pick[T any](list []T, id string, of func(T) string) (x T, ok bool) {
	for _, t := range list {
		if of(t) == id {
			return t, true
		}
	}
	return x, false
}

// CutterNames, MachineNames and MaterialNames list what the catalogue holds, in its order.
func (c *Catalog) CutterNames() []string {
	return names(c.Cutters, func(x cutter.Cutter) string { return x.ID })
}

// MachineNames lists the machines.
func (c *Catalog) MachineNames() []string {
	return names(c.Machines, func(x machine.Machine) string { return x.ID })
}

// MaterialNames lists the materials.
func (c *Catalog) MaterialNames() []string {
	return names(c.Materials, func(x material.Material) string { return x.ID })
}

func names[T any](list []T, of func(T) string) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = of(x)
	}
	return out
}
