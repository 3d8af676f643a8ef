// Package cli is the command line: flags, words for a person, JSON for a program, exit codes.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"barwise/finding"
	"barwise/job"

	"github.com/alecthomas/kong"
)

// Exit codes. 2 is what the Go runtime itself ends with after a crash.
const (
	exitDone        = 0
	exitFailed      = 1
	exitFindings    = 3
	exitBadInput    = 4
	exitInterrupted = 130
)

// errFindings ends a run that is complete but whose findings stand against cutting.
var errFindings = errors.New("blocking findings")

// env is what every command may use: data goes to out, talk to talk.
type env struct {
	ctx  context.Context
	out  io.Writer
	talk *talk
}

type commands struct {
	Plan   planCmd   `cmd:"" help:"Plan a job: programs for every side, proved, with a report."`
	Prove  proveCmd  `cmd:"" help:"Judge program text again, also text edited by hand."`
	Survey surveyCmd `cmd:"" help:"Is this model worth cutting? Soundness, facets, walls, reach, the best way to lie; a page and a job to begin with."`
	Mend   mendCmd   `cmd:"" help:"Close, orient and clean a mesh as far as asked, and write it out."`
	Shop   shopCmd   `cmd:"" help:"Cutters, machines and materials it knows."`
	Schema schemaCmd `cmd:"" help:"JSON Schema of the job file, for an editor's completion."`

	Version kong.VersionFlag `help:"Print the version."`
}

// Main runs one command line and returns the exit code.
func Main(args []string, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()

	var c commands
	code := -1
	parser, err := kong.New(&c, kong.Name("barwise"),
		kong.Description("One job file and a mesh in; proved programs for every side of the bar out.\n\nExit codes: 0 done and proven, 1 failed, 3 finished with blocking findings, 4 bad job, model or program, 130 interrupted."),
		kong.Writers(stdout, stderr), kong.Exit(func(n int) { code = n }), kong.Vars{"version": version()})
	if err != nil {
		fmt.Fprintln(stderr, "barwise:", err)
		return exitFailed
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if code >= 0 { // --help or --version has answered
		return code
	}
	if err != nil {
		fmt.Fprintf(stderr, "barwise: %v\nbarwise --help lists the commands\n", err)
		return exitFailed
	}
	e := &env{ctx: ctx, out: stdout, talk: newTalk(stderr)}
	err = k.Run(e)
	e.talk.clear()
	return exitCode(err, ctx, stderr)
}

// exitCode says what went wrong, once, and picks the exit code: the one place that does.
func exitCode(err error, ctx context.Context, stderr io.Writer) int {
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errFindings):
		return exitFindings
	case errors.Is(err, context.Canceled) || ctx.Err() != nil:
		fmt.Fprintln(stderr, "barwise: interrupted; nothing was written")
		return exitInterrupted
	case finding.IsInput(err):
		fmt.Fprintf(stderr, "barwise: %v\n", err)
		if x := job.Excerpt(err); x != "" {
			fmt.Fprint(stderr, x)
		}
		return exitBadInput
	}
	fmt.Fprintf(stderr, "barwise: %v\n", err)
	return exitFailed
}

func version() string {
	if b, ok := debug.ReadBuildInfo(); ok && b.Main.Version != "" && b.Main.Version != "(devel)" {
		return b.Main.Version
	}
	return "development build"
}
