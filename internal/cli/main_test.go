package cli

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"barwise": func() { os.Exit(Main(os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the command line as its user would: exit codes, what is data and what is talk, and
// that a run that fails leaves nothing behind.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "model": model, "edit": edit, "lines": lines, "tidy": tidy, "cutoff": cutoff, "smalldisk": smallDisk,
		},
		Condition: func(cond string) (bool, error) {
			switch cond {
			case "devfull":
				_, err := os.Stat("/dev/full")
				return err == nil, nil
			case "smalldisk":
				return canMount(), nil
			}
			return false, errors.New("unknown condition " + cond)
		},
	})
}

// exits CODE ARGS… runs barwise and wants that exit code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec("barwise", args[1:]...); err != nil {
		var x *exec.ExitError
		if !errors.As(err, &x) {
			ts.Fatalf("barwise %s: %v", strings.Join(args[1:], " "), err)
		}
		got = x.ExitCode()
	}
	if got != want {
		ts.Fatalf("barwise %s: exit code %d, want %d", strings.Join(args[1:], " "), got, want)
	}
}

// model KIND FILE writes a mesh.
func model(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: model KIND FILE")
	}
	b, err := modelBytes(args[0])
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), b, 0o666))
}

// edit FILE OLD NEW replaces the first OLD, which must be there.
func edit(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: edit FILE OLD NEW")
	}
	unescape := strings.NewReplacer(`\n`, "\n")
	text, old := ts.ReadFile(args[0]), unescape.Replace(args[1])
	if !strings.Contains(text, old) {
		ts.Fatalf("%s does not contain %q", args[0], old)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, old, unescape.Replace(args[2]), 1)), 0o666))
}

// cutoff FILE keeps the first two thirds of a file.
func cutoff(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: cutoff FILE")
	}
	b := ts.ReadFile(args[0])
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(b[:len(b)*2/3]), 0o666))
}

// lines stderr N wants at most N lines there.
func lines(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: lines stdout|stderr N")
	}
	most, err := strconv.Atoi(args[1])
	ts.Check(err)
	if n := strings.Count(ts.ReadFile(args[0]), "\n"); n > most {
		ts.Fatalf("%s has %d lines, at most %d are wanted", args[0], n, most)
	}
}

// tidy DIR wants that no unfinished folder lies anywhere below it.
func tidy(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: tidy DIR")
	}
	left, err := unfinished(ts.MkAbs(args[0]))
	ts.Check(err)
	if len(left) > 0 {
		ts.Fatalf("left behind: %s", strings.Join(left, ", "))
	}
}

func unfinished(dir string) (left []string, err error) {
	err = filepath.WalkDir(dir, func(p string, _ os.DirEntry, err error) error {
		if err == nil && strings.Contains(filepath.Base(p), ".unfinished-") {
			left = append(left, p)
		}
		return err
	})
	return left, err
}

// smalldisk DIR SIZE mounts a disk of that size there.
func smallDisk(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: smalldisk DIR SIZE")
	}
	dir := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(dir, 0o777))
	ts.Check(mount(dir, args[1]))
	ts.Defer(func() { exec.Command("umount", dir).Run() })
}

func mount(dir, size string) error {
	return exec.Command("mount", "-t", "tmpfs", "-o", "size="+size, "tmpfs", dir).Run()
}

// canMount reports whether we may mount a disk in memory: as root on Linux.
var canMount = sync.OnceValue(func() bool {
	dir, err := os.MkdirTemp("", "mount")
	if err != nil {
		return false
	}
	defer os.Remove(dir)
	return mount(dir, "64k") == nil && exec.Command("umount", dir).Run() == nil
})
