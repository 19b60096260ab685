package workbook

import (
	"cmp"
	"fmt"
	"slices"

	"repose/ledger"
)

// maxChartPiles is how many lines a reader can still tell apart.
const maxChartPiles = 8

func dayKey(pile int) string { return fmt.Sprintf("pile%d", pile) }

// declareDays declares the ledger's own stock at the end of each day, which the chart is drawn from.
func (d *closeBook) declareDays(s *sheet) {
	s.onePage = true
	columns := []column{{key: "day", head: "Day", kind: kindDate, width: 12, note: "of the yard's calendar; the stock is that at its end"}}
	for i, p := range d.piles {
		columns = append(columns, d.massColumn(dayKey(i), p.key, "solids of the pile, as the ledger states them"))
	}
	all := d.massColumn("all", "All piles", "sum of the piles")
	if n := len(d.piles); n > 0 {
		all.formula = "SUM({" + dayKey(0) + "}:{" + dayKey(n-1) + "})"
	}
	columns = append(columns, all)
	var rows [][]value
	for _, day := range d.month.Days {
		row := []value{date(day.End.Add(-1).In(d.month.Zone))}
		var sum ledger.Mass
		for _, p := range d.piles {
			row = append(row, mass(day.Solids[p.Pile]))
			sum += day.Solids[p.Pile]
		}
		rows = append(rows, append(row, mass(sum)))
	}
	d.days = s.table(tableSpec{name: "Days", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1})
	if n := len(d.month.Days); n > 0 && len(d.piles) > 0 {
		last := rows[n-1][len(d.piles)+1]
		d.check(checkRow{"Days: all piles at the end of the last day, against the closing", inTonnes,
			computed(d.days.cell("all", n-1).String(), last), mass(d.allPiles().own.Solids), 0, d.days.cell("all", n-1)})
	}
}

// declareCharts declares the pictures of the month.
func (d *closeBook) declareCharts(s *sheet) {
	s.onePage = true
	if len(d.piles) == 0 || len(d.month.Days) == 0 {
		s.note("Nothing lay in the yard in this month.")
		return
	}
	largest, all := d.largestPiles()
	title := "Stock by pile over the month, at the end of each day"
	if !all {
		title += fmt.Sprintf(", the %d largest piles", len(largest))
	}
	s.lineChart(chartSpec{title: title, xTitle: "Day of " + d.month.Period.String(), yTitle: "Solids [t]", table: d.days, x: "day", y: largest,
		signed: true, alt: "Lines of the solids in each pile at the end of every day of the month; the figures are in the sheet Days"})
	s.columnChart(chartSpec{title: "Book against survey", xTitle: "Pile", yTitle: "Solids [t]", table: d.bookSurvey, x: "pile", y: []string{"book", "survey_solids"},
		signed: d.hasNegativeBook(), alt: "For each pile a column of the book at the survey and one of the survey; the figures are in the sheet Book v survey"})
}

// largestPiles returns the columns of Days to draw, in order of piles, and whether they are all.
func (d *closeBook) largestPiles() (keys []string, all bool) {
	most := func(i int) ledger.Mass {
		var m ledger.Mass
		for _, day := range d.month.Days {
			m = max(m, day.Solids[d.piles[i].Pile].Abs())
		}
		return m
	}
	order := make([]int, len(d.piles))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(most(j), most(i)) })
	drawn := order[:min(len(order), maxChartPiles)]
	slices.Sort(drawn)
	for _, i := range drawn {
		keys = append(keys, dayKey(i))
	}
	return keys, len(drawn) == len(order)
}

func (d *closeBook) hasNegativeBook() bool {
	return slices.ContainsFunc(d.month.Comparisons, func(c *ledger.Comparison) bool { return c.Book.Solids < 0 })
}
