// Package form is a YAML file whose shape is a Go struct.
//
// A form is read strictly: an unknown key, a repeated one, a wrong type or a quantity that cannot be
// read is a *finding.InputError that carries file:line:column and an excerpt, says what was found and
// what is allowed, and offers the nearest name. The place of every value stays known, so that a later
// stage can point at it too.
//
// Struct tags:
//
//	yaml:"size"                   the key
//	jsonschema:"required"         must be there
//	jsonschema:"enum=a,enum=b"    allowed words
//	jsonschema_description:"..."  one sentence for a reader
//	std:"..."                     what is taken where the key is left out
//	above:"0"  min:"0"  max:"1"   bounds, in the unit the value is kept in
package form

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"barwise/finding"
)

// MaxBytes is the most a form may hold. A job is some dozen lines, a shop file some hundred. The
// parser's time grows with the square of the number of keys, which is what the limit is for.
const MaxBytes = 128 << 10

const (
	maxDepth = 64   // brackets inside brackets
	maxLine  = 4096 // bytes in a line
)

// pos is a place in the text, both from 1; the column counts characters.
type pos struct{ line, col int }

// Doc is a parsed form.
type Doc struct {
	name  string // as messages give it
	code  string // first part of every finding code: 'job', 'shop'
	lines []string
	root  ast.Node // nil where the form is empty
	at    map[string]pos
}

// Excerpt is the part of the text that an error is about, with the place marked. It is what
// errors.As finds inside an error of this package.
type Excerpt struct{ Text string }

func (e *Excerpt) Error() string { return e.Text }

// ExcerptOf returns the marked lines that err carries, or "".
func ExcerptOf(err error) string {
	var e *Excerpt
	if errors.As(err, &e) {
		return e.Text
	}
	return ""
}

// Parse reads YAML. name is the file's name for messages, code the first part of finding codes.
func Parse(name, code string, src []byte) (*Doc, error) {
	d := &Doc{name: name, code: code, at: map[string]pos{}}
	if len(src) > MaxBytes {
		return nil, d.bad("size", pos{}, fmt.Sprintf("the file has %d bytes, at most %d are allowed", len(src), MaxBytes),
			"is this the right file?")
	}
	if i := strings.IndexByte(string(src), 0); i >= 0 || !utf8.Valid(src) {
		return nil, d.bad("yaml", pos{}, "the file is not text in UTF-8", "write it as a YAML file, see docs/jobfile.md")
	}
	text := strings.TrimPrefix(strings.ReplaceAll(string(src), "\r\n", "\n"), "\ufeff")
	d.lines = strings.Split(text, "\n")
	if err := d.precheck(); err != nil {
		return nil, err
	}
	return d, d.parse(text)
}

// precheck refuses what would make the parser slow, deep or hard to understand.
func (d *Doc) precheck() error {
	depth := 0
	for i, l := range d.lines {
		if len(l) > maxLine {
			return d.bad("yaml", pos{i + 1, 1}, fmt.Sprintf("the line has %d bytes, at most %d are allowed", len(l), maxLine), "break it")
		}
		body := strings.TrimLeft(l, " \t")
		if j := strings.IndexByte(l[:len(l)-len(body)], '\t'); j >= 0 && body != "" && body[0] != '#' {
			return d.bad("yaml", pos{i + 1, j + 1}, "found a tab, allowed are spaces at the start of a line", "indent with spaces")
		}
		if body == "?" || strings.HasPrefix(body, "? ") {
			return d.bad("yaml", pos{i + 1, len(l) - len(body) + 1}, "found ?, allowed are keys of one word", "write key: value")
		}
		for _, c := range body {
			switch c {
			case '[', '{':
				depth++
			case ']', '}':
				depth--
			}
			if depth > maxDepth {
				return d.bad("yaml", pos{i + 1, 1}, fmt.Sprintf("brackets lie more than %d deep", maxDepth), "close them")
			}
		}
	}
	return nil
}

