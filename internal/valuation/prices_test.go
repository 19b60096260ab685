package valuation_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/ledger"
)

// from sets the month from which a price holds.
func from(t *testing.T, month string, p ledger.Price) ledger.Price {
	p.From = monthOf(t, month)
	return p
}

// tested writes the test of a product's cost: price, worth, carrying amount, written down and taken back.
func (m *month) tested(product string) string {
	for _, l := range m.Lines {
		if l.Product != product {
			continue
		}
		asked := "no price"
		if l.Price != nil {
			asked = "price " + l.Price.Amount.String()
		}
		f := m.Currency.Format
		return fmt.Sprintf("%s, worth %s, earlier %s, carried %s, down %s, back %s", asked, f(l.Worth), f(l.Earlier), f(l.Test.Carrying), f(l.Test.WriteDown), f(l.Test.Reversal))
	}
	return ""
}

func TestPriceInForce(t *testing.T) {
	dollars := from(t, "2026-09", price("A", "7"))
	dollars.Currency = "USD"
	less := price("A", "12.5")
	less.Selling, less.Completion = decimal.RequireFromString("2.125"), decimal.RequireFromString("1.25")
	short := price("A", "5")
	short.Per = ledger.UnitShortTon
	const untested = "no price, worth 0.00, earlier 0.00, carried 1000.00, down 0.00, back 0.00"
	for _, c := range []struct {
		name   string
		prices []ledger.Fact
		want   string
	}{
		{"none", nil, untested},
		{"of another product", []ledger.Fact{price("B", "8")}, untested},
		{"later", []ledger.Fact{from(t, "2026-11", price("A", "8"))}, untested},
		{"of the month", []ledger.Fact{price("A", "8")}, "price 8, worth 800.00, earlier 0.00, carried 800.00, down 200.00, back 0.00"},
		{"of a year ago", []ledger.Fact{from(t, "2025-10", price("A", "8"))}, "price 8, worth 800.00, earlier 0.00, carried 800.00, down 200.00, back 0.00"},
		{"the last of three", []ledger.Fact{from(t, "2026-09", price("A", "8")), from(t, "2026-11", price("A", "9")), from(t, "2026-08", price("A", "7"))},
			"price 8, worth 800.00, earlier 0.00, carried 800.00, down 200.00, back 0.00"},
		{"above cost", []ledger.Fact{price("A", "11")}, "price 11, worth 1100.00, earlier 0.00, carried 1000.00, down 0.00, back 0.00"},
		{"less what it takes", []ledger.Fact{less}, "price 12.5, worth 912.50, earlier 0.00, carried 912.50, down 87.50, back 0.00"},
		{"per short ton", []ledger.Fact{short}, "price 5, worth 551.16, earlier 0.00, carried 551.16, down 448.84, back 0.00"}, // 110.231 short tons
		{"in another currency", []ledger.Fact{dollars}, untested},
		{"in another currency, later", []ledger.Fact{from(t, "2026-08", price("A", "8")), dollars}, untested},
		{"in another currency, before", []ledger.Fact{price("A", "8"), dollars}, "price 8, worth 800.00, earlier 0.00, carried 800.00, down 200.00, back 0.00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, stocked()...)
			y.add(c.prices...)
			m := y.value("2026-10")
			if diff := cmp.Diff(c.want, m.tested("A")); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// A price is for the mass at reference moisture, whatever rain lies in the pile.
func TestWorthAtReferenceMoisture(t *testing.T) {
	y := newYard(t, append(stocked(), price("A", "8"), ledger.MoistureTest{Pile: "PA", Taken: at("2026-10-02 00:00")})...)
	for i, pct := range []int64{5, 9} {
		m, err := ledger.NewDryBasis(decimal.NewFromInt(pct))
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			y.records[2].Fact = ledger.Product{Code: "A", Reference: m}
		} else {
			y.add(ledger.MoistureTest{Pile: "PA", Taken: at("2026-10-30 00:00"), Moisture: m})
		}
	}
	m := y.value("2026-10")
	want := "price 8, worth 840.00, earlier 0.00, carried 840.00, down 160.00, back 0.00"
	if diff := cmp.Diff(want, m.tested("A")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if m.Lines[0].Adjusted != tons(105) {
		t.Errorf("at reference moisture %v, want 105 t", m.Lines[0].Adjusted)
	}
}

// 100 t at 10.00 fall to 8.00; half of them leave, with half of what was written down; then the price rises to 9.00, to 12.00,
// and for a month nobody knows it. Only under IAS 2 is a write-down taken back.
func TestWriteDownsOverMonths(t *testing.T) {
	gone := from(t, "2027-01", price("A", "1"))
	gone.Currency = "USD"
	for _, c := range []struct {
		standard string
		want     []string
	}{
		{ledger.StandardIAS2, []string{
			"price 8, worth 800.00, earlier 0.00, carried 800.00, down 200.00, back 0.00",
			"price 9, worth 450.00, earlier 100.00, carried 450.00, down 0.00, back 50.00",
			"price 12, worth 600.00, earlier 50.00, carried 500.00, down 0.00, back 50.00",
			"no price, worth 0.00, earlier 0.00, carried 500.00, down 0.00, back 0.00",
			"price 9, worth 450.00, earlier 0.00, carried 450.00, down 50.00, back 0.00"}},
		{ledger.StandardASC330, []string{
			"price 8, worth 800.00, earlier 0.00, carried 800.00, down 200.00, back 0.00",
			"price 9, worth 450.00, earlier 100.00, carried 400.00, down 0.00, back 0.00",
			"price 12, worth 600.00, earlier 100.00, carried 400.00, down 0.00, back 0.00",
			"no price, worth 0.00, earlier 100.00, carried 400.00, down 0.00, back 0.00",
			"price 9, worth 450.00, earlier 100.00, carried 400.00, down 0.00, back 0.00"}},
	} {
		t.Run(c.standard, func(t *testing.T) {
			y := newYard(t, append(stocked(), policy(ledger.ValueStandard, c.standard), price("A", "8"), from(t, "2026-11", price("A", "9")),
				from(t, "2026-12", price("A", "12")), gone, from(t, "2027-02", price("A", "9")), sold("PA", "11-10", 50))...)
			var got []string
			for _, p := range []string{"2026-10", "2026-11", "2026-12", "2027-01", "2027-02"} {
				m := y.close(p)
				got = append(got, m.tested("A"))
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// What was made dilutes what was written down: 100 t with 200.00 written down and 100 t made leave 50.00 on a quarter of both.
func TestWriteDownLeavesInProportion(t *testing.T) {
	y := newYard(t, append(stocked(), price("A", "8"), made("PA", "11-05", 100), during(t, "2026-11", cost(ledger.CostMaking, "A", "1000")), sold("PA", "11-06", 150))...)
	y.close("2026-10")
	m := y.value("2026-11")
	want := "price 8, worth 400.00, earlier 50.00, carried 400.00, down 50.00, back 0.00"
	if diff := cmp.Diff(want, m.tested("A")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A credit takes the cost below what was written down: no more is written down than there is left of it.
func TestWriteDownAboveCost(t *testing.T) {
	y := newYard(t, append(stocked(), price("A", "1"), during(t, "2026-11", cost(ledger.CostMaking, "A", "-950")))...)
	y.close("2026-10")
	m := y.value("2026-11")
	want := "price 1, worth 100.00, earlier 50.00, carried 50.00, down 0.00, back 50.00"
	if diff := cmp.Diff(want, m.tested("A")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Stone of a closed month turns out to be another product: it goes with its cost, and what was written down goes too.
func TestWriteDownOnWhatWasNeverThere(t *testing.T) {
	y := newYard(t, append(dryProducts(), made("PC", "10-05", 100), cost(ledger.CostMaking, "C", "1000"), price("C", "8"), price("B", "20"))...)
	y.close("2026-10")
	y.replace(ledger.Production{At: noon("10-05"), Belt: "B-PC", Pile: "PB", Net: tons(100)})
	y.add(during(t, "2026-11", cost(ledger.CostMaking, "C", "-1000")), during(t, "2026-11", cost(ledger.CostMaking, "B", "1000")))
	m := y.value("2026-11")
	want := []string{"B made 100.000 t 1000.00", "B closing 100.000 t 1000.00", "C opening 100.000 t 1000.00", "C made -100.000 t -1000.00"}
	if diff := cmp.Diff(want, m.figures()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if diff := cmp.Diff("price 8, worth 0.00, earlier 0.00, carried 0.00, down 0.00, back 0.00", m.tested("C")); diff != "" {
		t.Errorf("C (-want +got):\n%s", diff)
	}
}

// Months left are the stock over what went out for good; stone that was fed comes back.
func TestMonthsLeft(t *testing.T) {
	free := purposed(sold("PA", "10-12", 10), ledger.PurposeFree)
	y := newYard(t, append(stocked(), sold("PA", "10-10", 20), free, transfer("PA", "PB", "10-11", 10), fed("PA", "10-13", 10), fed("PB", "10-13", 10))...)
	m := y.value("2026-10")
	if got := m.Lines[0].Supply; got == nil || got.String() != "1.2" { // 50 t at 40 t a month, half-even
		t.Errorf("A lasts %v months, want 1.2", got)
	}
	if got := m.Lines[1].Supply; got != nil {
		t.Errorf("B lasts %v months, want no end: none left", got)
	}
}
