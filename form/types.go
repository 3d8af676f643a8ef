package form

import (
	"fmt"
	"reflect"
	"strings"
)

// NameOr is a name from a catalogue, or the thing itself written in place.
type NameOr[T any] struct {
	Name   string
	Inline *T
}

// ReadForm reads a word as the name, a mapping as the thing.
func (x *NameOr[T]) ReadForm(n Node) error {
	if n.IsMapping() {
		x.Inline = new(T)
		return n.Read(x.Inline)
	}
	s, ok := n.Scalar()
	if !ok || s == "" {
		return n.Bad("type", fmt.Sprintf("%s: found %s, allowed is %s", n.Path, n.Kind(), x.Wants()), "")
	}
	x.Name = s
	return nil
}

// Wants says what may be written.
func (x *NameOr[T]) Wants() string {
	return "a name, or a mapping with the keys " + strings.Join(Keys(reflect.TypeFor[T]()), ", ")
}

// Entry is one line of a Table.
type Entry[T any] struct {
	Name  string
	Value T
}

// Table is a mapping from names to things, kept in the order it was written.
type Table[T any] []Entry[T]

// ReadForm reads the entries, each name once.
func (x *Table[T]) ReadForm(n Node) error {
	ps, ok := pairs(n.n)
	if !ok {
		return n.Bad("type", fmt.Sprintf("%s: found %s, allowed is a mapping from names", n.Path, n.Kind()), "")
	}
	first := map[string]int{}
	for _, p := range ps {
		name, at := p.Key.GetToken().Value, n.r.d.placeOf(p.Key)
		if line, twice := first[name]; twice {
			return n.r.d.bad("duplicate", at, fmt.Sprintf("found the name %q a second time, it is already on line %d", name, line), "rename one of them")
		}
		first[name] = at.line
		e := Entry[T]{Name: name}
		sub := Node{n.r, p.Value, join(n.Path, name)}
		n.r.d.at[sub.Path] = n.r.d.placeOf(p.Value)
		if err := sub.Read(&e.Value); err != nil {
			return err
		}
		*x = append(*x, e)
	}
	return nil
}
