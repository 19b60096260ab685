package workbook

import (
	"math"
)

// measure says in what a check counts: the unit of its figures, and the step in which differences are
// shown, with the number of steps in a unit.
type measure struct {
	unit, step string
	perUnit    float64
	param      param
}

var (
	inTonnes    = measure{"t", "g", 1_000_000, paramGrams}
	inCounts    = measure{"", "", 1, paramOne}
	inDays      = measure{"d", "s", 86_400, paramSeconds}
	inFractions = measure{"1", "10⁻⁶", 1_000_000, paramMillion}
)

// steps returns how many steps of m a figure is.
func (v value) steps(m measure) float64 {
	switch v.kind {
	case kindTonnes:
		return float64(v.n) + v.f
	case kindInteger:
		return float64(v.n)
	}
	return v.f * m.perUnit
}

// checkRow is one check: what a formula over this workbook finds, against the figure that the ledger
// itself states.
type checkRow struct {
	what      string
	measure   measure
	found     value // a formula with its result
	control   value
	tolerance int64 // steps
	see       cellRef
}

// check adds a check to the sheet of checks.
func (d *closeBook) check(c checkRow) { d.checks = append(d.checks, c) }

// difference returns found less control in steps, as the sheet rounds it.
func (c checkRow) difference() int64 {
	return int64(math.Round(c.found.steps(c.measure) - c.control.steps(c.measure)))
}

func (c checkRow) ok() bool {
	diff := c.difference()
	return diff <= c.tolerance && diff >= -c.tolerance
}

// declareChecks declares the sheet of checks and returns the table whose one cell sums them up.
func (d *closeBook) declareChecks(s *sheet) (overall *table) {
	good := true
	rows := make([][]value, len(d.checks))
	for i, c := range d.checks {
		good = good && c.ok()
		rows[i] = []value{integer(int64(i + 1)), text(c.what), text(c.measure.unit), c.found, c.control,
			computed(d.params.ref(c.measure.param), integer(int64(c.measure.perUnit))), integer(c.difference()),
			text(c.measure.step), integer(c.tolerance), check(c.ok()), link(c.see.sheet, c.see)}
	}
	var all *table
	overall = s.table(tableSpec{
		name: "Overall", count: 1,
		columns: []column{
			{key: "result", head: "All", kind: kindCheck, width: 10, note: "OK where every check below says OK"},
			{key: "what", head: "Every check below", kind: kindText, width: 62, note: "what the word beside it sums up"},
		},
		rows: func(yield func([]value, error) bool) {
			yield([]value{computed(allOK(all.column("result")), check(good)),
				text("A broken check says that this workbook, or the ledger, has been changed or is wrong.")}, nil)
		},
	})
	all = s.table(tableSpec{name: "Checks", columns: d.checkColumns(), count: len(rows), rows: rowsOf(rows...), main: true, frozen: 2})
	return overall
}

// checkWidth is the width of a column that shows masses and amounts of money.
func (d *closeBook) checkWidth() float64 {
	if d.money == nil {
		return d.massWidth + 2
	}
	return max(d.massWidth, d.money.width) + 2
}

func (d *closeBook) checkColumns() []column {
	return []column{
		{key: "number", head: "No.", kind: kindInteger, width: 10, note: "of the check"},
		{key: "what", head: "Check", kind: kindText, width: 62, wrap: true, note: "what is held against what"},
		{key: "unit", head: "Unit", kind: kindText, width: 6, note: "of the figures: t, d for days, 1 for fractions and ratios, a currency, nothing for counts"},
		{key: "found", head: "Found here", kind: kindAny, role: roleCalculation, width: d.checkWidth(), note: "worked out by formulas of this workbook"},
		{key: "control", head: "Ledger's own", kind: kindAny, role: roleControl, width: d.checkWidth(), note: "control total: what the ledger states, written as a value, and expected of the figure found; or the figure of the sheet that is named"},
		{key: "per_unit", head: "Steps in a unit", kind: kindInteger, width: 11, note: "number of steps in one unit, from Policies"},
		{key: "difference", head: "Difference", unit: "steps", kind: kindInteger, width: 11,
			formula: "ROUND(({found}-{control})*{per_unit}," + d.params.ref(paramDigits) + ")",
			note:    "found less the ledger's own, in whole steps; positive where more was found"},
		{key: "step", head: "Step", kind: kindText, width: 7, note: "what the difference is counted in: grams, seconds, millionths, the smallest amount of the currency, or one by one"},
		{key: "tolerance", head: "Tolerance", unit: "steps", kind: kindInteger, role: roleInput, width: 10,
			note: "none for counts; for masses 1 g where the ledger rounds a figure that the formula does not; for sums over entries what the rounding of as many additions in double precision can come to, which is nothing below some ten thousand rows; for figures over those of the statistics what the rounding of these to the kilogram and to four places can come to"},
		{key: "result", head: "Result", kind: kindCheck, width: 10, formula: "ABS({difference})<={tolerance}", note: "OK or BROKEN"},
		{key: "see", head: "See", kind: kindText, role: roleLink, width: 14, note: "leads to the cell"},
	}
}

