// Package unit reads a quantity written by a person, exactly, in the unit it was written in.
//
// Inside Barwise a length is millimetres, a feed mm/s, an angle degrees where a person states it, a
// spindle speed rev/min, a time seconds, an acceleration mm/s², a surface speed m/min. A quantity is
// read as an exact fraction and rounded once, to the nearest float64.
package unit

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
)

// The kinds of quantity, in the unit they are kept in.
type (
	Length  float64 // mm
	Feed    float64 // mm/s
	Angle   float64 // degrees
	Speed   float64 // rev/min
	Time    float64 // s
	Accel   float64 // mm/s²
	Surface float64 // m/min, surface speed
	Ratio   float64 // 1 is the whole
)

// System says in which unit a plain number is meant.
type System uint8

// MM and Inch are the two systems: a plain length is in mm or in, a plain feed in mm/min or in/min, a
// plain acceleration in mm/s² or in/s², a plain surface speed in m/min or ft/min.
const (
	MM System = iota
	Inch
)

func (s System) String() string { return [...]string{"mm", "in"}[s] }

// Kind is one kind of quantity with the units it may be written in.
type Kind struct {
	Name  string    // 'length'
	Plain [2]string // unit of a plain number, by System
	Units []Unit    // the first is the one a message names
}

// Unit is a way to write a quantity. Factor takes a number in it to the unit the kind is kept in.
type Unit struct {
	Name    string
	Factor  *big.Rat
	Aliases []string
}

func rat(num, den int64) *big.Rat { return big.NewRat(num, den) }

// One inch is exactly 25.4 mm (ISO 31-1:1992; agreed in 1959). π is taken to 20 places, far beyond a
// float64.
var perRad, _ = new(big.Rat).SetString("57.295779513082320876798")

// The kinds.
var (
	Lengths = &Kind{"length", [2]string{"mm", "in"}, []Unit{
		{"mm", rat(1, 1), []string{"millimetre", "millimeter"}},
		{"in", rat(254, 10), []string{"inch", "inches", `"`, "″"}},
		{"um", rat(1, 1000), []string{"µm", "μm", "micron"}},
		{"cm", rat(10, 1), nil},
		{"m", rat(1000, 1), nil},
		{"thou", rat(254, 10000), []string{"mil"}},
	}}
	Feeds = &Kind{"feed", [2]string{"mm/min", "in/min"}, []Unit{
		{"mm/min", rat(1, 60), nil},
		{"in/min", rat(254, 600), []string{"ipm"}},
		{"mm/s", rat(1, 1), nil},
		{"in/s", rat(254, 10), nil},
		{"m/min", rat(1000, 60), nil},
	}}
	Angles = &Kind{"angle", [2]string{"deg", "deg"}, []Unit{
		{"deg", rat(1, 1), []string{"°", "degree", "degrees"}},
		{"rad", perRad, nil},
	}}
	Speeds = &Kind{"spindle speed", [2]string{"rpm", "rpm"}, []Unit{
		{"rpm", rat(1, 1), []string{"/min", "rev/min", "1/min"}},
		{"krpm", rat(1000, 1), nil},
	}}
	Times = &Kind{"time", [2]string{"s", "s"}, []Unit{
		{"s", rat(1, 1), []string{"sec"}},
		{"min", rat(60, 1), nil},
		{"ms", rat(1, 1000), nil},
	}}
	Accels = &Kind{"acceleration", [2]string{"mm/s2", "in/s2"}, []Unit{
		{"mm/s2", rat(1, 1), []string{"mm/s²", "mm/s^2"}},
		{"in/s2", rat(254, 10), []string{"in/s²", "in/s^2"}},
		{"m/s2", rat(1000, 1), []string{"m/s²", "m/s^2"}},
	}}
	Surfaces = &Kind{"surface speed", [2]string{"m/min", "ft/min"}, []Unit{
		{"m/min", rat(1, 1), nil},
		{"ft/min", rat(3048, 10000), []string{"sfm"}},
		{"m/s", rat(60, 1), nil},
	}}
	Ratios = &Kind{"ratio", [2]string{"", ""}, []Unit{
		{"", rat(1, 1), nil},
		{"%", rat(1, 100), []string{"percent"}},
	}}
)

// Error is a quantity that cannot be read. At is the byte of the text where reading stopped.
type Error struct {
	Found   string // what was written
	Why     string // what is wrong with it
	Allowed string // what may be written
	At      int
}

func (e *Error) Error() string { return fmt.Sprintf("%q %s: %s", e.Found, e.Why, e.Allowed) }

// Allowed says what may be written for a quantity of the kind, for a message.
func (k *Kind) Allowed(s System) string {
	if k == Ratios {
		return "a plain number such as 0.45, or one with % such as 45 %"
	}
	return fmt.Sprintf("a number in %s, or one with its unit: %s", k.Plain[s], strings.Join(k.Names(), ", "))
}

// Names returns the units' names, without their aliases.
func (k *Kind) Names() []string {
	var out []string
	for _, u := range k.Units {
		if u.Name != "" {
			out = append(out, u.Name)
		}
	}
	return out
}

func (k *Kind) find(name string) *Unit {
	for i := range k.Units {
		if u := &k.Units[i]; u.Name == name || slices.Contains(u.Aliases, name) {
			return u
		}
	}
	return nil
}

