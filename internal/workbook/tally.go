package workbook

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"repose/internal/report"
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

// tallyEntries reads the entries of a close once.
func tallyEntries(ctx context.Context, c *report.Close) (*tally, error) {
	r := tallyReader{month: c.Month, traffic: make(map[ledger.PileID]*pileTraffic), losses: make(map[ledger.PileID]*pileLoss),
		tally: &tally{accounts: make(map[ledger.Account]*turnover), flows: make(map[ledger.PileID]*ledger.Flows),
			files: make(map[string]int), words: make(map[string]int), surveys: make([]surveyMark, len(c.Month.Comparisons))}}
	var err error
	if r.start, err = instantSerial(r.month.Start(), r.month.Zone); err != nil {
		return nil, err
	}
	for e, err := range c.Entries {
		if err == nil {
			err = r.add(e)
		}
		if err == nil && r.tally.entries%checkEvery == 0 {
			err = ctx.Err()
		}
		if err != nil {
			return nil, err
		}
	}
	r.passSurveys(nil)
	for i, cmp := range r.month.Comparisons {
		r.tally.surveys[i].end = *r.trafficOf(cmp.Pile)
	}
	return r.tally, nil
}

// tallyReader fills a tally.
type tallyReader struct {
	tally   *tally
	month   *ledger.Month
	start   float64 // of the month, as a serial
	passed  int     // comparisons whose survey lies behind
	traffic map[ledger.PileID]*pileTraffic
	losses  map[ledger.PileID]*pileLoss
}

func (r *tallyReader) lossOf(id ledger.PileID) *pileLoss {
	l, ok := r.losses[id]
	if !ok {
		_, begun := r.month.Opening.Bases[id]
		l = &pileLoss{begun: begun}
		r.losses[id] = l
	}
	return l
}

func (r *tallyReader) trafficOf(id ledger.PileID) *pileTraffic {
	t, ok := r.traffic[id]
	if !ok {
		t = new(pileTraffic)
		r.traffic[id] = t
	}
	return t
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
		m.atSurvey, m.since = *r.trafficOf(c.Pile), *r.lossOf(c.Pile)
		if c.HasDensity {
			*r.lossOf(c.Pile) = pileLoss{order: r.tally.entries, begun: true}
		}
		if t := r.tally.accounts[c.Pile.Account()]; t != nil {
			m.before = pileSolids{t.in.Solids, t.out.Solids}
		}
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
	serial, err := instantSerial(e.At(), r.month.Zone)
	if err != nil {
		return fmt.Errorf("entry %s: %w", e.Record.ID(), err)
	}
	rows := max(len(e.Legs), 1)
	t.rows += rows
	t.files[e.Record.Source.File] += rows
	if isLate(e, r.month.Start()) {
		t.late += rows
	}
	moisture := percent(e.Moisture.Percent()).f
	for range rows {
		t.hash.orders += int64(t.entries)
		t.hash.sourceRows += int64(e.Record.Source.Row)
		t.hash.moistures += fifteenDigits(moisture)
		t.hash.days += serial - r.start
	}
	for _, l := range e.Legs {
		if err := r.leg(l); err != nil {
			return fmt.Errorf("entry %s: %w", e.Record.ID(), err)
		}
	}
	return nil
}

func (r *tallyReader) leg(l ledger.Leg) error {
	t := r.tally
	t.words[movementOf(l)]++
	t.legs++
	if err := addTo(&t.moved, l.Amount); err != nil {
		return err
	}
	if err := addTo(&t.turnover(l.From).out, l.Amount); err != nil {
		return err
	}
	if err := addTo(&t.turnover(l.To).in, l.Amount); err != nil {
		return err
	}
	if id, ok := pileOf(l.To); ok {
		t.intoPile++
		if err := r.into(id, ledger.ColumnOf(l.From, true), l.Amount); err != nil {
			return err
		}
	}
	if id, ok := pileOf(l.From); ok {
		t.outOfPile++
		return r.into(id, ledger.ColumnOf(l.To, false), l.Neg())
	}
	return nil
}

// into counts one end of a leg that is a pile.
func (r *tallyReader) into(id ledger.PileID, col ledger.Column, a ledger.Amount) error {
	f, ok := r.tally.flows[id]
	if !ok {
		f = new(ledger.Flows)
		r.tally.flows[id] = f
	}
	if col != ledger.ColumnShrinkage {
		tr := r.trafficOf(id)
		tr.in += max(a.Solids, 0)
		tr.out += max(-a.Solids, 0)
	}
	r.lose(id, col, a.Solids)
	return addTo(&f[col], a)
}

// lose counts shrinkage that no survey found. A pile without a survey or an opening is counted from the first
// entry that moves it by anything else, as the ledger has it.
func (r *tallyReader) lose(id ledger.PileID, col ledger.Column, solids ledger.Mass) {
	l := r.lossOf(id)
	switch col {
	case ledger.ColumnExplained:
		l.explained -= solids
	case ledger.ColumnExpected:
		l.expected -= solids
	case ledger.ColumnShrinkage, ledger.ColumnWeather:
	default:
		if !l.begun {
			*l = pileLoss{order: r.tally.entries - 1, begun: true}
		}
	}
}

func (t *tally) turnover(a ledger.Account) *turnover {
	o, ok := t.accounts[a]
	if !ok {
		o = new(turnover)
		t.accounts[a] = o
	}
	return o
}

func addTo(sum *ledger.Amount, a ledger.Amount) error {
	s, err := sum.Add(a)
	*sum = s
	return err
}

func pileOf(a ledger.Account) (ledger.PileID, bool) {
	return ledger.PileID{Yard: a.Yard, Code: a.Name}, a.Kind == ledger.KindPile
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
