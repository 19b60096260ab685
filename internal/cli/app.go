// Package cli is the command line: one file a command, flags to calls and results to text or JSON. It
// holds no rule of the ledger and computes no figure.
package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"os/user"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/internal/term"
)

// app is what commands share: the outside world, and the flags of every command.
type app struct {
	term.Streams
	now  func() time.Time
	user func() string
	env  func(string) string

	bookPath string
	yard     string
	as       string // the name that who runs the program declares
	json     bool

	at      string    // the instant after which what happened is left out; empty for none
	atTime  time.Time // the same as an instant, once the book is open
	known   string    // as of when the book is read; empty for all it knows
	knownAt time.Time // the same as an instant, once the book is open
}

// Main runs the program as the process's command line says and returns its exit code.
func Main() int {
	roomHeap()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{Streams: term.Standard(), now: time.Now, user: currentUser, env: os.Getenv}
	return a.run(ctx, os.Args[1:])
}

// currentUser names who runs the program, as the operating system knows them.
func currentUser() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	return "unknown"
}

func (a *app) run(ctx context.Context, args []string) int {
	root := newRoot(a)
	root.SetArgs(args)
	root.SetIn(a.In)
	root.SetOut(a.Out)
	root.SetErr(a.Err)
	err := root.ExecuteContext(ctx)
	code := exitCode(ctx, err)
	if err != nil && code != exitFound {
		a.fail(err, code)
	}
	return code
}

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "repose",
		Short: "The stockpile inventory and shrinkage ledger of a quarry yard",
		Long: `Repose keeps the book of what lies in the piles of a yard: it takes in what the belts made, what the
loaders loaded out and what was carried from pile to pile, sets the book against volumetric surveys,
closes each month and writes the workbook for the auditor.

Weights here are for inventory. Weights for trade, work on and around piles, and figures filed in
accounts are subject to local law and licensed practice.`,
		Example: `  repose demo                          see it all on an invented yard
  repose intake exports/               take a folder of exports in
  repose reconcile 2026-10             book against survey
  repose exceptions                    what the records themselves show wrong
  repose close 2026-10                 seal the month
  repose workbook 2026-10 -o oct.xlsx  the auditor's workbook`,
		SilenceErrors: true, SilenceUsage: true,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			return unknownCommand(cmd, args[0])
		},
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage(flagError(err)) })
	root.PersistentFlags().StringVar(&a.bookPath, "book", "", "the book's `file` (default repose.book, or REPOSE_BOOK)")
	root.PersistentFlags().StringVar(&a.as, "as", "", "your `name`, on record beside that of your account")
	for _, c := range []func(*app) *cobra.Command{newDemo, newTemplate, newIntake, newStock, newTotals, newReconcile, newAccrual, newValue, newJournal, newCauses,
		newExceptions, newConflicts, newDecide, newApprove, newClose, newReopen, newSimulate, newWorkbook, newPack, newSample, newSequence, newCutOff, newRoll, newScreen, newDepletion, newSensitivity, newTrace, newVerify} {
		root.AddCommand(c(a))
	}
	root.AddCommand(newExitCodes())
	root.SetHelpTemplate(helpTemplate)
	return root
}

// helpTemplate leads with what one would type.
const helpTemplate = `{{with .Example}}{{.}}

{{end}}{{with (or .Long .Short)}}{{. | trimTrailingWhitespaces}}

{{end}}{{if .Runnable}}Usage:
  {{.UseLine}}
{{end}}{{if .HasAvailableSubCommands}}
Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}
{{end}}{{if .HasHelpSubCommands}}
Topics:{{range .Commands}}{{if .IsAdditionalHelpTopicCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}
{{end}}{{if .HasAvailableLocalFlags}}
Flags:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}
{{end}}{{if .HasAvailableInheritedFlags}}
Flags of every command:
{{.InheritedFlags.FlagUsages | trimTrailingWhitespaces}}
{{end}}`

func unknownCommand(cmd *cobra.Command, name string) error {
	hint := ""
	if near := cmd.SuggestionsFor(name); len(near) > 0 {
		hint = fmt.Sprintf("; did you mean %q?", near[0])
	}
	return usage(fmt.Errorf("%q is not a command of repose%s", name, hint))
}

// reading adds the flags of a command that reads a book.
func (a *app) reading(c *cobra.Command) *cobra.Command {
	c.Flags().BoolVar(&a.json, "json", false, "print one JSON document instead of text")
	return a.asOf(a.ofYard(c))
}

