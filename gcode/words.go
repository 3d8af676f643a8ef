package gcode

import (
	"fmt"
	"strconv"

	"barwise/finding"
)

// Groups of G and M words of which a line may hold one each (NISTIR 6556 table 4).
const (
	groupNone       = iota
	groupMotion     // G0 G1 G2 G3 G80 G81
	groupPlane      // G17 G18 G19
	groupDistance   // G90 G91
	groupFeedMode   // G93 G94
	groupUnit       // G20 G21
	groupRadius     // G40
	groupLength     // G49
	groupReturn     // G98 G99
	groupCoordinate // G54 to G59
	groupPathMode   // G61 G61.1 G64
	groupOnce       // G4 G53: good for their line only
	groupStop       // M0 M1 M2 M30
	groupTool       // M6
	groupSpindle    // M3 M4 M5
	groupCoolant    // M7 M8 M9
	groupOverride   // M48 M49
	groups
)

// gGroup is by ten times the number after G.
var gGroup = func() (t [1000]uint8) {
	for group, codes := range map[uint8][]int{
		groupMotion: {0, 10, 20, 30, 800, 810}, groupPlane: {170, 180, 190}, groupDistance: {900, 910},
		groupFeedMode: {930, 940}, groupUnit: {200, 210}, groupRadius: {400}, groupLength: {490},
		groupReturn: {980, 990}, groupCoordinate: {540, 550, 560, 570, 580, 590},
		groupPathMode: {610, 611, 640}, groupOnce: {40, 530},
	} {
		for _, c := range codes {
			t[c] = group
		}
	}
	return t
}()

var mGroup = func() (t [100]uint8) {
	for group, codes := range map[uint8][]int{
		groupStop: {0, 1, 2, 30}, groupTool: {6}, groupSpindle: {3, 4, 5}, groupCoolant: {7, 8, 9}, groupOverride: {48, 49},
	} {
		for _, c := range codes {
			t[c] = group
		}
	}
	return t
}()

const (
	allowedG = "G words understood are G0 G1 G2 G3 G4 G17 G18 G19 G20 G21 G40 G49 G53 G54 to G59 G61 G61.1 G64 G80 G81 G90 G91 G93 G94 G98 G99"
	allowedM = "M words understood are M0 M1 M2 M3 M4 M5 M6 M7 M8 M9 M30 M48 M49"
	allowedW = "letters understood are F G I J K L M N P R S T X Y Z"
)

// block is one line, taken apart. Letters are counted from 'A'.
type block struct {
	has    uint32 // bit per letter
	val    [26]float64
	col    [26]int
	groups uint32 // bit per group
	code   [groups]int
	at     [groups]int
	ms     int
}

func bit(letter byte) uint32 { return 1 << (letter - 'A') }

const axisWords = 1<<('X'-'A') | 1<<('Y'-'A') | 1<<('Z'-'A')

func (b *block) set(letter byte) bool  { return b.has&bit(letter) != 0 }
func (b *block) in(group int) bool     { return b.groups&(1<<group) != 0 }
func (b *block) v(letter byte) float64 { return b.val[letter-'A'] }
func (b *block) c(letter byte) int     { return b.col[letter-'A'] }

// wordAllowed is by letter.
var wordAllowed = func() (t [26]bool) {
	for _, c := range "FGIJKLMPRSTXYZ" {
		t[c-'A'] = true
	}
	return t
}()

// parse fills in.b from a line. skip is true where the line is slashed and such lines are skipped.
func (in *interpreter) parse(line []byte) (skip bool, err *finding.InputError) {
	b := &in.b
	b.has, b.groups, b.ms = 0, 0, 0
	i := blanks(line, 0)
	if i < len(line) && line[i] == '/' {
		in.text.Slashed++
		if in.o.SkipSlashed {
			return true, nil
		}
		i = blanks(line, i+1)
	}
	if i < len(line) && (line[i] == 'N' || line[i] == 'n') {
		if i, err = in.lineNumber(line, i); err != nil {
			return false, err
		}
	}
	for i = blanks(line, i); i < len(line); i = blanks(line, i) {
		c := line[i]
		if c == '(' {
			end := i + 1
			for end < len(line) && line[end] != ')' {
				if line[end] == '(' {
					return false, in.fault("comment", end+1, "a comment within a comment", "use square brackets inside a comment")
				}
				end++
			}
			if end == len(line) {
				return false, in.fault("comment", i+1, "the comment is not closed on its line", "end it with )")
			}
			if err := in.comment(line[i+1:end], i+1); err != nil {
				return false, err
			}
			i = end + 1
			continue
		}
		if c >= 'a' && c <= 'z' {
			c -= 'a' - 'A'
		}
		if c < 'A' || c > 'Z' || !wordAllowed[c-'A'] {
			return false, in.badLetter(line, i, c)
		}
		v, next, ok := readNumber(line, i+1)
		if !ok {
			return false, in.fault("number", i+1, fmt.Sprintf("%q is not a word", in.wordAt(line, i, next+1)), "a word is a letter with a number after it: an optional sign, digits with at most one point, no exponent")
		}
		if v > maxNumberValue || v < -maxNumberValue {
			return false, in.fault("number", i+1, fmt.Sprintf("%q is out of range", in.wordAt(line, i, next)), "at most a million is understood")
		}
		if err := in.word(c, v, i+1, line, next); err != nil {
			return false, err
		}
		i = next
	}
	return false, nil
}

const maxNumberValue = 1e6

