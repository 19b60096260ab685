package book

import (
	"cmp"
	"context"
	"fmt"
	"iter"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/internal/screen/rules"
	"repose/ledger"
)

// Exception is an exception of the register with what became of it.
type Exception struct {
	screen.Exception
	Status ledger.ExceptionStatus

	// Settlement is the record that gave it its status; nil where it is open and nobody has said anything.
	Settlement *ledger.Record
	// Gone says that the records do not show it any more: what settled it has set them right. What is known of it
	// is what its settlement kept.
	Gone bool
}

// Settled returns what the settlement says; the zero Settlement where there is none.
func (e *Exception) Settled() ledger.Settlement {
	if e.Settlement == nil {
		return ledger.Settlement{}
	}
	return e.Settlement.Fact.(ledger.Settlement)
}

// Exceptions returns the register of a period: what the records show now, with every exception that was ever
// settled, in order of time.
func (r *Reader) Exceptions(ctx context.Context, yard string, p ledger.Period) ([]Exception, error) {
	d, err := r.screened(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	return r.register(ctx, d)
}

// screened returns the data that rules look at in a period.
func (r *Reader) screened(ctx context.Context, yard string, p ledger.Period) (*screen.Data, error) {
	var entries []*ledger.Entry
	m, err := r.Month(ctx, yard, p, collect(&entries))
	if err != nil {
		return nil, err
	}
	return r.dataOf(ctx, m, entries)
}

// collect keeps entries.
func collect(into *[]*ledger.Entry) func(*ledger.Entry) error {
	return func(e *ledger.Entry) error {
		*into = append(*into, e)
		return nil
	}
}

// dataOf returns the data that rules look at: a month with its entries, and the records that r knows.
func (r *Reader) dataOf(ctx context.Context, m *Month, entries []*ledger.Entry) (*screen.Data, error) {
	uncertain, err := measurementErrors(m)
	if err != nil {
		return nil, err
	}
	sigma := map[string]float64{}
	for id, e := range uncertain {
		sigma[id] = e.Sigma
	}
	return screen.NewData(screen.Input{Register: r.reg, Month: m.Month, Entries: entries, Sigma: sigma,
		Records: held(entries, r.view.Movements(ctx, m.Yard.Code, screen.Lead(m.Period, m.Zone), m.End().Add(screen.After)))})
}

// held yields records, and in the place of one that an entry has the entry's own, so that none is kept twice. Both come in
// the same order, but for late entries.
func held(entries []*ledger.Entry, records iter.Seq2[*ledger.Record, error]) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		i := 0
		for rec, err := range records {
			for i < len(entries) && entries[i].Flags&ledger.FlagLate != 0 {
				i++
			}
			if err == nil && i < len(entries) && entries[i].Record.Seq == rec.Seq {
				rec = entries[i].Record
				i++
			}
			if !yield(rec, err) {
				return
			}
		}
	}
}

func (r *Reader) register(ctx context.Context, d *screen.Data) ([]Exception, error) {
	found, err := screen.Run(d, rules.All())
	if err != nil {
		return nil, err
	}
	settled, err := r.settlements(ctx, d.Yard)
	if err != nil {
		return nil, err
	}
	var all []Exception
	for _, f := range found {
		e := Exception{Exception: f, Status: ledger.ExceptionOpen}
		if rec, ok := settled[f.ID]; ok {
			e.Settlement, e.Status = rec, rec.Fact.(ledger.Settlement).Status
			delete(settled, f.ID)
		}
		all = append(all, e)
	}
	for id, rec := range settled {
		s := rec.Fact.(ledger.Settlement)
		if month, err := screen.MonthOfID(id); err == nil && month == d.Month.Period {
			all = append(all, gone(rec, s))
		}
	}
	slices.SortFunc(all, func(a, b Exception) int { return a.Exception.Compare(b.Exception) })
	return all, nil
}

// gone returns an exception that only its settlement knows of.
func gone(rec *ledger.Record, s ledger.Settlement) Exception {
	e := Exception{Status: s.Status, Settlement: rec, Gone: true}
	e.ID, e.Rule, e.Pile, e.Mass, e.Time, e.Seen, e.Records = s.Exception, s.Rule, s.Pile, s.Mass, s.At, s.Seen, s.Records
	if i, ok := rules.Info(s.Rule); ok {
		e.Strength = i.Strength
	}
	return e
}

