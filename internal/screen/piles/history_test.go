package piles

import (
	"fmt"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"repose/internal/screen/screentest"
	"repose/ledger"
)

// moistPile is a test of P1.
func moistPile(t *testing.T, clock, pct string) ledger.MoistureTest {
	t.Helper()
	m := moist(t, clock, pct)
	m.Pile, m.Product = "P1", ""
	return m
}

// Of a yard that samples once a month the tests of the year are looked at, not the two of the rows.
func TestWetForDryByTheYear(t *testing.T) {
	var facts []ledger.Fact
	for i, pct := range []string{"13.6", "13.5", "13.7", "13.6", "13.8", "13.6", "13.5"} {
		facts = append(facts, moistPile(t, fmt.Sprintf("2026-%02d-10 08:00", 1+i), pct))
	}
	late := moistPile(t, "2026-10-20 08:00", "12")
	wants(t, october(t, append(facts, late)...), wetDry{}, "moisture:Y:pile/P1/2026-10-20T08:00:00Z") // with the one of September
	wants(t, october(t, append(facts[2:], late)...), wetDry{})                                        // seven
	wants(t, october(t, append(facts, moistPile(t, "2026-10-20 08:00", "13.9"))...), wetDry{})
}

// Figures that are all the same leave no scatter; a step of the rounding is nothing for all that.
func TestWetForDryOfRoundFigures(t *testing.T) {
	var facts []ledger.Fact
	for i := range 9 {
		facts = append(facts, moist(t, fmt.Sprintf("2026-10-%02d 08:00", 2+i), "4"))
	}
	wants(t, october(t, append(facts, moist(t, "2026-10-20 08:00", "4.1"))...), wetDry{})
	wants(t, october(t, append(facts, moist(t, "2026-10-20 08:00", "6"))...), wetDry{}, "moisture:Y:product/G1/2026-10-20T08:00:00Z")
}

// Few tests of a pile are held against those of its product's other piles.
func TestWetForDryByTheProduct(t *testing.T) {
	facts := []ledger.Fact{ledger.Pile{Code: "P3", Product: "G1"}}
	for i, pct := range []string{"13.6", "13.5", "13.7", "13.6", "13.8", "13.6", "13.5", "13.7"} {
		m := moistPile(t, fmt.Sprintf("2026-10-%02d 08:00", 2+i), pct)
		m.Pile = "P3"
		facts = append(facts, m)
	}
	rows := screentest.Rows(append(append(screentest.Place(), facts...), moistPile(t, "2026-10-20 08:00", "12"))...)
	wants(t, screentest.Month(t, "2026-10", rows...), wetDry{}, "moisture:Y:pile/P1/2026-10-20T08:00:00Z")
}

// A density within what stone has, but far from its pile's: three tests have to lie before it. 1.6 x 0.764554857984 is
// 1.2233.
func TestDensityAgainstItsPile(t *testing.T) {
	test := func(clock, value string) ledger.DensityTest {
		return ledger.DensityTest{Pile: "P1", Taken: at(clock), MoistTPerM3: decimal.RequireFromString(value), Compaction: decimal.NewFromInt(1)}
	}
	history := []ledger.Fact{test("2026-06-05 08:00", "1.6"), test("2026-07-05 08:00", "1.61"), test("2026-08-05 08:00", "1.59")}
	month := func(value string, before ...ledger.Fact) []screentest.Row {
		return screentest.Rows(append(append(screentest.Place(), before...), test("2026-10-05 08:00", value))...)
	}
	const subject = "density:Y:pile/P1/2026-10-05T08:00:00Z"
	wants(t, screentest.Month(t, "2026-10", month("1.85", history...)...), density{})
	wants(t, screentest.Month(t, "2026-10", month("2.1", history[:2]...)...), density{})
	f := wants(t, screentest.Month(t, "2026-10", month("2.1", history...)...), density{}, subject)[0]
	if want := "the median of the tests before it is 1.600; it would be 1.606 if it is per cubic yard"; !strings.Contains(f.Seen, want) {
		t.Errorf("%q, want %q", f.Seen, want)
	}
	off := ledger.Policy{Name: "rule density range percent", Value: "40 %", From: at("2026-01-01 00:00")}
	wants(t, screentest.Month(t, "2026-10", month("2.1", append(history, off)...)...), density{})
}

// A reset is found though the reading before it lies before the rows.
func TestTotaliserResetAfterALongRest(t *testing.T) {
	reading := func(clock string, tonnes ledger.Mass) ledger.Production {
		return ledger.Production{At: at(clock), Belt: "B1", Pile: "P1", Reading: tonnes * ledger.Tonne, IsReading: true, ReadingUnit: ledger.UnitTonne}
	}
	f := wants(t, october(t, reading("2026-09-05 08:00", 5000), reading("2026-10-05 08:00", 40)), reset{}, "production:Y:B1/2026-10-05T08:00:00Z")[0]
	seen(t, f, "showed 5000.000 t at 2026-09-05 09:00", f.Subject, "production:Y:B1/2026-09-05T08:00:00Z")
	d := october(t, reading("2026-09-05 08:00", 5000), reading("2026-10-05 08:00", 40))
	d.Production = d.Production[1:]
	seen(t, wants(t, d, reset{}, f.Subject)[0], "showed 5000.000 t at 2026-09-05 09:00", f.Subject)
}

// Two weeks without a reading move as much as two weeks of readings: that is no jump, and as much overnight is one.
func TestTotaliserJump(t *testing.T) {
	reading := func(day int, tonnes ledger.Mass) ledger.Production {
		return ledger.Production{At: at(fmt.Sprintf("2026-10-%02d 16:00", day)), Belt: "B1", Pile: "P1", Reading: tonnes * ledger.Tonne, IsReading: true, ReadingUnit: ledger.UnitTonne}
	}
	var facts []ledger.Fact
	for day := 1; day <= 12; day++ {
		facts = append(facts, reading(day, 1000+100*ledger.Mass(day)))
	}
	wants(t, october(t, append(facts, reading(26, 3600))...), reset{})
	wants(t, october(t, append(facts, reading(13, 3600))...), reset{}, "production:Y:B1/2026-10-13T16:00:00Z")
	wants(t, october(t, append(facts, reading(26, 36000))...), reset{}, "production:Y:B1/2026-10-26T16:00:00Z")
}
