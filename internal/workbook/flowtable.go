package workbook

import (
	"repose/ledger"
)

// facet is one of the two masses that are kept side by side.
type facet struct {
	name    string // of the roll-forward's table
	word    string // also the key of the column of entries
	columns []ledger.Column
	of      func(ledger.Amount) ledger.Mass
}

const (
	solidsFacet = "RollSolids"
	waterFacet  = "RollWater"
)

// facets returns solids, which the weather never changes, and water.
func facets() [2]facet {
	var all, dry []ledger.Column
	for c := range ledger.Columns {
		all = append(all, c)
		if c != ledger.ColumnWeather {
			dry = append(dry, c)
		}
	}
	return [2]facet{
		{solidsFacet, "solids", dry, func(a ledger.Amount) ledger.Mass { return a.Solids }},
		{waterFacet, "water", all, func(a ledger.Amount) ledger.Mass { return a.Water }},
	}
}

// flowLine is a pile or a product over the month.
type flowLine struct {
	keys             []value
	opening, closing ledger.Amount // by the entries
	flows            ledger.Flows
	own              ledger.Amount // closing, as the ledger states it
}

// flowTable declares a table of opening, flows and closing: one row for each pile, or for each product.
type flowTable struct {
	facet
	name, title, about string
	keys               []column // the first is what the entries are looked up by
	in, out            string   // columns of entries in which it is looked up
	opening            string   // formula of the opening; "" where it is a value
	lines              []flowLine
	main               bool
}

func flowKey(c ledger.Column) string { return "flow" + string(rune('a'+int(c))) }

// declareFlows returns the table with the sums of its columns of masses: opening, flows, closing and the
// ledger's own closing.
func (d *closeBook) declareFlows(s *sheet, f flowTable) (*table, []ledger.Mass) {
	opening := d.massColumn("opening", "Opening", "closing of the month before, as sealed; of "+f.word)
	opening.formula = f.opening
	columns := append([]column(nil), f.keys...)
	columns = append(columns, opening)
	for _, c := range f.columns {
		col := d.massColumn(flowKey(c), headline(c.String()), flowNote(c))
		col.formula = d.flowFormula(f, c)
		columns = append(columns, col)
	}
	closing := d.massColumn("closing", "Closing", "opening and all columns between; opening of the next month")
	closing.formula = "ROUND(SUM({opening}:{" + flowKey(f.columns[len(f.columns)-1]) + "})," + d.params.ref(paramPlaces) + ")"
	columns = append(columns, closing, d.controlColumn("own", "Ledger's own closing", "control: what the ledger states"))
	columns = append(columns, auditorColumns()...)

	var rows [][]value
	total := make([]ledger.Mass, len(f.columns)+3)
	for _, l := range f.lines {
		figures := []ledger.Mass{f.of(l.opening)}
		for _, c := range f.columns {
			figures = append(figures, f.of(l.flows[c]))
		}
		figures = append(figures, f.of(l.closing), f.of(l.own))
		row := append([]value(nil), l.keys...)
		for i, m := range figures {
			row = append(row, mass(m))
			total[i] += m
		}
		rows = append(rows, append(row, value{}, value{}))
	}
	return s.table(tableSpec{name: f.name, title: f.title, about: f.about, columns: columns, count: len(rows), rows: rowsOf(rows...),
		total: sumRow(len(f.keys), total, 2), places: d.params.ref(paramPlaces), main: f.main, frozen: 1}), total
}

// flowFormula adds up the entries that stand in a column: those into the pile or product of the row, less
// those out of it.
func (d *closeBook) flowFormula(f flowTable, col ledger.Column) string {
	e := d.entries
	criterion := "{" + f.keys[0].key + "}"
	movement := where(e.column("movement"), d.params.movement(col))
	into := sumIfs(e.column(f.word), where(e.column(f.in), criterion), movement)
	outOf := "-(" + sumIfs(e.column(f.word), where(e.column(f.out), criterion), movement) + ")"
	switch col {
	case ledger.ColumnTransferIn:
		return into
	case ledger.ColumnTransferOut:
		return outOf
	}
	return into + outOf
}

// flowNote says what a column of flows holds.
func flowNote(c ledger.Column) string {
	return [ledger.Columns]string{
		ledger.ColumnOpening:     "first stock of piles that the book began with in this month",
		ledger.ColumnProduction:  "made by the plant or bought in",
		ledger.ColumnReturns:     "brought back by customers",
		ledger.ColumnTransferIn:  "carried in from other piles",
		ledger.ColumnSale:        "loaded out and sold; out is negative",
		ledger.ColumnInternal:    "loaded out for the yard's own use; out is negative",
		ledger.ColumnFree:        "loaded out without charge; out is negative",
		ledger.ColumnTransferOut: "carried out to other piles; out is negative",
		ledger.ColumnFeed:        "carried back to the crusher; out is negative",
		ledger.ColumnWeather:     "rain gained (positive) and water drained (negative), by moisture tests",
		ledger.ColumnShrinkage:   "what the book took over from a survey: negative where stone was missing",
		ledger.ColumnExplained:   "shrinkage that an exception explained, with its cause; out is negative",
		ledger.ColumnExpected:    "shrinkage that the yard allows for; out is negative",
		ledger.ColumnSuspense:    "moved with an unknown pile; in is positive",
	}[c]
}
