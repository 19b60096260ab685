package book

import (
	"context"
	"errors"
	"fmt"

	"repose/internal/report"
	"repose/internal/valuation"
	"repose/ledger"
)

// UnvaluedError says why a month of a yard that gives costs cannot be put into money.
type UnvaluedError struct {
	Yard   string
	Period ledger.Period
	Err    error
}

func (e *UnvaluedError) Error() string {
	return fmt.Sprintf("%s of yard %s has no value: %v", e.Period, e.Yard, e.Err)
}

func (e *UnvaluedError) Unwrap() error { return e.Err }

// ErrNoCosts says that a yard gives no costs, so that it sees tonnes only.
var ErrNoCosts = errors.New("no costs are on record: take in a table of costs, and see docs/tables.md")

// Value puts a month of a yard into money: a closed one with the costs that were known when it was closed.
func (r *Reader) Value(ctx context.Context, yard string, p ledger.Period) (*report.Value, error) {
	m, v, err := r.valued(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	if v == nil {
		return nil, fmt.Errorf("yard %s: %w", yard, ErrNoCosts)
	}
	return report.NewValue(m.Month, v, m.Closed), nil
}

// valued returns a month with its value; both are nil where the yard has never given a cost.
func (r *Reader) valued(ctx context.Context, yard string, p ledger.Period) (*Month, *valuation.Valuation, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, nil, err
	}
	known := r
	if i := h.sealed(p); i >= 0 {
		if known, err = r.reading(ctx, h.seals[i].Close.LogSize, r.at); err != nil {
			return nil, nil, err
		}
		if h, err = known.history(ctx, yard); err != nil {
			return nil, nil, err
		}
	}
	if gives, err := known.givesCosts(ctx, yard); err != nil || !gives {
		return nil, nil, err
	}
	t := valuation.NewTally(known.reg, p.Start(h.zone))
	m, err := r.month(ctx, yard, p, r.derive, tallied(t, discard))
	if err != nil {
		return nil, nil, err
	}
	v, err := known.value(ctx, h, m.Month, t)
	return m, v, err
}

// valueOf is Value for a month that has been read; nil where the yard has never given a cost.
func (r *Reader) valueOf(ctx context.Context, m *Month) (*report.Value, error) {
	if m.numbers == nil { // nothing was gathered of it
		x, err := r.Value(ctx, m.Yard.Code, m.Period)
		if errors.Is(err, ErrNoCosts) {
			err = nil
		}
		return x, err
	}
	if m.tally == nil {
		return nil, nil
	}
	h, err := r.history(ctx, m.Yard.Code)
	if err != nil {
		return nil, err
	}
	v, err := r.value(ctx, h, m.Month, m.tally)
	if err != nil || v == nil {
		return nil, err
	}
	return report.NewValue(m.Month, v, m.Closed), nil
}

// tallied counts entries on their way.
func tallied(t *valuation.Tally, emit func(*ledger.Entry) error) func(*ledger.Entry) error {
	return func(e *ledger.Entry) error {
		t.Add(e)
		return emit(e)
	}
}

// value puts a month whose entries were tallied into money, with what r knows. It is nil where the yard has never given
// a cost, and an *UnvaluedError where the costs do not give a value.
func (r *Reader) value(ctx context.Context, h *history, m *ledger.Month, t *valuation.Tally) (*valuation.Valuation, error) {
	costs, prices, err := r.costs(ctx, h, m.Period)
	if err != nil {
		return nil, err
	}
	before, err := r.valueBefore(ctx, h, m.Period)
	if err != nil {
		return nil, err
	}
	v, err := t.Value(valuation.Input{Register: r.reg, Yard: h.yard, Period: m.Period, Zone: h.zone, Opening: m.Opening.Balances,
		Closing: m.Closing.Balances, Costs: costs, Prices: prices, Before: before})
	if err != nil {
		return nil, &UnvaluedError{h.yard, m.Period, err}
	}
	return v, nil
}

// costs returns the costs that lie on a month: its own, and, on the first open one, those of earlier months that came too
// late for their close. Prices are all that there are.
func (r *Reader) costs(ctx context.Context, h *history, p ledger.Period) (costs []*ledger.Record, prices []ledger.Price, err error) {
	known := int64(0) // when the last close was made
	if len(h.seals) > 0 {
		known = h.last().LogSize
	}
	for rec, err := range r.view.Records(ctx, ledger.KindCostRecord, ledger.KindPriceRecord) {
		if err != nil {
			return nil, nil, err
		}
		if rec.Yard != h.yard || r.reg.Superseded(rec) {
			continue
		}
		switch f := rec.Fact.(type) {
		case ledger.Price:
			prices = append(prices, f)
		case ledger.Cost:
			if f.Period == p || p == h.open && f.Period.Before(p) && rec.Seq >= known {
				costs = append(costs, rec)
			}
		}
	}
	return costs, prices, nil
}

// valueBefore returns what the month before left; nil where it was not valued.
func (r *Reader) valueBefore(ctx context.Context, h *history, p ledger.Period) (*valuation.Closing, error) {
	if p == h.first {
		return nil, nil
	}
	if p != h.open {
		_, v, err := r.valued(ctx, h.yard, p.Previous())
		if err != nil || v == nil {
			return nil, err
		}
		return v.Closing(), nil
	}
	lines, err := r.store.SealedLines(ctx, h.seals[len(h.seals)-1].Record, valuation.SealKind)
	if err != nil {
		return nil, err
	}
	return valuation.ParseClosing(lines)
}

// valueGates finds why a month of a yard that gives costs has no value.
func (r *Reader) valueGates(ctx context.Context, m *Month) ([]ledger.Problem, error) {
	if m.tally == nil {
		return nil, nil
	}
	problem := func(subject, text string) []ledger.Problem {
		return []ledger.Problem{{Kind: ledger.ProblemValue, Subject: subject, Text: text}}
	}
	h, err := r.history(ctx, m.Yard.Code)
	if err != nil {
		return nil, err
	}
	v, err := r.value(ctx, h, m.Month, m.tally)
	var unvalued *UnvaluedError
	switch {
	case errors.As(err, &unvalued):
		return problem(m.Period.String(), unvalued.Err.Error()), nil
	case err != nil || v == nil:
		return nil, err
	case v.Uncosted:
		return problem("costs", fmt.Sprintf("%v were made in %s, and no cost of making is on record", v.Made, m.Period)), nil
	}
	return nil, nil
}

// givesCosts reports whether a yard has ever given a cost, so that no other yard's close takes longer for it.
func (r *Reader) givesCosts(ctx context.Context, yard string) (bool, error) {
	for rec, err := range r.view.Records(ctx, ledger.KindCostRecord) {
		if err != nil || rec.Yard == yard {
			return err == nil, err
		}
	}
	return false, nil
}
