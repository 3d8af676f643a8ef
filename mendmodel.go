package barwise

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"barwise/finding"
	"barwise/geom/mesh"
	"barwise/geom/mesh/mend"
	"barwise/geom/mesh/stl"
	"barwise/geom/mesh/threemf"
	"barwise/job"
	"barwise/plan/survey"
)

// MendOutcome is a mesh file mended. Lengths of Result are in the mesh's unit.
type MendOutcome struct {
	Result *mend.Result
	Before *survey.Report
	After  *survey.Report
	UnitMM float64
}

// Blocked reports whether the mesh still cannot be planned as it is.
func (o *MendOutcome) Blocked() bool { return o.After.Blocking() }

// Mend mends a mesh file as far as asked. unitMM is what one unit of its numbers is; 0: as the file
// states, or a guess by size. most is the most triangles that are read; 0: 20 million.
func Mend(ctx context.Context, model string, want job.Mend, unitMM float64, most int, say Progress) (*MendOutcome, error) {
	say = quiet(say)
	say("reading "+model, 0, 0)
	m, info, err := survey.Open(ctx, model, mesh.Limits{Triangles: most})
	if err != nil {
		return nil, err
	}
	o := &MendOutcome{}
	p := survey.Params{UnitMM: unitMM}
	if o.Before, err = survey.Look(ctx, m, info, p); err != nil {
		return nil, err
	}
	o.UnitMM = o.Before.UnitMM
	say("mending", 0, 0)
	if o.Result, err = mend.Mend(ctx, m, mendParams(&want, o.UnitMM)); err != nil {
		return nil, err
	}
	p.UnitMM = o.UnitMM
	o.After, err = survey.Look(ctx, o.Result.Mesh, info, p)
	return o, err
}

// MeshWritable checks, before any work is done, that a mesh can be written to a file of this name.
func MeshWritable(to string, overwrite bool) error {
	switch strings.ToLower(filepath.Ext(to)) {
	case ".stl", ".3mf":
	default:
		return finding.Bad("model-format", to, "STL and 3MF are written", "end the file's name in .stl or .3mf")
	}
	if !notThere(to) && !overwrite {
		return finding.Bad("out-exists", to, "there is a file of this name", "name another, or give --overwrite")
	}
	return nil
}

// WriteMesh writes the mended mesh, as STL or as 3MF by the name's ending, whole or not at all. A 3MF
// keeps every coordinate, an STL rounds to float32.
func (o *MendOutcome) WriteMesh(to string) error {
	m := o.Result.Mesh
	write := func(w io.Writer) error { return stl.Write(w, m, "mended") }
	if strings.EqualFold(filepath.Ext(to), ".3mf") {
		unit, known := threemfUnits[o.UnitMM]
		if !known {
			m, unit = scaled(m, o.UnitMM), "millimeter"
		}
		write = func(w io.Writer) error { return threemf.Write(w, m, unit) }
	}
	f, err := os.CreateTemp(filepath.Dir(to), "."+filepath.Base(to)+".unfinished-")
	if err != nil {
		return cannotWriteFile(to, err)
	}
	defer os.Remove(f.Name())
	err = write(f)
	if err == nil {
		err = f.Chmod(0o644)
	}
	if err == nil {
		err = f.Sync()
	}
	if err2 := f.Close(); err == nil {
		err = err2
	}
	if err == nil {
		err = os.Rename(f.Name(), to)
	}
	if err != nil {
		return cannotWriteFile(to, err)
	}
	return nil
}

// Rounded counts the corners that come to lie on others when the mesh is written to a file of this name.
func (o *MendOutcome) Rounded(to string) int {
	if !strings.EqualFold(filepath.Ext(to), ".stl") {
		return 0
	}
	return stl.Rounding(o.Result.Mesh).Merged
}

func cannotWriteFile(to string, err error) error {
	return fmt.Errorf("%s: the mesh cannot be written: %w; nothing was changed", to, err)
}
