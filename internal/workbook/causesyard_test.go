package workbook

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"testing"

	"repose/internal/report"
	"repose/ledger"
)

// testErrors gives every balance that ends in a month an invented uncertainty.
func testErrors(m *ledger.Month) map[string]report.MeasurementError {
	errors := make(map[string]report.MeasurementError)
	for _, c := range m.Comparisons {
		residual, ok := c.Residual()
		if !ok {
			continue
		}
		stock := inTonnesFloat(c.Found.Solids)
		const u = 0.012_345_678
		sigma := 3.333_333 + 0.0123*stock
		z := inTonnesFloat(residual) / sigma
		errors[c.Record.ID()] = report.MeasurementError{Sigma: sigma, Z: z, MDL: 2 * 1.644_853_626_951_472_2 * sigma, Inside: math.Abs(z) <= 2,
			DensityU: u, DensityStock: u * stock, DensityResidual: -u * stock}
	}
	return errors
}

// testBalance is a balance of the statistics, in t.
type testBalance struct {
	pile, period, survey string
	residual, sigma      float64
}

// testHistory adds balances up, pile by pile, and states them as the report does.
func testHistory(balances []testBalance) []report.HistoryLine {
	var lines []report.HistoryLine
	sum, variance := 0.0, 0.0
	for i, b := range balances {
		if i == 0 || balances[i-1].pile != b.pile {
			sum, variance = 0, 0
		}
		sum, variance = sum+b.residual, variance+0.4*b.sigma*b.sigma
		lines = append(lines, report.HistoryLine{Pile: b.pile, Period: b.period, Survey: b.survey, Residual: report.Mass(b.residual), Sigma: report.Mass(b.sigma),
			Z: report.Ratio(b.residual / b.sigma), Cumulative: report.Mass(sum), CumulativeSigma: report.Mass(math.Sqrt(variance))})
	}
	return lines
}

// earlier returns invented balances of the nth pile over the months before October.
func earlier(n int, pile string) []testBalance {
	var balances []testBalance
	for month := 10 - 2 - n%7; month < 10; month++ { // piles begin at different times
		x := float64(n*17 + month*29)
		balances = append(balances, testBalance{pile, fmt.Sprintf("2026-%02d", month), fmt.Sprintf("R%d", month), 40.123_45*math.Sin(x) + 6*float64(n), 31.234_56 + 3*float64(n)})
	}
	return balances
}

// testCauses is what twelve months of the hostile yard show, ending with the balances of a month.
func testCauses(m *ledger.Month) *report.Causes {
	byPile := make(map[string][]testBalance)
	for _, c := range m.Comparisons {
		if residual, ok := c.Residual(); ok {
			byPile[c.Pile.Code] = append(byPile[c.Pile.Code], testBalance{c.Pile.Code, m.Period.String(), c.Survey.Survey, inTonnesFloat(residual), 27.182_818})
		}
	}
	if len(byPile) == 0 {
		return nil
	}
	var balances []testBalance
	for i, id := range m.Piles {
		balances = append(balances, earlier(i, id.Code)...)
		balances = append(balances, byPile[id.Code]...)
	}
	history := testHistory(balances)
	causes := &report.Causes{Schema: report.Schema, Yard: "Y", Through: m.Period.String(), Balances: len(history), Alarm: true, Since: "2026-09",
		Statistic: new(report.Ratio(4.213_371)), Threshold: new(report.Ratio(3.333_333)), History: history, Kappa: new(report.Ratio(1.234_567)), KappaFrom: 14,
		Assumed: []report.AssumedLine{{What: "=1+1", Value: "@3 %", Uses: 6}, {What: "moisture", Value: "0.3 percentage points", Uses: 4}}}
	for i, c := range []report.Cause{
		{Class: "loss", Pile: "P1", Estimate: report.Mass(484.953_2), Truckloads: new(report.Ratio(22.272_7)), Also: []report.AlsoCause{{Class: "density", Pile: "P1", Share: 0.0579}}},
		{Class: "swap", Pile: "=P2", OtherPile: "010", Estimate: report.Mass(60), Truckloads: new(report.Ratio(1.2))},
		{Class: "loader", Instrument: "=L1", Lasting: true, Estimate: report.Mass(-579.7525), Also: []report.AlsoCause{{Class: "swap", Pile: "P1", OtherPile: "p1"}}},
		{Class: "belt", Instrument: "B1", Lasting: true, Estimate: report.Mass(123.456_789)},
		{Class: "density", Pile: "010", Lasting: true, Estimate: report.Mass(-11.7684)},
		{Class: "survey", Pile: "HELD", Estimate: report.Mass(3.0005)},
	} {
		c.Rank, c.From, c.Share = i+1, "2026-09", report.Ratio(0.312_345/float64(i+1))
		const u = 100.000_4
		c.U = report.Mass(u)
		estimate := inTonnesFloat(c.Estimate.Mass())
		c.Low, c.High = report.Mass(estimate-intervalFactor*u), report.Mass(estimate+intervalFactor*u)
		c.Words, c.Tell = "=what may have happened to "+c.Pile+c.Instrument, "@measure "+c.Pile+c.Instrument+" again"
		causes.Causes = append(causes.Causes, c)
	}
	return causes
}

// oddClose is a month about which the statistics say strange things, none of which may stop the workbook: no
// uncertainty, no numbers, more causes and piles than are shown, and no alarm to test.
func oddClose(t testing.TB) *report.Close {
	c := hostileClose(t)
	for i := range c.Reconciliation.Piles {
		l := &c.Reconciliation.Piles[i]
		if l.Sigma == nil {
			continue
		}
		switch l.Pile {
		case "P1":
			*l.Sigma, *l.Z, *l.DensityU = 0, report.Ratio(math.Inf(1)), report.Ratio(math.NaN())
		case "=P2":
			*l.Z = report.Ratio(math.NaN())
		}
	}
	odd := c.Causes
	odd.Statistic, odd.Kappa, odd.Since = nil, new(report.Ratio(math.NaN())), ""
	odd.History[0].Sigma, odd.History[0].Z, odd.History[0].CumulativeSigma = 0, report.Ratio(math.NaN()), 0
	for n := range 5 {
		odd.History = append(odd.History, testHistory(earlier(n, fmt.Sprintf("Q%d", n)))...)
	}
	odd.Balances = len(odd.History)
	for len(odd.Causes) < maxCauses+1 {
		odd.Causes = append(odd.Causes, odd.Causes[0])
	}
	odd.Causes[1].Truckloads, odd.Causes[1].Share = new(report.Ratio(math.Inf(-1))), report.Ratio(math.NaN())
	return c
}

// drawnKeys returns the piles of the error charts in the order in which they stand.
func drawnKeys(drawn []pileHistory) []string {
	var keys []string
	for _, p := range drawn {
		keys = append(keys, p.key)
	}
	return keys
}

// farthestPiles returns the pile codes of a history, those first whose sums lie farthest from nothing.
func farthestPiles(history []report.HistoryLine) []string {
	last := make(map[string]float64)
	var piles []string
	for _, h := range history {
		if _, ok := last[h.Pile]; !ok {
			piles = append(piles, h.Pile)
		}
		last[h.Pile] = math.Abs(float64(h.Cumulative) / float64(h.CumulativeSigma))
	}
	slices.SortFunc(piles, func(p, q string) int { return cmp.Compare(last[q], last[p]) })
	return piles
}
