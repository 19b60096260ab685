package report

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

func TestTonnesAndPercentInJSON(t *testing.T) {
	b, err := json.Marshal(struct {
		Mass    Tonnes
		Missing *Tonnes
		Percent *Percent
		None    *Percent
	}{Tonnes(24_310_000), nil, percentOf(1, 3), percentOf(1, 0)})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := string(b), `{"Mass":"24.310","Missing":null,"Percent":33.3333,"None":null}`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestUnitsOnTheScreen(t *testing.T) {
	for _, c := range []struct {
		unit ledger.MassUnit
		mass ledger.Mass
		want string
	}{
		{ledger.UnitTonne, 1234567890 * ledger.Kilogram, "1,234,567.9"},
		{ledger.UnitTonne, -50 * ledger.Kilogram, "0.0"}, // half-even, and no minus before nothing
		{ledger.UnitTonne, -150 * ledger.Kilogram, "-0.2"},
		{ledger.UnitShortTon, 90718474 * ledger.Gram, "100.0"},
		{ledger.UnitKilogram, 1500 * ledger.Gram, "2"},
	} {
		if got := YardUnit(c.unit).Format(c.mass); got != c.want {
			t.Errorf("%v in %v = %q, want %q", c.mass, c.unit, got, c.want)
		}
	}
}

func TestThousands(t *testing.T) {
	for in, want := range map[string]string{"0": "0.0", "999.96": "1,000.0", "-1000": "-1,000.0", "1000000": "1,000,000.0"} {
		if got := thousands(decimal.RequireFromString(in), 1); got != want {
			t.Errorf("thousands(%s) = %q, want %q", in, got, want)
		}
	}
}

func TestTableAlignsAndRulesOffTheTotal(t *testing.T) {
	table := NewTable("pile", ">t")
	table.Row("Ä", "1.0")
	table.Row("total", "10.0")
	table.Total = true
	var b strings.Builder
	if _, err := table.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	want := "pile      t\n-----  ----\nÄ       1.0\n-----  ----\ntotal  10.0\n"
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
