package cli

import (
	"context"
	"fmt"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
)

// gateList is what stands in the way of a close, in JSON.
type gateList struct {
	Schema int              `json:"schema"`
	Yard   string           `json:"yard"`
	Period string           `json:"period"`
	Ready  bool             `json:"ready"`
	Gates  []report.Problem `json:"gates"`
}

// runCheck lists what stands in the way of the close of a month, and what would settle each.
func runCheck(ctx context.Context, a *app, period string) error {
	return a.month(ctx, period, noEntries, func(r *book.Reader, m *book.Month) error {
		if m.Closed {
			return fmt.Errorf("%s of yard %s: %w", m.Period, m.Yard.Code, book.ErrClosed)
		}
		rec, err := r.Reconciliation(ctx, m)
		if err != nil {
			return err
		}
		list := gateList{Schema: report.Schema, Yard: m.Yard.Code, Period: m.Period.String(), Ready: true, Gates: []report.Problem{}}
		for _, p := range rec.Problems {
			if p.Blocks || p.WaivedBy != "" {
				list.Gates = append(list.Gates, p)
				list.Ready = list.Ready && !p.Blocks
			}
		}
		if a.json {
			err = printJSON(a.Out, list)
		} else {
			a.printGates(list)
		}
		if err == nil && !list.Ready {
			return errFound
		}
		return err
	})
}

func (a *app) printGates(list gateList) {
	open := 0
	for _, p := range list.Gates {
		if p.Blocks {
			open++
		}
		state := "in the way"
		if w := p.Waiver(); w != "" {
			state = w
		}
		fmt.Fprintf(a.Out, "%s  [%s]\n    %s\n    settled by %s\n", p.ID, state, p.Text, p.Settled)
	}
	switch {
	case open == 0:
		fmt.Fprintf(a.Out, "%s of yard %s: nothing stands in the way of a close.\n", list.Period, list.Yard)
	case open == 1:
		fmt.Fprintf(a.Out, "\n%s of yard %s: 1 thing stands in the way of a close.\n", list.Period, list.Yard)
	default:
		fmt.Fprintf(a.Out, "\n%s of yard %s: %d things stand in the way of a close.\n", list.Period, list.Yard, open)
	}
}

func runWaive(ctx context.Context, a *app, period, gate, reason string, dryRun bool) (err error) {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	g, err := book.Waive(ctx, store, book.Waiving{Yard: a.yard, Period: p, Gate: gate, Reason: reason, By: a.person(), Now: a.now(), DryRun: dryRun})
	if err != nil {
		return err
	}
	fmt.Fprintf(a.Out, "%s of %s is waived by %s: %s\nIt counts once another person has approved it: repose approve\n", g.ID(), p, a.person(), reason)
	if dryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}

// person names who runs the program: the account, and before it the name that they declare.
func (a *app) person() string {
	if a.as == "" {
		return a.user()
	}
	return fmt.Sprintf("%s (%s)", a.as, a.user())
}
