// Package scan takes the lines, words and numbers of a text mesh apart.
package scan

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"barwise/finding"
)

// maxLine is the longest line taken, in bytes.
const maxLine = 1 << 20

// Lines gives the lines of a text one by one, without their ends.
type Lines struct {
	ctx  context.Context
	r    io.Reader
	buf  []byte
	at   int
	end  int
	base int64 // offset of buf[0] in the file
	n    int   // lines given
	eof  bool
	err  error
}

// New reads lines from r until ctx is done.
func New(ctx context.Context, r io.Reader) *Lines {
	return &Lines{ctx: ctx, r: r, buf: make([]byte, 256<<10)}
}

// Next returns the next line; the bytes hold until the call after. ok is false at the end of the text
// or on an error, which Err then tells.
func (l *Lines) Next() (line []byte, ok bool) {
	from := l.at // where the end of line has not been looked for
	for {
		if i := bytes.IndexByte(l.buf[from:l.end], '\n'); i >= 0 {
			line = l.buf[l.at : from+i]
			l.at = from + i + 1
			l.n++
			return bytes.TrimSuffix(line, cr), true
		}
		if l.eof {
			line = l.buf[l.at:l.end]
			l.at = l.end
			if len(line) == 0 {
				return nil, false
			}
			l.n++
			return bytes.TrimSuffix(line, cr), true
		}
		seen := l.end - l.at
		if seen > maxLine {
			l.err = finding.Bad("mesh-syntax", fmt.Sprintf("line %d", l.n+1),
				fmt.Sprintf("the line is longer than %d bytes", maxLine), "the file is damaged, or not a text file")
			return nil, false
		}
		if !l.fill() {
			return nil, false
		}
		from = l.at + seen
	}
}

var cr = []byte{'\r'}

// fill moves what is left to the front and reads more. It reports false on an error.
func (l *Lines) fill() bool {
	if l.err = l.ctx.Err(); l.err != nil {
		return false
	}
	copy(l.buf, l.buf[l.at:l.end])
	l.base += int64(l.at)
	l.end -= l.at
	l.at = 0
	if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	n, err := l.r.Read(l.buf[l.end:])
	l.end += n
	if errors.Is(err, io.EOF) {
		l.eof = true
	} else if err != nil {
		l.err = err
		return false
	}
	return true
}

// Line is the number of the line Next gave last, from 1.
func (l *Lines) Line() int { return l.n }

// Offset is the place in the text behind the line Next gave last, in bytes.
func (l *Lines) Offset() int64 { return l.base + int64(l.at) }

// Err is what stopped Next short of the end, if anything.
func (l *Lines) Err() error { return l.err }

// Where names the line Next gave last.
func (l *Lines) Where() string { return fmt.Sprintf("line %d", l.n) }

// Bad returns the error for something in the line Next gave last.
func (l *Lines) Bad(text, hint string) error {
	return finding.Bad("mesh-syntax", l.Where(), text, hint)
}

// Word splits the first word off a line; the word is empty where there is none.
func Word(line []byte) (word, rest []byte) {
	i := 0
	for i < len(line) && line[i] <= ' ' {
		i++
	}
	j := i
	for j < len(line) && line[j] > ' ' {
		j++
	}
	return line[i:j], line[j:]
}

// Quote gives a word for a message, cut short where it is long.
func Quote(word []byte) string {
	if len(word) > 40 {
		return strconv.Quote(string(word[:40])) + "…"
	}
	return strconv.Quote(string(word))
}

// Int reads a decimal integer that fits 32 bits.
func Int(word []byte) (n int32, ok bool) {
	neg := false
	if len(word) > 1 && (word[0] == '-' || word[0] == '+') {
		neg = word[0] == '-'
		word = word[1:]
	}
	if len(word) == 0 || len(word) > 10 {
		return 0, false
	}
	var v int64
	for _, c := range word {
		if c < '0' || c > '9' {
			return 0, false
		}
		v = v*10 + int64(c-'0')
	}
	if neg {
		v = -v
	}
	return int32(v), v >= math.MinInt32 && v <= math.MaxInt32
}

var tens = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14,
	1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// Float reads a decimal number, correctly rounded. 'nan' and 'inf' are read as what they say.
func Float(word []byte) (v float64, ok bool) {
	mant, exp, neg, ok := decimal(word)
	// below 2⁵³ with a power of ten that is exact, one operation rounds correctly (Clinger 1990)
	if ok && mant < 1<<53 && exp >= -22 && exp <= 22 {
		v = float64(mant)
		if exp < 0 {
			v /= tens[-exp]
		} else {
			v *= tens[exp]
		}
		if neg {
			v = -v
		}
		return v, true
	}
	v, err := strconv.ParseFloat(string(word), 64)
	if errors.Is(err, strconv.ErrRange) {
		return v, true // ±Inf or 0, as IEEE 754 has it
	}
	return v, err == nil
}

// decimal takes a plain decimal number apart; ok is false where it is anything else or too long.
func decimal(word []byte) (mant uint64, exp int, neg, ok bool) {
	i := 0
	if i < len(word) && (word[i] == '-' || word[i] == '+') {
		neg = word[i] == '-'
		i++
	}
	digits, point := 0, -1
	for ; i < len(word); i++ {
		c := word[i]
		if c >= '0' && c <= '9' {
			mant = mant*10 + uint64(c-'0')
			digits++
		} else if c == '.' && point < 0 {
			point = digits
		} else {
			break
		}
	}
	if digits == 0 || digits > 19 {
		return 0, 0, false, false
	}
	if point >= 0 {
		exp = point - digits
	}
	if i == len(word) {
		return mant, exp, neg, true
	}
	if word[i] != 'e' && word[i] != 'E' {
		return 0, 0, false, false
	}
	e, ok := Int(word[i+1:])
	return mant, exp + int(e), neg, ok && e > -1000 && e < 1000
}

// Floats reads the next len(out) numbers of a line and returns what follows them. Word is the one that
// was no number, empty where the line ended.
func Floats(line []byte, out []float64) (rest, word []byte, ok bool) {
	for i := range out {
		word, line = Word(line)
		if out[i], ok = Float(word); !ok {
			return line, word, false
		}
	}
	return line, nil, true
}
