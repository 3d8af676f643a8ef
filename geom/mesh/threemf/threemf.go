// Package threemf reads and writes 3MF, as 3MF Core Specification 1.4 has it.
//
// What the build items reference comes out as one mesh, placed by the items' and components'
// transforms, in the unit of the model; objects that nothing builds are left out (§3.3), so are
// objects of type support, solidsupport and other. A transform that mirrors turns the triangles round
// so that the volume stays the right way out. A model that requires an extension is refused (§2.3).
package threemf

import (
	"archive/zip"
	"context"
	"errors"
	"io"
	"strings"

	"barwise/finding"
	"barwise/geom/mesh"
)

const (
	core      = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	startPart = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	relations = "http://schemas.openxmlformats.org/package/2006/relationships"
)

// Read reads a 3MF package of size bytes. Errors of the file are *finding.InputError with the part and
// the byte in it.
func Read(ctx context.Context, r io.ReaderAt, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error) {
	lim = lim.Or()
	if err := lim.CheckBytes(size, ""); err != nil {
		return nil, mesh.Info{}, err
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, mesh.Info{}, damaged("", err)
	}
	name, err := modelPart(ctx, z, lim)
	if err != nil {
		return nil, mesh.Info{}, err
	}
	p := parser{lim: lim}
	if err := withPart(ctx, z, name, lim, p.model); err != nil {
		return nil, mesh.Info{}, err
	}
	return p.build(ctx)
}

func damaged(where string, err error) error {
	return &finding.InputError{Code: "mesh-syntax", Where: where, Text: "the package cannot be unpacked: " + err.Error(),
		Hint: "the file is cut off or damaged, or not 3MF: copy or export it again", Err: err}
}

// modelPart finds the name of the part that holds the model: the target of the package's relationship
// of that type (§2.1).
func modelPart(ctx context.Context, z *zip.Reader, lim mesh.Limits) (string, error) {
	target := ""
	err := withPart(ctx, z, "_rels/.rels", lim, func(x *markup) error {
		for {
			t, err := x.next()
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return err
			}
			if t.End || string(t.Local) != "Relationship" || t.Space != relations {
				continue
			}
			if t.get("Type") == startPart && target == "" {
				target = t.get("Target")
			}
		}
	})
	if err != nil {
		return "", err
	}
	if target == "" {
		return "", finding.Bad("mesh-empty", "_rels/.rels", "the package names no 3D model part", "the file is not 3MF")
	}
	return strings.TrimPrefix(target, "/"), nil
}

// withPart opens a part and hands its markup to f, holding what is unpacked to the limit.
func withPart(ctx context.Context, z *zip.Reader, name string, lim mesh.Limits, f func(*markup) error) error {
	for _, e := range z.File {
		// part names are equal without regard to case (OPC §6.3.5)
		if !strings.EqualFold(strings.TrimPrefix(e.Name, "/"), name) {
			continue
		}
		if e.UncompressedSize64 > uint64(lim.Bytes) {
			return lim.CheckBytes(int64(min(e.UncompressedSize64, 1<<62)), name)
		}
		r, err := e.Open()
		if err != nil {
			return damaged(name, err)
		}
		defer r.Close()
		return f(newMarkup(ctx, name, &limited{r: r, left: lim.Bytes, lim: lim, name: name}))
	}
	return finding.Bad("mesh-empty", name, "the package lacks this part", "the file is not 3MF, or damaged")
}

// limited stops a part that unpacks to more than it may, whatever its header said.
type limited struct {
	r    io.Reader
	left int64
	lim  mesh.Limits
	name string
}

func (l *limited) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	if l.left -= int64(n); l.left < 0 {
		return 0, l.lim.CheckBytes(l.lim.Bytes+1, l.name)
	}
	if err != nil && !errors.Is(err, io.EOF) {
		err = damaged(l.name, err)
	}
	return n, err
}

// get returns an attribute's value, empty where it is missing.
func (t *tag) get(name string) string {
	for _, a := range t.Attrs {
		if string(a.Name) == name {
			return string(a.Value)
		}
	}
	return ""
}

func (t *tag) raw(name string) []byte {
	for _, a := range t.Attrs {
		if string(a.Name) == name {
			return a.Value
		}
	}
	return nil
}
