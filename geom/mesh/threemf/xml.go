package threemf

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"barwise/finding"
)

// markup takes well-formed XML apart, tag by tag; text, comments and processing instructions are passed
// over. It checks nesting and quoting, resolves namespaces, and refuses a DTD and any encoding but
// UTF-8 (3MF Core §2.3), which also shuts out entity bombs. encoding/xml does more and takes ten times
// as long.
type markup struct {
	ctx    context.Context
	part   string // name of the part, for messages
	r      io.Reader
	buf    []byte
	at     int // first byte not used
	base   int64
	err    error // what reading ended with
	tag    tag
	self   bool     // the tag just given closes itself: its end comes next
	open   []string // names of the open tags, as written
	ns     []binding
	name   []byte // local name of the end just given
	closed bool
}

type binding struct {
	prefix, uri string
	depth       int
}

// tag is one start or end. Name and attribute names are as written, prefix and all; the bytes hold
// until the next one.
type tag struct {
	End   bool
	Space string // namespace of the name
	Local []byte // name without its prefix
	Attrs []attr
}

type attr struct{ Name, Value []byte }

const (
	maxTag   = 1 << 20
	maxDepth = 64
)

func newMarkup(ctx context.Context, part string, r io.Reader) *markup {
	return &markup{ctx: ctx, part: part, r: r, buf: make([]byte, 0, 256<<10)}
}

func (x *markup) where() string { return fmt.Sprintf("%s byte %d", x.part, x.base+int64(x.at)) }

func (x *markup) bad(format string, args ...any) error {
	return finding.Bad("mesh-syntax", x.where(), fmt.Sprintf(format, args...), "the file is damaged: export it again")
}

// more reads on; false at the end of the part or on an error.
func (x *markup) more() bool {
	if x.err == nil {
		x.err = x.ctx.Err()
	}
	if x.err != nil {
		return false
	}
	if x.at > 0 {
		x.base += int64(x.at)
		x.buf = x.buf[:copy(x.buf, x.buf[x.at:])]
		x.at = 0
	}
	if len(x.buf) == cap(x.buf) {
		x.buf = append(x.buf, make([]byte, cap(x.buf))...)[:len(x.buf)]
	}
	n, err := x.r.Read(x.buf[len(x.buf):cap(x.buf)])
	x.buf = x.buf[:len(x.buf)+n]
	x.err = err
	return n > 0 || err == nil
}

func (x *markup) cut() error {
	if x.err != nil && !errors.Is(x.err, io.EOF) {
		return x.err
	}
	return finding.Bad("mesh-truncated", x.where(), "the part ends inside its markup", "the file is cut off: copy or export it again")
}

// next returns the next start or end; io.EOF after the root has closed.
func (x *markup) next() (*tag, error) {
	if x.self {
		x.self = false
		return x.close()
	}
	for {
		if err := x.skipText(); err != nil {
			return nil, err
		}
		// at '<'
		for len(x.buf)-x.at < 4 && x.more() {
		}
		w := x.buf[x.at:]
		switch {
		case len(w) < 3:
			return nil, x.cut()
		case w[1] == '?':
			if err := x.instruction(); err != nil {
				return nil, err
			}
		case bytes.HasPrefix(w, []byte("<!--")):
			if err := x.skipTo("-->"); err != nil {
				return nil, err
			}
		case bytes.HasPrefix(w, []byte("<![C")):
			if err := x.skipTo("]]>"); err != nil {
				return nil, err
			}
		case w[1] == '!':
			return nil, x.bad("a document type definition is not allowed in 3MF")
		default:
			return x.element()
		}
	}
}

func (x *markup) skipText() error {
	for {
		w := x.buf[x.at:]
		i := bytes.IndexByte(w, '<')
		text := w
		if i >= 0 {
			text = w[:i]
		}
		if len(x.open) == 0 && len(bytes.Trim(text, "\ufeff \t\r\n")) > 0 {
			return x.bad("found text outside the root element")
		}
		x.at += len(text)
		if i >= 0 {
			return nil
		}
		if !x.more() {
			if x.closed && errors.Is(x.err, io.EOF) {
				return io.EOF
			}
			return x.cut()
		}
	}
}