// settlements returns the settlement in force of every exception of a yard that has one.
func (r *Reader) settlements(ctx context.Context, yard string) (map[string]*ledger.Record, error) {
	last := map[string]*ledger.Record{}
	for rec, err := range r.view.Records(ctx, ledger.KindSettlementRecord) {
		if err != nil {
			return nil, err
		}
		s := rec.Fact.(ledger.Settlement)
		if held, ok := last[s.Exception]; rec.Yard == yard && (!ok || held.Revision < rec.Revision) {
			last[s.Exception] = rec
		}
	}
	return last, nil
}

// OpenPeriods returns the periods of a yard that are not sealed, from the first through that of an instant; the
// last sealed one where there is none.
func (r *Reader) OpenPeriods(ctx context.Context, yard string, now time.Time) ([]ledger.Period, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	if h.open == (ledger.Period{}) {
		return nil, nil
	}
	last, err := r.lastPeriod(ctx, h)
	if err != nil {
		return nil, err
	}
	if current := ledger.PeriodOf(now, h.zone); current.Before(last) {
		last = current
	}
	var open []ledger.Period
	for p := h.open; !last.Before(p); p = p.Next() {
		open = append(open, p)
	}
	if len(open) == 0 && len(h.seals) > 0 {
		open = append(open, h.last().Period)
	}
	return open, nil
}

// lastPeriod returns the month of the last record of a yard.
func (r *Reader) lastPeriod(ctx context.Context, h *history) (ledger.Period, error) {
	last, err := r.view.LastInstant(ctx, h.yard)
	if err != nil || last.IsZero() {
		return h.open, err
	}
	return ledger.PeriodOf(last, h.zone), nil
}

// IsExceptionID reports whether a text has the form of an exception's ID.
func IsExceptionID(id string) bool {
	_, err := screen.MonthOfID(id)
	return err == nil
}

// Exception returns one exception by its ID, with the records that it names and their neighbours: what the same
// instrument recorded just before and after the first of them.
func (r *Reader) Exception(ctx context.Context, yard, id string) (Exception, []Neighbour, error) {
	p, err := screen.MonthOfID(id)
	if err != nil {
		return Exception{}, nil, err
	}
	d, err := r.screened(ctx, yard, p)
	if err != nil {
		return Exception{}, nil, err
	}
	all, err := r.register(ctx, d)
	if err != nil {
		return Exception{}, nil, err
	}
	for _, e := range all {
		if e.ID == id {
			return e, neighbours(d, e), nil
		}
	}
	return Exception{}, nil, fmt.Errorf("exception %s: the register of %s does not have it", id, p)
}

// Neighbour is a record shown beside an exception.
type Neighbour struct {
	Record *ledger.Record
	Named  bool // by the exception itself
}

// neighbourCount is how many records of the same instrument are shown before the first record of an exception,
// and how many after its last.
const neighbourCount = 3

// neighbours returns the records that an exception names, and those of the same instrument around them, in order.
func neighbours(d *screen.Data, e Exception) []Neighbour {
	named := map[string]bool{}
	for _, id := range e.Records {
		named[id] = true
	}
	groups := map[string][]*ledger.Record{} // by instrument, as far as it is near a named record
	byInstrument(d, func(instrument string, rec *ledger.Record) { groups[instrument] = append(groups[instrument], rec) })
	var out []Neighbour
	for _, list := range groups {
		slices.SortStableFunc(list, (*ledger.Record).Compare)
		show := make([]bool, len(list))
		is := make([]bool, len(list))
		for i, rec := range list {
			if is[i] = named[rec.ID()]; is[i] {
				for k := max(i-neighbourCount, 0); k <= min(i+neighbourCount, len(list)-1); k++ {
					show[k] = true
				}
			}
		}
		for i, rec := range list {
			if show[i] {
				out = append(out, Neighbour{rec, is[i]})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Neighbour) int {
		return cmp.Or(cmp.Compare(a.Record.Fact.Kind(), b.Record.Fact.Kind()), a.Record.Compare(b.Record))
	})
	return out
}

// byInstrument hands on every movement of the data that an instrument recorded.
func byInstrument(d *screen.Data, use func(instrument string, rec *ledger.Record)) {
	for _, l := range d.Loads {
		use("loader "+l.Fact.Loader, l.Rec)
	}
	for _, t := range d.Deck {
		use("deck "+t.Fact.Deck, t.Rec)
	}
	for _, t := range d.Transfers {
		use("loader "+t.Fact.Loader, t.Rec)
	}
	for _, p := range d.Production {
		use("belt "+p.Fact.Belt, p.Rec)
	}
	for _, f := range d.Feeds {
		use("feed "+f.Fact.Instrument, f.Rec)
	}
	for _, r := range d.Returns {
		use("returns "+r.Fact.Instrument, r.Rec)
	}
	for _, s := range d.Surveys {
		use("survey "+s.Fact.Pile, s.Rec)
	}
}
