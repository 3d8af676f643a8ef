package survey

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"barwise/finding"
	"barwise/geom/mesh"
	"barwise/geom/mesh/obj"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/stl"
	"barwise/geom/mesh/threemf"
)

// Reader is the shape all readers of mesh files have.
type Reader func(ctx context.Context, r io.ReaderAt, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error)

var readers = map[string]Reader{".stl": stl.Read, ".obj": obj.Read, ".ply": ply.Read, ".3mf": threemf.Read}

// Extensions are the file name endings that Open knows.
func Extensions() []string { return []string{".stl", ".obj", ".ply", ".3mf"} }

// Open reads a model file. What the file begins with decides over its extension where it is plain
// (PLY and 3MF have a signature); else the extension does. Errors of the file are *finding.InputError
// with the path in front of the place; the mesh is in the file's own unit.
func Open(ctx context.Context, path string, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, mesh.Info{}, unreadable(path, err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, mesh.Info{}, unreadable(path, err)
	}
	if !st.Mode().IsRegular() {
		return nil, mesh.Info{}, finding.Bad("model-file", path, "this is not a file", "name a model file")
	}
	read, err := sniff(f, st.Size(), filepath.Ext(path))
	if err == nil {
		var m *mesh.Mesh
		var info mesh.Info
		if m, info, err = read(ctx, f, st.Size(), lim); err == nil {
			return m, info, nil
		}
	}
	return nil, mesh.Info{}, at(path, err)
}

func unreadable(path string, err error) error {
	text := "the model cannot be read"
	var pe *os.PathError
	if errors.As(err, &pe) {
		text += ": " + pe.Err.Error()
	}
	return &finding.InputError{Code: "model-file", Where: path, Text: text, Hint: "check the path and the permissions", Err: err}
}

// at puts the path before the place of an error.
func at(path string, err error) error {
	var b *finding.InputError
	if !errors.As(err, &b) {
		if err != nil && !errors.Is(err, context.Canceled) && !errors.Is(err, context.DeadlineExceeded) {
			return fmt.Errorf("%s: %w", path, err)
		}
		return err
	}
	c := *b
	c.Where = path
	if b.Where != "" {
		c.Where += ": " + b.Where
	}
	return &c
}

func sniff(r io.ReaderAt, size int64, ext string) (Reader, error) {
	start := make([]byte, min(size, 512))
	if _, err := r.ReadAt(start, 0); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	switch {
	case size == 0:
		return nil, finding.Bad("mesh-empty", "", "the file is empty", "export the model again")
	case bytes.HasPrefix(start, []byte("ply\n")), bytes.HasPrefix(start, []byte("ply\r")):
		return ply.Read, nil
	case bytes.HasPrefix(start, []byte("PK\x03\x04")):
		return threemf.Read, nil
	}
	if read, ok := readers[strings.ToLower(ext)]; ok {
		return read, nil
	}
	if bytes.HasPrefix(bytes.TrimLeft(start, " \t\r\n"), []byte("solid")) {
		return stl.Read, nil
	}
	return nil, finding.Bad("model-format", "", fmt.Sprintf("ending %q: %s are read", ext, strings.Join(Extensions(), ", ")),
		"export the model in one of these formats")
}
