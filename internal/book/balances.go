package book

import (
	"context"

	"repose/internal/measure"
	"repose/ledger"
)

// Balances returns every balance of a yard whose survey ended in a period or before it: those of sealed
// months as their seals keep them, those of open months as they are derived.
func (r *Reader) Balances(ctx context.Context, yard string, through ledger.Period) ([]ledger.Balance, error) {
	balances, _, err := r.past(ctx, &Month{}, yard, through)
	return balances, err
}

// past returns the balances of a yard through a period, and the trucks that loaders and deck scales weighed. The month known is
// one that need not be derived; an empty one is none.
func (r *Reader) past(ctx context.Context, known *Month, yard string, through ledger.Period) (balances []ledger.Balance, months []measure.MonthPairs, err error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, nil, err
	}
	if last := ledger.PeriodOf(r.at, h.zone); !r.at.IsZero() && last.Before(through) {
		through = last
	}
	for _, s := range h.seals {
		if through.Before(s.Close.Period) {
			return balances, months, nil
		}
		sealed, pairs, err := r.sealedPast(ctx, s.Record)
		if err != nil {
			return nil, nil, err
		}
		for _, b := range sealed {
			if r.at.IsZero() || !b.At.After(r.at) {
				balances = append(balances, b)
			}
		}
		months = append(months, measure.MonthPairs{Period: s.Close.Period, Pairs: pairs})
	}
	if h.open == (ledger.Period{}) {
		return balances, months, nil
	}
	state, err := r.openingOf(ctx, h, h.open)
	if err != nil {
		return nil, nil, err
	}
	for p := h.open; !through.Before(p); p = p.Next() {
		m := known
		if known.Month == nil || known.Closed || known.Period != p {
			if m, err = r.derive(ctx, h, p, state, discard); err != nil {
				return nil, nil, err
			}
		}
		months = append(months, measure.MonthPairs{Period: p, Pairs: m.Pairs})
		for _, c := range m.Comparisons {
			if b, ok := c.Balance(); ok {
				balances = append(balances, b)
			}
		}
		state = m.Closing
	}
	return balances, months, nil
}

func (r *Reader) sealedPast(ctx context.Context, rec *ledger.Record) ([]ledger.Balance, ledger.Pairs, error) {
	lines := map[string][]string{}
	for _, kind := range []string{ledger.SealSurvey, ledger.SealStream, ledger.SealPair} {
		var err error
		if lines[kind], err = r.store.SealedLines(ctx, rec, kind); err != nil {
			return nil, nil, err
		}
	}
	balances, err := ledger.ParseBalances(lines[ledger.SealSurvey], lines[ledger.SealStream])
	if err != nil {
		return nil, nil, err
	}
	pairs, err := ledger.ParsePairs(lines[ledger.SealPair])
	return balances, pairs, err
}