// word adds one word to the block.
func (in *interpreter) word(c byte, v float64, col int, line []byte, next int) *finding.InputError {
	b := &in.b
	switch c {
	case 'G':
		return in.codeWord(v, 10, gGroup[:], col, line, next)
	case 'M':
		if b.ms++; b.ms > 4 {
			return in.fault("word", col, fmt.Sprintf("%q is the fifth M word of the line, four are allowed", in.wordAt(line, col-1, next)), "put it on a line of its own")
		}
		return in.codeWord(v, 1, mGroup[:], col, line, next)
	}
	if b.set(c) {
		return in.fault("word", col, fmt.Sprintf("%q repeats the letter of an earlier word of the line", in.wordAt(line, col-1, next)), "use each letter but G and M once")
	}
	b.has |= bit(c)
	b.val[c-'A'], b.col[c-'A'] = v, col
	return nil
}

func (in *interpreter) codeWord(v float64, times float64, table []uint8, col int, line []byte, next int) *finding.InputError {
	b := &in.b
	code := int(float64(v*times) + 0.5)
	if d := float64(v*times) - float64(code); v < 0 || code >= len(table) || table[code] == groupNone || d > 1e-6 || d < -1e-6 {
		allowed := allowedG
		if times == 1 {
			allowed = allowedM
		}
		e := in.fault("word", col, fmt.Sprintf("%q is not understood", in.wordAt(line, col-1, next)), allowed)
		e.Unsupported = true
		return e
	}
	g := int(table[code])
	if b.in(g) {
		return in.fault("group", col, fmt.Sprintf("%q and the word at column %d are of one group", in.wordAt(line, col-1, next), b.at[g]), "put them on lines of their own, or take one away")
	}
	b.groups |= 1 << g
	b.code[g], b.at[g] = code, col
	return nil
}

func (in *interpreter) badLetter(line []byte, i int, c byte) *finding.InputError {
	if c >= 'A' && c <= 'Z' {
		_, next, _ := readNumber(line, i+1)
		if c == 'N' {
			return in.fault("word", i+1, fmt.Sprintf("%q stands after other words", in.wordAt(line, i, next)), "a line number comes first on its line")
		}
		e := in.fault("word", i+1, fmt.Sprintf("%q is not understood", in.wordAt(line, i, next)), allowedW)
		e.Unsupported = true
		return e
	}
	text := strconv.QuoteRuneToASCII(rune(c))
	if c >= 0x80 {
		text = fmt.Sprintf("byte 0x%02x", c)
	}
	if c == '/' {
		return in.fault("word", i+1, "a slash within the line", "a slash comes first on its line")
	}
	return in.fault("word", i+1, text+" where a word was to begin", "a line holds words such as X1.5 with comments in parentheses")
}

// lineNumber reads N and at most five digits (NISTIR 6556 §3.3.1). It returns where the rest begins.
func (in *interpreter) lineNumber(line []byte, i int) (int, *finding.InputError) {
	digits, j := 0, i+1
	for ; j < len(line); j++ {
		if c := line[j]; c >= '0' && c <= '9' {
			digits++
		} else if c != ' ' && c != '\t' {
			break
		}
	}
	if digits == 0 || digits > 5 || j < len(line) && line[j] == '.' {
		return j, in.fault("word", i+1, fmt.Sprintf("%q is not a line number", in.wordAt(line, i, j)), "a line number is N with one to five digits")
	}
	return j, nil
}

func blanks(line []byte, i int) int {
	for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
		i++
	}
	return i
}

// wordAt quotes a word for a message, blanks at its end left out.
func (in *interpreter) wordAt(line []byte, i, next int) string {
	next = min(max(next, i+1), len(line))
	for next > i+1 && (line[next-1] == ' ' || line[next-1] == '\t') {
		next--
	}
	return string(line[i:next])
}

// readNumber reads a number from i on: an optional sign, digits with at most one point among or around
// them, at least one digit; blanks do not count (NISTIR 6556 §3.3 and §3.3.2.1). The value is the
// float64 nearest to what is written.
func readNumber(line []byte, i int) (v float64, next int, ok bool) {
	i = blanks(line, i)
	begin := i
	neg := false
	if i < len(line) && (line[i] == '-' || line[i] == '+') {
		neg = line[i] == '-'
		i++
	}
	var mantissa uint64
	digits, after, point := 0, 0, false
	for ; i < len(line); i++ {
		c := line[i]
		if d := c - '0'; d <= 9 {
			if digits++; digits <= 18 {
				mantissa = mantissa*10 + uint64(d)
			}
			if point {
				after++
			}
			continue
		}
		if c == '.' && !point {
			point = true
		} else if c != ' ' && c != '\t' {
			break
		}
	}
	if digits == 0 {
		return 0, i, false
	}
	if i < len(line) && line[i] == '.' {
		return 0, i + 1, false
	}
	if mantissa < 1<<53 && digits <= 18 && after < len(pow10) {
		// Both are exact, so one division rounds correctly.
		v = float64(mantissa) / pow10[after]
	} else {
		v = slowNumber(line[begin:i])
	}
	if neg {
		v = -v
	}
	return v, i, true
}

func slowNumber(s []byte) float64 {
	plain := make([]byte, 0, len(s))
	for _, c := range s {
		if c >= '0' && c <= '9' || c == '.' {
			plain = append(plain, c)
		}
	}
	v, _ := strconv.ParseFloat(string(plain), 64)
	return v
}
