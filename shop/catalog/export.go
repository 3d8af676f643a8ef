package catalog

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"barwise/finding"
	"barwise/form"
)

// Export writes the built-in files, with their comments and sources, into a folder that it makes where
// it is not there, and returns their paths. A file that is already there is never overwritten: then
// nothing at all is written.
func Export(dir string) ([]string, error) {
	var paths []string
	for _, name := range Files {
		p := filepath.Join(dir, name)
		if _, err := os.Lstat(p); err == nil {
			return nil, finding.Bad("shop-exists", p, "the file is already there", "move it away, or name another folder")
		}
		paths = append(paths, p)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, cannotWrite(dir, err)
	}
	for i, name := range Files {
		b, err := Text(name)
		if err == nil {
			err = writeNew(paths[i], b)
		}
		if err != nil {
			for _, p := range paths[:i] { // what this call wrote
				os.Remove(p)
			}
			return nil, cannotWrite(paths[i], err)
		}
	}
	return paths, nil
}

// writeNew writes a file beside its place and renames it there, so that no half of it is ever seen.
func writeNew(p string, b []byte) error {
	tmp, err := os.CreateTemp(filepath.Dir(p), ".shop-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	if _, err = tmp.Write(b); err == nil {
		err = tmp.Chmod(0o644)
	}
	if err = errors.Join(err, tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), p)
}

func cannotWrite(p string, err error) error {
	var e *os.PathError
	if errors.As(err, &e) {
		err = e.Err
	}
	return fmt.Errorf("%s: cannot be written: %w; name another folder, or make room", p, err)
}

// Schema returns the JSON Schema (draft 2020-12) of one of the Files.
func Schema(file string) ([]byte, error) {
	switch file {
	case CuttersFile:
		return form.Describe[CuttersForm]("urn:barwise:cutters", "Barwise cutters")
	case MachinesFile:
		return form.Describe[MachinesForm]("urn:barwise:machines", "Barwise machines")
	case MaterialsFile:
		return form.Describe[MaterialsForm]("urn:barwise:materials", "Barwise materials")
	}
	return nil, finding.Bad("shop-name", file, "found no such file of a shop, allowed are "+strings.Join(Files, ", "), "")
}
