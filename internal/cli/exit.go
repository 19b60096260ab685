package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"repose/internal/intake"
	"repose/internal/report"
)

// The exit codes of every command.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitFound       = 3
	exitInterrupted = 130
)

// errFound ends a command that did its work and found what its user should see. Nothing is printed for
// it: the report has said it.
var errFound = errors.New("found something")

// usageError is a command line that does not make sense.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

func usage(err error) error { return usageError{err} }

func exitCode(ctx context.Context, err error) int {
	var wrong usageError
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil:
		return exitInterrupted
	case errors.Is(err, errFound):
		return exitFound
	case errors.As(err, &wrong):
		return exitUsage
	}
	return exitFailed
}

// failure is an error in JSON.
type failure struct {
	Schema int       `json:"schema"`
	Error  string    `json:"error"`
	Code   int       `json:"exit_code"`
	Cells  []badCell `json:"errors,omitempty"` // of an intake, every one that was found
}

type badCell struct {
	File   string `json:"file"`
	Row    int    `json:"row,omitempty"`
	Column int    `json:"column,omitempty"`
	Found  string `json:"found"`
	Wanted string `json:"wanted"`
}

func badCells(err error) []badCell {
	var rows *intake.RowErrors
	if !errors.As(err, &rows) {
		return nil
	}
	var cells []badCell
	for _, e := range rows.Errors {
		cells = append(cells, badCell{e.File, e.Row, e.Column, e.Found, e.Wanted})
	}
	return cells
}

// fail prints an error on the error stream, as a JSON object where JSON was asked for.
func (a *app) fail(err error, code int) {
	if a.json {
		_ = printJSON(a.Err, failure{report.Schema, err.Error(), code, badCells(err)})
		return
	}
	fmt.Fprintf(a.Err, "repose: %v\n", err)
	if code == exitUsage {
		fmt.Fprintln(a.Err, "Run repose help, or a command with --help, for how it is used.")
	}
}

func newExitCodes() *cobra.Command {
	return &cobra.Command{
		Use:   "exit-codes",
		Short: "What the program's exit codes mean",
		Long: `0    done
1    failed; nothing was changed
2    the command line does not make sense
3    done, and found something: a difference beyond the yard's limit, an alarm of causes, conflicting
     rows, an open exception, something in the way of a close,
     something that waits for a second person, a book that does not verify
130  interrupted; nothing was changed`,
	}
}

// exactly refuses another number of arguments than the command takes.
func exactly(n int, want string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) != n {
			return usage(fmt.Errorf("%d arguments: want %s", len(args), want))
		}
		return nil
	}
}
