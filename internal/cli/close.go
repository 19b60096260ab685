package cli

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newClose(a *app) *cobra.Command {
	var dryRun bool
	c := &cobra.Command{
		Use:   "close PERIOD",
		Short: "Seal a month",
		Long: `Seals a month of a yard: its entries, balances, surveys and rules are stored with a hash over them and
the head of the log, and are never derived again. Records that arrive later for this month are entered in
the first open one and listed as late.

The close is refused, with every reason at once, while a record's pile is unknown, a pile lacks its survey
or a survey its density, a totaliser fell without a reason, or a conflict is undecided. Where the yard's
policy says so, the book takes the survey's figure.`,
		Example: `  repose close 2026-10 --dry-run
  repose close 2026-10`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error { return runClose(cmd.Context(), a, args[0], dryRun) },
	}
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what the close would do, and change nothing")
	c.Flags().BoolVar(&a.json, "json", false, "print the reconciliation of the sealed month as JSON")
	return a.ofYard(c)
}

func runClose(ctx context.Context, a *app, period string, dryRun bool) (err error) {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	r, err := book.Read(ctx, store, time.Time{})
	if err != nil {
		return err
	}
	y, err := r.Yard(a.yard)
	if err != nil {
		return err
	}
	bar := a.Progress("closing", -1, false)
	m, err := book.Close(ctx, store, book.Closing{Yard: y.Code, Period: p, By: a.user(), Now: a.now(), DryRun: dryRun,
		Entered: func(n int) { bar.Set(int64(n)) }})
	bar.Done()
	if err != nil {
		return err
	}
	rec, err := r.Reconciliation(ctx, m)
	if err != nil {
		return err
	}
	if a.json {
		return printJSON(a.Out, rec)
	}
	return a.printClose(r, m, rec, dryRun)
}

func (a *app) printClose(r *book.Reader, m *book.Month, rec *report.Reconciliation, dryRun bool) error {
	if err := rec.WriteText(a.Out, a.unit(r)); err != nil {
		return err
	}
	if dryRun {
		_, err := fmt.Fprintf(a.Out, "\n%s of yard %s can be closed: %d entries. Nothing was changed.\n", m.Period, m.Yard.Code, m.Entries)
		return err
	}
	_, err := fmt.Fprintf(a.Out, "\nClosed %s of yard %s: %d entries sealed.\nSeal %s\nKeep the log's head, printed by `repose verify`, outside this machine: by mail or on paper.\n",
		m.Period, m.Yard.Code, m.Entries, m.Close.Fact.(ledger.Close).SealSHA256)
	return err
}
