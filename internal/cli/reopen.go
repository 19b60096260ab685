package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newReopen(a *app) *cobra.Command {
	var why, reason string
	var dryRun bool
	c := &cobra.Command{
		Use:   "reopen PERIOD",
		Short: "Open a closed month again, with a second person and a reason",
		Long: `Says that a closed month should be opened again, and why. Nothing changes before another person has approved it
with repose approve; then the month and every later one are open, and records that came too late for them are
entered where they belong. Each is closed again with repose close, in order.

Nothing is lost: the earlier close stays in the book and can be read with --known, and repose close PERIOD
--compare prints what the later one changed and why.

--why error is for a record that was wrong or lacking: accounts restate an error where it is material.
--why estimate is for what was right as known then: accounts take a change of an estimate from now on, so ask the
controller first whether the month should be opened at all.`,
		Example: `  repose reopen 2026-10 --why error --reason "deck tickets of 14 October keyed to the wrong pile"
  repose approve`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := parsePeriod(args[0])
			if err != nil {
				return err
			}
			if why == "" {
				return usage(errors.New("--why: want error or estimate"))
			}
			kind, err := ledger.ParseRestatement(why)
			if err != nil {
				return usage(fmt.Errorf("--why: %w", err))
			}
			if strings.TrimSpace(reason) == "" {
				return usage(errors.New("--reason: want why, in words"))
			}
			return runReopen(cmd.Context(), a, book.Reopening{Yard: a.yard, Period: p, Why: kind, Reason: reason, By: a.person(), Now: a.now(), DryRun: dryRun})
		},
	}
	c.Flags().StringVar(&why, "why", "", "`error` or estimate")
	c.Flags().StringVar(&reason, "reason", "", "why, in `words`")
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what would be opened, and change nothing")
	return a.ofYard(c)
}

func runReopen(ctx context.Context, a *app, x book.Reopening) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	seals, err := book.Reopen(ctx, store, x)
	if err != nil {
		return err
	}
	months := make([]string, len(seals))
	for i, s := range seals {
		months[i] = s.Close.Period.String()
	}
	fmt.Fprintf(a.Out, "%s would open %s of yard %s again, because of an %s: %s\nThey stay closed until another person has approved it: repose approve\n",
		x.By, strings.Join(months, ", "), seals[0].Yard, x.Why, x.Reason)
	if x.DryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}

// runCompare prints what the last close of a month changed of the one before it.
func runCompare(ctx context.Context, a *app, period string) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		res, err := r.Restatement(ctx, y.Code, p)
		if err != nil {
			return err
		}
		return a.print(r, res)
	})
}
