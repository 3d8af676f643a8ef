package gcode

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// ReadParams says what the reader may take for known. The zero value trusts the text alone.
type ReadParams struct {
	Frame       *Frame            // what the set-up has; text that states another is refused. nil: as the text states, or the zero Frame
	Start       *geom.Vec3        // where the tip stands before the first line, side frame; nil: unknown
	MachineZero *geom.Vec3        // the machine's zero in G54 program coordinates, mm; nil: G53 is refused
	Offsets     map[int]geom.Vec3 // zeros of G55 to G59 in G54 program coordinates, mm, by 55 to 59; one not there is refused
	SkipSlashed bool              // lines that begin with a slash are skipped, as with the control's switch on
	Bare        bool              // the text need not name its side and cutter
	MaxMoves    int               // more are refused; 0: 100 million
}

// Read reads a program. name is used in messages and, where the text does not state one, as the
// program's name without its folder. Errors are *finding.InputError naming line, column and word,
// except for those of r itself.
//
// Beyond the rules of NISTIR 6556 it wants of the text: G20 or G21 before the first coordinate or feed,
// for no rule sets the unit at the start; a rapid on every axis before the first cut, for where the tip
// stands at the start is not known; a new F after a change of unit or from G93 to G94.
func Read(name string, r io.Reader, o ReadParams) (*Text, error) {
	in := newInterpreter(name, o)
	in.reserve(r)
	br := bufio.NewReaderSize(r, 1<<16)
	for !in.done {
		line, err := br.ReadSlice('\n')
		if err != nil && err != io.EOF {
			if errors.Is(err, bufio.ErrBufferFull) {
				in.text.Lines++
				return nil, in.tooLong(len(line))
			}
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if err == io.EOF && len(line) == 0 {
			break
		}
		in.text.Lines++
		whole := err == nil
		line = bytes.TrimSuffix(bytes.TrimSuffix(line, []byte{'\n'}), []byte{'\r'})
		if e := in.readLine(line); e != nil {
			if !whole {
				e.Hint = "the file breaks off in this line: write it again in full"
			}
			return nil, e
		}
		if !whole {
			break
		}
	}
	return in.finish()
}

// reserve makes room for as many moves as the text may hold, where its size is known.
func (in *interpreter) reserve(r io.Reader) {
	if s, ok := r.(interface{ Len() int }); ok {
		in.text.Moves = make([]path.Move, 0, min(s.Len()/16, 1<<24))
	}
}

// fault makes an error at a place in the current line. col counts from 1.
func (in *interpreter) fault(code string, col int, text, hint string) *finding.InputError {
	return finding.Bad("program-"+code, in.name+":"+strconv.Itoa(in.text.Lines)+":"+strconv.Itoa(col), text, hint)
}

func (in *interpreter) tooLong(n int) *finding.InputError {
	return in.fault("line", maxLine+1, fmt.Sprintf("the line has %d characters or more, at most %d are allowed", n, maxLine), "break it into several lines")
}

// readLine takes one line without its end.
func (in *interpreter) readLine(line []byte) *finding.InputError {
	if len(line) > maxLine {
		return in.tooLong(len(line))
	}
	if bytes.IndexByte(line, '%') >= 0 {
		if bytes.Equal(bytes.TrimSpace(line), []byte{'%'}) {
			return in.percent()
		}
	}
	if in.ended {
		return nil
	}
	if in.first && len(bytes.TrimSpace(line)) > 0 {
		in.first = false
	}
	skip, err := in.parse(line)
	if err != nil || skip {
		return err
	}
	if err := in.execute(); err != nil {
		return err
	}
	if in.ended && !in.percentOpen {
		in.done = true
	}
	return nil
}

// percent is a line with nothing but a percent sign: the first opens, the next closes (NISTIR 6556 §3.1).
func (in *interpreter) percent() *finding.InputError {
	switch {
	case in.first:
		in.first = false
		in.percentOpen = true
		return nil
	case !in.percentOpen:
		return in.fault("percent", 1, "a percent line closes the file, but none opened it", "make % the first line too, or take this one away")
	}
	in.percentOpen = false
	in.done = true
	if !in.ended {
		in.ended = true
		in.text.End = "%"
	}
	return nil
}

func (in *interpreter) finish() (*Text, error) {
	t := in.text
	switch {
	case in.percentOpen:
		return nil, in.fault("end", 1, "the file opens with % and has no % line at its end", "the file may be cut off: write it again, or add the line")
	case !in.ended:
		return nil, in.fault("end", 1, "the file ends without M2 or M30", "the file may be cut off: write it again, or add M30 as its last line")
	}
	if t.Name == "" {
		t.Name = filepath.Base(in.name)
	}
	if !in.o.Bare {
		if in.statedLine["side"] == 0 {
			return nil, finding.Bad("program-side", in.name, "the text does not say which side of the bar it cuts", "add a line such as (side 90 deg) near its top")
		}
		if in.statedLine["cutter"] == 0 {
			return nil, finding.Bad("program-cutter", in.name, "the text does not say which cutter it runs", "add a line such as (cutter flat-3) near its top, with the name from the job")
		}
	}
	if err := in.standing(); err != nil {
		return nil, err
	}
	if t.Frame.Along == "" && !t.Frame.Standing {
		t.Frame.Along = machine.AlongY
	}
	return t, nil
}

// standing refuses a text that says of a bar both that it stands and that it lies.
func (in *interpreter) standing() error {
	end := geom.IsEnd(in.text.SideDeg) || in.statedLine["side"] == 0 && in.text.Frame.Standing
	for _, k := range [2]string{"bar", "zero"} {
		v := in.stated[k].value
		if is := v == standing || strings.HasSuffix(strings.ToLower(v), atStop); in.statedLine[k] != 0 && is != end {
			return finding.Bad("program-side", in.name+":"+strconv.Itoa(in.statedLine[k]), fmt.Sprintf("the side is %s, but the line says (%s %s)", geom.SideName(in.text.SideDeg), k, v),
				"the end side has (bar standing) and (zero at stop), every other side (bar along …) and (zero on axis)")
		}
	}
	return nil
}

// comment takes the text between parentheses. Statements count wherever they stand; the frame must be
// known before the first coordinate.
func (in *interpreter) comment(text []byte, col int) *finding.InputError {
	c := strings.TrimSpace(string(text))
	s, ok := parseStatement(c)
	if !in.moved {
		n := Note{Line: int32(in.text.Lines), Value: c}
		if ok {
			n.Key, n.Value = s.key, s.value
		}
		in.text.Header = append(in.text.Header, n)
	}
	if !ok {
		return nil
	}
	if at := in.statedLine[s.key]; at != 0 {
		if in.stated[s.key] != s {
			return in.fault("header", col, fmt.Sprintf("the %s is stated as %q, but line %d says %q", s.key, s.value, at, in.stated[s.key].value), "keep one of the two")
		}
		return nil
	}
	in.statedLine[s.key], in.stated[s.key] = in.text.Lines, s
	return in.state(s, col)
}

func (in *interpreter) state(s statement, col int) *finding.InputError {
	t := in.text
	switch s.key {
	case "program":
		t.Name = s.value
	case "title":
		t.Title = s.value
	case "side":
		t.SideDeg = s.num
		if geom.IsEnd(s.num) {
			return in.setFrame(t.Frame.Of(s.num), col)
		}
	case "cutter":
		t.Cutter = s.value
	case "tool":
		if t.Tool != 0 && t.Tool != int(s.num) {
			return in.fault("tool", col, fmt.Sprintf("tool %d is stated, but T%d was called before", int(s.num), t.Tool), "keep one of the two")
		}
		t.Tool = int(s.num)
	case "bar":
		f := t.Frame
		if f.Standing = s.value == standing || geom.IsEnd(t.SideDeg); !f.Standing {
			f.Along = machine.Axis(s.value)
		}
		return in.setFrame(f, col)
	case "zero":
		f := t.Frame
		f.ZeroZ = s.num
		return in.setFrame(f, col)
	}
	return nil
}

func (in *interpreter) setFrame(f Frame, col int) *finding.InputError {
	t := in.text
	same := f.alongX() == t.Frame.alongX() && f.Standing == t.Frame.Standing && math.Abs(f.ZeroZ-t.Frame.ZeroZ) < 1e-6
	switch {
	case same:
		return nil
	case in.o.Frame != nil:
		return in.fault("frame", col, "the text says "+describe(f)+", but the set-up has "+describe(t.Frame), "write the program for this set-up, or set up as it says")
	case in.moved:
		return in.fault("frame", col, "the frame is stated after the first coordinate", "put the line above the first motion")
	}
	t.Frame = f
	return nil
}

func describe(f Frame) string {
	if f.Standing {
		return fmt.Sprintf("bar standing with zero %g mm above the stop", f.ZeroZ)
	}
	along := f.Along
	if along == "" {
		along = machine.AlongY
	}
	return fmt.Sprintf("bar along %s with zero %g mm above its axis", along, f.ZeroZ)
}