func (x *markup) skipTo(end string) error {
	for {
		if i := bytes.Index(x.buf[x.at:], []byte(end)); i >= 0 {
			x.at += i + len(end)
			return nil
		}
		x.at = max(x.at, len(x.buf)-len(end)+1)
		if !x.more() {
			return x.cut()
		}
	}
}

func (x *markup) instruction() error {
	for {
		w := x.buf[x.at:]
		if i := bytes.Index(w, []byte("?>")); i >= 0 {
			text := strings.ToLower(string(w[:i]))
			if _, enc, ok := strings.Cut(text, "encoding"); ok && strings.HasPrefix(text, "<?xml") &&
				!strings.HasPrefix(strings.TrimLeft(enc, "= \t\"'"), "utf-8") {
				return x.bad("the part is not encoded in UTF-8, which 3MF requires")
			}
			x.at += i + 2
			return nil
		}
		if len(w) > maxTag {
			return x.bad("a processing instruction of more than %d bytes", maxTag)
		}
		if !x.more() {
			return x.cut()
		}
	}
}

// element takes the tag at '<' apart.
func (x *markup) element() (*tag, error) {
	end := x.tagEnd()
	for ; end < 0; end = x.tagEnd() {
		if len(x.buf)-x.at > maxTag {
			return nil, x.bad("a tag of more than %d bytes", maxTag)
		}
		if !x.more() {
			return nil, x.cut()
		}
	}
	w := x.buf[x.at+1 : x.at+end]
	if w[0] == '/' {
		return x.endTag(bytes.TrimRight(w[1:], " \t\r\n"), end)
	}
	if x.closed {
		return nil, x.bad("found a second root element")
	}
	x.self = w[len(w)-1] == '/'
	if x.self {
		w = w[:len(w)-1]
	}
	return x.start(w, end)
}

// tagEnd returns the distance to the '>' that ends the tag at x.at, −1 where it is not in the buffer.
func (x *markup) tagEnd() int {
	quote := byte(0)
	for i, c := range x.buf[x.at:] {
		switch {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '>' && i > 1:
			return i
		}
	}
	return -1
}

func (x *markup) endTag(name []byte, end int) (*tag, error) {
	n := len(x.open)
	if n == 0 || x.open[n-1] != string(name) {
		return nil, x.bad("found '</%s>', which closes nothing that is open", clip(name))
	}
	x.at += end + 1
	return x.close()
}

func (x *markup) close() (*tag, error) {
	n := len(x.open)
	name := x.open[n-1]
	prefix, local := split(name)
	x.name = append(x.name[:0], local...)
	x.tag = tag{End: true, Space: x.space(prefix), Local: x.name, Attrs: x.tag.Attrs[:0]}
	x.open = x.open[:n-1]
	for k := len(x.ns); k > 0 && x.ns[k-1].depth == n; k-- {
		x.ns = x.ns[:k-1]
	}
	x.closed = n == 1
	return &x.tag, nil
}

func (x *markup) start(w []byte, end int) (*tag, error) {
	if len(x.open) >= maxDepth {
		return nil, x.bad("elements nested deeper than %d", maxDepth)
	}
	i := 0
	for i < len(w) && !blank(w[i]) {
		i++
	}
	name := w[:i]
	if i == 0 || bytes.ContainsAny(name, "<=\"'&") {
		return nil, x.bad("a tag without a proper name")
	}
	x.open = append(x.open, intern(name))
	x.tag.Attrs = x.tag.Attrs[:0]
	for rest := w[i:]; ; {
		a, r, err := x.attribute(rest)
		if err != nil {
			return nil, err
		}
		if a.Name == nil {
			break
		}
		rest = r
		x.tag.Attrs = append(x.tag.Attrs, a)
		if bytes.HasPrefix(a.Name, []byte("xmlns")) {
			x.bind(a)
		}
	}
	prefix, local := split(x.open[len(x.open)-1])
	x.tag.End, x.tag.Space, x.tag.Local = false, x.space(prefix), name[len(name)-len(local):]
	x.at += end + 1
	return &x.tag, nil
}

