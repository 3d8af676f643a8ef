package proof

import (
	"fmt"
	"math"

	"barwise/finding"
)

// logbook gathers what goes wrong: one finding for each program and code, with its worst place.
type logbook struct {
	list   []finding.Finding
	alarms map[alarmKey]*alarm
	order  []alarmKey
}

type alarmKey struct {
	program int // its place in the run
	code    string
	what    string
}

type alarm struct {
	count int
	last  int32
	worst float64
	at    Place
	first Place
	chain *chain
}

func (l *logbook) add(f finding.Finding) { l.list = append(l.list, f) }

func (l *logbook) raise(code, what string, c *chain, move int32, much float64, at Place) {
	if l.alarms == nil {
		l.alarms = map[alarmKey]*alarm{}
	}
	k := alarmKey{c.index, code, what}
	a := l.alarms[k]
	if a == nil {
		a = &alarm{last: -1, worst: math.Inf(-1), chain: c, first: at}
		l.alarms[k] = a
		l.order = append(l.order, k)
	}
	if move != a.last {
		a.count, a.last = a.count+1, move
	}
	if much > a.worst {
		a.worst, a.at = much, at
	}
}

// raiseMany is raise for moves already counted; each is counted once.
func (l *logbook) raiseMany(code string, c *chain, n int, much float64, at Place) {
	l.raise(code, "", c, -2, much, at)
	a := l.alarms[alarmKey{c.index, code, ""}]
	a.count, a.last = a.count+n-1, -1
}

// words are how each alarm reads: %s the count of moves, then the verb; %.3f the worst.
var words = map[string]struct {
	sev              finding.Severity
	verb, text, hint string
}{
	"rapid-in-stock":    {finding.Blocking, "run", "%s at rapid %s into what is left, by up to %.3f mm of height", "lift higher before moving across, or feed"},
	"shank-in-stock":    {finding.Blocking, "bring", "%s %s neck or shank too near to what is left, by up to %.3f mm of height", "use a longer reach or clear the surroundings first"},
	"holder-in-stock":   {finding.Blocking, "bring", "%s %s the holder too near to what is left, by up to %.3f mm of height", "let the cutter stick out farther or clear the surroundings first"},
	"shank-in-model":    {finding.Blocking, "bring", "%s %s neck or shank into the model, by up to %.3f mm", "use a longer reach"},
	"holder-in-model":   {finding.Blocking, "bring", "%s %s the holder into the model, by up to %.3f mm", "let the cutter stick out farther"},
	"depth-over-flutes": {finding.Blocking, "meet", "%s %s material higher than the flutes reach, up to %.3f mm above the tip", "take less depth in one go or use a cutter with longer flutes"},
	"stub":              {finding.Blocking, "cut", "%s %s into the stub that must stay whole, by up to %.3f mm", "keep the moves on the free end's side of the stub"},
	"spindle-off":       {finding.Blocking, "cut", "%s %s with the spindle standing, up to %.3f mm deep", "start the spindle before the first cut"},
	"plunge":            {finding.Blocking, "go", "%s %s straight down into material with a cutter that cannot plunge, by up to %.3f mm", "enter by a ramp or helix"},
	"ramp":              {finding.Blocking, "go", "%s %s down into material steeper than the cutter may, at up to %.3f°", "enter at a flatter angle"},
	"vise":              {finding.Blocking, "run", "%s %s into it, by up to %.3f mm of height", "keep clear of the vise or hold the bar farther out"},
	"feed-zero":         {finding.Blocking, "have", "%s at feed %s no feed rate (%.0f)", "give F before the first move at feed"},
	"feed-rate":         {finding.Note, "ask", "%s %s an axis for more than its rate, up to %.2f times", "nothing is cut wrong: the control slows the move to what the axis can do, which takes longer and thins the chip; lower F for a steady feed"},
	"gouge":             {finding.Blocking, "cut", "%s %s into the model, by up to %.4f mm", "plan again, or raise the moves named"},
}

// settle turns alarms into findings.
func (l *logbook) settle() []finding.Finding {
	for _, k := range l.order {
		a, w := l.alarms[k], words[k.code]
		sev := w.sev
		if k.code == "ramp" && a.chain.prog.Cutter.Flat == 0 {
			sev = finding.Warning // a ball or a point cuts to its middle
		}
		where := fmt.Sprintf("%s, line %d, at x %.3f y %.3f z %.3f", a.at.Program, a.at.Line, a.at.Point.X, a.at.Point.Y, a.at.Point.Z)
		if k.what != "" {
			where = k.what + ": " + where
		}
		text := fmt.Sprintf(w.text, plural(a.count, "move"), inflect(w.verb, a.count), a.worst)
		if a.count > 1 && a.first.Line != a.at.Line {
			text += fmt.Sprintf("; the first in line %d", a.first.Line)
		}
		l.list = append(l.list, finding.Finding{Code: k.code, Severity: sev, Where: where, Text: text, Hint: w.hint})
	}
	return l.list
}

// inflect is a verb as n things do it.
func inflect(verb string, n int) string {
	switch {
	case n != 1:
		return verb
	case verb == "have":
		return "has"
	case verb == "go":
		return "goes"
	}
	return verb + "s"
}