// Parse reads text such as '1/8 in', '1 1/2 in', '0.5 mm', '2 um' or '12' and returns it in the unit
// the kind is kept in, rounded once to the nearest float64. A plain number is in the system's unit.
// The error is an *Error.
func (k *Kind) Parse(text string, s System) (float64, error) {
	r, err := k.Exact(text, s)
	if err != nil {
		return 0, err
	}
	v, _ := r.Float64()
	return v, nil
}

// Exact is Parse without the rounding.
func (k *Kind) Exact(text string, s System) (*big.Rat, error) {
	fail := func(at int, why string) (*big.Rat, error) {
		return nil, &Error{Found: clip(text), Why: why, Allowed: "allowed is " + k.Allowed(s), At: at}
	}
	if strings.TrimSpace(text) == "" {
		return fail(0, "is empty")
	}
	n, rest, at, why := number(text)
	if why != "" {
		return fail(at, why)
	}
	name := strings.TrimSpace(rest)
	if name == "" {
		name = k.Plain[s]
	}
	u := k.find(name)
	if u == nil {
		u = k.find(strings.ToLower(name))
	}
	if u == nil {
		for _, other := range []*Kind{Lengths, Feeds, Angles, Speeds, Times, Accels, Surfaces, Ratios} {
			if other.find(name) != nil {
				return fail(at, fmt.Sprintf("is a %s, a %s is wanted", other.Name, k.Name))
			}
		}
		return fail(at, fmt.Sprintf("has the unknown unit %q", clip(name)))
	}
	return n.Mul(n, u.Factor), nil
}

// maxDigits keeps a hostile number from costing more than it is worth.
const maxDigits = 40

// number reads a leading '12', '-0.5', '.5', '1/8' or '1 1/8' and returns what follows it, with the
// byte where it begins.
func number(text string) (n *big.Rat, rest string, at int, why string) {
	i := skip(text, 0)
	neg := false
	if i < len(text) && (text[i] == '-' || text[i] == '+') {
		neg = text[i] == '-'
		i++
	}
	whole, j, ok := decimal(text, i)
	if !ok {
		return nil, "", i, "does not begin with a number"
	}
	if j-i > maxDigits {
		return nil, "", i, "has too many digits"
	}
	n, plain := whole, !strings.Contains(text[i:j], ".")
	switch f, k, state := fraction(text, j, whole, plain); state {
	case "":
		n, j = f, k
	case "none":
	default:
		return nil, "", k, state
	}
	if j < len(text) && (text[j] == ',' || text[j] == '.' || text[j] == '_') {
		return nil, "", j, "has a mark inside the number; the decimal mark is a point, and thousands are not marked"
	}
	if neg {
		n.Neg(n)
	}
	return n, text[j:], j, ""
}

// fraction reads '/8' after the numerator whole, or ' 1/8' after the whole number.
func fraction(text string, j int, whole *big.Rat, plain bool) (*big.Rat, int, string) {
	if !plain {
		return nil, j, "none"
	}
	if j < len(text) && text[j] == '/' {
		return over(text, j, whole)
	}
	k := skip(text, j)
	if k == j && k < len(text) && text[k] == '-' { // 1-1/8, as inches are written in a shop
		k++
	}
	top, m, ok := decimal(text, k)
	if k == j || !ok || m >= len(text) || text[m] != '/' || strings.Contains(text[k:m], ".") {
		return nil, j, "none"
	}
	if m-k > maxDigits {
		return nil, k, "has a fraction that is not of whole numbers, or too many digits"
	}
	f, m, state := over(text, m, top)
	if state != "" {
		return nil, m, state
	}
	return f.Add(f, whole), m, ""
}

// over reads '/8' at the stroke at j. A stroke not followed by a digit belongs to the unit ('/min').
func over(text string, j int, top *big.Rat) (*big.Rat, int, string) {
	den, m, ok := decimal(text, j+1)
	switch {
	case !ok:
		return nil, j, "none"
	case strings.Contains(text[j+1:m], ".") || m-j > maxDigits:
		return nil, j, "has a fraction that is not of whole numbers, or too many digits"
	case den.Sign() == 0:
		return nil, j, "divides by zero"
	}
	return new(big.Rat).Quo(top, den), m, ""
}

func skip(s string, i int) int {
	for i < len(s) && (s[i] == ' ' || s[i] == '\t') {
		i++
	}
	return i
}

// decimal reads digits with at most one point, from i.
func decimal(s string, i int) (*big.Rat, int, bool) {
	j, digits, points := i, 0, 0
	for ; j < len(s); j++ {
		if c := s[j]; c >= '0' && c <= '9' {
			digits++
		} else if c == '.' && points == 0 {
			points++
		} else {
			break
		}
	}
	if digits == 0 {
		return nil, i, false
	}
	if j-i > maxDigits {
		return new(big.Rat), j, true // refused by the caller, who counts
	}
	r, ok := new(big.Rat).SetString(strings.TrimSuffix("0"+s[i:j], "."))
	return r, j, ok
}

func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "..."
	}
	return s
}

// Number writes a number shortly, with at most decimals digits after the point and no trailing zeros.
func Number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
