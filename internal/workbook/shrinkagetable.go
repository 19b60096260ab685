package workbook

import (
	"repose/internal/report"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// lossLine is what a surveyed pile lost since the survey before, in the three parts that never share an account:
// what the yard allows for, what exceptions explain, and the rest, which is what the survey says.
type lossLine struct {
	surveyLine
	own              *report.ReconcileLine // nil where the report says nothing of it
	opening          ledger.Base           // what earlier months handed on; empty where the base is of this month
	expected, caused ledger.Mass
}

// lossOf returns the parts of a survey line; ok is false where no survey gives a mass. Without a survey or an
// opening before it, all that is missing is unexplained.
func (d *closeBook) lossOf(l surveyLine) (x lossLine, ok bool) {
	if !l.hasDensity() {
		return x, false
	}
	x = lossLine{surveyLine: l, own: d.reported(l)}
	if !l.comparison.HasBase {
		return x, true
	}
	if b := d.month.Opening.Bases[l.comparison.Pile]; b.Record == l.comparison.Base.Record {
		x.opening = b
	}
	x.expected, x.caused = x.opening.Expected+l.mark.since.expected, x.opening.Explained+l.mark.since.explained
	return x, true
}

// total is what the sheet's formula gives for all that is missing since the survey before, in grams.
func (l lossLine) total() decimal.Decimal {
	return decimal.NewFromInt(int64(l.expected + l.caused)).Add(l.difference())
}

// declareLosses declares the parts of each pile's shrinkage since the survey before.
func (d *closeBook) declareLosses(s *sheet, lines []surveyLine, book *table) {
	columns := d.lossColumns()
	var rows [][]value
	losses := make([]*lossLine, len(lines))
	var expected, caused ledger.Mass
	var unexplained decimal.Decimal
	for i, l := range lines {
		row := cells{"pile": text(l.key)}
		if l.comparison != nil {
			row["survey"] = label(l.comparison.Survey.Survey)
		}
		if x, ok := d.lossOf(l); ok {
			losses[i] = &x
			row["unexplained"], row["all"] = computed(book.cell("difference", i).local(), tonnesOf(l.difference())), tonnesOf(x.total())
			row["expected"], row["explained"] = mass(x.expected), mass(x.caused)
			if l.comparison.HasBase {
				row["from"], row["through"] = integer(int64(l.mark.since.order)), computed(book.cell("after", i).local(), integer(int64(l.mark.order)))
				row["expected_before"], row["expected_month"] = mass(x.opening.Expected), mass(l.mark.since.expected)
				row["explained_before"], row["explained_month"] = mass(x.opening.Explained), mass(l.mark.since.explained)
			}
			expected, caused, unexplained = expected+x.expected, caused+x.caused, unexplained.Add(l.difference())
		}
		rows = append(rows, d.row(columns, row))
	}
	all := tonnesOf(decimal.NewFromInt(int64(expected + caused)).Add(unexplained))
	total := d.row(columns, cells{"pile": text("All"), "expected": mass(expected), "explained": mass(caused), "unexplained": tonnesOf(unexplained), "all": all})
	t := s.table(tableSpec{name: "Losses", title: "Shrinkage since the survey before, in three parts that share no account", columns: columns, count: len(rows), rows: rowsOf(rows...), total: total,
		about: "Expected and explained shrinkage is out of the book already; unexplained is the difference above. Positive: stone is missing. Earlier months are as handed on, this month is worked out from Entries."})
	d.checkLosses(t, losses, all)
	d.declareShrinkageAccounts(s)
}

func (d *closeBook) lossColumns() []column {
	e := d.entries
	since := func(word ledger.Column) string {
		part := func(end string) string {
			return sumIfs(e.column("solids"), where(e.column(end), "{pile}"), where(e.column("movement"), d.params.movement(word)),
				where(e.column("order"), `">"&{from}`), where(e.column("order"), `"<="&{through}`))
		}
		return part("from") + "-(" + part("to") + ")"
	}
	columns := append(surveyColumns()[:2],
		column{key: "from", head: "After entry", kind: kindInteger, width: 12, note: "order number of the last entry before the survey or opening that is counted from; none where that was before this month"},
		column{key: "through", head: "Through entry", kind: kindInteger, width: 12, note: "order number of the last entry before this survey, as above"},
		d.massColumn("expected_before", "Expected, earlier months", "as the months before handed it on; the ledger's own"),
		d.massColumn("expected_month", "Expected, this month", "solids of entries of the movement expected, out of the pile less into it, between these numbers"),
		d.massColumn("expected", "Expected", "earlier months and this one: shrinkage that the yard allows for"),
		d.massColumn("explained_before", "Explained, earlier months", "as the months before handed it on; the ledger's own"),
		d.massColumn("explained_month", "Explained, this month", "solids of entries of the movement explained, out of the pile less into it, between these numbers"),
		d.massColumn("explained", "Explained", "earlier months and this one: shrinkage with a cause, by settled exceptions"),
		d.massColumn("unexplained", "Unexplained", "difference of book and survey, as above"),
		d.massColumn("all", "All three", "expected, explained and unexplained together"))
	return setFormulas(columns, map[string]string{
		"expected_month": since(ledger.ColumnExpected), "expected": "{expected_before}+{expected_month}",
		"explained_month": since(ledger.ColumnExplained), "explained": "{explained_before}+{explained_month}",
		"all": "{expected}+{explained}+{unexplained}",
	})
}

// checkLosses holds each part to the report's, pile by pile, and all of them together.
func (d *closeBook) checkLosses(t *table, losses []*lossLine, all value) {
	const about = "Book v survey: "
	tolerance, piles := d.sumTolerance(), int64(0)
	for i, x := range losses {
		if x == nil {
			continue
		}
		piles++
		if x.own == nil || x.own.Unexplained == nil {
			continue
		}
		for _, part := range []struct {
			key       string
			found     value
			own       *report.Tonnes
			tolerance int64
		}{
			{"expected", mass(x.expected), x.own.Expected, tolerance},
			{"explained", mass(x.caused), x.own.Explained, tolerance},
			{"unexplained", tonnesOf(x.difference()), x.own.Unexplained, 1 + tolerance},
		} {
			d.check(checkRow{about + part.key + " shrinkage of " + x.key, inTonnes, computed(t.cell(part.key, i).String(), part.found),
				mass(massOf(part.own)), part.tolerance, t.cell(part.key, i)})
		}
	}
	own := d.close.Reconciliation.Total
	d.check(checkRow{about + "shrinkage of all piles in three parts", inTonnes, computed(t.totalCell("all").String(), all),
		mass((own.Expected + own.Explained + own.Unexplained).Mass()), piles + 3*tolerance, t.totalCell("all")})
}

// declareShrinkageAccounts declares what the month entered on each account of shrinkage.
func (d *closeBook) declareShrinkageAccounts(s *sheet) {
	e := d.entries
	strange := func(end, product string) string {
		return countIfs(where(e.column(end), "{account}"), where(e.column(product), `"<>"`), where(e.column("movement"), `"<>"&{stands_for}`))
	}
	columns := []column{
		{key: "account", head: "Account", kind: kindText, wrap: true, width: 17, note: "account of shrinkage, as in Entries; no row where the month entered none"},
		{key: "stands_for", head: "Stands for", kind: kindText, width: 20, note: "movement between a pile and this account: shrinkage is unexplained"},
		{key: "others", head: "Rows of other parts", kind: kindInteger, width: 18, formula: strange("to", "product_out") + "+" + strange("from", "product_in"),
			note: "rows between a pile and this account that are of another movement: none, since the parts share no account"},
		d.massColumn("in", "In", "solids of entries to the account"),
		d.massColumn("out", "Out", "solids of entries from the account"),
		d.massColumn("net", "Net", "in less out: what the month lost on it"),
	}
	setFormulas(columns, map[string]string{"in": sumIfs(e.column("solids"), where(e.column("to"), "{account}")),
		"out": sumIfs(e.column("solids"), where(e.column("from"), "{account}")), "net": "{in}-{out}"})
	var rows [][]value
	var in, out ledger.Mass
	for _, a := range d.tally.movedAccounts() {
		if a.Kind != ledger.KindShrinkage {
			continue
		}
		o := d.tally.accounts[a]
		rows = append(rows, []value{text(d.names.account(a, d.month.Yard.Code)), text(movementWord(ledger.ColumnOf(a, false))), integer(0),
			mass(o.in.Solids), mass(o.out.Solids), mass(o.in.Solids - o.out.Solids)})
		in, out = in+o.in.Solids, out+o.out.Solids
	}
	t := s.table(tableSpec{name: "ShrinkageAccounts", title: "Accounts of shrinkage in this month", columns: columns, count: len(rows), rows: rowsOf(rows...),
		total: []value{text("All"), {}, integer(0), mass(in), mass(out), mass(in - out)}})
	d.check(checkRow{"Book v survey: rows of one part of shrinkage on an account of another", inCounts, computed(t.totalCell("others").String(), integer(0)), integer(0), 0, t.totalCell("others")})
}