func (x *markup) attribute(w []byte) (attr, []byte, error) {
	i := 0
	for i < len(w) && blank(w[i]) {
		i++
	}
	if i == len(w) {
		return attr{}, nil, nil
	}
	eq := bytes.IndexByte(w[i:], '=')
	if i == 0 || eq <= 0 {
		return attr{}, nil, x.bad("found %q where an attribute was expected", clip(w[i:]))
	}
	name := bytes.TrimRight(w[i:i+eq], " \t\r\n")
	w = bytes.TrimLeft(w[i+eq+1:], " \t\r\n")
	if len(w) == 0 || w[0] != '"' && w[0] != '\'' || len(name) == 0 || bytes.ContainsAny(name, " \t\r\n<\"'") {
		return attr{}, nil, x.bad("attribute '%s' has no quoted value", clip(name))
	}
	q := bytes.IndexByte(w[1:], w[0])
	if q < 0 {
		return attr{}, nil, x.bad("attribute '%s' has no closing quote", clip(name))
	}
	value := w[1 : 1+q]
	if bytes.IndexByte(value, '&') >= 0 {
		var ok bool
		if value, ok = unescape(value); !ok {
			return attr{}, nil, x.bad("attribute '%s' holds an unknown entity", clip(name))
		}
	}
	return attr{name, value}, w[q+2:], nil
}

func (x *markup) bind(a attr) {
	prefix := ""
	if len(a.Name) > len("xmlns") {
		if a.Name[len("xmlns")] != ':' {
			return
		}
		prefix = string(a.Name[len("xmlns:"):])
	}
	x.ns = append(x.ns, binding{prefix, string(a.Value), len(x.open)})
}

func (x *markup) space(prefix string) string {
	for k := len(x.ns) - 1; k >= 0; k-- {
		if x.ns[k].prefix == prefix {
			return x.ns[k].uri
		}
	}
	return ""
}

func split(name string) (prefix, local string) {
	if p, l, ok := strings.Cut(name, ":"); ok {
		return p, l
	}
	return "", name
}

// intern spares an allocation a vertex and a triangle.
func intern(name []byte) string {
	switch string(name) {
	case "vertex":
		return "vertex"
	case "triangle":
		return "triangle"
	}
	return string(name)
}

func blank(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\n' }

func clip(b []byte) string {
	if len(b) > 40 {
		b = b[:40]
	}
	return strings.ToValidUTF8(string(b), "�")
}

var entities = map[string]string{"lt": "<", "gt": ">", "amp": "&", "apos": "'", "quot": "\""}

func unescape(v []byte) ([]byte, bool) {
	var out []byte
	for len(v) > 0 {
		if v[0] != '&' {
			out, v = append(out, v[0]), v[1:]
			continue
		}
		i := bytes.IndexByte(v, ';')
		if i < 2 {
			return nil, false
		}
		name := string(v[1:i])
		v = v[i+1:]
		if s, ok := entities[name]; ok {
			out = append(out, s...)
			continue
		}
		digits, ok := strings.CutPrefix(name, "#")
		if !ok {
			return nil, false
		}
		base := 10
		if d, hex := strings.CutPrefix(digits, "x"); hex {
			digits, base = d, 16
		}
		n, err := strconv.ParseUint(digits, base, 32)
		if err != nil || !utf8.ValidRune(rune(n)) {
			return nil, false
		}
		out = utf8.AppendRune(out, rune(n))
	}
	return out, true
}
