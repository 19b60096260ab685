package workbook

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"repose/internal/report"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// programName is what the file says it was made by. There is no version in it: the same close must give
// the same bytes from every version that computes the same.
const programName = "Repose"

// Write writes the workbook of one month of one yard to w: every figure of the close as a live formula
// over the entries, with the ledger's own figure beside it. All fields of c must be set, but for Seal,
// ClosedBy and ClosedAt of an open month, for Causes where no survey follows another yet, and for Screening where the register was
// not looked through. The entries are read once and never held together.
//
// The same close gives the same bytes.
func Write(ctx context.Context, w io.Writer, c *report.Close) error {
	b, err := declareClose(ctx, c, maxSheetRows)
	if err != nil {
		return err
	}
	return b.write(ctx, w)
}

// closeBook declares the sheets of a close. Its tables are set in the order in which they are declared;
// each may refer to those before it.
type closeBook struct {
	book  *book
	close *report.Close
	month *ledger.Month
	start time.Time // of the month
	tally *tally
	names *names
	piles []pileLine
	files map[string]int // index among the close's files, by SHA-256

	massWidth float64 // of columns of masses, by the largest figure
	money     *money  // nil where the yard gives no costs
	checks    []checkRow

	params     *parameters
	written    *longRows // of entries
	entries    *table
	roll       map[string]*table // roll-forwards of solids and of water, by name of the facet
	lead       *table
	bookSurvey *table
	throughput *table
	limits     *table
	history    *table
	monthly    *table        // z by month
	balances   []historyLine // rows of history
	days       *table
	screening  *screening // nil where the register was not looked through
	ownStock   *table     // the yard's own stone, pile by pile
	acts       *table     // what people did; nil where nobody asked
	badActs    int        // of them, those without the second person that they need
	weighings  *table     // beside cuts; nil where nobody asked
	badCuts    int        // of them, those that are entered in another month than they belong to
	cover      *table
	coverHead  int // row of the cover that states the head of the log
}

// pileLine is a pile of the month.
type pileLine struct {
	report.RollForwardLine
	key     string
	product string        // key of the product
	owner   string        // key of the owner
	flows   ledger.Flows  // what the entries did, where RollForwardLine says what the ledger counted
	closing ledger.Amount // opening and flows

	reference   ledger.DryBasis // of the product
	adjusted    decimal.Decimal // closing solids at the reference moisture as formulas give them, in grams
	ownAdjusted ledger.Mass     // the ledger's own, rounded to the gram
}

// declareClose reads the entries once and declares the workbook on sheets of a number of rows.
func declareClose(ctx context.Context, c *report.Close, sheetRows int) (*book, error) {
	b := newBook(closeProperties(c))
	b.sheetRows = sheetRows
	d := &closeBook{book: b, close: c, month: c.Month, start: c.Month.Start(), names: newNames(), files: make(map[string]int)}
	d.namePiles()
	if err := d.readEntries(ctx); err != nil {
		return nil, errors.Join(err, b.close())
	}
	if err := d.collect(); err != nil {
		return nil, errors.Join(err, b.close())
	}
	d.declare()
	return b, nil
}

// declare declares the sheets in the order in which they stand, and then their content in the order in
// which formulas need it.
func (d *closeBook) declare() {
	b := d.book
	cover := b.sheet("Cover", "Stockpile close "+d.month.Period.String())
	checks := b.sheet("Checks", "Checks")
	lead := b.sheet("Lead", "Lead schedule by product")
	charts := b.sheet("Charts", "Charts")
	roll := b.sheet("Roll-forward", "Roll-forward by pile")
	survey := b.sheet("Book v survey", "Book against survey")
	causes := b.sheet("Causes", "What could explain the differences")
	counts, list, sequences, decks := d.screeningSheets()
	papers := d.paperSheets()
	inventory := b.sheet("Inventory", "Inventory at the end of the month")
	cost := d.costSheet()
	days := b.sheet("Days", "Stock by pile at the end of each day")
	entries := b.sheet("Entries", "Entries")
	sources := b.sheet("Sources", "Sources")
	problems := b.sheet("Problems", "Problems and late records")
	policies := b.sheet("Policies", "Policies, tests and the figures that formulas refer to")
	papers = append(papers, d.logSheet()...)
	definitions := b.sheet("Definitions", "Definitions")

	d.declareParameters(policies)
	d.declareEntries(entries)
	d.declareRollForward(roll)
	d.declareLead(lead)
	d.declareSurveys(survey)
	d.declareCauses(causes)
	if d.close.Screening != nil {
		d.declareScreening(counts, list, sequences, decks)
	}
	d.declareInventory(inventory)
	if d.money != nil {
		d.declareCost(cost)
	}
	for _, p := range papers {
		p.declare(p.sheet)
	}
	d.declareDays(days)
	d.declareSources(sources)
	d.declareProblems(problems)
	d.declarePolicies(policies)
	d.declareCharts(charts)
	d.checkCells()
	d.checkTolerances()
	overall := d.declareChecks(checks)
	d.declareCover(cover, overall)
	d.declareDefinitions(definitions)
}

