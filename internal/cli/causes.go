package cli

import (
	"context"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newCauses(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "causes [PERIOD]",
		Short: "Whether differences are real, and what could explain them",
		Long: `Takes the balances from survey to survey of the twelve months through a period (the last surveyed one),
with the measurement errors that the records state, and asks whether anything is more than measurement
error. It ranks what could explain the differences: stone that left a pile without a record, stone booked
to the wrong pile, a loader or belt that reads wrong, a density or a survey that is wrong.

Causes that the balances cannot tell apart are printed as one. A loss never stands without the density or
survey of its pile. Records, piles and instruments are named, never people.

Exit code 3 says that an alarm is raised.`,
		Example: `  repose causes
  repose causes 2026-10 --json`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.surveyed(cmd.Context(), args, func(r *book.Reader, y ledger.Yard, through ledger.Period) error {
				return runCauses(cmd.Context(), a, r, y, through)
			})
		},
	})
}

func runCauses(ctx context.Context, a *app, r *book.Reader, y ledger.Yard, through ledger.Period) error {
	c, err := r.Causes(ctx, y.Code, through)
	if err != nil {
		return err
	}
	if err := r.JoinExceptions(ctx, y.Code, through, c); err != nil {
		return err
	}
	if err := a.print(r, c); err != nil {
		return err
	}
	if c.Alarm {
		return errFound
	}
	return nil
}

// surveyed opens the book and hands its yard to use, with the period that the arguments name, or the last one that was
// surveyed.
func (a *app) surveyed(ctx context.Context, args []string, use func(*book.Reader, ledger.Yard, ledger.Period) error) error {
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		through, err := a.through(ctx, r, y, optional(args))
		if err != nil {
			return err
		}
		return use(r, y, through)
	})
}

// optional returns an argument that may be left out; "" where it was.
func optional(args []string) string {
	if len(args) == 0 {
		return ""
	}
	return args[0]
}

// through returns the period that is asked for, or the last one that was surveyed.
func (a *app) through(ctx context.Context, r *book.Reader, y ledger.Yard, period string) (ledger.Period, error) {
	if period != "" {
		return parsePeriod(period)
	}
	zone, _ := r.Register().Zone(y.Code)
	now := ledger.PeriodOf(a.now(), zone)
	if last, err := r.LastSurveyed(ctx, y.Code, now); err != nil || last != (ledger.Period{}) {
		return last, err
	}
	return now, nil
}
