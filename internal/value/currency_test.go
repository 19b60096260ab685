package value_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/value"
	"repose/ledger"
)

func TestCurrencyReadsAndWrites(t *testing.T) {
	for _, c := range []struct {
		code, text string
		want       value.Money
		written    string
	}{
		{"EUR", "12.34", 1234, "12.34"},
		{"EUR", "-0.5", -50, "-0.50"},
		{"EUR", "7.100", 710, "7.10"},
		{"JPY", "12", 12, "12"},
		{"KWD", "1.234", 1234, "1.234"},
		{"CLF", "0.0001", 1, "0.0001"},
		{"EUR", "9999999999999.99", value.MaxMoney, "9999999999999.99"},
	} {
		cur, err := value.ParseCurrency(c.code)
		if err != nil {
			t.Fatal(err)
		}
		got, err := cur.Parse(c.text)
		if err != nil {
			t.Errorf("%s %s: %v", c.text, c.code, err)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s %s (-want +got):\n%s", c.text, c.code, diff)
		}
		if diff := cmp.Diff(c.written, cur.Format(got)); diff != "" {
			t.Errorf("%s %s, written (-want +got):\n%s", c.text, c.code, diff)
		}
		if _, after, _ := strings.Cut(c.written, "."); int(cur.Decimals()) != len(after) {
			t.Errorf("%s has %d decimals, and is written %s", c.code, cur.Decimals(), c.written)
		}
		if diff := cmp.Diff(c.code, cur.String()); diff != "" {
			t.Errorf("code (-want +got):\n%s", diff)
		}
	}
}

func TestCurrencyRefuses(t *testing.T) {
	for _, code := range []string{"", "EU", "EURO", "eur", "E1R", "ÄBC"} {
		if got, err := value.ParseCurrency(code); err == nil {
			t.Errorf("currency %q is read as %v", code, got)
		}
	}
	for _, text := range []string{"", "1,5", "1.005", "1e3", "10000000000000.00", "-10000000000000.00", "99999999999999999999999"} {
		if got, err := usd(t).Parse(text); err == nil {
			t.Errorf("amount %q is read as %v", text, got)
		}
	}
}

func TestMoneyKeepsWithinItsBounds(t *testing.T) {
	if got, err := value.MaxMoney.Add(1); !errors.Is(err, value.ErrMoneyRange) {
		t.Errorf("most + 1 = %v, %v", got, err)
	}
	if got, err := (-value.MaxMoney).Sub(1); !errors.Is(err, value.ErrMoneyRange) {
		t.Errorf("least - 1 = %v, %v", got, err)
	}
	if got, err := value.Money(5).Sub(7); err != nil || got != -2 {
		t.Errorf("5 - 7 = %v, %v", got, err)
	}
}

func TestPriceOfAQuantity(t *testing.T) {
	for _, c := range []struct {
		name   string
		amount string
		per    ledger.MassUnit
		q      ledger.Mass
		want   string
	}{
		{"per tonne", "8.1745", ledger.UnitTonne, 1000 * ledger.Tonne, "8174.50"},
		{"half to even, down", "0.005", ledger.UnitTonne, ledger.Tonne, "0.00"},
		{"half to even, up", "0.015", ledger.UnitTonne, ledger.Tonne, "0.02"},
		{"negative half to even", "-0.015", ledger.UnitTonne, ledger.Tonne, "-0.02"},
		{"per short ton of 907.18474 kg", "10", ledger.UnitShortTon, 45_359_237 * ledger.Gram, "500.00"},
		{"per pound", "1", ledger.UnitPound, 45_359_237 * ledger.Gram, "100000.00"},
	} {
		got, err := value.Price{Amount: decimal.RequireFromString(c.amount), Per: c.per}.Of(c.q, usd(t))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, usd(t).Format(got)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
	if got, err := (value.Price{Amount: decimal.New(1, 0)}).Of(ledger.Tonne, usd(t)); err == nil {
		t.Errorf("a price without unit makes %v", got)
	}
	if got, err := (value.Price{Amount: decimal.New(1, 9), Per: ledger.UnitGram}).Of(ledger.MaxMass, usd(t)); !errors.Is(err, value.ErrMoneyRange) {
		t.Errorf("too much money is %v, %v", got, err)
	}
}

func TestCostPerUnitIsShown(t *testing.T) {
	for _, c := range []struct {
		lot    value.Lot
		unit   ledger.MassUnit
		places int32
		want   string
	}{
		{value.Lot{Quantity: 45_359_237, Cost: 50_000}, ledger.UnitShortTon, 2, "10.00"},
		{value.Lot{Quantity: 3 * ledger.Tonne, Cost: 1000}, ledger.UnitTonne, 4, "3.3333"},
		{value.Lot{Quantity: 8 * ledger.Tonne, Cost: 1}, ledger.UnitTonne, 4, "0.0012"}, // 0.00125
		{value.Lot{Quantity: 8 * ledger.Tonne, Cost: 3}, ledger.UnitTonne, 4, "0.0038"}, // 0.00375
	} {
		got, ok := c.lot.Per(c.unit, usd(t), c.places)
		if !ok {
			t.Fatalf("%+v has no cost per %s", c.lot, c.unit)
		}
		if diff := cmp.Diff(c.want, got.StringFixed(c.places)); diff != "" {
			t.Errorf("%+v (-want +got):\n%s", c.lot, diff)
		}
	}
	if got, ok := (value.Lot{Cost: 5}).Per(ledger.UnitTonne, usd(t), 2); ok {
		t.Errorf("cost without quantity is %v a tonne", got)
	}
}
