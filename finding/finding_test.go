package finding

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"testing"
)

func TestSortIsWorstFirstAndStable(t *testing.T) {
	fs := []Finding{
		{Code: "b", Severity: Note}, {Code: "a", Severity: Warning, Where: "2"},
		{Code: "z", Severity: Blocking}, {Code: "a", Severity: Warning, Where: "1"},
	}
	Sort(fs)
	got := ""
	for _, f := range fs {
		got += f.Code + f.Where + " "
	}
	if got != "z a1 a2 b " {
		t.Errorf("order %q", got)
	}
	if w, ok := Worst(fs); !ok || w != Blocking {
		t.Errorf("worst %v, %v", w, ok)
	}
	if _, ok := Worst(nil); ok {
		t.Error("nothing has a worst")
	}
}

func TestSeverityThereAndBack(t *testing.T) {
	for s := Note; s <= Blocking; s++ {
		b, err := json.Marshal(Finding{Severity: s})
		if err != nil {
			t.Fatal(err)
		}
		var f Finding
		if err := json.Unmarshal(b, &f); err != nil || f.Severity != s {
			t.Errorf("%s came back as %v (%v)", b, f.Severity, err)
		}
	}
	if err := json.Unmarshal([]byte(`{"severity":"dire"}`), new(Finding)); err == nil {
		t.Error("an unknown severity was taken")
	}
}

func TestInputErrors(t *testing.T) {
	e := Bad("job-key", "rook.yaml:3:1", "found 'modle'", "write model")
	e.Err = io.ErrUnexpectedEOF
	if got := e.Error(); got != "rook.yaml:3:1: found 'modle'; write model" {
		t.Errorf("reads %q", got)
	}
	wrapped := fmt.Errorf("plan: %w", e)
	if !IsInput(wrapped) || !errors.Is(wrapped, io.ErrUnexpectedEOF) {
		t.Error("a wrapped input error is not known as one")
	}
	if IsInput(io.EOF) || IsInput(nil) {
		t.Error("our own faults pass for the user's")
	}
}
