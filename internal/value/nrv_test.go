package value_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/value"
	"repose/ledger"
)

// A stock of 1,000 falls to 700, rises to 900, and rises to 1,200 (our own figures). Under IAS 2 the write-down comes back,
// up to cost; under ASC 330 it stays.
func TestLowerOfCostAndNetRealisableValue(t *testing.T) {
	for _, c := range []struct {
		name     string
		standard value.Standard
		earlier  value.Money
		worth    value.Money
		want     value.Lower
	}{
		{"worth more", value.IAS2, 0, 1200, value.Lower{Carrying: 1000}},
		{"falls", value.IAS2, 0, 700, value.Lower{Carrying: 700, WriteDown: 300}},
		{"rises", value.IAS2, 300, 900, value.Lower{Carrying: 900, Reversal: 200}},
		{"rises beyond cost", value.IAS2, 300, 1200, value.Lower{Carrying: 1000, Reversal: 300}},
		{"falls on", value.IAS2, 300, 600, value.Lower{Carrying: 600, WriteDown: 100}},
		{"worth more", value.ASC330, 0, 1200, value.Lower{Carrying: 1000}},
		{"falls", value.ASC330, 0, 700, value.Lower{Carrying: 700, WriteDown: 300}},
		{"rises", value.ASC330, 300, 900, value.Lower{Carrying: 700}},
		{"rises beyond cost", value.ASC330, 300, 1200, value.Lower{Carrying: 700}},
		{"falls on", value.ASC330, 300, 600, value.Lower{Carrying: 600, WriteDown: 100}},
	} {
		got, err := c.standard.Test(value.Held{Stock: stock(t, value.Lot{Quantity: 1, Cost: 1000}), Earlier: c.earlier, Value: c.worth})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s, %s (-want +got):\n%s", c.standard, c.name, diff)
		}
	}
	s := stock(t, value.Lot{Quantity: 1, Cost: 1000})
	for _, bad := range []value.Held{{Stock: s, Earlier: -1}, {Stock: s, Earlier: 1001}, {Stock: s, Value: -1}} {
		if got, err := value.IAS2.Test(bad); err == nil {
			t.Errorf("%+v makes %+v", bad, got)
		}
	}
	if got, err := value.Standard(0).Test(value.Held{Stock: s}); err == nil {
		t.Errorf("no standard makes %+v", got)
	}
}

func TestNetRealisableValue(t *testing.T) {
	for _, c := range []struct{ price, completion, sale, want string }{
		{"12.50", "0", "0", "12500.00"},
		{"12.50", "1.25", "0.75", "10500.00"},
		{"3", "2", "4", "0.00"}, // worth no less than nothing
	} {
		d := decimal.RequireFromString
		got, err := value.Realisable{Price: d(c.price), Completion: d(c.completion), Sale: d(c.sale), Per: ledger.UnitTonne}.Of(1000*ledger.Tonne, usd(t))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, usd(t).Format(got)); diff != "" {
			t.Errorf("%+v (-want +got):\n%s", c, diff)
		}
	}
}

func TestMonthsOfSupply(t *testing.T) {
	for _, c := range []struct {
		held, left ledger.Mass
		months     int
		want       string
	}{
		{40_000, 48_000, 12, "10.0"},
		{1, 4, 1, "0.2"}, // 0.25
		{3, 4, 1, "0.8"}, // 0.75
		{0, 5, 3, "0.0"},
		{5, 0, 3, "none"}, {5, 5, 0, "none"}, {-5, 5, 3, "none"},
	} {
		got := "none"
		if d, ok := value.MonthsOfSupply(c.held*ledger.Tonne, c.left*ledger.Tonne, c.months); ok {
			got = d.StringFixed(1)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%+v (-want +got):\n%s", c, diff)
		}
	}
}
