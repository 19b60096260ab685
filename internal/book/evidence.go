package book

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"repose/internal/audit"
	"repose/internal/report"
	"repose/internal/screen"
	"repose/ledger"
)

// cutOffAfter is how long after a month its first movements are looked for.
const cutOffAfter = 31 * 24 * time.Hour

// CutOff returns the last n and first n weighings of every instrument around the end of a month and around each survey
// that ended in it, and the trucks that were loaded before and weighed out after.
func (r *Reader) CutOff(ctx context.Context, yard string, p ledger.Period, n int) (*report.CutOff, error) {
	m, x, err := r.readThrough(ctx, yard, p, math.MaxInt)
	if err != nil {
		return nil, err
	}
	d, err := r.dataOf(ctx, m, x.entries)
	if err != nil {
		return nil, err
	}
	return r.cutOff(ctx, m, x, d, n)
}

// cutOff is CutOff of a month that was read through. d is nil where its trucks were not matched.
func (r *Reader) cutOff(ctx context.Context, m *Month, x *pass, d *screen.Data, n int) (*report.CutOff, error) {
	var pairs []audit.Pair
	if d != nil {
		for _, p := range d.Match.Pairs {
			pairs = append(pairs, audit.Pair{Loader: r.weighed(d.MatchLoads[p.Load].Rec), Deck: r.weighed(d.MatchDeck[p.Deck].Rec)})
		}
	}
	cuts := []*around{newAround("End of "+m.Period.String(), audit.PeriodEnd(m.Period, m.Zone), "", n)}
	for _, c := range m.Comparisons {
		cuts = append(cuts, newAround(fmt.Sprintf("Survey %s of pile %s", c.Survey.Survey, c.Pile.Code), audit.Cut{At: c.Survey.End, Kind: audit.CutSurvey}, c.Pile.Code, n))
	}
	if err := r.weighings(ctx, m, func(w audit.Movement) {
		w.Mass += x.read[w.ID]
		for _, c := range cuts {
			c.add(w)
		}
	}); err != nil {
		return nil, err
	}
	out := report.NewCutOff(m.Yard.Code, m.Period, m.Zone)
	for _, c := range cuts {
		trucks := slices.DeleteFunc(slices.Clone(pairs), func(p audit.Pair) bool { return c.pile != "" && p.Loader.Pile != c.pile })
		straddling, mass, err := audit.Straddling(c.cut, trucks)
		if err != nil {
			return nil, err
		}
		out.Add(c.what, c.cut, audit.NewCutOff(c.cut, m.Zone, n, c.movements()), straddling, mass)
	}
	return out, nil
}

// around keeps of many movements, in order of time, the last n before a cut and the first n after it, by instrument.
type around struct {
	what   string
	cut    audit.Cut
	pile   string // of a survey; empty for all
	n      int
	before map[string][]audit.Movement
	after  map[string][]audit.Movement
}

func newAround(what string, cut audit.Cut, pile string, n int) *around {
	return &around{what, cut, pile, n, map[string][]audit.Movement{}, map[string][]audit.Movement{}}
}

func (a *around) add(w audit.Movement) {
	switch {
	case a.pile != "" && w.Pile != a.pile:
	case a.cut.Takes(w.At):
		list := append(a.before[w.Instrument], w)
		if len(list) > 2*a.n { // not at every step: the rest is cut off by NewCutOff
			list = append(list[:0], list[len(list)-a.n:]...)
		}
		a.before[w.Instrument] = list
	case len(a.after[w.Instrument]) < a.n:
		a.after[w.Instrument] = append(a.after[w.Instrument], w)
	}
}

func (a *around) movements() []audit.Movement {
	var all []audit.Movement
	for _, by := range []map[string][]audit.Movement{a.before, a.after} {
		for _, list := range by {
			all = append(all, list...)
		}
	}
	return all
}

// weighings hands on what instruments weighed in a month and in the days after it, in order of time, with the period in
// which each is entered.
func (r *Reader) weighings(ctx context.Context, m *Month, use func(audit.Movement)) error {
	h, err := r.history(ctx, m.Yard.Code)
	if err != nil {
		return err
	}
	known := int64(-1)
	if m.Closed && r.size > m.Close.Seq { // else r knows the book as it was before that close
		known = m.Close.Fact.(ledger.Close).LogSize
	}
	for rec, err := range r.view.Movements(ctx, m.Yard.Code, m.Start(), m.End().Add(cutOffAfter)) {
		if err != nil {
			return err
		}
		x := r.weighed(rec)
		if x.Instrument == "" || r.reg.Superseded(rec) {
			continue
		}
		if x.Period = ledger.PeriodOf(rec.At, m.Zone); known >= 0 && rec.Seq >= known && rec.At.Before(m.End()) {
			e, err := r.view.SealedEntry(ctx, rec.ID(), h.seals)
			if err != nil {
				return err
			}
			if x.Period = h.open; e != nil {
				x.Period = e.Period
			}
		}
		use(x)
	}
	return nil
}

