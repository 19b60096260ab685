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

func newStock(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "stock",
		Short: "What lies in the piles at an instant",
		Long: `Solids, water, as-is mass and moisture-adjusted mass of every pile: now, or at an instant (--at), and as
the book knew it at another (--known). An instant is a time with its offset, such as
2026-10-31T18:00:00Z, or a date or time of the yard's clock, such as 2026-10-31 or "2026-10-31 18:00". A date
means the end of that day.`,
		Example: `  repose stock
  repose stock --at 2026-10-31
  repose stock --at 2026-10-31 --known 2026-11-08 --json`,
		Args: exactly(0, "none"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runStock(cmd.Context(), a) },
	})
}

func runStock(ctx context.Context, a *app) error {
	return a.readRecent(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		at := a.atTime
		if at.IsZero() {
			at = a.now()
		}
		piles, err := r.Stock(ctx, a.yard, at)
		if err != nil {
			return err
		}
		var knownAt *time.Time
		if !a.knownAt.IsZero() {
			knownAt = &a.knownAt
		}
		s, err := report.NewStock(r.Register(), at, knownAt, piles)
		if err != nil {
			return err
		}
		return a.show(r, s)
	})
}

// zoneOf returns the clock that a bare time on the command line is read by: the named yard's, or the
// only one's, or UTC.
func (a *app) zoneOf(r *book.Reader) *time.Location {
	if y, err := r.Yard(a.yard); err == nil {
		if zone, ok := r.Register().Zone(y.Code); ok {
			return zone
		}
	}
	return time.UTC
}

// unit returns how masses are shown on the screen.
func (a *app) unit(r *book.Reader) report.Unit {
	if y, err := r.Yard(a.yard); err == nil {
		return report.YardUnit(y.Unit)
	}
	return report.YardUnit(ledger.UnitTonne)
}

// parseInstant reads an instant of the command line; a date is the last instant of its day. Empty text is
// the zero time.
func parseInstant(s string, zone *time.Location) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	for _, layout := range []string{time.RFC3339Nano, "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.UTC(), nil
		}
	}
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02T15:04:05", "2006-01-02 15:04", "2006-01-02T15:04"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return t.UTC(), nil
		}
	}
	if t, err := time.ParseInLocation("2006-01-02", s, zone); err == nil {
		return t.AddDate(0, 0, 1).Add(-1).UTC(), nil
	}
	return time.Time{}, usage(fmt.Errorf("instant %q: want a date such as 2026-10-31 or a time such as 2026-10-31T18:00:00Z", s))
}

// parsePeriod reads the period argument of a command.
func parsePeriod(s string) (ledger.Period, error) {
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		return p, usage(err)
	}
	return p, nil
}