// checkEntries adds the checks of the sheet of entries by itself.
func (d *closeBook) checkEntries() {
	t, e := d.tally, d.entries
	sum := func(what, key string, m measure, total value, tolerance int64) {
		d.check(checkRow{what, m, computed(e.column(key).sum(), total), total, tolerance, e.cell(key, 0)})
	}
	rows := integer(int64(t.rows))
	d.check(checkRow{"Entries: number of rows", inCounts, computed(e.column("order").call("COUNT", ","), rows), rows, 0, e.cell("order", 0)})
	d.check(checkRow{"Entries: number of entries, as the last order number", inCounts, computed(e.column("order").call("MAX", ","), integer(int64(t.entries))),
		integer(int64(d.month.Entries)), 0, e.cell("order", 0)})
	for _, c := range []struct {
		what, key string
		rows      int
	}{
		{"rows of late records", "late", t.late}, {"rows from an account", "from", t.legs}, {"rows to an account", "to", t.legs},
		{"rows out of a pile", "product_out", t.outOfPile}, {"rows into a pile", "product_in", t.intoPile},
	} {
		n := integer(int64(c.rows))
		d.check(checkRow{"Entries: " + c.what, inCounts, computed(e.column(c.key).call("COUNTA", ","), n), n, 0, e.cell(c.key, 0)})
	}
	for _, word := range movementWords() {
		n := integer(int64(t.words[word.text]))
		d.check(checkRow{"Entries: rows of the movement " + word.text, inCounts, computed(countIfs(where(e.column("movement"), d.params.movement(word.column))), n), n, 0, e.cell("movement", 0)})
	}
	sum("Entries: solids moved", "solids", inTonnes, mass(t.moved.Solids), t.sumError(float64(t.moved.Solids)))
	sum("Entries: water moved", "water", inTonnes, mass(t.moved.Water), t.sumError(float64(t.moved.Water)))
	wet := mass(t.moved.AsIs())
	d.check(checkRow{"Entries: as weighed, against solids and water as they stand there", inTonnes, computed(e.column("wet").sum(), wet),
		computed(e.column("solids").sum()+"+"+e.column("water").sum(), wet), 2 * t.sumError(float64(t.moved.AsIs())), e.cell("wet", 0)})
	sum("Entries: hash total of the order numbers", "order", inCounts, integer(t.hash.orders), 0)
	d.check(checkRow{"Entries: hash total of the times, in days since the start of the month", inDays,
		computed(sinceStart(e.column("at"), d.params.ref(paramStart)), float(t.hash.days)), float(t.hash.days),
		t.sumError(t.hash.days * inDays.perUnit), e.cell("at", 0)})
	sum("Entries: hash total of the moistures", "moisture", inFractions, float(t.hash.moistures), t.sumError(t.hash.moistures*inFractions.perUnit))
	sum("Entries: hash total of the rows in the source files", "row", inCounts, integer(t.hash.sourceRows), 0)
}

// sinceStart returns the formula of the sum of times as days since an instant. Subtracting first keeps
// the sum small and so exact; a blank row counts for nothing.
func sinceStart(s span, start string) string {
	formula := ""
	for i, a := range s.areas {
		if i > 0 {
			formula += "+"
		}
		formula += "SUMPRODUCT((" + a.String() + "-" + start + ")*ISNUMBER(" + a.String() + "))"
	}
	return formula
}
