package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newClose(a *app) *cobra.Command {
	var dryRun, check, compare bool
	var waive, reason string
	c := &cobra.Command{
		Use:   "close PERIOD",
		Short: "Seal a month",
		Long: `Seals a month of a yard: its entries, balances, surveys and rules are stored with a hash over them and
the head of the log, and are never derived again. Records that arrive later for this month are entered in
the first open one and listed as late.

The close is refused, with every reason at once, while a record's pile is unknown, a pile lacks its survey
or a survey its density, a totaliser fell without a reason, a certificate has lapsed, a conflict is undecided,
numbers are missing that nobody has explained, or something waits for a second person. Where the yard's policy
says so, the book takes the survey's figure.

--check lists what stands in the way, with what would settle each: the list to watch in the days of a close.
--waive lets the close go on in spite of one, with a reason; it counts once another person has approved it.
Both are on record and in the workbook. Exit code 3 of --check says that something stands in the way.

--compare prints what the last close of a month that was opened again changed of the one before, and why.`,
		Example: `  repose close 2026-10 --check
  repose close 2026-10 --waive no-survey/TEN --reason "flown on 3 November, report to come"
  repose close 2026-10 --dry-run
  repose close 2026-10
  repose close 2026-10 --compare`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case check && waive != "" || compare && (check || waive != ""):
				return usage(errors.New("--check, --waive and --compare: want one of them"))
			case compare:
				return runCompare(cmd.Context(), a, args[0])
			case check:
				return runCheck(cmd.Context(), a, args[0])
			case waive != "" && (a.at != "" || a.known != ""):
				return usage(errAsOf)
			case waive != "" && strings.TrimSpace(reason) == "":
				return usage(errors.New("--reason: want why it is waived, in words"))
			case waive != "":
				return runWaive(cmd.Context(), a, args[0], waive, reason, dryRun)
			}
			if a.at != "" || a.known != "" {
				return usage(errAsOf)
			}
			return runClose(cmd.Context(), a, args[0], dryRun)
		},
	}
	c.Flags().BoolVar(&check, "check", false, "list what stands in the way, and close nothing")
	c.Flags().BoolVar(&compare, "compare", false, "print what the last close changed of the one before, and close nothing")
	c.Flags().StringVar(&waive, "waive", "", "let the close go on in spite of this `ID` of --check")
	c.Flags().StringVar(&reason, "reason", "", "why it is waived, in `words`")
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what the close would do, and change nothing")
	c.Flags().BoolVar(&a.json, "json", false, "print the reconciliation of the sealed month, the list or the comparison as JSON")
	return a.asOf(a.ofYard(c))
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
	r, err := book.ReadRecent(ctx, store, time.Time{})
	if err != nil {
		return err
	}
	y, err := r.Yard(a.yard)
	if err != nil {
		return err
	}
	bar := a.Progress("closing", -1, false)
	m, err := book.Close(ctx, store, book.Closing{Yard: y.Code, Period: p, By: a.person(), Now: a.now(), DryRun: dryRun,
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