func (d *Doc) parse(text string) (err error) {
	defer func() {
		if r := recover(); r != nil { // a parser fed by hand-written text must not take the program down
			err = d.bad("yaml", pos{}, "the file cannot be read as YAML", "see docs/jobfile.md for an example")
		}
	}()
	f, err := parser.ParseBytes([]byte(text), 0, parser.AllowDuplicateMapKey())
	if err != nil {
		var y yaml.Error
		if errors.As(err, &y) && y.GetToken() != nil && y.GetToken().Position != nil {
			p := y.GetToken().Position
			return d.bad("yaml", pos{p.Line, p.Column}, "not YAML: "+lower(y.GetMessage()), "see docs/jobfile.md for an example")
		}
		return d.bad("yaml", pos{}, "not YAML: "+lower(err.Error()), "see docs/jobfile.md for an example")
	}
	for _, doc := range f.Docs {
		if doc.Body == nil || doc.Body.Type() == ast.CommentType {
			continue
		}
		if d.root != nil {
			return d.bad("yaml", d.placeOf(doc.Body), "found a second document, one is allowed", "remove the line ---")
		}
		d.root = doc.Body
	}
	return nil
}

func lower(s string) string {
	if r, n := utf8.DecodeRuneInString(s); n > 0 {
		return strings.ToLower(string(r)) + s[n:]
	}
	return s
}

// Empty reports whether the form holds nothing but comments.
func (d *Doc) Empty() bool { return d.root == nil || d.root.Type() == ast.NullType }

// bad makes the error at a place; a place without a line stands for the whole file.
func (d *Doc) bad(kind string, p pos, text, hint string) *finding.InputError {
	e := finding.Bad(d.code+"-"+kind, d.where(p), text, hint)
	if x := d.excerpt(p); x != "" {
		e.Err = &Excerpt{x}
	}
	return e
}

func (d *Doc) where(p pos) string {
	if p.line == 0 {
		return d.name
	}
	return d.name + ":" + strconv.Itoa(p.line) + ":" + strconv.Itoa(p.col)
}

// excerpt shows the line, the one before it, and a mark under the place.
func (d *Doc) excerpt(p pos) string {
	if p.line < 1 || p.line > len(d.lines) {
		return ""
	}
	var b strings.Builder
	w := len(strconv.Itoa(p.line))
	for i := max(1, p.line-2); i <= p.line; i++ {
		mark := " "
		if i == p.line {
			mark = ">"
		}
		b.WriteString(strings.TrimRight(fmt.Sprintf("%s %*d | %s", mark, w, i, shorten(d.lines[i-1])), " ") + "\n")
	}
	if p.col <= 160 {
		fmt.Fprintf(&b, "  %*s | %s^\n", w, "", strings.Repeat(" ", max(0, p.col-1)))
	}
	return b.String()
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 160 {
		return string(r[:157]) + "..."
	}
	return s
}

// Place returns 'file:line:column' of the value at a path such as 'finish.spindle' or
// 'rough[1].cutter'. A path that is not written gives the place of the nearest part that is; a single
// mapping where a list was possible counts as its element [0].
func (d *Doc) Place(path string) string { return d.where(d.find(path)) }

// Has reports whether the path is written in the form.
func (d *Doc) Has(path string) bool {
	_, ok := d.at[path]
	if !ok {
		_, ok = d.at[strings.ReplaceAll(path, "[0]", "")]
	}
	return ok
}

// Bad makes an error about the value at a path. kind is the last part of the finding code.
func (d *Doc) Bad(kind, path, text, hint string) *finding.InputError {
	return d.bad(kind, d.find(path), text, hint)
}

func (d *Doc) find(path string) pos {
	for p := path; p != ""; {
		if at, ok := d.at[p]; ok {
			return at
		}
		if at, ok := d.at[strings.ReplaceAll(p, "[0]", "")]; ok {
			return at
		}
		i := strings.LastIndexAny(p, ".[")
		if i < 0 {
			break
		}
		p = p[:i]
	}
	return pos{}
}

// placeOf returns where a node begins: a mapping at its first key.
func (d *Doc) placeOf(n ast.Node) pos {
	switch m := n.(type) {
	case *ast.MappingNode:
		if m.Start != nil && m.IsFlowStyle {
			return pos{m.Start.Position.Line, m.Start.Position.Column}
		}
		if len(m.Values) > 0 {
			return d.placeOf(m.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return d.placeOf(m.Key)
	}
	if t := n.GetToken(); t != nil && t.Position != nil {
		return pos{t.Position.Line, t.Position.Column}
	}
	return pos{}
}
