package workbook

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"repose/ledger"
)

// tally is what one reading of a month's entries comes to: the number of rows, which must be declared
// before the first is written, and the results of the formulas over them. None of it is taken from the
// totals of the ledger, so that the two can be held against each other.
type tally struct {
	entries             int
	rows                int // one for each leg, and one for an entry without legs
	late                int // rows of late entries
	legs                int
	outOfPile, intoPile int // legs
	moved               ledger.Amount
	hash                hashTotals
	accounts            map[ledger.Account]*turnover
	flows               map[ledger.PileID]*ledger.Flows
	files               map[string]int // rows by SHA-256 of the source file
	words               map[string]int // rows by movement
	tests               []ledger.MoistureTest
	surveys             []surveyMark // one for each comparison of the month
}

// hashTotals are sums that mean nothing and change with every single cell of their column.
type hashTotals struct {
	orders, sourceRows int64
	moistures          float64 // fractions
	days               float64 // from the start of the month
}

// turnover is what went into an account and out of it, each without sign.
type turnover struct{ in, out ledger.Amount }

// surveyMark is where a survey stands among the entries, and what moved on either side of it.
type surveyMark struct {
	order         int         // of the last entry before it
	before        pileSolids  // since the start of the month
	atSurvey, end pileTraffic // running totals of the pile
	since         pileLoss    // shrinkage of the pile since its base, as far as it is of this month
}

// pileLoss is what a pile lost as shrinkage that no survey found, since the survey before or since its opening.
type pileLoss struct {
	order               int // of the last entry before that began; 0 where it began before the month
	begun               bool
	explained, expected ledger.Mass
}

// pileSolids is what came into a pile and went out of it.
type pileSolids struct{ in, out ledger.Mass }

// pileTraffic is the same without what adjustments to surveys moved.
type pileTraffic pileSolids

// after returns what came and went between the survey and the end of the month, adjustments aside.
func (m surveyMark) after() pileSolids {
	return pileSolids{m.end.in - m.atSurvey.in, m.end.out - m.atSurvey.out}
}

// tallyReader fills a tally.
type tallyReader struct {
	tally  *tally
	month  *ledger.Month
	clock  *clock
	begins time.Time // the month
	start  float64   // the same as a serial
	passed int       // comparisons whose survey lies behind
	ends   map[ledger.Account]*legEnd
}

// legEnd is what is counted of an account at one end of a leg.
type legEnd struct {
	*turnover
	moved bool     // by a leg, where a survey may only ask
	pile  *pileEnd // nil of what is no pile
}

// pileEnd is what is counted of a pile.
type pileEnd struct {
	flows   ledger.Flows
	traffic pileTraffic
	loss    pileLoss
}

func newTallyReader(m *ledger.Month) (*tallyReader, error) {
	r := &tallyReader{month: m, begins: m.Start(), clock: newClock(m.Zone), ends: make(map[ledger.Account]*legEnd),
		tally: &tally{accounts: make(map[ledger.Account]*turnover), flows: make(map[ledger.PileID]*ledger.Flows),
			files: make(map[string]int), words: make(map[string]int), surveys: make([]surveyMark, len(m.Comparisons))}}
	start, err := r.clock.serial(r.begins.UnixMilli())
	r.start = start.days()
	return r, err
}

// end completes the tally.
func (r *tallyReader) end() *tally {
	r.passSurveys(nil)
	for i, cmp := range r.month.Comparisons {
		r.tally.surveys[i].end = r.endOf(cmp.Pile.Account()).pile.traffic
	}
	for a, e := range r.ends {
		if !e.moved {
			continue
		}
		r.tally.accounts[a] = e.turnover
		if e.pile != nil {
			r.tally.flows[ledger.PileID{Yard: a.Yard, Code: a.Name}] = &e.pile.flows
		}
	}
	return r.tally
}

// endOf returns what is counted of an account.
func (r *tallyReader) endOf(a ledger.Account) *legEnd {
	e, ok := r.ends[a]
	if !ok {
		e = &legEnd{turnover: new(turnover)}
		if a.Kind == ledger.KindPile {
			id := ledger.PileID{Yard: a.Yard, Code: a.Name}
			_, begun := r.month.Opening.Bases[id]
			e.pile = &pileEnd{loss: pileLoss{begun: begun}}
		}
		r.ends[a] = e
	}
	return e
}

// passSurveys marks the surveys that stand before a record in the order of entering; nil is the end. A
// survey's own entry, by which the book takes its figure, comes after the survey.
func (r *tallyReader) passSurveys(rec *ledger.Record) {
	for ; r.passed < len(r.month.Comparisons); r.passed++ {
		c := r.month.Comparisons[r.passed]
		if rec != nil && rec.Compare(c.Record) < 0 {
			return
		}
		m := &r.tally.surveys[r.passed]
		m.order = r.tally.entries
		e := r.endOf(c.Pile.Account())
		m.atSurvey, m.since = e.pile.traffic, e.pile.loss
		if c.HasDensity {
			e.pile.loss = pileLoss{order: r.tally.entries, begun: true}
		}
		m.before = pileSolids{e.in.Solids, e.out.Solids}
	}
}

