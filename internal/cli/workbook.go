package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/internal/term"
	"repose/internal/workbook"
	"repose/ledger"
)

func newWorkbook(a *app) *cobra.Command {
	var out string
	var force bool
	c := &cobra.Command{
		Use:   "workbook PERIOD -o FILE.xlsx",
		Short: "Write the auditor's workbook of a month",
		Long: `Writes the month as an Excel workbook: lead schedule, roll-forward, book against survey with the survey's
calculation as live formulas, moisture-adjusted inventory, every entry with the row it came from, the source
files with their hashes, and a sheet of checks that compare the formulas with the ledger's own totals. The
workbook of an open month says that it is a draft. The same book gives the same bytes.`,
		Example: `  repose workbook 2026-10 -o october.xlsx`,
		Args:    exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return usage(errors.New("want -o with the file to write, such as -o october.xlsx"))
			}
			return runWorkbook(cmd.Context(), a, args[0], out, force)
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "the `file` to write, or - for standard output")
	c.Flags().BoolVar(&force, "force", false, "overwrite the file, with whatever was noted in it")
	return a.asOf(a.ofYard(c))
}

func runWorkbook(ctx context.Context, a *app, period, out string, force bool) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		c, err := r.CloseReport(ctx, y.Code, p)
		if err != nil {
			return err
		}
		bar := a.Progress("writing entries", int64(c.Month.Entries), false)
		defer bar.Done()
		c.Entries = watched(c.Entries, bar)
		write := func(w io.Writer) error { return workbook.Write(ctx, w, c) }
		if out == "-" {
			return write(a.Out)
		}
		if err := term.WriteFile(out, force, write); err != nil {
			return overwriteHint(err)
		}
		_, err = fmt.Fprintf(a.Out, "Wrote %s\n", out)
		return err
	})
}

// watched shows on a bar how far a reader of entries has come.
func watched(entries iter.Seq2[*ledger.Entry, error], bar *term.Progress) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		n := int64(0)
		for e, err := range entries {
			n++
			bar.Set(n)
			if !yield(e, err) {
				return
			}
		}
	}
}

// overwriteHint says how a file that stands in the way is overwritten.
func overwriteHint(err error) error {
	if errors.Is(err, term.ErrExists) {
		return fmt.Errorf("%w; --force overwrites it", err)
	}
	return err
}
