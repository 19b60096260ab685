package report

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Booked and verified shrinkage of four years, in per cent of sales: 1.47 and 1.48, 1.11 and 1.06, 1.36 and 1.37, 1.00 and
// 1.00. The errors are -0.01, +0.05, -0.01 and 0.00, their mean +0.0075 and the largest +0.05 (T.C. Memo. 1997-1, in which
// the US Tax Court found the method reasonable).
func TestBacktest(t *testing.T) {
	var balances []ledger.Balance
	var periods []ledger.Period
	for i, year := range []struct{ booked, verified ledger.Mass }{{1470, 1480}, {1110, 1060}, {1360, 1370}, {1000, 1000}} {
		p, err := ledger.ParsePeriod([]string{"2020-12", "2021-12", "2022-12", "2023-12"}[i])
		if err != nil {
			t.Fatal(err)
		}
		periods = append(periods, p)
		const sales = 100_000 * ledger.Tonne
		balances = append(balances, ledger.Balance{Product: "all", At: p.Start(time.UTC), Found: 500_000*ledger.Tonne - sales - year.verified*ledger.Tonne,
			Base: ledger.Base{Solids: 500_000 * ledger.Tonne, Out: sales, Expected: year.booked * ledger.Tonne,
				Streams: ledger.Streams{{Way: ledger.ColumnSale}: {Solids: -sales, Weighings: 1}}}})
	}
	i := -1
	a := NewAccrual("Y", periods[3], balances, func(ledger.Balance) ledger.Period { i++; return periods[i] },
		func(ledger.Balance) ledger.RateBasis { return ledger.RateOfLoadOut })
	var errors []string
	for _, l := range a.Lines {
		errors = append(errors, decimal.Decimal(*l.Error).String())
	}
	if diff := cmp.Diff([]string{"-0.01", "0.05", "-0.01", "0"}, errors); diff != "" {
		t.Errorf("errors (-want +got):\n%s", diff)
	}
	s := a.Products[0]
	if mean, largest := decimal.Decimal(*s.Mean).String(), decimal.Decimal(*s.Largest).String(); mean != "0.0075" || largest != "0.05" || s.Periods != 4 {
		t.Errorf("mean %s, largest %s of %d, want 0.0075 and 0.05 of 4", mean, largest, s.Periods)
	}
}