// screeningSheets begins the sheets of the register of exceptions, where it was looked through.
func (d *closeBook) screeningSheets() (counts, list, sequences, decks *sheet) {
	if d.close.Screening == nil {
		return nil, nil, nil, nil
	}
	return d.book.sheet("Exception counts", "Exceptions by status and by rule"), d.book.sheet("Exceptions", "Exceptions"),
		d.book.sheet("Sequences", "Sequences of numbers"), d.book.sheet("Loader v deck", "Loaders against deck scales")
}

// closeProperties say what the workbook is.
func closeProperties(c *report.Close) properties {
	m := c.Month
	state, made := draftState(c), m.End()
	switch {
	case c.Closed:
		state, made = "closed", c.ClosedAt
	case !c.At.IsZero():
		made = c.At
	}
	yard := strings.TrimSpace(m.Yard.Code + " " + m.Yard.Name)
	return properties{
		title:    "Stockpile close " + m.Period.String(),
		subtitle: fmt.Sprintf("Yard %s · %s · %s · solids are oven-dry, in tonnes of 1,000 kg", yard, m.Period, state),
		author:   programName,
		program:  programName,
		made:     made,
		zone:     m.Zone,
		page: pageText{
			headLeft:  "Yard " + yard,
			headRight: fmt.Sprintf("%s %s · head %s", m.Period, state, shortHash(c.Head.Root)),
			footLeft:  programName + " · inventory weights, not for trade",
		},
	}
}

// shortHash returns enough of a hash to tell two apart at a glance.
func shortHash(hash string) string { return hash[:min(len(hash), 12)] }

// namePiles gives files, piles, their products and owners the keys under which entries are written.
func (d *closeBook) namePiles() {
	for i, f := range d.close.Files {
		d.files[f.SHA256] = i
	}
	for _, l := range d.close.RollForward {
		p := pileLine{RollForwardLine: l, key: d.names.account(l.Pile.Account(), d.month.Yard.Code), product: d.names.key(wordProduct, l.Product), owner: ownStone}
		if owner := d.close.Register.Pile(l.Pile, d.month.End().Add(-1)).Owner; owner != "" {
			p.owner = d.names.key(wordOwner, owner)
		}
		d.piles = append(d.piles, p)
	}
}

// collect gathers what several sheets need of the entries.
func (d *closeBook) collect() error {
	largest := max(d.tally.moved.Solids, screenedMass(d.close.Screening), papersMass(d.close.Papers))
	if d.close.Value != nil {
		d.money = newMoney(d.close.Value)
	}
	for i := range d.piles {
		p := &d.piles[i]
		if err := d.addFlows(p); err != nil {
			return fmt.Errorf("pile %s: %w", p.Pile.Code, err)
		}
		largest = max(largest, p.Opening.AsIs(), p.closing.AsIs())
	}
	d.massWidth = widthOfMass(largest)
	return nil
}

// addFlows completes a pile by what the entries did to it.
func (d *closeBook) addFlows(p *pileLine) (err error) {
	product, _ := d.close.Register.Product(p.Product)
	p.flows, p.reference = d.tally.flowOf(p.Pile), product.Reference
	if p.closing, err = p.Opening.Add(p.flows.Net()); err != nil {
		return err
	}
	solids := decimal.NewFromInt(int64(p.closing.Solids))
	p.adjusted = solids.Add(solids.Mul(p.reference.Percent()).Shift(-2))
	p.ownAdjusted, err = p.reference.Adjusted(p.Closing.Solids)
	return err
}

// widthOfMass returns the width of a column that shows masses up to one.
func widthOfMass(m ledger.Mass) float64 { return widthOfFigure(m.Decimal(), 3) }

// widthOfFigure returns the width of a column that shows figures up to one, in characters, with room for a total twice as
// wide as its parts suggest.
func widthOfFigure(f decimal.Decimal, places int) float64 {
	digits := len(f.Abs().StringFixed(0)) + 1
	return max(11, 2+0.95*float64(digits+places)+0.5*float64(1+(digits-1)/3))
}

// mass is a cell of the ledger's masses.
func mass(m ledger.Mass) value { return tonnes(int64(m)) }

// label is a text out of the records, as much of it as a cell can show.
func label(s string) value {
	if len(s) > maxLabel && utf8.RuneCountInString(s) > maxLabel {
		s = clip(s, maxLabel)
	}
	return text(s)
}

// maxLabel is the longest text that is shown whole, in characters.
const maxLabel = 200
