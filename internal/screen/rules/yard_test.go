package rules_test

import (
	"testing"

	"repose/internal/screen"
	"repose/internal/screen/rules"
	"repose/internal/screen/screentest"
	"repose/internal/simyard"
)

// simulated looks through the second month of an invented yard.
func simulated(t testing.TB, y *simyard.Yard) []screen.Exception {
	t.Helper()
	all, err := screen.Run(screentest.Open(t, screentest.TakeIn(t, y), "SIM", "2026-02", 3).Data(t), rules.All())
	if err != nil {
		t.Fatal(err)
	}
	return all
}
