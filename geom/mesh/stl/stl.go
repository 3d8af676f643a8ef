// Package stl reads and writes STL, binary and ASCII.
//
// The layout is that of Burns, Automated Fabrication, §6.5: a binary file is an 80-byte header, a
// 32-bit count n and n facets of 50 bytes, so exactly 84 + 50·n bytes, little-endian. STL carries no
// unit. Normals in the file are not used: the order of the corners says which way a facet faces.
package stl

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

const (
	head  = 84
	facet = 50
	block = 4096 // facets read at once
)

// Read reads an STL file of size bytes. The size decides what it is (a binary header may begin with
// 'solid' too): exactly 84 + 50·n bytes is binary. Errors of the file are *finding.InputError with the
// facet, counted from 1, and the byte or line.
func Read(ctx context.Context, r io.ReaderAt, size int64, lim mesh.Limits) (*mesh.Mesh, mesh.Info, error) {
	lim = lim.Or()
	if err := lim.CheckBytes(size, ""); err != nil {
		return nil, mesh.Info{}, err
	}
	start := make([]byte, min(size, 512))
	if _, err := io.ReadFull(io.NewSectionReader(r, 0, size), start); err != nil {
		return nil, mesh.Info{}, fmt.Errorf("reading stl: %w", err)
	}
	if !isBinary(start, size) && isText(start) {
		return readText(ctx, io.NewSectionReader(r, 0, size), size, lim)
	}
	n, err := count(start, size)
	if err != nil {
		return nil, mesh.Info{}, err
	}
	if n == 0 {
		return nil, mesh.Info{}, mesh.Empty("binary STL")
	}
	if err := lim.CheckTriangles(n, "byte 80"); err != nil {
		return nil, mesh.Info{}, err
	}
	return readBinary(ctx, io.NewSectionReader(r, head, size-head), n)
}

func isBinary(start []byte, size int64) bool {
	return len(start) >= head && size == head+facet*int64(binary.LittleEndian.Uint32(start[80:]))
}

func isText(start []byte) bool {
	word := bytes.TrimLeft(start, " \t\r\n\uFEFF")
	return len(word) >= 5 && bytes.EqualFold(word[:5], []byte("solid")) && bytes.IndexByte(start, 0) < 0
}

// count returns the facets of a binary file whose size agrees with its header.
func count(start []byte, size int64) (int, error) {
	if size == 0 {
		return 0, finding.Bad("mesh-empty", "", "the file is empty", "export the model again")
	}
	if size < head {
		return 0, finding.Bad("mesh-truncated", fmt.Sprintf("byte %d", size),
			fmt.Sprintf("the file has %d bytes, a binary STL has at least %d, and it does not begin with 'solid' as an ASCII one does", size, head),
			"export the model again")
	}
	n := int64(binary.LittleEndian.Uint32(start[80:]))
	want := head + facet*n
	switch {
	case size == want:
		return int(n), nil
	case size < want:
		return 0, finding.Bad("mesh-truncated", fmt.Sprintf("facet %d (byte %d)", (size-head)/facet+1, size),
			fmt.Sprintf("the header says %d facets, which is %d bytes, and the file ends after %d", n, want, size),
			"the file is cut off, or not STL: copy or export it again")
	}
	return 0, finding.Bad("mesh-count", fmt.Sprintf("byte %d", want),
		fmt.Sprintf("the header says %d facets, which is %d bytes, and the file has %d", n, want, size),
		"the count is wrong, or the file is not STL: export it again")
}

func readBinary(ctx context.Context, r io.Reader, n int) (*mesh.Mesh, mesh.Info, error) {
	b := mesh.NewBuilder(n)
	full, free := make(chan []byte, 2), make(chan []byte, 3)
	for range cap(free) {
		free <- make([]byte, block*facet)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	fail := make(chan error, 1)
	go func() {
		defer close(full)
		fail <- blocks(ctx, r, n, free, full)
	}()
	at := 0
	var bad error
	for buf := range full {
		if bad == nil {
			if bad = facets(b, buf, at); bad != nil {
				cancel()
			}
		}
		at += len(buf) / facet
		free <- buf[:cap(buf)]
	}
	if err := <-fail; bad == nil {
		bad = err
	}
	if bad != nil {
		return nil, mesh.Info{}, bad
	}
	m, collapsed := b.Mesh()
	return m, mesh.Info{Format: "binary STL", Facets: n, Collapsed: collapsed, Unwelded: 3 * n}, nil
}

// blocks reads ahead while the facets before are welded.
func blocks(ctx context.Context, r io.Reader, n int, free <-chan []byte, full chan<- []byte) error {
	for at := 0; at < n; at += block {
		if err := ctx.Err(); err != nil {
			return err
		}
		buf := (<-free)[:min(block, n-at)*facet]
		if _, err := io.ReadFull(r, buf); err != nil {
			return fmt.Errorf("reading stl facet %d: %w", at+1, err)
		}
		full <- buf
	}
	return nil
}

func facets(b *mesh.Builder, buf []byte, at int) error {
	for o := 0; o < len(buf); o += facet {
		var t [3]int32
		for k := range t {
			p := buf[o+12+12*k:]
			v := geom.Vec3{X: float(p), Y: float(p[4:]), Z: float(p[8:])}
			if err := mesh.CheckVertex(v, func() string {
				i := at + o/facet
				return fmt.Sprintf("facet %d (byte %d)", i+1, head+facet*i+12+12*k)
			}); err != nil {
				return err
			}
			t[k] = b.Vertex(v)
		}
		b.Triangle(t[0], t[1], t[2])
	}
	return nil
}

func float(p []byte) float64 {
	return float64(math.Float32frombits(binary.LittleEndian.Uint32(p)))
}
