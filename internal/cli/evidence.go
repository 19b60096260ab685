package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/ledger"
)

// ofMonth runs a report of one month and prints it.
func (a *app) ofMonth(ctx context.Context, period string, make func(r *book.Reader, yard string, p ledger.Period) (printed, error)) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		x, err := make(r, y.Code, p)
		if err != nil {
			return err
		}
		return a.print(r, x)
	})
}

func newSequence(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "sequence PERIOD",
		Short: "Every series of numbers, and whether it is complete",
		Long: `For every series of ticket numbers: the first and the last, how many are there, missing and there again, and whether
that adds up. What is missing has an estimated mass, at the usual load of the series, and is an exception of its own:
see repose exceptions.

Exit code 3 says that a number is missing.`,
		Example: `  repose sequence 2026-10`,
		Args:    exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			missing := false
			err := a.ofMonth(cmd.Context(), args[0], func(r *book.Reader, yard string, p ledger.Period) (printed, error) {
				s, err := r.Sequences(cmd.Context(), yard, p)
				if err != nil {
					return nil, err
				}
				missing = s.Missing()
				return s, nil
			})
			if err == nil && missing {
				return errFound
			}
			return err
		},
	})
}

func newCutOff(a *app) *cobra.Command {
	var n int
	c := &cobra.Command{
		Use:   "cutoff PERIOD",
		Short: "Last and first tickets around the month's end and its surveys",
		Long: `For every instrument the last weighings before the end of the month and the first after it, each with the month in
which it was entered and the month to which it belongs; the same around the instant of every survey, for the survey's
pile; and the trucks that had been loaded before and were weighed out after. What was entered in another month than
it belongs to is marked (!).`,
		Example: `  repose cutoff 2026-10
  repose cutoff 2026-10 --tickets 5 --json`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.ofMonth(cmd.Context(), args[0], func(r *book.Reader, yard string, p ledger.Period) (printed, error) {
				return r.CutOff(cmd.Context(), yard, p, n)
			})
		},
	}
	c.Flags().IntVar(&n, "tickets", 10, "how `many` on either side")
	return a.reading(c)
}

func newRoll(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "roll PERIOD",
		Short: "From surveys to the month's end, forward and back",
		Long: `Carries what each survey of the month found to the month's end, by what moved since; and what each survey of the next
month found back to it, by what moved until then. Each line says how many records it sums. Beside both stands the
book: a survey at another date than the balance sheet's is good evidence as far as these lines are.`,
		Example: `  repose roll 2026-10`,
		Args:    exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.ofMonth(cmd.Context(), args[0], func(r *book.Reader, yard string, p ledger.Period) (printed, error) {
				return r.Rolls(cmd.Context(), yard, p)
			})
		},
	})
}

func newScreen(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "screen PERIOD",
		Short: "Look through the entries that people made",
		Long: `Flags entries that people made, and no instrument, between the close before the month and its own: at the month's
edge, after the close, round, without a reason, by a seldom writer, out of hours, between seldom accounts, to exactly
nothing, the survey or the limit, reversed soon, split, or out of a pile just before its survey. What is usual is told
from the twelve months before. A flag says what to look at, and of nobody that it is wrong.`,
		Example: `  repose screen 2026-10`,
		Args:    exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.ofMonth(cmd.Context(), args[0], func(r *book.Reader, yard string, p ledger.Period) (printed, error) {
				return r.Screen(cmd.Context(), yard, p)
			})
		},
	})
}

func newSensitivity(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "sensitivity PERIOD",
		Short: "What one per cent of volume, density, moisture or belt does",
		Long: `Reckons the closing figure of every pile again with its volume, its density, its moistures and its belts one per cent
more and less, by the same formulas and roundings, and once by the derivative, as a second route. A figure that the
book took from a survey rests on volume and density; every figure rests on what was weighed since.`,
		Example: `  repose sensitivity 2026-10`,
		Args:    exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.ofMonth(cmd.Context(), args[0], func(r *book.Reader, yard string, p ledger.Period) (printed, error) {
				return r.Sensitivity(cmd.Context(), yard, p)
			})
		},
	})
}

func newDepletion(a *app) *cobra.Command {
	var below string
	c := &cobra.Command{
		Use:   "depletion PERIOD",
		Short: "Piles that ran empty, against their book",
		Long: `When a pile is loaded to nothing, what its book still holds is known without a volume, a density or a moisture: it is
what all weighings together got wrong, and what left without one. This lists every such time through a month: where
a survey found nothing, or the book itself fell to --below or less.`,
		Example: `  repose depletion 2026-10
  repose depletion 2026-10 --below "20 t"`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			limit, err := parseMass(below)
			if err != nil {
				return err
			}
			return a.ofMonth(cmd.Context(), args[0], func(r *book.Reader, yard string, p ledger.Period) (printed, error) {
				return r.Depletion(cmd.Context(), yard, p, limit)
			})
		},
	}
	c.Flags().StringVar(&below, "below", "0 t", "the `mass` at which the book counts as empty")
	return a.reading(c)
}

// parseMass reads a mass with its unit, such as "20 t".
func parseMass(s string) (ledger.Mass, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(s), " ")
	u, err := ledger.ParseMassUnit(unit)
	if err != nil {
		return 0, usage(err)
	}
	m, err := ledger.ParseMass(number, u)
	if err != nil {
		return 0, usage(err)
	}
	return m, nil
}
