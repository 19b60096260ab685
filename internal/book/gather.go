package book

import (
	"context"
	"iter"

	"repose/internal/screen"
	"repose/internal/screen/tickets"
	"repose/internal/valuation"
	"repose/ledger"
)

// gathered is what deriving an open month leaves beside it for what stands in the way of its close, so that nothing reads its
// records again. It is empty for other months.
type gathered struct {
	numbers *tickets.Numbers
	tally   *valuation.Tally // nil where the yard gives no costs
}

// gather is derive, and gathers on the way.
func (r *Reader) gather(ctx context.Context, h *history, p ledger.Period, opening ledger.State, emit func(*ledger.Entry) error) (*Month, error) {
	m := &Month{Register: r.reg, recent: r.recent, gathered: gathered{numbers: tickets.NewNumbers(h.yard, p, h.zone)}}
	gives, err := r.givesCosts(ctx, h.yard)
	if err != nil {
		return nil, err
	}
	if gives {
		m.tally = valuation.NewTally(r.reg, p.Start(h.zone))
		emit = tallied(m.tally, emit)
	}
	in := r.openRecords(ctx, h, p, opening)
	in.Records = noted(in.Records, func(rec *ledger.Record) {
		if !r.reg.Superseded(rec) {
			m.numbers.Add(rec)
		}
	})
	m.Month, err = ledger.Derive(in, emit)
	return m, err
}

// noted notes records on their way.
func noted(records iter.Seq2[*ledger.Record, error], note func(*ledger.Record)) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for rec, err := range records {
			if err == nil {
				note(rec)
			}
			if !yield(rec, err) {
				return
			}
		}
	}
}

// numbered returns the ticket numbers of an open month and of the month before it, which is read for them.
func (r *Reader) numbered(ctx context.Context, m *Month) (*tickets.Numbers, error) {
	return m.numbers, m.numbers.Precede(func(yield func(*ledger.Record, error) bool) {
		for rec, err := range r.view.Movements(ctx, m.Yard.Code, screen.Lead(m.Period, m.Zone), m.Start()) {
			if (err != nil || !r.reg.Superseded(rec)) && !yield(rec, err) {
				return
			}
		}
	})
}
