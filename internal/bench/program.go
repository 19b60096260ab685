package bench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"time"
)

// Command is a program and how it is called. The zero Command is a program that is not installed.
type Command struct {
	Path string
	Args []string // before those of a run
	Env  []string // added to the environment
}

// Figures are what one run of a program took.
type Figures struct {
	Wall time.Duration
	CPU  time.Duration // user and system, of the program and its children that it waited for
	Peak int64         // largest resident set in bytes; 0 where the system does not say
}

// run is one run of a program: what it reads on standard input, and where it runs.
type run struct {
	command Command
	args    []string
	input   string
	codes   []int // exit codes besides 0 that are no failure
}

// run runs a program in the folder of the run and returns what it printed and what it took. The peak is of the
// program alone as long as it is larger than that of this process, which the system counts in: so nothing large is held here.
func (b *Bench) run(ctx context.Context, r run) (out []byte, f Figures, err error) {
	cmd := exec.CommandContext(ctx, r.command.Path, append(append([]string{}, r.command.Args...), r.args...)...)
	cmd.Dir, cmd.Env = b.Dir, append(os.Environ(), r.command.Env...)
	cmd.Stdin = strings.NewReader(r.input)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	start := b.Now()
	err = cmd.Run()
	f.Wall = b.Now().Sub(start)
	if state := cmd.ProcessState; state != nil {
		f.CPU, f.Peak = state.UserTime()+state.SystemTime(), peak(state)
	}
	var exit *exec.ExitError
	if errors.As(err, &exit) && ctx.Err() == nil && slices.Contains(r.codes, exit.ExitCode()) {
		err = nil
	}
	if err != nil {
		err = fmt.Errorf("%s %s: %w\n%s%s", r.command.Path, strings.Join(r.args, " "), err, tail(stdout.Bytes()), tail(stderr.Bytes()))
	}
	return stdout.Bytes(), f, err
}

// tail returns the end of an output, enough to see what went wrong.
func tail(out []byte) []byte { return out[max(0, len(out)-2000):] }

// foundDifferences is the exit code by which the program says that it ran and found something.
const foundDifferences = 3

// repose runs the program on a book in the folder of the run.
func (b *Bench) repose(ctx context.Context, book string, args ...string) ([]byte, Figures, error) {
	return b.run(ctx, run{command: b.Program, args: append(args, "--book", book), codes: []int{foundDifferences}})
}

// peer runs a function of this package that is measured as a process of its own.
func (b *Bench) peer(ctx context.Context, args ...string) ([]byte, Figures, error) {
	return b.run(ctx, run{command: b.Peers, args: args})
}