// add counts one entry.
func (r *tallyReader) add(e *ledger.Entry) error {
	r.passSurveys(e.Record)
	t := r.tally
	t.entries++
	if test, ok := e.Record.Fact.(ledger.MoistureTest); ok {
		t.tests = append(t.tests, test)
	}
	at, err := r.clock.serial(e.At().UnixMilli())
	if err != nil {
		return fmt.Errorf("entry %s: %w", e.Record.ID(), err)
	}
	rows := max(len(e.Legs), 1)
	t.rows += rows
	t.files[e.Record.Source.File] += rows
	if isLate(e, r.begins) {
		t.late += rows
	}
	percent := e.Moisture.Percent()
	moisture, days := hundredth(percent), at.days()-r.start
	if percent.NumDigits() > 15 { // or it is kept as it is
		moisture = fifteenDigits(moisture)
	}
	for range rows {
		t.hash.orders += int64(t.entries)
		t.hash.sourceRows += int64(e.Record.Source.Row)
		t.hash.moistures += moisture
		t.hash.days += days
	}
	for i := range e.Legs {
		if err := r.leg(&e.Legs[i]); err != nil {
			return fmt.Errorf("entry %s: %w", e.Record.ID(), err)
		}
	}
	return nil
}

func (r *tallyReader) leg(l *ledger.Leg) error {
	t := r.tally
	t.words[movementOf(*l)]++
	t.legs++
	from, to := r.endOf(l.From), r.endOf(l.To)
	from.moved, to.moved = true, true
	if err := errors.Join(addTo(&t.moved, l.Amount), addTo(&from.out, l.Amount), addTo(&to.in, l.Amount)); err != nil {
		return err
	}
	if to.pile != nil {
		t.intoPile++
		if err := to.pile.add(ledger.ColumnOf(l.From, true), l.Amount, t.entries); err != nil {
			return err
		}
	}
	if from.pile != nil {
		t.outOfPile++
		return from.pile.add(ledger.ColumnOf(l.To, false), l.Neg(), t.entries)
	}
	return nil
}

// add counts what an entry, by its place among them, brings to the pile, or takes from it if negative.
func (p *pileEnd) add(col ledger.Column, a ledger.Amount, entry int) error {
	if col != ledger.ColumnShrinkage {
		p.traffic.in += max(a.Solids, 0)
		p.traffic.out += max(-a.Solids, 0)
	}
	p.lose(col, a.Solids, entry)
	return addTo(&p.flows[col], a)
}

// lose counts shrinkage that no survey found. A pile without a survey or an opening is counted from the first
// entry that moves it by anything else, as the ledger has it.
func (p *pileEnd) lose(col ledger.Column, solids ledger.Mass, entry int) {
	switch col {
	case ledger.ColumnExplained:
		p.loss.explained -= solids
	case ledger.ColumnExpected:
		p.loss.expected -= solids
	case ledger.ColumnShrinkage, ledger.ColumnWeather:
	default:
		if !p.loss.begun {
			p.loss = pileLoss{order: entry - 1, begun: true}
		}
	}
}

func addTo(sum *ledger.Amount, a ledger.Amount) error {
	s, err := sum.Add(a)
	*sum = s
	return err
}

// isLate reports whether an entry's record happened before the month that it is entered in.
func isLate(e *ledger.Entry, start time.Time) bool { return e.At().Before(start) }

// flowOf returns what the entries did to a pile.
func (t *tally) flowOf(id ledger.PileID) ledger.Flows {
	if f := t.flows[id]; f != nil {
		return *f
	}
	return ledger.Flows{}
}

// movedAccounts returns the accounts that entries touch, in order.
func (t *tally) movedAccounts() []ledger.Account {
	accounts := make([]ledger.Account, 0, len(t.accounts))
	for a := range t.accounts {
		accounts = append(accounts, a)
	}
	slices.SortFunc(accounts, ledger.Account.Compare)
	return accounts
}

// sumError bounds how far a spreadsheet's sum over the entries may lie from the exact one, as roundingOf does.
func (t *tally) sumError(total float64) int64 { return roundingOf(t.rows, total) }

// roundingOf bounds how far a spreadsheet's sum of rows may lie from the exact one: every addition rounds a
// partial sum, which never passes the total of the sizes, by at most 2^-53 of itself (Higham, Accuracy and
// Stability of Numerical Algorithms, section 4.2; from memory). The result is in the unit of total, rounded to a
// whole number.
func roundingOf(rows int, total float64) int64 {
	return int64(math.Round(float64(rows) * math.Abs(total) * 0x1p-53))
}
