// Command rook makes the demo's model: a lighthouse as the rook of a harbour's chess set.
//
// It stands along +Y on y = 0, 56 mm tall and 24 mm across at the most, with a spigot of 8 mm below.
// Every surface is open to one of the four sides 0°, 90°, 180° and 270°, and no hollow is tighter than
// a ball of 1 mm diameter.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
)

// cellMM is the default size of the cells the surface is taken from: about 290 000 triangles.
const cellMM = 0.185

func main() {
	out := flag.String("o", "rook.stl", "file to write")
	cell := flag.Float64("cell", cellMM, "size of the cells the surface is taken from, mm")
	flag.Parse()
	if err := run(*out, *cell); err != nil {
		fmt.Fprintln(os.Stderr, "rook:", err)
		os.Exit(1)
	}
}

// bounds holds the whole model with room to spare.
var bounds = geom.Box3{Min: geom.Vec3{X: -12.5, Y: -6.5, Z: -12.5}, Max: geom.Vec3{X: 12.5, Y: 56.5, Z: 12.5}}

func run(path string, cell float64) error {
	if !(cell >= 0.05 && cell <= 1) {
		return fmt.Errorf("cells of %g mm: 0.05 to 1 is allowed", cell)
	}
	m := extract(rook, bounds, cell)
	if h := m.Health(); !h.Closed || h.Volume <= 0 {
		return fmt.Errorf("the surface came out with %d open edges: try another cell size", len(h.Loops))
	}
	return write(path, m)
}

// write leaves either the whole file or none.
func write(path string, m *mesh.Mesh) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".rook-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	if err := stl.Write(f, m, "lighthouse rook, mm"); err != nil {
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
