package weights_test

import (
	"slices"
	"testing"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/internal/screen/weights"
	"repose/internal/simyard"
	"repose/internal/stat"
)

// number is how many invented months a test looks through.
func number(all, short int) int {
	if testing.Short() {
		return short
	}
	return all
}

// falsely counts findings that nothing accounts for, by rule, over a number of months.
type falsely struct {
	months  int
	found   map[string]int
	example map[string]string
}

func newFalsely() *falsely { return &falsely{0, map[string]int{}, map[string]string{}} }

func (f *falsely) add(e screen.Exception) {
	f.found[e.Rule]++
	f.example[e.Rule] = e.Seen
}

// check holds every rule to what it says of itself: a rule that is certain, and one that states no false alarms, has none.
func (f *falsely) check(t *testing.T) {
	t.Helper()
	for _, r := range weights.Rules() {
		i := r.Info()
		n := f.found[i.Name]
		low, _ := stat.PoissonInterval(n, 0.99)
		if low > i.FalseAlarms*float64(f.months) || n > 0 && (i.FalseAlarms == 0 || i.Strength == screen.Certain) {
			t.Errorf("%s: %d false in %d months, want at most %g a month in the mean; one is %q", i.Name, n, f.months, i.FalseAlarms, f.example[i.Name])
		}
	}
	t.Logf("false in %d months: %v", f.months, f.found)
}

// Calm and busy months without a fault, of 240 to 1,400 loads.
func TestCleanMonths(t *testing.T) {
	f := newFalsely()
	for seed := range number(200, 40) {
		cfg := simyard.Quick(uint64(20_000 + seed))
		cfg.Traffic = []int{42, 10, 42, 60}[seed%4]
		d, _ := month(t, cfg)
		f.months++
		for _, e := range found(t, d) {
			f.add(e)
		}
	}
	f.check(t)
}

// faults are seeded one at a time. recall is what is at least found of them, by the rule that is meant for them; those of
// other packages' rules are there for what this package's make of them. with is a rule that rightly speaks of their records
// beside those that the truth names: a wrong tare makes a wrong net.
var faults = []struct {
	fault  string
	recall float64
	with   string
}{
	{fault: "no-deck-ticket:L1:2:4", recall: 0.98},
	{fault: "no-deck-ticket:L2:2:4", recall: 0.98},
	{fault: "no-loader-load:L1:2:4", recall: 0.98},
	{fault: "no-loader-load:L2:2:4", recall: 0.98},
	{fault: "bucket-pass:L1:2:4", recall: 0.97},
	{fault: "bucket-pass:L2:2:-4", recall: 0.97},
	{fault: "unit-slip:L1:2:5", recall: 1},
	{fault: "unit-slip:L1:2:20", recall: 1},
	{fault: "unit-slip:L2:2:-200", recall: 1},
	{fault: "unit-slip:D1:2:20", recall: 1},
	{fault: "unit-slip:D1:2:-500", recall: 1},
	{fault: "wrong-pile:A>B:2:4", recall: 0.98},
	{fault: "wrong-pile:E>F:2:4", recall: 0.98},
	{fault: "wrong-product:A>B:2:4", recall: 0.98},
	{fault: "wrong-truck:L1:2:4", recall: 0.93},
	{fault: "lumped:L1:2:2", recall: 1},
	{fault: "lumped:L1:2:4", recall: 1},
	{fault: "lumped:L2:2:3", recall: 1},
	{fault: "split-load:L1:2:4", recall: 0.97},
	{fault: "round-weights:L1:2:5", recall: 1},
	{fault: "round-weights:L2:2:100", recall: 1},
	{fault: "missing:L1:2:8"},
	{fault: "near-twin:L1:2:4"},
	{fault: "void-after-exit:L1:2:4"},
	{fault: "void-reissued:L2:2:4"},
	{fault: "below-zero:A:2:2"},
	{fault: "outage-pad:L1:2:8"},
	{fault: "old-tare:D1:2:4", with: "weights differ"},
	{fault: "same-tare:D1:2:5", with: "weights differ"},
}

func TestSeededFaults(t *testing.T) {
	wrong := newFalsely()
	for _, k := range faults {
		seeded, hits := 0, 0
		for seed := range number(40, 5) {
			y, err := simyard.ParseFault(k.fault)
			if err != nil {
				t.Fatal(err)
			}
			cfg := simyard.Quick(uint64(30_000 + seed))
			cfg.Faults = append(cfg.Faults, y)
			invented, err := simyard.Generate(cfg)
			if err != nil {
				continue // this yard has no room for the fault; few have none
			}
			exceptions := found(t, screened(t, screentest.TakeIn(t, invented), "SIM", "2026-02", 3))
			truth := invented.Truth.Findings()
			for _, g := range truth {
				seeded++
				if slices.ContainsFunc(exceptions, func(e screen.Exception) bool { return e.Rule == g.Rule && concerns(e, g) }) {
					hits++
				}
			}
			wrong.months++
			for _, e := range exceptions {
				if !accounted(e, truth, k.with) {
					wrong.add(e)
				}
			}
		}
		if seeded < number(20, 3) {
			t.Errorf("%s: %d seeded, want more", k.fault, seeded)
		}
		if float64(hits) < k.recall*float64(seeded)-float64(number(0, 1)) {
			t.Errorf("%s: %d of %d found, want %g of them", k.fault, hits, seeded, k.recall)
		}
		if k.recall > 0 {
			t.Logf("%s: %d of %d found", k.fault, hits, seeded)
		}
	}
	wrong.check(t)
}

// concerns reports whether an exception is about a record of a finding.
func concerns(e screen.Exception, g simyard.Finding) bool {
	return slices.ContainsFunc(e.Records, func(id string) bool { return slices.Contains(g.Records, id) })
}

// accounted reports whether the truth accounts for an exception.
func accounted(e screen.Exception, truth []simyard.Finding, with string) bool {
	return slices.ContainsFunc(truth, func(g simyard.Finding) bool {
		return (e.Rule == g.Rule || e.Rule == with || slices.Contains(g.Also, e.Rule)) && concerns(e, g)
	})
}
