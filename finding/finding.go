// Package finding holds what the stages noticed: messages as data, each with a stable code.
package finding

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Severity says what a finding does to the verdict.
type Severity uint8

// Note is worth knowing, Warning lowers the verdict to 'proven with warnings', Blocking to 'not proven'.
const (
	Note Severity = iota
	Warning
	Blocking
)

func (s Severity) String() string { return [...]string{"note", "warning", "blocking"}[s] }

// MarshalText gives the word used in report.json.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word back.
func (s *Severity) UnmarshalText(b []byte) error {
	for v := Note; v <= Blocking; v++ {
		if v.String() == string(b) {
			*s = v
			return nil
		}
	}
	return fmt.Errorf("severity %q is none of note, warning, blocking", b)
}

// Finding is one thing wrong or worth knowing. Code is stable across releases, in the form
// 'mesh-open'; Where names a file, a line, a side or a place in millimetres; Text says what was found
// and what was allowed; Hint says what to do next. Texts are lower case without a full stop.
type Finding struct {
	Code     string   `json:"code"`
	Severity Severity `json:"severity"`
	Where    string   `json:"where"`
	Text     string   `json:"text"`
	Hint     string   `json:"hint"`
}

func (f Finding) String() string {
	s := f.Severity.String() + " " + f.Code + ": "
	if f.Where != "" {
		s += f.Where + ": "
	}
	s += f.Text
	if f.Hint != "" {
		s += "; " + f.Hint
	}
	return s
}

// Sort orders by severity, worst first, then by code and place, so that equal input gives equal bytes.
func Sort(fs []Finding) {
	slices.SortStableFunc(fs, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(a.Code, b.Code),
			cmp.Compare(a.Where, b.Where), cmp.Compare(a.Text, b.Text))
	})
}

// Worst returns the highest severity present; ok is false where there is none at all.
func Worst(fs []Finding) (worst Severity, ok bool) {
	for _, f := range fs {
		worst = max(worst, f.Severity)
	}
	return worst, len(fs) > 0
}

// InputError is a job, a model or a program text that cannot be used: the user's to mend. Its parts
// are those of a Finding. Unsupported marks input that is sound but beyond what Barwise does.
type InputError struct {
	Code        string
	Where       string
	Text        string
	Hint        string
	Unsupported bool
	Err         error
}

func (e *InputError) Error() string {
	s := e.Text
	if e.Where != "" {
		s = e.Where + ": " + s
	}
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return s
}

// Unwrap returns the cause, if any.
func (e *InputError) Unwrap() error { return e.Err }

// Bad returns an InputError.
func Bad(code, where, text, hint string) *InputError {
	return &InputError{Code: code, Where: where, Text: text, Hint: hint}
}

// IsInput reports whether err is, or wraps, an InputError: the user's to mend and not our own fault.
func IsInput(err error) bool {
	var e *InputError
	return errors.As(err, &e)
}