// asKnown adds the flag that has the book read as it was known at an instant.
func (a *app) asKnown(c *cobra.Command) *cobra.Command {
	c.Flags().StringVar(&a.known, "known", "", "read the book as it was known at this `instant`, such as 2026-11-08: without what was taken in later")
	return c
}

// asOf adds the flags that have the book read as of an instant: what had happened by then, and what was known then.
func (a *app) asOf(c *cobra.Command) *cobra.Command {
	c.Flags().StringVar(&a.at, "at", "", "leave out what happened after this `instant`, such as 2026-10-15, whenever it was taken in")
	return a.asKnown(c)
}

// errAsOf refuses to change a book as it was.
var errAsOf = errors.New("--at and --known: want them where the book is read only")

// ofYard adds the flag that names a yard.
func (a *app) ofYard(c *cobra.Command) *cobra.Command {
	c.Flags().StringVar(&a.yard, "yard", "", "the yard's `code`, where the book holds several")
	return c
}

func (a *app) path() string {
	switch {
	case a.bookPath != "":
		return a.bookPath
	case a.env("REPOSE_BOOK") != "":
		return a.env("REPOSE_BOOK")
	}
	return "repose.book"
}

// flagError says in the program's words what a flag wants.
func flagError(err error) error {
	var invalid *pflag.InvalidValueError
	if !errors.As(err, &invalid) {
		return err
	}
	want := map[string]string{"int": "a whole number", "uint64": "a whole number from 0 on", "float64": "a number", "bool": "true or false"}
	flag := invalid.GetFlag()
	if w, ok := want[flag.Value.Type()]; ok {
		return fmt.Errorf("--%s %q: want %s", flag.Name, invalid.GetValue(), w)
	}
	return err
}

// read opens the book for reading and hands a reader of it to use: of all that it knows, or of what it knew at the
// instant that the command line names.
func (a *app) read(ctx context.Context, use func(*sqlite.Book, *book.Reader) error) error {
	return a.readBy(ctx, book.Read, use)
}

// readRecent is read with book.ReadRecent. use shows what it has with show or print, which ask for the reader's Err, or a
// reconciliation, which has been asked.
func (a *app) readRecent(ctx context.Context, use func(*sqlite.Book, *book.Reader) error) error {
	return a.readBy(ctx, book.ReadRecent, use)
}

func (a *app) readBy(ctx context.Context, read func(context.Context, *sqlite.Book, time.Time) (*book.Reader, error),
	use func(*sqlite.Book, *book.Reader) error) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadOnly)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	r, err := read(ctx, store, time.Time{})
	if err != nil {
		return err
	}
	if a.known != "" {
		if a.knownAt, err = parseInstant(a.known, a.zoneOf(r)); err != nil {
			return err
		}
		if r, err = read(ctx, store, a.knownAt); err != nil {
			return err
		}
		if len(r.Register().Yards()) == 0 {
			return fmt.Errorf("the book knew of no yard yet on %s", a.knownAt.Format(time.RFC3339))
		}
	}
	if a.at != "" {
		if a.atTime, err = parseInstant(a.at, a.zoneOf(r)); err != nil {
			return err
		}
		if r, err = r.Until(ctx, a.atTime); err != nil {
			return err
		}
	}
	return use(store, r)
}

// explainMissing says what to do where there is no book.
func (a *app) explainMissing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no book here yet; repose intake makes one, repose demo shows one", a.path())
	}
	return err
}

// closing closes the book and adds what that says to the command's error.
func closing(store *sqlite.Book, err *error) { *err = errors.Join(*err, store.Close()) }

// printed is a report that is shown on the screen or as JSON.
type printed interface {
	WriteText(w io.Writer, u report.Unit) error
}

// print shows a report as the command line asks for, and says where it leaves out what happened later.
func (a *app) print(r *book.Reader, x printed) error {
	if !a.atTime.IsZero() && !a.json {
		fmt.Fprintf(a.Out, "What happened after %s is left out.\n", a.atTime.In(a.zoneOf(r)).Format(time.DateTime))
	}
	return a.show(r, x)
}

// show is print for a report that says itself of when it is.
func (a *app) show(r *book.Reader, x printed) error {
	if err := r.Err(); err != nil {
		return err
	}
	if a.json {
		return printJSON(a.Out, x)
	}
	return x.WriteText(a.Out, a.unit(r))
}

// printJSON writes one document.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
