package valuation_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/valuation"
	"repose/internal/value"
	"repose/ledger"
)

// sealable shows what a closing is made of.
var sealable = cmp.AllowUnexported(value.Stock{}, value.Currency{})

func held(t testing.TB, product string, q ledger.Mass, cost, writtenDown value.Money) valuation.Held {
	t.Helper()
	s, err := value.NewStock(value.Lot{Quantity: q, Cost: cost})
	if err != nil {
		t.Fatal(err)
	}
	return valuation.Held{Product: product, Stock: s, WrittenDown: writtenDown}
}

func TestSealedValueReadsBack(t *testing.T) {
	for _, code := range []string{"EUR", "JPY", "KWD", "CLF"} {
		t.Run(code, func(t *testing.T) {
			currency, err := value.ParseCurrency(code)
			if err != nil {
				t.Fatal(err)
			}
			want := &valuation.Closing{Currency: currency, InProcess: 12345, Products: []valuation.Held{held(t, "0-4 mm", 1, 0, 0), held(t, `<5 "Füller" & \`, 0, 0, 0),
				held(t, "A", ledger.MaxMass, value.MaxMoney, value.MaxMoney), held(t, "B", 80_000_001, 7, 5)}}
			got, err := valuation.ParseClosing(want.SealLines())
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, got, sealable); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// The lines are hashed by a seal, so they are held to the byte.
func TestSealedValueKeepsItsBytes(t *testing.T) {
	y := newYard(t, append(stocked(), fed("PB", "10-10", 10), price("A", "8"))...)
	m := y.value("2026-10")
	want := []string{`{"currency":"EUR","cost":"300.00"}`,
		`{"product":"A","currency":"EUR","solids_g":"100000000","cost":"1000.00","written_down":"200.00"}`,
		`{"product":"B","currency":"EUR","solids_g":"40000000","cost":"1200.00","written_down":"0.00"}`}
	if diff := cmp.Diff(want, m.Closing().SealLines()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestSealedValueThatDoesNotRead(t *testing.T) {
	const first = `{"currency":"EUR","cost":"0.00"}`
	for _, c := range []struct {
		name, says string
		lines      []string
	}{
		{"no JSON", "invalid character", []string{"EUR"}},
		{"no currency", `currency "": want`, []string{`{"cost":"0.00"}`}},
		{"no cost", "not a plain decimal", []string{`{"currency":"EUR"}`}},
		{"no product line, but a second first", "invalid syntax", []string{first, first}},
		{"half a gram", "invalid syntax", []string{first, `{"product":"A","solids_g":"0.5","cost":"1.00","written_down":"0.00"}`}},
		{"half a cent", "finer than the 2 decimals", []string{first, `{"product":"A","solids_g":"1","cost":"1.005","written_down":"0.00"}`}},
		{"no write-down", "not a plain decimal", []string{first, `{"product":"A","solids_g":"1","cost":"1.00"}`}},
		{"below zero", value.ErrShort.Error(), []string{first, `{"product":"A","solids_g":"-1","cost":"1.00","written_down":"0.00"}`}},
		{"cost on nothing", value.ErrBareCost.Error(), []string{first, `{"product":"A","solids_g":"0","cost":"1.00","written_down":"0.00"}`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := valuation.ParseClosing(c.lines)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("error %v, closing %+v; want %q", err, got, c.says)
			}
		})
	}
	if c, err := valuation.ParseClosing(nil); c != nil || err != nil {
		t.Errorf("no lines give %+v, %v; want neither", c, err)
	}
}
