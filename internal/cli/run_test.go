package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

const bellJob = `model: bell.stl
material: tooling-board
machine: small-mill
bar: {size: 10, length: 24, grip: 5}
rough: {cutter: flat-3}
finish: {cutter: ball-3, cusp: 20 um, feed: 1200}
tolerance: 60 um
`

// jobFolder holds the bell and a job for it.
func jobFolder(t *testing.T, job string) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range map[string][]byte{"bell.yaml": []byte(job), "bell.stl": stl(bell())} {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// command is barwise as a process of its own.
func command(t *testing.T, dir string, env []string, args ...string) *exec.Cmd {
	t.Helper()
	bin, err := exec.LookPath("barwise") // testscript.Main puts it there
	if err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(context.Background(), bin, args...)
	c.Dir, c.Env = dir, append(os.Environ(), env...)
	return c
}

// TestJSON holds report.json to the keys that are promised, and their figures to the files and to each
// other.
func TestJSON(t *testing.T) {
	dir := jobFolder(t, bellJob)
	var out, talk bytes.Buffer
	job := filepath.Join(dir, "bell.yaml")
	if code := Main([]string{"plan", job, "--json", "--no-pictures"}, &out, &talk); code != exitDone {
		t.Fatalf("exit code %d: %s", code, &talk)
	}
	if talk.Len() > 0 {
		t.Errorf("talk in a pipe: %q", &talk)
	}
	file, err := os.ReadFile(filepath.Join(dir, "bell", "report.json"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(file, out.Bytes()) {
		t.Error("stdout and report.json differ")
	}
	checkShape(t, out.Bytes())
	checkFigures(t, out.Bytes(), filepath.Join(dir, "bell"))
}

// checkShape wants the promised keys, by name and kind.
func checkShape(t *testing.T, b []byte) {
	t.Helper()
	var doc any
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	const number, text = "float64", "string"
	for key, kind := range map[string]string{
		"verdict": text, "gouge_um.max": number, "gouge_um.bound": number,
		"leftover_um.p50": number, "leftover_um.p99": number, "leftover_um.max": number, "leftover_um.bound": number,
		"area_in_tolerance": number, "moves": number, "cut_length_mm": number,
		"time_s.total": number, "time_s.cutting": number, "time_s.travel": number, "time_s.by_program": "map",
		"stages_s": "map", "peak_memory_mb": number, "findings": "list", "programs": "list",
		"programs.0.file": text, "programs.0.side_deg": number, "programs.0.cutter": text, "programs.0.lines": number,
	} {
		v := doc
		for _, k := range strings.Split(key, ".") {
			switch x := v.(type) {
			case map[string]any:
				v = x[k]
			case []any:
				v = nil
				if k == "0" && len(x) > 0 {
					v = x[0]
				}
			}
		}
		got := "nothing"
		switch v.(type) {
		case float64:
			got = number
		case string:
			got = text
		case map[string]any:
			got = "map"
		case []any:
			got = "list"
		}
		if got != kind {
			t.Errorf("%s is %s, want %s", key, got, kind)
		}
	}
}

type facts struct {
	Verdict string
	Gouge   struct{ Max, Bound float64 } `json:"gouge_um"`
	Left    struct {
		P50, P99, Max, Bound float64
	} `json:"leftover_um"`
	Share float64 `json:"area_in_tolerance"`
	Moves int
	Time  struct {
		Total, Cutting, Travel, Handling float64
		ByProgram                        map[string]float64 `json:"by_program"`
	} `json:"time_s"`
	Stages   map[string]float64 `json:"stages_s"`
	Programs []struct {
		File  string
		Lines int
		Moves int
		Time  float64 `json:"time_s"`
	}
	Findings []struct{ Code, Severity, Where, Text, Hint string }
}

func checkFigures(t *testing.T, b []byte, dir string) {
	t.Helper()
	var f facts
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	if f.Gouge.Max > f.Gouge.Bound || f.Left.P50 > f.Left.P99 || f.Left.P99 > f.Left.Max || f.Left.Max > f.Left.Bound || f.Share < 0 || f.Share > 1 {
		t.Errorf("figures are not in order: %+v", f)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "programs", "*.nc"))
	if len(files) != len(f.Programs) || len(files) != 8 || len(f.Time.ByProgram) != 8 {
		t.Errorf("%d files, %d programs, %d times; want 8: roughing and finishing on four sides", len(files), len(f.Programs), len(f.Time.ByProgram))
	}
	moves, seconds := 0, 0.0
	for _, p := range f.Programs {
		text, err := os.ReadFile(filepath.Join(dir, "programs", p.File))
		if err != nil {
			t.Error(err)
		}
		if n := bytes.Count(text, []byte("\n")); n != p.Lines {
			t.Errorf("%s has %d lines, the report says %d", p.File, n, p.Lines)
		}
		if p.Time <= 0 || f.Time.ByProgram[p.File] != p.Time {
			t.Errorf("%s: %g s and %g s", p.File, p.Time, f.Time.ByProgram[p.File])
		}
		moves, seconds = moves+p.Moves, seconds+p.Time
	}
	if moves != f.Moves {
		t.Errorf("programs have %d moves, the whole %d", moves, f.Moves)
	}
	if d := seconds - f.Time.Cutting - f.Time.Travel; math.Abs(d) > 0.5 {
		t.Errorf("programs take %g s, cutting %g and travel %g", seconds, f.Time.Cutting, f.Time.Travel)
	}
	if d := f.Time.Total - f.Time.Cutting - f.Time.Travel - f.Time.Handling; math.Abs(d) > 0.2 {
		t.Errorf("times do not add up: %+v", f.Time)
	}
	for _, x := range f.Findings {
		if x.Code == "" || x.Text == "" || x.Severity != "note" && x.Severity != "warning" && x.Severity != "blocking" {
			t.Errorf("finding %+v", x)
		}
	}
	for _, stage := range []string{"read", "rough", "finish", "prove"} {
		if _, ok := f.Stages[stage]; !ok {
			t.Errorf("stages_s says nothing of %s", stage)
		}
	}
}

// checkPictures wants one picture a program, one of the piece and the two maps, all in a page that needs no
// other file.
func checkPictures(t *testing.T, dir string) {
	t.Helper()
	pics, _ := filepath.Glob(filepath.Join(dir, "pictures", "*.png"))
	if len(pics) != 7 {
		t.Errorf("%d pictures, want 7", len(pics))
	}
	page, err := os.ReadFile(filepath.Join(dir, "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(page, []byte("data:image/png;base64,")); n != 7 {
		t.Errorf("the page holds %d pictures, want 7", n)
	}
	for _, outside := range []string{"src=\"http", "href=\"http", "<link", "@import", "src=\"pictures"} {
		if bytes.Contains(page, []byte(outside)) {
			t.Errorf("the page needs another file: %s", outside)
		}
	}
}

// TestInterrupt sends Ctrl-C at several moments of a run that would take many seconds.
func TestInterrupt(t *testing.T) {
	job := strings.NewReplacer("size: 10, length: 24", "size: 42, length: 74", "20 um", "1 um", "60 um", "20 um").Replace(bellJob) + "lay: {scale: 5}\n"
	dir := jobFolder(t, job)
	for _, after := range []time.Duration{150 * time.Millisecond, 700 * time.Millisecond, 2 * time.Second} {
		c := command(t, dir, nil, "plan", "bell.yaml")
		var out, talk bytes.Buffer
		c.Stdout, c.Stderr = &out, &talk
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(after)
		if err := c.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		asked := time.Now()
		c.Wait()
		if code := c.ProcessState.ExitCode(); code != exitInterrupted {
			t.Errorf("after %v: exit code %d, want %d: %s%s", after, code, exitInterrupted, &out, &talk)
		}
		if took := time.Since(asked); took > time.Second {
			t.Errorf("after %v: stopped %v after it was asked to", after, took)
		}
		if out.Len() > 0 || talk.String() != "barwise: interrupted; nothing was written\n" {
			t.Errorf("after %v: said %q and %q", after, &out, &talk)
		}
		if _, err := os.Stat(filepath.Join(dir, "bell")); err == nil {
			t.Errorf("after %v: a folder was left", after)
		}
		if left, err := unfinished(dir); err != nil || len(left) > 0 {
			t.Errorf("after %v: %v left behind, %v", after, left, err)
		}
	}
}

// TestTerminated: SIGTERM, as a service or a shutdown sends it, is met like Ctrl-C.
func TestTerminated(t *testing.T) {
	dir := jobFolder(t, strings.Replace(bellJob, "20 um", "1 um", 1))
	c := command(t, dir, nil, "plan", "bell.yaml")
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(150 * time.Millisecond)
	c.Process.Signal(syscall.SIGTERM)
	c.Wait()
	if code := c.ProcessState.ExitCode(); code != exitInterrupted {
		t.Errorf("exit code %d, want %d", code, exitInterrupted)
	}
}

// TestSameBytes runs one job as processes of one core and of two, and again: programs, pictures, page
// and report are the same to the last byte, but for what the run itself took.
func TestSameBytes(t *testing.T) {
	job := bellJob + "sides: [0, 180]\n" // two sides: half of the pictures
	var first map[string][]byte
	for i, cores := range []string{"1", "2", "2"} {
		dir := jobFolder(t, job)
		args := []string{"plan", "bell.yaml"}
		if i == 2 {
			args = append(args, "--no-pictures")
		}
		c := command(t, dir, []string{"GOMAXPROCS=" + cores}, args...)
		if b, err := c.CombinedOutput(); err != nil && c.ProcessState.ExitCode() != exitFindings {
			t.Fatalf("%v: %s", err, b)
		}
		got := tree(t, filepath.Join(dir, "bell"))
		if i == 0 {
			first = got
			checkPictures(t, filepath.Join(dir, "bell"))
		}
		if i < 2 && len(got) != len(first) || len(got) < 6 {
			t.Errorf("GOMAXPROCS=%s: %d files, %d before", cores, len(got), len(first))
		}
		for name, b := range got {
			if !bytes.Equal(b, first[name]) && !(i == 2 && strings.HasSuffix(name, ".html")) {
				t.Errorf("GOMAXPROCS=%s: %s differs", cores, name)
			}
		}
	}
}

// TestSurveySameBytes: a survey on one core and on two. The search for a lie has its own such test.
func TestSurveySameBytes(t *testing.T) {
	var first map[string][]byte
	for i, cores := range []string{"1", "2"} {
		dir := jobFolder(t, bellJob)
		c := command(t, dir, []string{"GOMAXPROCS=" + cores}, "survey", "--no-search", "bell.stl")
		if b, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, b)
		}
		got := tree(t, filepath.Join(dir, "bell-survey"))
		if i == 0 {
			first = got
		}
		if len(got) != len(first) || len(got) < 6 {
			t.Errorf("GOMAXPROCS=%s: %d files, %d before", cores, len(got), len(first))
		}
		for name, b := range got {
			if !bytes.Equal(b, first[name]) && name != "/survey.html" {
				t.Errorf("GOMAXPROCS=%s: %s differs", cores, name)
			}
		}
	}
}

// tree holds the files below dir; of the report without what a run took.
func tree(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		if d.Name() == "report.json" || d.Name() == "survey.json" {
			b = withoutRun(t, b)
		}
		out[strings.TrimPrefix(p, dir)] = b
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func withoutRun(t *testing.T, b []byte) []byte {
	t.Helper()
	var doc map[string]any
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	delete(doc, "stages_s")
	delete(doc, "peak_memory_mb")
	b, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
