package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/internal/term"
)

func newValue(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "value PERIOD",
		Short: "What the stock cost, and whether it is worth that",
		Long: `Puts a month into money, where the yard gives costs (see the tables costs and prices): the moving weighted
average cost of each product, exact to the cent, with what was made, sold, used and lost. Expected shrinkage makes the
rest dearer, all other shrinkage is an expense; fixed costs are spread at normal production.

The lower of cost and net realisable value is a test, and nothing of it is posted. Which figures go into accounts is
a matter of the applicable standards and of licensed practice.`,
		Example: `  repose value 2026-10
  repose value 2026-10 --json`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := parsePeriod(args[0])
			if err != nil {
				return err
			}
			return a.read(cmd.Context(), func(_ *sqlite.Book, r *book.Reader) error {
				y, err := r.Yard(a.yard)
				if err != nil {
					return err
				}
				v, err := r.Value(cmd.Context(), y.Code, p)
				if err != nil {
					return err
				}
				return a.print(r, v)
			})
		},
	})
}

func newJournal(a *app) *cobra.Command {
	var out string
	var again, dryRun bool
	c := &cobra.Command{
		Use:   "journal PERIOD -o FILE.csv",
		Short: "A closed month's journal in money, given out once",
		Long: `Writes the journal of a closed month for the general ledger: two rows for every line, debit and credit, under a
reference that is the same in every copy. Giving it out is on record with the file's SHA-256 and happens once;
--copy writes the same file again. Who closed the month does not give its journal out: another person does, and
is named in it as the one who approved.`,
		Example: `  repose journal 2026-10 -o october.csv --as controller
  repose journal 2026-10 -o october.csv --copy`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := parsePeriod(args[0])
			if err != nil {
				return err
			}
			if out == "" {
				return usage(errors.New("-o: want the file to write, such as -o october.csv"))
			}
			return runJournal(cmd.Context(), a, out, book.Exporting{Yard: a.yard, Period: p, By: a.person(), Now: a.now(), Copy: again, DryRun: dryRun})
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "the `file` to write; it must not exist")
	c.Flags().BoolVar(&again, "copy", false, "write once more what was given out before")
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what would be given out, and write nothing")
	c.Flags().BoolVar(&a.json, "json", false, "print what was given out as JSON")
	return a.ofYard(c)
}

func runJournal(ctx context.Context, a *app, path string, x book.Exporting) (err error) {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s: %w", path, term.ErrExists)
	}
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	e, err := book.ExportJournal(ctx, store, x)
	if err != nil {
		return err
	}
	if !x.DryRun {
		if err := term.WriteFile(path, false, func(w io.Writer) error {
			_, err := w.Write(e.File)
			return err
		}); err != nil {
			return fmt.Errorf("%w; it is on record as given out: --copy writes it", err)
		}
	}
	if a.json {
		return printJSON(a.Out, struct {
			Schema int    `json:"schema"`
			Close  string `json:"close"`
			Lines  int    `json:"lines"`
			SHA256 string `json:"sha256"`
			Copy   bool   `json:"copy"`
			DryRun bool   `json:"dry_run"`
		}{report.Schema, e.Journal.Close, len(e.Journal.Value.Journal), e.SHA256, x.Copy, x.DryRun})
	}
	verb := "Wrote " + path
	if x.DryRun {
		verb = "Would write " + path
	}
	_, err = fmt.Fprintf(a.Out, "%s: %d lines of %s, approved by %s.\nSHA-256 %s\n", verb, len(e.Journal.Value.Journal), e.Journal.Close, e.Journal.Approved, e.SHA256)
	return err
}
