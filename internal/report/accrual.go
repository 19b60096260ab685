package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Accrual holds what a yard expected its products to lose against what surveys found: for each product and each month
// with surveys, what was taken out of the book as expected, and what truly went missing, both in per cent of what was
// made, or of what was loaded out. A method that is off by little and to both sides may be kept; one that is off to one
// side is a bias.
type Accrual struct {
	Schema   int              `json:"schema"`
	Yard     string           `json:"yard"`
	Through  string           `json:"through"`
	Lines    []AccrualLine    `json:"lines"`
	Products []AccrualSummary `json:"products"`
}

// AccrualLine is a product in a month, over its piles whose surveys ended in it.
type AccrualLine struct {
	Product     string   `json:"product"`
	Period      string   `json:"period"`
	Base        Tonnes   `json:"base_t"` // solids that were made, or loaded out, since the surveys before
	Of          string   `json:"of"`     // production, load-out
	Accrued     Tonnes   `json:"accrued_t"`
	Found       Tonnes   `json:"found_t"`   // that truly went missing: the sum of the residuals
	TrueUp      Tonnes   `json:"true_up_t"` // found less accrued
	AccruedRate *Percent `json:"accrued_pct"`
	FoundRate   *Percent `json:"found_pct"`
	Error       *Percent `json:"error_pct"` // accrued less found, in points of the base
}

// AccrualSummary is a product over all its lines.
type AccrualSummary struct {
	Product string   `json:"product"`
	Periods int      `json:"periods"`
	Mean    *Percent `json:"mean_error_pct"` // of the lines; a bias, positive where too much was expected
	Largest *Percent `json:"largest_error_pct"`
	Rate    *Percent `json:"found_pct"` // found over all lines, of their base: what a rate for the time to come could be
}

// NewAccrual reports balances. rate says what a product's rate is a per cent of, at an instant; it is production where a
// yard has not said.
func NewAccrual(yard string, through ledger.Period, balances []ledger.Balance, period func(ledger.Balance) ledger.Period, rate func(ledger.Balance) ledger.RateBasis) *Accrual {
	a := &Accrual{Schema: Schema, Yard: yard, Through: through.String(), Lines: []AccrualLine{}, Products: []AccrualSummary{}}
	type key struct {
		product string
		period  ledger.Period
		of      ledger.RateBasis
	}
	lines := map[key]*AccrualLine{}
	for _, b := range balances {
		k := key{b.Product, period(b), rate(b)}
		l, ok := lines[k]
		if !ok {
			l = &AccrualLine{Product: k.product, Period: k.period.String(), Of: k.of.String()}
			lines[k] = l
		}
		l.Base += Tonnes(baseOf(b, k.of))
		l.Accrued += Tonnes(b.Base.Expected)
		l.Found += Tonnes(b.Residual())
	}
	for _, l := range lines {
		l.TrueUp = l.Found - l.Accrued
		l.AccruedRate, l.FoundRate = percentOf(l.Accrued.Mass(), l.Base.Mass()), percentOf(l.Found.Mass(), l.Base.Mass())
		l.Error = percentOf(-l.TrueUp.Mass(), l.Base.Mass())
		a.Lines = append(a.Lines, *l)
	}
	slices.SortFunc(a.Lines, func(x, y AccrualLine) int {
		return cmp.Or(cmp.Compare(x.Product, y.Product), cmp.Compare(x.Period, y.Period), cmp.Compare(x.Of, y.Of))
	})
	a.sum()
	return a
}

// baseOf returns what a balance's rate is a per cent of.
func baseOf(b ledger.Balance, of ledger.RateBasis) (m ledger.Mass) {
	for s, t := range b.Base.Streams {
		switch {
		case of == ledger.RateOfProduction && s.Way == ledger.ColumnProduction:
			m += t.Solids
		case of == ledger.RateOfLoadOut && (s.Way == ledger.ColumnSale || s.Way == ledger.ColumnInternal || s.Way == ledger.ColumnFree):
			m -= t.Solids
		}
	}
	return m
}

// sum adds up the lines of each product.
func (a *Accrual) sum() {
	for i := 0; i < len(a.Lines); {
		s := AccrualSummary{Product: a.Lines[i].Product}
		var base, found Tonnes
		errors := decimal.Zero
		largest := decimal.Zero
		for ; i < len(a.Lines) && a.Lines[i].Product == s.Product; i++ {
			l := a.Lines[i]
			base, found = base+l.Base, found+l.Found
			if l.Error == nil {
				continue
			}
			s.Periods++
			e := decimal.Decimal(*l.Error)
			errors = errors.Add(e)
			if e.Abs().GreaterThan(largest.Abs()) {
				largest = e
			}
		}
		if s.Periods > 0 {
			s.Mean = new(Percent(errors.DivRound(decimal.NewFromInt(int64(s.Periods)), 2*percentPlaces).RoundBank(percentPlaces)))
			s.Largest = new(Percent(largest))
		}
		s.Rate = percentOf(found.Mass(), base.Mass())
		a.Products = append(a.Products, s)
	}
}

// WriteText writes the accrual for the screen in a unit of mass.
func (a *Accrual) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Expected shrinkage against what surveys found, yard %s, through %s; solids in %s, positive = missing\n\n", a.Yard, a.Through, u.Mass)
	t := NewTable("product", "month", "of", ">made or loaded", ">accrued", ">found", ">true-up", ">% accrued", ">% found", ">error")
	for _, l := range a.Lines {
		t.Row(l.Product, l.Period, l.Of, u.Format(l.Base.Mass()), u.Format(l.Accrued.Mass()), u.Format(l.Found.Mass()), u.Format(l.TrueUp.Mass()),
			formatPercent(l.AccruedRate, 2), formatPercent(l.FoundRate, 2), formatPercent(l.Error, 2))
	}
	if _, err := t.WriteTo(w); err != nil {
		return err
	}
	fmt.Fprintln(w)
	p := NewTable("product", ">months", ">mean error", ">largest error", ">% found in all")
	for _, s := range a.Products {
		p.Row(s.Product, fmt.Sprint(s.Periods), formatPercent(s.Mean, 4), formatPercent(s.Largest, 2), formatPercent(s.Rate, 2))
	}
	_, err := p.WriteTo(w)
	return err
}
