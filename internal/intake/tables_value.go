package intake

import (
	"strings"

	"repose/ledger"

	"github.com/shopspring/decimal"
)

func costsTable() Table {
	return Table{
		Name: "costs", Kind: ledger.KindCostRecord,
		Note: "what a month's stone cost; a yard that gives no costs sees tonnes only",
		Columns: []Column{
			column(fPeriod, Required, Month, "the month, such as 2026-10"),
			column(fProduct, Optional, Code, "the product's code; blank for a cost that the products made in the month have in common"),
			choice(fKind, ledger.CostKinds(), ledger.CostMaking.String(), "making grows with what is made; fixed does not; purchase is of bought stone, opening of the first stock"),
			column(fCostCentre, Optional, Text, "what it was spent on, in the yard's own words"),
			column(fAmount, Required, Money, "in the currency; negative for a credit"),
			column(fCurrency, Required, Text, "three letters, ISO 4217"),
			column(fNote, Optional, Text, "anything"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				c := ledger.Cost{Period: r.month(fPeriod), Product: r.knownProduct(fProduct), Centre: r.own(fCostCentre),
					Amount: r.money(fAmount), Currency: r.own(fCurrency), Note: r.text(fNote)}
				if kind, err := ledger.ParseCostKind(r.words(fKind)); err == nil {
					c.What = kind
				}
				if c.Product == "" && (c.What == ledger.CostPurchase || c.What == ledger.CostOpening) {
					r.fail(fProduct, "an empty cell", "the product that it is of")
				}
				r.tryFact(c, fCurrency)
				return c
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				return r.ownKey(f, f.(ledger.Cost).Period.String(), value)
			},
		},
	}
}

func pricesTable() Table {
	units := unitNames(ledger.UnitTonne, ledger.UnitShortTon, ledger.UnitLongTon)
	return Table{
		Name: "prices", Kind: ledger.KindPriceRecord,
		Note: "what products sell for, each from a month on: for the test of cost against net realisable value",
		Columns: []Column{
			column(fFrom, Required, Month, "the first month, such as 2026-10"),
			column(fProduct, Required, Code, "the product's code"),
			column(fPrice, Required, Money, "of one unit at the product's reference moisture"),
			column(fSellingCost, Optional, Money, "what it takes to sell one unit"),
			column(fCompletionCost, Optional, Money, "what it takes to make one unit ready for sale"),
			{Name: fPer.String(), field: fPer, Need: Required, Holds: Word, Words: units, Note: "the unit"},
			column(fCurrency, Required, Text, "three letters, ISO 4217"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				p := ledger.Price{From: r.month(fFrom), Product: r.knownProduct(fProduct), Amount: r.money(fPrice), Selling: r.money(fSellingCost),
					Completion: r.money(fCompletionCost), Currency: r.own(fCurrency)}
				if u, err := ledger.ParseMassUnit(r.words(fPer)); err == nil {
					p.Per = u
				}
				for _, f := range []field{fPrice, fSellingCost, fCompletionCost} {
					if r.money(f).IsNegative() {
						r.fail(f, quote(r.shown(f)), "zero or more")
					}
				}
				r.tryFact(p, fCurrency)
				return p
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				return r.ownKey(f, f.(ledger.Price).From.String(), value)
			},
		},
	}
}

// month returns the month that a cell names: YYYY-MM, or, as a sheet makes of it, a date in the month.
func (r *row) month(f field) ledger.Period {
	s, ok := r.cell(f)
	if !ok {
		return ledger.Period{}
	}
	text := s
	if len(s) >= len("2006-01-02") && s[len("2006-01")] == '-' {
		text = s[:len("2006-01")]
	}
	p, err := ledger.ParsePeriod(text)
	if err != nil {
		r.fail(f, quote(s), "a month such as 2026-10")
	}
	return p
}

// money returns an amount; zero for a blank cell.
func (r *row) money(f field) decimal.Decimal {
	plain, cell, ok := r.number(f)
	if !ok {
		return decimal.Zero
	}
	v, err := ledger.ParseDecimal(plain)
	if err != nil {
		r.failNumber(f, cell)
	}
	return v
}

// tryFact refuses a row that the ledger would, where no cell has been refused yet.
func (r *row) tryFact(f ledger.Fact, at field) {
	if !r.ok() {
		return
	}
	if _, err := ledger.NewRecord("", f); err != nil {
		_, wanted, _ := strings.Cut(err.Error(), "want ")
		r.fail(at, quote(r.shown(at)), wanted)
	}
}
