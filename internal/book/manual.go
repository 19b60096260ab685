package book

import (
	"context"
	"math"
	"slices"
	"time"

	"repose/internal/audit"
	"repose/internal/report"
	"repose/ledger"
)

// Screen looks through the entries that people made between the close before a month and its own, or until now where it is
// open: corrections, loads that were recorded anew, and what was decided about surveys.
func (r *Reader) Screen(ctx context.Context, yard string, p ledger.Period) (*report.Screen, error) {
	m, x, err := r.readThrough(ctx, yard, p, 0)
	if err != nil {
		return nil, err
	}
	return r.screenManual(ctx, m, x)
}

// screenManual is Screen of a month that was read through.
func (r *Reader) screenManual(ctx context.Context, m *Month, x *pass) (*report.Screen, error) {
	yard := m.Yard.Code
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	all, err := r.manual(ctx, m, h)
	if err != nil {
		return nil, err
	}
	for i, e := range all {
		id := ledger.PileID{Yard: yard, Code: e.Pile}
		if moved, ok := x.after[e.ID][id]; ok {
			all[i].PileAfter = new(m.Opening.Balances[id.Account()].Solids + moved)
		}
	}
	j := audit.Journal{Entries: all, Until: time.Unix(0, math.MaxInt64), Calendar: audit.Calendar{Zone: m.Zone,
		Staffed: func(at time.Time) (from, until time.Time, ok bool) { return r.reg.Staffed(yard, at) }}}
	i := h.sealed(m.Period)
	if i < 0 {
		i = len(h.seals)
	}
	if i > 0 {
		j.From = h.seals[i-1].Record.Recorded
	}
	if m.Closed {
		j.Until = m.Close.Recorded
	}
	screened := slices.DeleteFunc(slices.Clone(all), func(x audit.Manual) bool {
		return x.Recorded.Before(j.From) || !x.Recorded.Before(j.Until)
	})
	return report.NewScreen(yard, m.Period, screened, j.Screen()), nil
}

// manual returns every entry of a yard that a person made, with what is known of it in a month.
func (r *Reader) manual(ctx context.Context, m *Month, h *history) ([]audit.Manual, error) {
	var all []audit.Manual
	add := func(rec *ledger.Record, reason string) { all = append(all, r.manualOf(rec, reason, m, h)) }
	for rec, err := range r.view.Records(ctx, ledger.KindCorrectionRecord, ledger.KindAdjustmentRecord, ledger.KindSettlementRecord, ledger.KindDecisionRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Yard != h.yard {
			continue
		}
		switch f := rec.Fact.(type) {
		case ledger.Correction:
			add(rec, f.Reason)
		case ledger.Adjustment:
			add(rec, f.Reason)
		case ledger.Decision:
			if f.Take { // another content of the record counts since
				add(rec, f.Reason)
			}
		case ledger.Settlement:
			for _, id := range f.Wrote {
				wrote, err := r.store.ByID(ctx, id)
				if err != nil {
					return nil, err
				}
				if wrote.Fact.Kind() != ledger.KindCorrectionRecord && r.Knows(wrote) {
					add(wrote, f.Reason)
				}
			}
		}
	}
	return all, nil
}

func (r *Reader) manualOf(rec *ledger.Record, reason string, m *Month, h *history) audit.Manual {
	x := audit.Manual{ID: rec.ID(), Kind: rec.Fact.Kind().String(), By: rec.By, Recorded: rec.Recorded, At: rec.At, Reason: reason,
		Reverses: r.reg.Replaced(rec)}
	account := func(e ledger.End) string { return ledger.Account{Kind: e.Kind, Yard: rec.Yard, Name: e.Name}.String() }
	var net ledger.Mass
	from := ""
	switch f := rec.Fact.(type) {
	case ledger.Correction:
		x.From, x.To, x.Pile, net = account(f.From), account(f.To), f.Pile, f.Net
		if f.From.Kind == ledger.KindPile {
			from = f.From.Name
		}
	case ledger.Load:
		x.From, x.To, x.Pile, net, from = account(pileEnd(f.Pile)), account(ledger.End{Kind: ledger.KindOut, Name: f.Purpose.String()}), f.Pile, f.Net, f.Pile
	case ledger.Adjustment:
		x.Pile = f.Pile
		r.adjusted(&x, f, m)
	}
	id := ledger.PileID{Yard: rec.Yard, Code: x.Pile}
	if net > 0 {
		moisture, _ := r.reg.Moisture(id, rec.At)
		x.Mass = moisture.Split(net).Solids
		for _, c := range m.Comparisons {
			if c.Pile == id && !c.Survey.End.Before(rec.At) && c.HasDensity {
				x.SurveyMass = &c.Found.Solids
				if c.HasLimit {
					x.Limit = &c.Limit
				}
				break
			}
		}
	}
	if from != "" {
		for _, s := range r.reg.Surveys(ledger.PileID{Yard: rec.Yard, Code: from}, rec.At, time.Unix(0, math.MaxInt64)) {
			x.NextSurvey = s.Fact.(ledger.Survey).End
			break
		}
	}
	if !x.At.IsZero() {
		if i := h.sealed(ledger.PeriodOf(x.At, h.zone)); i >= 0 {
			x.Closed = h.seals[i].Record.Recorded
		}
	}
	return x
}

// adjusted adds what a decision about a survey did, where the survey is one of the month's. That it leaves the pile at the
// survey's figure is its purpose, so that no survey is named for it.
func (r *Reader) adjusted(x *audit.Manual, f ledger.Adjustment, m *Month) {
	if s, ok := r.reg.Survey(f.Survey); ok {
		x.At = s.End
	}
	for _, c := range m.Comparisons {
		if c.Record.ID() != f.Survey || !f.Take {
			continue
		}
		pile, unexplained := c.Pile.Account().String(), ledger.Account{Kind: ledger.KindShrinkage, Yard: c.Pile.Yard, Name: ledger.ShrinkageUnexplained}.String()
		x.From, x.To, x.Mass = pile, unexplained, c.Difference()
		if x.Mass < 0 {
			x.From, x.To, x.Mass = unexplained, pile, -x.Mass
		}
	}
}
