package form

import (
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"barwise/unit"
)

// Read fills the struct that into points to. Plain numbers are in the system's units.
func (d *Doc) Read(into any, s unit.System) error {
	if d.Empty() {
		return d.bad("empty", pos{}, "the file is empty", "begin with the examples in docs/jobfile.md")
	}
	r := &reader{d, s}
	return r.value(d.root, reflect.ValueOf(into).Elem(), "", "")
}

// Word returns the plain text at a top-level key, or "" where it is not there: for what must be known
// before the form is read, such as its units.
func (d *Doc) Word(key string) string {
	vs, _ := pairs(d.root)
	for _, v := range vs {
		if v.Key.GetToken().Value == key {
			if s, ok := scalar(v.Value); ok {
				return s
			}
		}
	}
	return ""
}

type reader struct {
	d *Doc
	s unit.System
}

// Node is a value in a form, for types that read themselves.
type Node struct {
	r    *reader
	n    ast.Node
	Path string
}

// Reader is a type that reads itself from a form.
type Reader interface{ ReadForm(n Node) error }

// Scalar returns the text of a single value; ok is false for a mapping or a list.
func (n Node) Scalar() (string, bool) { return scalar(n.n) }

// IsMapping reports whether the value is a mapping.
func (n Node) IsMapping() bool { _, ok := pairs(n.n); return ok }

// Read fills what into points to from the same value.
func (n Node) Read(into any) error {
	return n.r.value(n.n, reflect.ValueOf(into).Elem(), n.Path, "")
}

// Bad makes an error at the value.
func (n Node) Bad(kind, text, hint string) error {
	return n.r.d.bad(kind, n.r.d.placeOf(n.n), text, hint)
}

// Kind says in words what the value is.
func (n Node) Kind() string { return kindOf(n.n) }

// pairs returns a mapping's pairs.
func pairs(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}, true
	}
	return nil, false
}

// scalar returns the text of a single value as it was typed, without quotes.
func scalar(n ast.Node) (string, bool) {
	switch m := n.(type) {
	case *ast.StringNode:
		return m.Value, true
	case *ast.LiteralNode:
		return m.Value.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	return "", false
}

func kindOf(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a mapping"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode:
		return "nothing"
	case *ast.IntegerNode, *ast.FloatNode:
		return "the number " + n.GetToken().Value
	case *ast.BoolNode:
		return "the word " + n.GetToken().Value
	case *ast.StringNode, *ast.LiteralNode:
		s, _ := scalar(n)
		return strconv.Quote(shorten(s))
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		return "an anchor, an alias or a tag"
	}
	return "something else"
}

func under(path, what string) string {
	if path == "" {
		return "the file"
	}
	return path + what
}

func (r *reader) wrong(n ast.Node, path, want string) error {
	return r.d.bad("type", r.d.placeOf(n), fmt.Sprintf("%s: found %s, allowed is %s", under(path, ""), kindOf(n), want), "")
}

// value reads one node into v.
func (r *reader) value(n ast.Node, v reflect.Value, path string, tag reflect.StructTag) error {
	if _, seen := r.d.at[path]; !seen && path != "" {
		r.d.at[path] = r.d.placeOf(n)
	}
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		return r.value(n, v.Elem(), path, tag)
	}
	if c, ok := v.Addr().Interface().(Reader); ok {
		return c.ReadForm(Node{r, n, path})
	}
	if read, allowed := quantity(v); read != nil {
		return r.quantity(n, v, path, tag, read, allowed)
	}
	switch v.Kind() {
	case reflect.Struct:
		return r.mapping(n, v, path)
	case reflect.Slice:
		return r.list(n, v, path, tag)
	case reflect.String:
		return r.text(n, v, path, tag)
	case reflect.Bool:
		b, ok := n.(*ast.BoolNode)
		if !ok {
			return r.wrong(n, path, "true or false")
		}
		v.SetBool(b.Value)
		return nil
	case reflect.Int, reflect.Float64:
		return r.number(n, v, path, tag)
	}
	return fmt.Errorf("form: no way to read a %s", v.Type())
}

