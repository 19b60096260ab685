package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

// month opens the book, finds the yard and the period, and hands the month to use after every entry of it
// has gone to emit.
func (a *app) month(ctx context.Context, period string, emit func(*book.Reader) func(*ledger.Entry) error,
	use func(*book.Reader, *book.Month) error) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	return a.readRecent(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		m, err := r.Month(ctx, y.Code, p, emit(r))
		if err != nil {
			return err
		}
		return use(r, m)
	})
}

func noEntries(*book.Reader) func(*ledger.Entry) error {
	return func(*ledger.Entry) error { return nil }
}

func newReconcile(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "reconcile PERIOD",
		Short: "Book against survey, pile by pile",
		Long: `Sets the book against each pile's survey at the instant at which the survey ended, and rolls it forward
to the end of the month. Shrinkage is book less survey in oven-dry solids: positive means that stone is
missing. Movements inside the survey's window and trucks between loader and deck scale are named.

A limit is the yard's own rule for what must be explained. It does not say whether a difference is real.

Exit code 3 says that a difference passes the yard's limit.`,
		Example: `  repose reconcile 2026-10
  repose reconcile 2026-10 --json`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error { return runReconcile(cmd.Context(), a, args[0]) },
	})
}

func runReconcile(ctx context.Context, a *app, period string) error {
	return a.month(ctx, period, noEntries, func(r *book.Reader, m *book.Month) error {
		rec, err := r.Reconciliation(ctx, m)
		if err != nil {
			return err
		}
		err = a.show(r, rec)
		if err == nil && rec.Breached() {
			return errFound
		}
		return err
	})
}

func newTotals(a *app) *cobra.Command {
	var by string
	c := &cobra.Command{
		Use:   "totals PERIOD",
		Short: "What was loaded out, moved and made, by any column or tag",
		Long: `Sums the month's movements by the columns named with --by: any column of the tables (customer, product,
pile, truck, loader, purpose, belt, shift, ...) or tag of the yard's own. A record without a product counts
for the product of its pile. As weighed includes water; solids do not.`,
		Example: `  repose totals 2026-10 --by customer,product
  repose totals 2026-10 --by job --json`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error { return runTotals(cmd.Context(), a, args[0], by) },
	}
	c.Flags().StringVar(&by, "by", "", "`columns` to group by, with commas between")
	return a.reading(c)
}

func runTotals(ctx context.Context, a *app, period, by string) error {
	var columns []string
	for _, name := range strings.Split(by, ",") {
		if name = strings.TrimSpace(name); name != "" {
			columns = append(columns, name)
		} else if by != "" {
			return usage(fmt.Errorf("--by %q: a column without a name", by))
		}
	}
	var totals *report.TotalsBuilder
	sum := func(r *book.Reader) func(*ledger.Entry) error {
		totals = report.NewTotals(r.Register(), columns)
		return totals.Add
	}
	return a.month(ctx, period, sum, func(r *book.Reader, m *book.Month) error {
		t := totals.Report(m.Month)
		if !m.At.IsZero() {
			t.At = &m.At
		}
		return a.print(r, t)
	})
}
