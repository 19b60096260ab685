package book

import (
	"context"

	"repose/ledger"
)

// Balances returns every balance of a yard whose survey ended in a period or before it: those of sealed
// months as their seals keep them, those of open months as they are derived.
func (r *Reader) Balances(ctx context.Context, yard string, through ledger.Period) ([]ledger.Balance, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	var balances []ledger.Balance
	for _, s := range h.seals {
		if through.Before(s.Close.Period) {
			return balances, nil
		}
		sealed, err := r.sealedBalances(ctx, yard, s.Close.Period)
		if err != nil {
			return nil, err
		}
		balances = append(balances, sealed...)
	}
	if h.open == (ledger.Period{}) {
		return balances, nil
	}
	state, err := r.openingOf(ctx, h, h.open)
	if err != nil {
		return nil, err
	}
	for p := h.open; !through.Before(p); p = p.Next() {
		m, err := r.derive(ctx, h, p, state, discard)
		if err != nil {
			return nil, err
		}
		for _, c := range m.Comparisons {
			if b, ok := c.Balance(); ok {
				balances = append(balances, b)
			}
		}
		state = m.Closing
	}
	return balances, nil
}

func (r *Reader) sealedBalances(ctx context.Context, yard string, p ledger.Period) ([]ledger.Balance, error) {
	surveys, err := r.store.SealedLines(ctx, yard, p, ledger.SealSurvey)
	if err != nil {
		return nil, err
	}
	streams, err := r.store.SealedLines(ctx, yard, p, ledger.SealStream)
	if err != nil {
		return nil, err
	}
	return ledger.ParseBalances(surveys, streams)
}