// weighed returns a record as a weighing of an instrument, with its solids at the moisture in force; without an instrument
// where it is none.
func (r *Reader) weighed(rec *ledger.Record) audit.Movement {
	x := audit.Movement{ID: rec.ID(), At: rec.At}
	var net ledger.Mass
	switch f := rec.Fact.(type) {
	case ledger.Load:
		if f.Void {
			return x
		}
		x.Instrument, x.Ticket, x.Pile, net = "loader "+f.Loader, f.Ticket, f.Pile, f.Net
	case ledger.DeckTicket:
		if f.Void {
			return x
		}
		x.Instrument, x.Ticket, net = "deck "+f.Deck, f.Ticket, f.Net
		x.Mass = net // a deck ticket names no pile, so that nothing parts its water
		return x
	case ledger.Transfer:
		x.Instrument, x.Ticket, x.Pile, net = "loader "+f.Loader, f.Ticket, f.From, f.Net
	case ledger.Production:
		x.Instrument, x.Pile, net = "belt "+f.Belt, f.Pile, f.Net
		if f.IsReading {
			x.Ticket = "reading " + f.Reading.Tonnes() + " t"
		}
	case ledger.Feed:
		x.Instrument, x.Pile, net = "feed "+f.Instrument, f.Pile, f.Net
	case ledger.Return:
		x.Instrument, x.Ticket, x.Pile, net = "returns "+f.Instrument, f.Ticket, f.Pile, f.Net
	default:
		return x
	}
	moisture, _ := r.reg.Moisture(ledger.PileID{Yard: rec.Yard, Code: x.Pile}, rec.At)
	x.Mass = moisture.Split(net).Solids
	return x
}

// Rolls carries the surveys of a month forward to its end, and those of the next month back to it.
func (r *Reader) Rolls(ctx context.Context, yard string, p ledger.Period) (*report.Rolls, error) {
	m, x, err := r.readThrough(ctx, yard, p, 0)
	if err != nil {
		return nil, err
	}
	out := report.NewRolls(yard, p, m.Zone)
	if err := addRolls(out, m, m, x); err != nil {
		return nil, err
	}
	last, err := r.view.LastInstant(ctx, yard)
	if err != nil || last.Before(m.End()) {
		return out, err
	}
	next, after, err := r.readThrough(ctx, yard, p.Next(), 0)
	if err != nil {
		return nil, err
	}
	return out, addRolls(out, m, next, after)
}

// addRolls carries the surveys of one month to the end of another, which is the same or the one before.
func addRolls(out *report.Rolls, to, of *Month, x *pass) error {
	end := audit.PeriodEnd(to.Period, to.Zone)
	for _, id := range of.Piles {
		c := of.Final(id)
		if c == nil || !c.HasDensity {
			continue
		}
		roll, err := audit.NewRoll(id.Code, audit.Cut{At: c.Survey.End, Kind: audit.CutSurvey}, c.Found.Solids, end, x.carriedOf(id))
		if err != nil {
			return err
		}
		out.Add(c.Survey.Survey, roll, to.Closing.Balances[id.Account()].Solids)
	}
	return nil
}

// Sensitivity returns what one step of each quantity does to the closing figure of every pile of a month.
func (r *Reader) Sensitivity(ctx context.Context, yard string, p ledger.Period) (*report.Sensitivity, error) {
	m, x, err := r.readThrough(ctx, yard, p, 0)
	if err != nil {
		return nil, err
	}
	return sensitivityOf(m, x)
}

func sensitivityOf(m *Month, x *pass) (*report.Sensitivity, error) {
	out := report.NewSensitivity(m.Yard.Code, m.Period)
	for _, id := range m.Piles {
		product := m.Register.Pile(id, m.End().Add(-1)).Product
		info, _ := m.Register.Product(product)
		closing := audit.Closing{Pile: id.Code, Product: product, Reference: info.Reference}
		from := m.Start().Add(-1)
		rest := m.Closing.Balances[id.Account()].Solids // less what is counted below: what no weighing brought
		if c := m.Final(id); c != nil && c.Outcome == ledger.OutcomeTakeSurvey {
			closing.Survey = &audit.Measured{Survey: c.Survey, Density: c.Density}
			from = c.Survey.End
			rest -= c.Found.Solids
		}
		closing.Weighings = x.weighingsAfter(id, from)
		for _, w := range closing.Weighings {
			rest -= w.Moisture.Split(w.Wet).Solids
		}
		switch {
		case closing.Survey == nil:
			closing.Base = rest
		case rest != 0: // an allowance or a correction since the survey: dry, and of no instrument
			closing.Weighings = append(closing.Weighings, audit.Weighing{Wet: rest})
		}
		s, err := closing.Sensitivity()
		if err != nil {
			return nil, err
		}
		out.Add(s, closing.Survey)
	}
	return out, nil
}
