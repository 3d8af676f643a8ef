package form

import (
	"bytes"
	"encoding/json"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"barwise/unit"
)

// Schema is a JSON Schema, draft 2020-12: the keywords that a form needs, in a stable order.
type Schema struct {
	Dialect     string             `json:"$schema,omitempty"`
	ID          string             `json:"$id,omitempty"`
	Title       string             `json:"title,omitempty"`
	Description string             `json:"description,omitempty"`
	Ref         string             `json:"$ref,omitempty"`
	Type        string             `json:"type,omitempty"`
	Const       string             `json:"const,omitempty"`
	Enum        []string           `json:"enum,omitempty"`
	Pattern     string             `json:"pattern,omitempty"`
	MinLength   int                `json:"minLength,omitempty"`
	Above       *float64           `json:"exclusiveMinimum,omitempty"`
	Min         *float64           `json:"minimum,omitempty"`
	Max         *float64           `json:"maximum,omitempty"`
	AnyOf       []*Schema          `json:"anyOf,omitempty"`
	Items       *Schema            `json:"items,omitempty"`
	MinItems    int                `json:"minItems,omitempty"`
	Properties  properties         `json:"properties,omitempty"`
	Required    []string           `json:"required,omitempty"`
	Others      any                `json:"additionalProperties,omitempty"` // false, or a schema
	Defs        map[string]*Schema `json:"$defs,omitempty"`
}

// properties keeps the order of the struct, which is the order an editor offers.
type properties []property

type property struct {
	key string
	s   *Schema
}

// MarshalJSON writes an object in order.
func (p properties) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, x := range p {
		if i > 0 {
			b.WriteByte(',')
		}
		k, err := json.Marshal(x.key)
		if err != nil {
			return nil, err
		}
		v, err := json.Marshal(x.s)
		if err != nil {
			return nil, err
		}
		b.Write(k)
		b.WriteByte(':')
		b.Write(v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// Described is a type that reads itself and describes itself.
type Described interface {
	Reader
	Describe(d *Describer) *Schema
}

// Describer collects the definitions that a schema refers to.
type Describer struct{ defs map[string]*Schema }

// Describe returns the JSON Schema of a form whose shape is T.
func Describe[T any](id, title string) ([]byte, error) {
	d := &Describer{map[string]*Schema{}}
	s := d.object(reflect.TypeFor[T]())
	s.Dialect, s.ID, s.Title, s.Defs = "https://json-schema.org/draft/2020-12/schema", id, title, d.defs
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(s)
	return b.Bytes(), err
}

// Of returns a reference to the definition of a struct type, made once.
func (d *Describer) Of(t reflect.Type) *Schema {
	name := strings.ToLower(strings.TrimSuffix(strings.TrimSuffix(t.Name(), "Form"), "Fields"))
	if _, ok := d.defs[name]; !ok {
		d.defs[name] = &Schema{} // a type that holds itself would come here again
		*d.defs[name] = *d.object(t)
	}
	return &Schema{Ref: "#/$defs/" + name}
}

func (d *Describer) object(t reflect.Type) *Schema {
	s := &Schema{Type: "object", Others: false}
	for _, f := range Fields(t) {
		p := d.field(f)
		p.Description = Doc1(f)
		if std := Std(f); std != "" {
			p.Description += "; default: " + std
		}
		s.Properties = append(s.Properties, property{KeyOf(f), p})
		if Required(f) {
			s.Required = append(s.Required, KeyOf(f))
		}
	}
	return s
}

func (d *Describer) field(f reflect.StructField) *Schema {
	t := f.Type
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if x, ok := reflect.New(t).Interface().(Described); ok {
		return x.Describe(d)
	}
	if t.Kind() != reflect.Slice {
		return d.single(t, f.Tag)
	}
	e := d.single(t.Elem(), f.Tag)
	list := &Schema{Type: "array", Items: e, MinItems: 1}
	if f.Tag.Get("form") == "one" {
		return &Schema{AnyOf: []*Schema{e, list}}
	}
	return list
}

// single describes one value.
func (d *Describer) single(t reflect.Type, tag reflect.StructTag) *Schema {
	if t == lengthOrPart {
		s := quantitySchema(unit.Lengths, tag)
		s.AnyOf[1].Pattern = pattern(tag, append(spellings(unit.Lengths), "%"))
		return s
	}
	if k, ok := kinds[t]; ok {
		return quantitySchema(k, tag)
	}
	switch t.Kind() {
	case reflect.Struct:
		return d.Of(t)
	case reflect.Bool:
		return &Schema{Type: "boolean"}
	case reflect.Int:
		return numberSchema("integer", tag, true)
	case reflect.Float64:
		return numberSchema("number", tag, true)
	}
	if words := enum(tag); len(words) > 0 {
		return &Schema{Enum: words}
	}
	return &Schema{Type: "string", MinLength: 1}
}

// numberSchema takes over the bounds; those of a quantity hold in any unit only where they are zero.
func numberSchema(kind string, tag reflect.StructTag, all bool) *Schema {
	s := &Schema{Type: kind}
	for _, b := range []struct {
		tag string
		to  **float64
	}{{"above", &s.Above}, {"min", &s.Min}, {"max", &s.Max}} {
		if text, ok := tag.Lookup(b.tag); ok {
			if v, err := strconv.ParseFloat(text, 64); err == nil && (all || v == 0) {
				*b.to = &v
			}
		}
	}
	return s
}

func quantitySchema(k *unit.Kind, tag reflect.StructTag) *Schema {
	return &Schema{AnyOf: []*Schema{numberSchema("number", tag, k.Plain[0] == k.Plain[1]), {Type: "string", Pattern: pattern(tag, spellings(k))}}}
}

func spellings(k *unit.Kind) []string {
	var out []string
	for _, u := range k.Units {
		if u.Name != "" {
			out = append(append(out, u.Name), u.Aliases...)
		}
	}
	return out
}

// pattern is a number, a fraction or a mixed number, and one of the units or none.
func pattern(tag reflect.StructTag, units []string) string {
	sign := "[+-]?"
	if low, ok := tag.Lookup("min"); tag.Get("above") != "" || ok && !strings.HasPrefix(low, "-") {
		sign = "[+]?"
	}
	for i, u := range units {
		units[i] = regexp.QuoteMeta(u)
	}
	return `^\s*` + sign + `(\d+\.?\d*|\.\d+|(\d+(\s+|-))?\d+/\d+)\s*(` + strings.Join(units, "|") + `)?\s*$`
}

// Describe describes a name or the thing itself.
func (x *NameOr[T]) Describe(d *Describer) *Schema {
	return &Schema{AnyOf: []*Schema{{Type: "string", MinLength: 1}, d.Of(reflect.TypeFor[T]())}}
}

// Describe describes a mapping from names.
func (x *Table[T]) Describe(d *Describer) *Schema {
	return &Schema{Type: "object", Others: d.Of(reflect.TypeFor[T]())}
}