// mapping reads a struct, key by key.
func (r *reader) mapping(n ast.Node, v reflect.Value, path string) error {
	ps, ok := pairs(n)
	if !ok {
		return r.wrong(n, path, "a mapping with the keys "+strings.Join(Keys(v.Type()), ", "))
	}
	seen := map[string]pos{}
	for _, p := range ps {
		key := p.Key.GetToken().Value
		at := r.d.placeOf(p.Key)
		f, known := fieldOf(v.Type(), key)
		if !known {
			all := Keys(v.Type())
			return r.d.bad("key", at, fmt.Sprintf("found the unknown key %q in %s, allowed are %s", shorten(key), under(path, ""), strings.Join(all, ", ")),
				didYouMean(key, all, ""))
		}
		if first, twice := seen[key]; twice {
			return r.d.bad("duplicate", at, fmt.Sprintf("found the key %q a second time, it is already on line %d", key, first.line), "keep one of them")
		}
		seen[key] = at
		sub := join(path, key)
		r.d.at[sub] = r.d.placeOf(p.Value)
		if p.Value.Type() == ast.NullType {
			r.d.at[sub] = at
			return r.d.bad("type", at, fmt.Sprintf("%s: found nothing, allowed is %s", sub, Wants(f, r.s)), "write a value or remove the key")
		}
		if err := r.value(p.Value, v.FieldByIndex(f.Index), sub, f.Tag); err != nil {
			return err
		}
	}
	for _, f := range Fields(v.Type()) {
		if key := KeyOf(f); Required(f) && seen[key] == (pos{}) {
			at := r.d.placeOf(n)
			if path != "" {
				at = r.d.find(path)
			}
			return r.d.bad("missing", at, fmt.Sprintf("%s has no key %s, which is needed: %s", under(path, ""), key, Doc1(f)), "add "+key+": ...")
		}
	}
	return nil
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// list reads a slice; one value alone is a list of one where the tag says form:"one".
func (r *reader) list(n ast.Node, v reflect.Value, path string, tag reflect.StructTag) error {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		if tag.Get("form") != "one" {
			return r.wrong(n, path, "a list")
		}
		e := reflect.New(v.Type().Elem()).Elem()
		if err := r.value(n, e, path, tag); err != nil {
			return err
		}
		v.Set(reflect.Append(v, e))
		return nil
	}
	if len(s.Values) == 0 {
		return r.d.bad("type", r.d.placeOf(n), under(path, "")+": found an empty list, allowed is a list with at least one element", "")
	}
	for i, m := range s.Values {
		e := reflect.New(v.Type().Elem()).Elem()
		sub := fmt.Sprintf("%s[%d]", path, i)
		r.d.at[sub] = r.d.placeOf(m)
		if err := r.value(m, e, sub, tag); err != nil {
			return err
		}
		v.Set(reflect.Append(v, e))
	}
	return nil
}

// text reads a string, from its allowed words where the tag lists them.
func (r *reader) text(n ast.Node, v reflect.Value, path string, tag reflect.StructTag) error {
	s, ok := scalar(n)
	if !ok {
		return r.wrong(n, path, "text")
	}
	if words := enum(tag); len(words) > 0 {
		for _, w := range words {
			if w == s {
				v.SetString(s)
				return nil
			}
		}
		return r.d.bad("word", r.d.placeOf(n), fmt.Sprintf("%s: found %q, allowed are %s", path, shorten(s), strings.Join(words, ", ")),
			didYouMean(s, words, ""))
	}
	if s == "" {
		return r.wrong(n, path, "text that is not empty")
	}
	v.SetString(s)
	return nil
}

func (r *reader) number(n ast.Node, v reflect.Value, path string, tag reflect.StructTag) error {
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
	default:
		return r.wrong(n, path, "a plain number")
	}
	text := strings.ReplaceAll(n.GetToken().Value, "_", "")
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || v.Kind() == reflect.Int && f != float64(int(f)) {
		return r.wrong(n, path, "a whole number")
	}
	if err := r.bounds(n, f, path, tag, func(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }); err != nil {
		return err
	}
	if v.Kind() == reflect.Int {
		v.SetInt(int64(f))
	} else {
		v.SetFloat(f)
	}
	return nil
}

// quantity reads a value of package unit.
func (r *reader) quantity(n ast.Node, v reflect.Value, path string, tag reflect.StructTag, read func(string, unit.System) (float64, error), allowed func(unit.System) string) error {
	text, ok := scalar(n)
	if _, isBool := n.(*ast.BoolNode); !ok || isBool {
		return r.wrong(n, path, allowed(r.s))
	}
	f, err := read(text, r.s)
	var u *unit.Error
	if errors.As(err, &u) {
		at := r.d.placeOf(n)
		return r.d.bad("quantity", at, fmt.Sprintf("%s: %q %s; %s", path, u.Found, u.Why, u.Allowed), "")
	}
	return r.bounds(n, f, path, tag, func(x float64) string { return show(v, x) })
}

// bounds checks the tags above, min and max.
func (r *reader) bounds(n ast.Node, f float64, path string, tag reflect.StructTag, show func(float64) string) error {
	text, _ := scalar(n)
	fail := func(word string, limit float64) error {
		return r.d.bad("range", r.d.placeOf(n), fmt.Sprintf("%s: found %s, allowed is %s %s", path, shorten(text), word, show(limit)), "")
	}
	for _, b := range []struct {
		tag, word string
		bad       func(f, limit float64) bool
	}{
		{"above", "more than", func(f, l float64) bool { return !(f > l) }},
		{"min", "at least", func(f, l float64) bool { return !(f >= l) }},
		{"max", "at most", func(f, l float64) bool { return !(f <= l) }},
	} {
		if s, ok := tag.Lookup(b.tag); ok {
			limit, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return fmt.Errorf("form: %s: tag %s %q", path, b.tag, s)
			}
			if b.bad(f, limit) {
				return fail(b.word, limit)
			}
		}
	}
	return nil
}

// ReadKey reads the value at one top-level key into the field of that key of the struct that into
// points to.
func (d *Doc) ReadKey(key string, into any) error {
	v := reflect.ValueOf(into).Elem()
	f, ok := fieldOf(v.Type(), key)
	vs, _ := pairs(d.root)
	for _, p := range vs {
		if ok && p.Key.GetToken().Value == key {
			return (&reader{d, unit.MM}).value(p.Value, v.FieldByIndex(f.Index), key, f.Tag)
		}
	}
	return nil
}
