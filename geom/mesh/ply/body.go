package ply

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"barwise/finding"
	"barwise/geom/mesh/scan"
)

// text is an ascii body, an element a line.
type text struct {
	lines *scan.Lines
	first int // lines of the header
	rest  []byte
	size  int64
}

func newText(ctx context.Context, r io.Reader, first int, size int64) *text {
	return &text{lines: scan.New(ctx, r), first: first, size: size}
}

func (t *text) row() error {
	for {
		line, ok := t.lines.Next()
		if !ok {
			if err := t.lines.Err(); err != nil {
				return err
			}
			return cut(t.where())
		}
		if w, _ := scan.Word(line); len(w) > 0 {
			t.rest = line
			return nil
		}
	}
}

func (t *text) scalars(kinds []kind, out []float64) error {
	var ok bool
	for i := range kinds {
		var w []byte
		w, t.rest = scan.Word(t.rest)
		if out[i], ok = scan.Float(w); !ok {
			return finding.Bad("mesh-syntax", t.where(), fmt.Sprintf("found %s where a number was expected", scan.Quote(w)),
				"the file is damaged: export it again")
		}
	}
	return nil
}

func (t *text) end() error {
	if w, _ := scan.Word(t.rest); len(w) > 0 {
		return finding.Bad("mesh-syntax", t.where(), fmt.Sprintf("found %s behind the last declared value", scan.Quote(w)),
			"the header does not fit the values: export the file again")
	}
	return nil
}

func (t *text) where() string { return fmt.Sprintf("line %d", t.first+t.lines.Line()) }

// room: a value takes a digit and a separator.
func (t *text) room(values int) int64 {
	return (t.size - t.lines.Offset() + 1) / int64(2*max(values, 1))
}

// body is a binary body.
type body struct {
	r     *bufio.Reader
	order binary.ByteOrder
	at    int64
	size  int64 // bytes left
}

func newBinary(r io.Reader, at, size int64, order binary.ByteOrder) *body {
	return &body{r: bufio.NewReaderSize(r, 1<<20), order: order, at: at, size: size}
}

func (b *body) row() error { return nil }
func (b *body) end() error { return nil }

func (b *body) where() string { return fmt.Sprintf("byte %d", b.at) }

func (b *body) room(values int) int64 { return b.size / int64(max(values, 1)) }

func (b *body) scalars(kinds []kind, out []float64) error {
	n := 0
	for _, k := range kinds {
		n += widths[k]
	}
	p, err := b.r.Peek(n)
	if err != nil {
		if errors.Is(err, io.EOF) {
			return cut(fmt.Sprintf("byte %d", b.at+int64(len(p))))
		}
		return fmt.Errorf("reading ply at byte %d: %w", b.at, err)
	}
	for i, k := range kinds {
		out[i] = b.value(k, p)
		p = p[widths[k]:]
	}
	b.at += int64(n)
	b.size -= int64(n)
	_, err = b.r.Discard(n)
	return err
}

func (b *body) value(k kind, p []byte) float64 {
	switch k {
	case int8k:
		return float64(int8(p[0]))
	case uint8k:
		return float64(p[0])
	case int16k:
		return float64(int16(b.order.Uint16(p)))
	case uint16k:
		return float64(b.order.Uint16(p))
	case int32k:
		return float64(int32(b.order.Uint32(p)))
	case uint32k:
		return float64(b.order.Uint32(p))
	case float32k:
		return float64(math.Float32frombits(b.order.Uint32(p)))
	}
	return math.Float64frombits(b.order.Uint64(p))
}

func cut(where string) error {
	return finding.Bad("mesh-truncated", where, "the file ends before all declared elements",
		"the file is cut off or a count is wrong: copy or export it again")
}
