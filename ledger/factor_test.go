package ledger_test

import (
	"testing"

	"repose/ledger"
)

// A belt's masses are multiplied by its factor from a day on, readings as well as net masses, rounded half-even to the
// gram; what another belt made, and what was made before, stands.
func TestBeltFactor(t *testing.T) {
	factor := ledger.Policy{Name: ledger.BeltFactor("B1"), Value: "1.0065", From: at("2026-10-05 00:00")}
	read := func(when string, tonnes float64) ledger.Production {
		return ledger.Production{At: at(when), Belt: "B1", Pile: "P2", Reading: tons(tonnes), IsReading: true, ReadingUnit: ledger.UnitTonne}
	}
	other := made("2026-10-06 13:00", "P1", 100)
	other.Belt = "B2"
	odd := made("2026-10-06 14:00", "P3", 0)
	odd.Net = 1000 // g: 1,006.5 g, half-even to 1,006
	y := newYard(t, pile("P1"), pile("P2"), pile("P3"), dryAs("P1"), dryAs("P2"), dryAs("P3"), factor,
		made("2026-10-04 12:00", "P1", 1000), made("2026-10-06 12:00", "P1", 1000), other, odd,
		read("2026-10-06 10:00", 500), read("2026-10-07 10:00", 700))
	m, entries := y.month("2026-10", ledger.NewState())
	for code, want := range map[string]ledger.Mass{"P1": tons(1000) + tons(1006.5) + tons(100), "P2": tons(201.3), "P3": 1006} {
		if got := m.Closing.Balances[ledger.PileID{Yard: "Y", Code: code}.Account()].Solids; got != want {
			t.Errorf("pile %s holds %v, want %v", code, got, want)
		}
	}
	flagged := 0
	for _, e := range entries {
		if e.Flags&ledger.FlagFactor != 0 {
			flagged++
		}
	}
	if flagged != 3 || len(m.Ratings) != 1 || m.Ratings[0].Belt != "B1" {
		t.Errorf("%d entries are flagged, and the factors are %v; want 3 and that of B1", flagged, m.Ratings)
	}
	for _, bad := range []string{"", "0.4", "2.1", "-1", "1,006", "x"} {
		if _, err := ledger.NewRecord("Y", ledger.Policy{Name: ledger.BeltFactor("B1"), Value: bad, From: at("2026-10-05 00:00")}); err == nil {
			t.Errorf("factor %q is accepted", bad)
		}
	}
}
