package valuation_test

import (
	"fmt"
	"slices"

	"pgregory.net/rapid"

	"repose/internal/valuation"
	"repose/internal/value"
	"repose/ledger"
)

// yard is a book of yard Y, month by month: what is closed is handed on as a seal hands it on.
type yard struct {
	t       rapid.TB
	records []ledger.Record
	state   ledger.State
	sealed  map[string]*ledger.Entry // by record, nil for one that moved nothing
	before  *valuation.Closing
}

func newYard(t rapid.TB, facts ...ledger.Fact) *yard {
	t.Helper()
	y := &yard{t: t, state: ledger.NewState(), sealed: map[string]*ledger.Entry{}}
	y.add(ledger.Yard{Code: "Y", Name: "Test yard", Zone: "Europe/London", Unit: ledger.UnitTonne},
		ledger.Policy{Name: ledger.PolicyAdjust, Value: "always", From: at("2026-01-01 00:00")})
	y.add(facts...)
	return y
}

func (y *yard) add(facts ...ledger.Fact) {
	y.t.Helper()
	for _, f := range facts {
		r, err := ledger.NewRecord("Y", f)
		if err != nil {
			y.t.Fatal(err)
		}
		r.Seq = int64(len(y.records))
		y.records = append(y.records, r)
	}
}

// replace adds a fact that takes the place of the record with its own key.
func (y *yard) replace(f ledger.Fact) {
	y.t.Helper()
	y.add(f)
	last := &y.records[len(y.records)-1]
	last.Replaces, last.Revision = f.Key(), 1
}

// month is a derived month with its value.
type month struct {
	*valuation.Valuation
	book    *ledger.Month
	entries []*ledger.Entry
	in      valuation.Input
	reg     *ledger.Register
}

// try derives a month and puts it into money. What no closed month has entered is late and lies on it.
func (y *yard) try(period string) (month, error) {
	y.t.Helper()
	m := y.derive(period)
	var err error
	m.Valuation, err = m.tally().Value(m.in)
	return m, err
}

// value is try for a month that has a value.
func (y *yard) value(period string) month {
	y.t.Helper()
	m, err := y.try(period)
	if err != nil {
		y.t.Fatal(err)
	}
	return m
}

// close hands a month on to the next, its value by way of the lines of a seal.
func (y *yard) close(period string) month {
	y.t.Helper()
	m := y.value(period)
	for i := range y.records {
		if r := &y.records[i]; y.belongs(r, m.in) {
			y.sealed[r.ID()] = nil
		}
	}
	for _, e := range m.entries {
		y.sealed[e.Record.ID()] = e
	}
	y.state = m.book.Closing
	if m.Valuation == nil {
		return m
	}
	var err error
	if y.before, err = valuation.ParseClosing(m.Closing().SealLines()); err != nil {
		y.t.Fatal(err)
	}
	return m
}

// belongs reports whether a record lies on an open month: it is of it, or of an earlier one, and not sealed yet.
func (y *yard) belongs(r *ledger.Record, in valuation.Input) bool {
	if _, done := y.sealed[r.ID()]; done {
		return false
	}
	if c, ok := r.Fact.(ledger.Cost); ok {
		return !in.Period.Before(c.Period)
	}
	return !r.At.IsZero() && r.At.Before(in.Period.End(in.Zone))
}

func (y *yard) derive(period string) month {
	y.t.Helper()
	reg, err := ledger.NewRegister(y.records)
	if err != nil {
		y.t.Fatal(err)
	}
	zone, _ := reg.Zone("Y")
	m := month{reg: reg, in: valuation.Input{Register: reg, Yard: "Y", Period: monthOf(y.t, period), Zone: zone, Before: y.before}}
	var moves []*ledger.Record
	for i := range y.records {
		r := &y.records[i]
		if p, ok := r.Fact.(ledger.Price); ok {
			m.in.Prices = append(m.in.Prices, p)
		}
		if !y.belongs(r, m.in) || reg.Superseded(r) {
			continue
		}
		if _, ok := r.Fact.(ledger.Cost); ok {
			m.in.Costs = append(m.in.Costs, r)
		} else {
			moves = append(moves, r)
		}
	}
	slices.SortFunc(moves, (*ledger.Record).Compare)
	m.book, err = ledger.Derive(ledger.Input{Register: reg, Yard: "Y", Period: m.in.Period, Opening: y.state, Records: each(moves),
		Entered: func(id string) (*ledger.Entry, error) { return y.sealed[id], nil }}, func(e *ledger.Entry) error {
		m.entries = append(m.entries, e)
		return nil
	})
	if err != nil {
		y.t.Fatal(err)
	}
	m.in.Opening, m.in.Closing = m.book.Opening.Balances, m.book.Closing.Balances
	return m
}

// tally returns a tally of the month's entries.
func (m *month) tally() *valuation.Tally {
	t := valuation.NewTally(m.reg, m.book.Start())
	for _, e := range m.entries {
		t.Add(e)
	}
	return t
}

func each(records []*ledger.Record) func(func(*ledger.Record, error) bool) {
	return func(yield func(*ledger.Record, error) bool) {
		for _, r := range records {
			if !yield(r, nil) {
				return
			}
		}
	}
}

// figures writes every product of a month that anything is said of, one line for each lot: A sold -20.000 t -200.00.
func (m *month) figures() []string {
	lines := []string{}
	line := func(product, what string, l value.Lot) {
		if l != (value.Lot{}) {
			lines = append(lines, fmt.Sprintf("%s %s %v %s", product, what, l.Quantity, m.Currency.Format(l.Cost)))
		}
	}
	for _, l := range m.Lines {
		line(l.Product, "opening", l.Opening.Lot())
		for c, lot := range l.Moves {
			line(l.Product, value.Column(c).String(), lot)
		}
		line(l.Product, "closing", l.Closing.Lot())
	}
	return lines
}

// postings writes the journal: debit < credit amount.
func (m *month) postings() []string {
	lines := []string{}
	for _, j := range m.Journal {
		lines = append(lines, fmt.Sprintf("%v < %v %s", j.Debit, j.Credit, m.Currency.Format(j.Amount)))
	}
	return lines
}
