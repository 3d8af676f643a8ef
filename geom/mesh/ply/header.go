package ply

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"

	"barwise/finding"
	"barwise/geom/mesh/scan"
)

// kind is the type of a value: its letter (i, u, f) and its bytes.
type kind uint8

const (
	int8k kind = iota + 1
	uint8k
	int16k
	uint16k
	int32k
	uint32k
	float32k
	float64k
)

var kinds = map[string]kind{
	"char": int8k, "int8": int8k, "uchar": uint8k, "uint8": uint8k,
	"short": int16k, "int16": int16k, "ushort": uint16k, "uint16": uint16k,
	"int": int32k, "int32": int32k, "uint": uint32k, "uint32": uint32k,
	"float": float32k, "float32": float32k, "double": float64k, "float64": float64k,
}

var widths = [...]int{int8k: 1, uint8k: 1, int16k: 2, uint16k: 2, int32k: 4, uint32k: 4, float32k: 4, float64k: 8}

type property struct {
	name string
	kind kind
	list kind // type of a list's length; 0 for a scalar
}

// corners reports whether the property lists a face's vertices.
func (p *property) corners() bool {
	return p.list != 0 && (p.name == "vertex_index" || p.name == "vertex_indices")
}

type element struct {
	name  string
	count int64
	props []property
	at    string // where it is declared
}

// least is the fewest values an element has.
func (e *element) least() int { return len(e.props) }

type header struct {
	format   string
	order    binary.ByteOrder // nil: ascii
	elements []element
	bytes    int64 // length of the header
	lines    int
}

func (h *header) find(name string) *element {
	for i := range h.elements {
		if h.elements[i].name == name {
			return &h.elements[i]
		}
	}
	return nil
}

// maxHeader is the most header lines taken.
const maxHeader = 10_000

func readHeader(ctx context.Context, r io.Reader) (header, error) {
	l := scan.New(ctx, r)
	h := header{}
	line, _ := l.Next()
	if w, _ := scan.Word(line); string(w) != "ply" {
		if err := l.Err(); err != nil {
			return h, err
		}
		return h, finding.Bad("mesh-syntax", "line 1", fmt.Sprintf("found %s where 'ply' was expected", scan.Quote(w)),
			"the file is not PLY")
	}
	for {
		line, ok := l.Next()
		if err := l.Err(); err != nil {
			return h, err
		}
		if !ok || l.Line() > maxHeader {
			return h, finding.Bad("mesh-truncated", l.Where(), "the header has no 'end_header'",
				"the file is cut off: copy or export it again")
		}
		done, err := h.statement(l, line)
		if err != nil {
			return h, err
		}
		if done {
			h.bytes, h.lines = l.Offset(), l.Line()
			return h, h.check(l)
		}
	}
}

func (h *header) statement(l *scan.Lines, line []byte) (done bool, err error) {
	word, rest := scan.Word(line)
	switch string(word) {
	case "format":
		return false, h.setFormat(l, rest)
	case "element":
		return false, h.addElement(l, rest)
	case "property":
		return false, h.addProperty(l, rest)
	case "end_header":
		return true, nil
	case "", "comment", "obj_info":
		return false, nil
	}
	return false, l.Bad(fmt.Sprintf("found %s in the header, where one of format, element, property, comment, obj_info, end_header is allowed",
		scan.Quote(word)), "")
}

func (h *header) setFormat(l *scan.Lines, rest []byte) error {
	word, rest := scan.Word(rest)
	switch string(word) {
	case "ascii":
		h.format, h.order = "ascii", nil
	case "binary_little_endian":
		h.format, h.order = "binary little-endian", binary.LittleEndian
	case "binary_big_endian":
		h.format, h.order = "binary big-endian", binary.BigEndian
	default:
		return l.Bad(fmt.Sprintf("format %s: ascii, binary_little_endian or binary_big_endian is allowed", scan.Quote(word)), "")
	}
	if w, _ := scan.Word(rest); string(w) != "1.0" {
		return l.Bad(fmt.Sprintf("PLY version %s, only 1.0 is read", scan.Quote(w)), "")
	}
	return nil
}

func (h *header) addElement(l *scan.Lines, rest []byte) error {
	name, rest := scan.Word(rest)
	word, _ := scan.Word(rest)
	n, ok := scan.Int(word)
	if len(name) == 0 || !ok || n < 0 {
		return l.Bad("an element needs a name and a count that is a whole number", "")
	}
	if h.find(string(name)) != nil {
		return l.Bad(fmt.Sprintf("element %s is declared twice", scan.Quote(name)), "")
	}
	h.elements = append(h.elements, element{name: string(name), count: int64(n), at: l.Where()})
	return nil
}

func (h *header) addProperty(l *scan.Lines, rest []byte) error {
	if len(h.elements) == 0 {
		return l.Bad("a property before any element", "")
	}
	var p property
	word, rest := scan.Word(rest)
	if string(word) == "list" {
		word, rest = scan.Word(rest)
		p.list = kinds[string(word)]
		if p.list == 0 || p.list >= float32k {
			return l.Bad(fmt.Sprintf("a list's length of type %s: a whole-number type is needed", scan.Quote(word)), "")
		}
		word, rest = scan.Word(rest)
	}
	p.kind = kinds[string(word)]
	name, _ := scan.Word(rest)
	p.name = string(name)
	if p.kind == 0 || len(name) == 0 {
		return l.Bad(fmt.Sprintf("property of type %s: char, uchar, short, ushort, int, uint, float or double and a name are needed", scan.Quote(word)), "")
	}
	e := &h.elements[len(h.elements)-1]
	e.props = append(e.props, p)
	return nil
}

// check makes sure of what is needed for a mesh.
func (h *header) check(l *scan.Lines) error {
	if h.format == "" {
		return l.Bad("the header has no 'format'", "")
	}
	for _, e := range h.elements {
		if len(e.props) == 0 && e.count > 0 {
			return finding.Bad("mesh-syntax", e.at, "element '"+e.name+"' has no property", "")
		}
	}
	v := h.find("vertex")
	if v == nil {
		return l.Bad("the header declares no element 'vertex'", "export a triangle mesh")
	}
	for _, name := range [...]string{"x", "y", "z"} {
		if n := v.count1(name); n != 1 {
			return finding.Bad("mesh-syntax", v.at, fmt.Sprintf("element 'vertex' has %d properties '%s', one is needed", n, name), "")
		}
	}
	for _, p := range v.props {
		if p.list != 0 {
			return &finding.InputError{Code: "mesh-unsupported", Where: v.at, Unsupported: true,
				Text: "a list in element 'vertex' is not read", Hint: "export the model without it"}
		}
	}
	f := h.find("face")
	if f == nil || f.count == 0 {
		return finding.Bad("mesh-empty", "", "the PLY file declares no faces", "export a triangle mesh, not points or strips")
	}
	n := 0
	for i := range f.props {
		if f.props[i].corners() {
			n++
		}
	}
	if n != 1 {
		return finding.Bad("mesh-syntax", f.at, fmt.Sprintf("element 'face' has %d lists 'vertex_index' or 'vertex_indices', one is needed", n), "")
	}
	return nil
}

func (e *element) count1(name string) int {
	n := 0
	for _, p := range e.props {
		if p.name == name && p.list == 0 {
			n++
		}
	}
	return n
}
