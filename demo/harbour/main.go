// Command harbour makes the models of a harbour's chess set from signed distances, mm: a lighthouse as
// the rook, a buoy as the pawn and a mooring bollard as the bishop.
//
// Each stands along +Y on y = 0, with a spigot below, and is made for the ball that finishes it: every
// surface is open to one of the sides its bar is worked from, and no hollow is tighter than the ball,
// the one between foot and spigot included.
package main

import (
	"cmp"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
)

// model is one piece of the set.
type model struct {
	name, title string
	shape       func(geom.Vec3) float64 // signed distance, mm
	bounds      geom.Box3               // holds the whole of it with room to spare
	cell        float64                 // mm, default size of the cells the surface is taken from
}

var models = []model{
	{"rook", "lighthouse rook", rook, around(12.5, -6.5, 56.5), 0.185},
	{"buoy", "buoy pawn", buoy, around(10.5, -7.5, 40.5), 0.18},
	{"bollard", "bollard bishop", bollard, around(12.8, -7, 45), 0.19},
}

// around is a box r to each side of the axis, from y0 to y1.
func around(r, y0, y1 float64) geom.Box3 {
	return geom.Box3{Min: geom.Vec3{X: -r, Y: y0, Z: -r}, Max: geom.Vec3{X: r, Y: y1, Z: r}}
}

func main() {
	name := flag.String("model", "rook", "what to make: "+names())
	out := flag.String("o", "", "file to write (default: the model's name with .stl)")
	cell := flag.Float64("cell", 0, "size of the cells the surface is taken from, mm (default: 0.18 or so, the model's own)")
	flag.Parse()
	if err := run(*name, *out, *cell); err != nil {
		fmt.Fprintln(os.Stderr, "harbour:", err)
		os.Exit(1)
	}
}

func names() string {
	var out []string
	for _, m := range models {
		out = append(out, m.name)
	}
	return strings.Join(out, ", ")
}

func run(name, path string, cell float64) error {
	i := slices.IndexFunc(models, func(m model) bool { return m.name == name })
	if i < 0 {
		return fmt.Errorf("model %q: %s are allowed", name, names())
	}
	m := models[i]
	cell = cmp.Or(cell, m.cell)
	if !(cell >= 0.05 && cell <= 1) {
		return fmt.Errorf("cells of %g mm: 0.05 to 1 is allowed", cell)
	}
	s := m.extract(cell)
	if h := s.Health(); !h.Closed || h.Volume <= 0 {
		return fmt.Errorf("the surface came out with %d open edges: try another cell size", len(h.Loops))
	}
	return write(cmp.Or(path, name+".stl"), m.title+", mm", s)
}

func (m model) extract(cell float64) *mesh.Mesh { return extract(m.shape, m.bounds, cell) }

// write leaves either the whole file or none.
func write(path, title string, m *mesh.Mesh) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".harbour-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	if err := stl.Write(f, m, title); err != nil {
		f.Close()
		return err
	}
	if err := f.Chmod(0o644); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
