package book

import (
	"context"
	"time"

	"repose/internal/report"
	"repose/ledger"
)

// Stock returns what lies in every pile of a yard, or of all yards where the code is empty, at an
// instant. What happened by then counts, whenever the book learnt of it.
func (r *Reader) Stock(ctx context.Context, yard string, at time.Time) ([]report.PileStock, error) {
	var piles []report.PileStock
	weighed := *r
	weighed.but = []ledger.Kind{ledger.KindDeckRecord} // evidence: it moves nothing
	r = &weighed
	for _, y := range r.reg.Yards() {
		if yard != "" && y.Code != yard {
			continue
		}
		balances, err := r.balancesAt(ctx, y.Code, at)
		if err != nil {
			return nil, err
		}
		listed := map[ledger.PileID]bool{}
		for _, id := range r.reg.Piles(y.Code, at, at.Add(1)) {
			listed[id] = true
			piles = append(piles, report.PileStock{Pile: id, Held: balances[id.Account()]})
		}
		for _, a := range balances.Accounts() {
			if id := (ledger.PileID{Yard: a.Yard, Code: a.Name}); a.Kind == ledger.KindPile && !listed[id] {
				piles = append(piles, report.PileStock{Pile: id, Held: balances[a]})
			}
		}
	}
	return piles, nil
}

// balancesAt returns every account of a yard as it stood at the end of an instant: the state before the
// instant's month, the entries of that month up to the instant, and what later months entered late.
func (r *Reader) balancesAt(ctx context.Context, yard string, at time.Time) (ledger.Balances, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	p := ledger.PeriodOf(at, h.zone)
	if h.first == (ledger.Period{}) {
		return ledger.Balances{}, nil
	}
	if p.Before(h.first) {
		p = h.first // late records of before may have been entered there
	}
	var balances ledger.Balances
	emit := func(e *ledger.Entry) error {
		if e.At().After(at) {
			return nil
		}
		return balances.Post(e.Legs...)
	}
	i := h.sealed(p)
	if i < 0 {
		state, err := r.openingOf(ctx, h, p)
		if err != nil {
			return nil, err
		}
		balances = state.Balances
		_, err = r.derive(ctx, h, p, state.Clone(), emit)
		return balances, err
	}
	state := ledger.NewState()
	if i > 0 {
		if state, err = r.store.SealedState(ctx, h.seals[i-1].Record); err != nil {
			return nil, err
		}
	}
	balances = state.Balances
	for _, s := range h.seals[i:] {
		for e, err := range r.store.SealedEntries(ctx, s.Record) {
			if err == nil {
				err = emit(e)
			}
			if err != nil {
				return nil, err
			}
		}
	}
	if state, err = r.openingOf(ctx, h, h.open); err != nil {
		return nil, err
	}
	_, err = r.derive(ctx, h, h.open, state, emit)
	return balances, err
}
