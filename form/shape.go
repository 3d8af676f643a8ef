package form

import (
	"reflect"
	"strings"

	"barwise/unit"
)

// Fields returns the fields of a struct that are keys of a form, in the order they are declared.
func Fields(t reflect.Type) []reflect.StructField {
	var out []reflect.StructField
	for i := range t.NumField() {
		if f := t.Field(i); KeyOf(f) != "" {
			out = append(out, f)
		}
	}
	return out
}

// KeyOf returns the key of a field, or "".
func KeyOf(f reflect.StructField) string {
	k, _, _ := strings.Cut(f.Tag.Get("yaml"), ",")
	if k == "-" {
		return ""
	}
	return k
}

// Keys returns the keys a struct allows.
func Keys(t reflect.Type) []string {
	var out []string
	for _, f := range Fields(t) {
		out = append(out, KeyOf(f))
	}
	return out
}

func fieldOf(t reflect.Type, key string) (reflect.StructField, bool) {
	for _, f := range Fields(t) {
		if KeyOf(f) == key {
			return f, true
		}
	}
	return reflect.StructField{}, false
}

// Required reports whether a key must be there.
func Required(f reflect.StructField) bool {
	for _, p := range strings.Split(f.Tag.Get("jsonschema"), ",") {
		if p == "required" {
			return true
		}
	}
	return false
}

// Doc1 is the sentence that says what a key means.
func Doc1(f reflect.StructField) string { return f.Tag.Get("jsonschema_description") }

// Std says what is taken where the key is left out.
func Std(f reflect.StructField) string { return f.Tag.Get("std") }

func enum(tag reflect.StructTag) []string {
	var out []string
	for _, p := range strings.Split(tag.Get("jsonschema"), ",") {
		if w, ok := strings.CutPrefix(p, "enum="); ok {
			out = append(out, w)
		}
	}
	return out
}

// kinds maps the types of package unit to how they are read.
var kinds = map[reflect.Type]*unit.Kind{
	reflect.TypeFor[unit.Length]():  unit.Lengths,
	reflect.TypeFor[unit.Feed]():    unit.Feeds,
	reflect.TypeFor[unit.Angle]():   unit.Angles,
	reflect.TypeFor[unit.Speed]():   unit.Speeds,
	reflect.TypeFor[unit.Time]():    unit.Times,
	reflect.TypeFor[unit.Accel]():   unit.Accels,
	reflect.TypeFor[unit.Surface](): unit.Surfaces,
	reflect.TypeFor[unit.Ratio]():   unit.Ratios,
}

var lengthOrPart = reflect.TypeFor[unit.LengthOrPart]()

const partAllowed = ", or a part such as 45 %"

// quantity returns how v is read and what it allows; nil where v is no quantity.
func quantity(v reflect.Value) (func(string, unit.System) (float64, error), func(unit.System) string) {
	if v.Type() == lengthOrPart {
		return func(text string, s unit.System) (float64, error) {
			p, err := unit.ParseLengthOrPart(text, s)
			v.Set(reflect.ValueOf(p))
			return p.Part + float64(p.Length), err // one of them is zero
		}, func(s unit.System) string { return unit.Lengths.Allowed(s) + partAllowed }
	}
	k, ok := kinds[v.Type()]
	if !ok {
		return nil, nil
	}
	return func(text string, s unit.System) (float64, error) {
		f, err := k.Parse(text, s)
		v.SetFloat(f)
		return f, err
	}, k.Allowed
}

// show writes x as a quantity of v's type.
func show(v reflect.Value, x float64) string {
	if v.Type() == lengthOrPart {
		return unit.Number(x, 6)
	}
	if x == 0 {
		return "0"
	}
	return reflect.ValueOf(x).Convert(v.Type()).MethodByName("String").Call(nil)[0].String()
}

// Wants says in words what a key takes.
func Wants(f reflect.StructField, s unit.System) string {
	t := f.Type
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if words := enum(f.Tag); len(words) > 0 {
		return strings.Join(words, ", ")
	}
	if _, allowed := quantity(reflect.New(t).Elem()); allowed != nil {
		return allowed(s)
	}
	if w, ok := reflect.New(t).Interface().(interface{ Wants() string }); ok {
		return w.Wants()
	}
	switch t.Kind() {
	case reflect.Struct:
		return "a mapping with the keys " + strings.Join(Keys(t), ", ")
	case reflect.Slice:
		return "a list"
	case reflect.Bool:
		return "true or false"
	case reflect.Int:
		return "a whole number"
	case reflect.Float64:
		return "a number"
	}
	return "text"
}

// Takes names in a word or two what a key takes, for a table: 'length', 'name or mapping'.
func Takes(f reflect.StructField) string {
	t := f.Type
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() == reflect.Slice {
		if _, own := reflect.New(t).Interface().(Reader); own {
			return "mapping from names"
		}
		one := takes(t.Elem(), f.Tag)
		if f.Tag.Get("form") == "one" {
			return one + ", or a list"
		}
		return "list: " + one
	}
	return takes(t, f.Tag)
}

func takes(t reflect.Type, tag reflect.StructTag) string {
	if words := enum(tag); len(words) > 0 {
		return "`" + strings.Join(words, "`, `") + "`"
	}
	if t == lengthOrPart {
		return "length, or part in %"
	}
	if k, ok := kinds[t]; ok {
		return k.Name
	}
	if x, ok := reflect.New(t).Interface().(interface{ Wants() string }); ok {
		w, _, _ := strings.Cut(x.Wants(), " with the key")
		return strings.TrimPrefix(strings.Replace(w, ", or a ", " or ", 1), "a ")
	}
	switch t.Kind() {
	case reflect.Struct:
		return "mapping"
	case reflect.Bool:
		return "`true`, `false`"
	case reflect.Int:
		return "whole number"
	case reflect.Float64:
		return "number"
	}
	return "text"
}
