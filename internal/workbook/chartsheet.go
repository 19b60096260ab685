package workbook

import (
	"cmp"
	"fmt"
	"slices"

	"repose/ledger"
)

// maxChartPiles is how many lines a reader can still tell apart.
const maxChartPiles = 8

// chartScale is the scale at which two large charts stand on a printed page, or three rows of small ones, in per
// cent.
const chartScale = 65

// declareCharts declares the pictures of the month.
func (d *closeBook) declareCharts(s *sheet) {
	s.scale = chartScale
	d.declareStockCharts(s)
	d.declareErrorCharts(s)
}

func (d *closeBook) declareStockCharts(s *sheet) {
	if len(d.piles) == 0 || len(d.month.Days) == 0 {
		s.note("Nothing lay in the yard in this month.")
		s.gap()
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
		keys = append(keys, pileColumn(i))
	}
	return keys, len(drawn) == len(order)
}

func (d *closeBook) hasNegativeBook() bool {
	return slices.ContainsFunc(d.month.Comparisons, func(c *ledger.Comparison) bool { return c.Book.Solids < 0 })
}

// declareErrorCharts declares the pictures of the last twelve months: the running sum of each pile's residuals
// with the band in which it is known, and each residual in units of its uncertainty.
func (d *closeBook) declareErrorCharts(s *sheet) {
	drawn, all := d.drawnHistories()
	if len(drawn) == 0 {
		return
	}
	one, few := "", ""
	if !all {
		few = fmt.Sprintf(", the %d piles farthest from nothing", len(drawn))
		one = fmt.Sprintf(", one of the %d farthest from nothing", len(drawn))
	}
	var sums []chartSpec
	for _, p := range drawn {
		sums = append(sums, chartSpec{title: "Cumulative shrinkage, " + p.key + one, xTitle: "Month of the survey", yTitle: "Solids [t]", table: d.history, x: "period",
			y: []string{"cumulative"}, band: []string{"lower", "upper"}, signed: true, from: p.from, count: p.count,
			alt: "A line of the sum of the residuals of " + p.key + " and, broken, the edges of its 95 % band; nothing is missing for sure while the band holds zero; the figures are in the sheet Causes"})
	}
	s.smallLineCharts(sums)
	var columns []string
	for i := range drawn {
		columns = append(columns, pileColumn(i))
	}
	s.columnChart(chartSpec{title: "Residual in standard uncertainties, by month" + few, xTitle: "Month of the survey", yTitle: "z", table: d.monthly, x: "month",
		y: columns, band: []string{keyZLow, keyZHigh}, signed: true,
		alt: "For each month a column of z of every pile, and broken lines between which it is inside measurement error; the figures are in the sheet Causes"})
}
