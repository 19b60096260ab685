package valuation_test

import (
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

// dryProducts are A, B and C, in piles PA, PB and PC of the yard, and in PX, which is A of somebody else.
func dryProducts() []ledger.Fact {
	return []ledger.Fact{ledger.Product{Code: "A"}, ledger.Product{Code: "B"}, ledger.Product{Code: "C"},
		ledger.Pile{Code: "PA", Product: "A"}, ledger.Pile{Code: "PB", Product: "B"}, ledger.Pile{Code: "PC", Product: "C"},
		ledger.Pile{Code: "PX", Product: "A", Owner: "C1"}}
}

func monthOf(t rapid.TB, s string) ledger.Period {
	t.Helper()
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// at reads an instant, YYYY-MM-DD HH:MM in UTC.
func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

// noon is the middle of a day, MM-DD of 2026.
func noon(day string) time.Time { return at("2026-" + day + " 12:00") }

func tons(t float64) ledger.Mass { return ledger.Mass(t*1000) * ledger.Kilogram }

func opening(pile, day string, t float64) ledger.Fact {
	return ledger.Opening{Pile: pile, At: noon(day), Solids: tons(t), IsSolids: true}
}

func made(pile, day string, t float64) ledger.Fact {
	return ledger.Production{At: noon(day), Belt: "B-" + pile, Pile: pile, Net: tons(t)}
}

// sold is a load whose ticket is its day.
func sold(pile, day string, t float64) ledger.Load {
	return ledger.Load{At: noon(day), Loader: "L1", Ticket: pile + day, Pile: pile, Net: tons(t), Purpose: ledger.PurposeSale}
}

func purposed(l ledger.Load, p ledger.Purpose) ledger.Load {
	l.Purpose = p
	return l
}

func transfer(from, to, day string, t float64) ledger.Fact {
	return ledger.Transfer{At: noon(day), Loader: "L1", From: from, To: to, Net: tons(t)}
}

func fed(pile, day string, t float64) ledger.Feed {
	return ledger.Feed{At: noon(day), Instrument: "L1", Pile: pile, Net: tons(t)}
}

// surveyed is a survey of so many cubic metres, at the density of density.
func surveyed(pile, day, m3 string) ledger.Fact {
	return ledger.Survey{Survey: "S-" + day, Pile: pile, Start: noon(day).Add(-time.Hour), End: noon(day), VolumeM3: decimal.RequireFromString(m3)}
}

// density makes a cubic metre of a pile two tonnes.
func density(pile string) ledger.Fact {
	return ledger.DensityTest{Pile: pile, Taken: at("2026-01-01 00:00"), MoistTPerM3: decimal.NewFromInt(2), Compaction: decimal.NewFromInt(1)}
}

func policy(name ledger.PolicyName, text string) ledger.Fact {
	return ledger.Policy{Name: name, Value: text, From: at("2026-01-01 00:00")}
}

// cost is a cost in EUR, of October unless in says otherwise.
func cost(what ledger.CostKind, product, amount string) ledger.Cost {
	october, _ := ledger.ParsePeriod("2026-10")
	return ledger.Cost{Period: october, Product: product, What: what, Amount: decimal.RequireFromString(amount), Currency: "EUR"}
}

// price is what a tonne sells for in EUR from October on.
func price(product, amount string) ledger.Price {
	october, _ := ledger.ParsePeriod("2026-10")
	return ledger.Price{From: october, Product: product, Amount: decimal.RequireFromString(amount), Per: ledger.UnitTonne, Currency: "EUR"}
}
