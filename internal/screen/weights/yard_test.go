package weights_test

import (
	"testing"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/internal/screen/weights"
	"repose/internal/simyard"
	"repose/ledger"
)

// screened derives the months of a book and returns what rules look at in the last of them.
func screened(t testing.TB, records []ledger.Record, yard, opening string, months int) *screen.Data {
	t.Helper()
	return screentest.Open(t, records, yard, opening, months).Data(t)
}

// generate invents a yard with faults.
func generate(t testing.TB, cfg simyard.Config, faults ...string) *simyard.Yard {
	t.Helper()
	for _, s := range faults {
		f, err := simyard.ParseFault(s)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	y, err := simyard.Generate(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// month returns the second month of a quick invented yard with faults.
func month(t testing.TB, cfg simyard.Config, faults ...string) (*screen.Data, simyard.Truth) {
	t.Helper()
	y := generate(t, cfg, faults...)
	return screened(t, screentest.TakeIn(t, y), "SIM", "2026-02", 3), y.Truth
}

// found runs the rules of the package.
func found(t testing.TB, d *screen.Data) []screen.Exception {
	t.Helper()
	all, err := screen.Run(d, weights.Rules())
	if err != nil {
		t.Fatal(err)
	}
	return all
}
