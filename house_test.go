package barwise

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// floors is the house: a package imports only packages of a lower floor. A parent folder's package may
// be imported from its own floor (geom/mesh from geom/mesh/stl would be such a case).
var floors = map[string]int{
	"geom": 0, "unit": 0, "finding": 0,

	"geom/mesh": 1, "geom/mesh/scan": 1, "geom/mesh/patch": 1, "geom/field": 1, "path": 1, "form": 1,
	"shop/bar": 1, "shop/cutter": 1, "shop/machine": 1, "shop/material": 1,

	"shop/catalog": 2, "stock": 2, "force": 2, "path/sweep": 2,
	"geom/mesh/stl": 2, "geom/mesh/obj": 2, "geom/mesh/ply": 2, "geom/mesh/threemf": 2, "geom/mesh/sample": 2,
	"geom/field/iso": 2, "geom/mesh/cross": 2, "geom/mesh/mend": 2, "geom/mesh/smooth": 2, "geom/mesh/thick": 2,

	"job": 3, "motion": 3, "gcode": 3, "proof": 3, "engage": 3, "cusp": 3,
	"plan/survey": 3, "plan/place": 3, "plan/cl": 3, "plan/link": 3, "plan/arc": 3, "plan/facet": 3, "plan/fragile": 3, "plan/order": 3,

	"plan/share": 4, "plan/rough": 4, "plan/pose": 4,

	"plan/reach": 5, "plan/even": 5, "plan/level": 5, "plan/corner": 5,

	"plan/finish": 6, "plan/choose": 6,

	"report": 7,

	"": 8,

	"internal/cli": 9, "demo/harbour": 9,

	"cmd/barwise": 10,
}

// maxLines is the most a source file may have; tables of figures are named here.
const maxLines = 800

var tables = map[string]bool{}

func TestHouse(t *testing.T) {
	fset := token.NewFileSet()
	err := filepath.WalkDir(".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if n := d.Name(); p != "." && (strings.HasPrefix(n, ".") || n == "testdata" || n == "node_modules" || n == "bin") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		checkLength(t, p)
		if !strings.HasSuffix(p, "_test.go") {
			checkImports(t, fset, p)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func checkLength(t *testing.T, p string) {
	b, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(b), "\n"); n > maxLines && !tables[p] {
		t.Errorf("%s has %d lines, at most %d are allowed: split it", p, n, maxLines)
	}
}

func checkImports(t *testing.T, fset *token.FileSet, p string) {
	dir := filepath.ToSlash(filepath.Dir(p))
	if dir == "." {
		dir = ""
	}
	floor, known := floors[dir]
	if !known {
		t.Errorf("%s: package %q stands on no floor: give it one in house_test.go", p, dir)
		return
	}
	f, err := parser.ParseFile(fset, p, nil, parser.ImportsOnly)
	if err != nil {
		t.Error(err)
		return
	}
	for _, im := range f.Imports {
		path, _ := strconv.Unquote(im.Path.Value)
		sub, ours := strings.CutPrefix(path, "barwise")
		if !ours || sub != "" && !strings.HasPrefix(sub, "/") {
			continue
		}
		sub = strings.TrimPrefix(sub, "/")
		below, known := floors[sub]
		parent := strings.HasPrefix(dir, sub+"/") && sub != ""
		switch {
		case !known:
			t.Errorf("%s imports %s, which stands on no floor", p, path)
		case below > floor || below == floor && !parent:
			t.Errorf("%s (floor %d) imports %s (floor %d): only lower floors are allowed", p, floor, path, below)
		case sub == "job" && floor < 6:
			t.Errorf("%s imports %s: only the root knows a job", p, path)
		case dir == "proof" && strings.HasPrefix(sub, "plan/"):
			t.Errorf("%s imports %s: the proof knows nothing of the planner", p, path)
		}
	}
}
