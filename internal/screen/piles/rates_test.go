package piles

import (
	"math"
	"slices"
	"testing"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/internal/simyard"
	"repose/internal/stat"
	"repose/ledger"
)

// number is how many invented months a test looks through.
func number(all, short int) int {
	if testing.Short() {
		return short
	}
	return all
}

// looked runs the rules of the package over the last of some months of an invented yard.
func looked(t *testing.T, y *simyard.Yard, months int) []screen.Exception {
	t.Helper()
	all, err := screen.Run(screentest.Open(t, screentest.TakeIn(t, y), "SIM", "2026-02", 1+months).Unmatched(t), Rules())
	if err != nil {
		t.Fatal(err)
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

// check holds every rule to what it says of itself: one that is certain has none, the others no more than chance at the
// rate that they state.
func (f *falsely) check(t *testing.T) {
	t.Helper()
	for _, r := range Rules() {
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
		cfg := simyard.Quick(uint64(60_000 + seed))
		cfg.Traffic = []int{42, 10, 42, 60}[seed%4]
		if seed%10 == 1 { // calm ones have a year behind them
			cfg.Months = 14
		}
		y, err := simyard.Generate(cfg)
		if err != nil {
			t.Fatal(err)
		}
		f.months++
		for _, e := range looked(t, y, cfg.Months) {
			f.add(e)
		}
	}
	f.check(t)
}

// faults are seeded one at a time. recall is what is at least found of them: all, by the rules that are certain. A swap
// among the noisiest piles is hardly ever beyond their noise, a belt that is read off its totaliser only at the end of its
// runs cannot be told from a late run, and a basis of moisture that is wrong moves less than the samples scatter.
var faults = []struct {
	fault  string
	recall float64
}{
	{"wrong-product:A>B:2:4", 1},
	{"one-sided:C>D:2:2", 1},
	{"below-zero:A:2:1", 1},
	{"below-zero:C:2:2", 1},
	{"swap:F>D:2:1200t", 0.8},
	{"swap:A>B:2:600t", 0},
	{"missed-transfer:C>D:2:150t", 0},
	{"belt-idle:B1:2:30t", 1},
	{"belt-idle:B1:2:2t", 1},
	{"belt-idle:B2:2:30t", 0},
	{"feed-as-new:B2:2:1", 0.95},
	{"totaliser-reset:B2:2:1", 1},
	{"totaliser-reset:B2:2:3", 1},
	{"stale-density:A:2:400d", 1},
	{"stale-moisture:A:2:200d", 1},
	{"stale-base:A:2:600d", 1},
	{"survey-while-loading:A:2:3", 1},
	{"toe-jump:A:2:+25%", 0.95},
	{"toe-jump:A:2:-20%", 0.9},
	{"wet-for-dry:A:2:1", 0},
}

func TestSeededFaults(t *testing.T) {
	wrong := newFalsely()
	for _, k := range faults {
		f, err := simyard.ParseFault(k.fault)
		if err != nil {
			t.Error(err)
			continue
		}
		seeded, hits := 0, 0
		for seed := range number(40, 4) {
			y, err := simyard.Month(uint64(70_000+seed), f)
			if err != nil {
				continue // this yard has no room for the fault; few have none
			}
			wrong.months++
			exceptions, truth := looked(t, y, 2), y.Truth.Findings()
			for _, g := range truth {
				seeded++
				if slices.ContainsFunc(exceptions, func(e screen.Exception) bool { return accounted(e, []simyard.Finding{g}) }) {
					hits++
				}
			}
			for _, e := range exceptions {
				if !accounted(e, truth) {
					wrong.add(e)
				}
			}
		}
		if seeded < number(20, 2) {
			t.Errorf("%s: %d seeded, want more", k.fault, seeded)
		}
		if float64(hits) < k.recall*float64(seeded)-2*math.Sqrt(float64(seeded)*k.recall*(1-k.recall)) {
			t.Errorf("%s: %d of %d found, want %g of them", k.fault, hits, seeded, k.recall)
		}
		t.Logf("%s: %d of %d found", k.fault, hits, seeded)
	}
	wrong.check(t)
}

// What a belt counted with nothing on it explains what is then missing from its pile, but for the sampling of its moisture.
func TestEffectOfAnIdleBelt(t *testing.T) {
	f, err := simyard.ParseFault("belt-idle:B1:2:30t")
	if err != nil {
		t.Fatal(err)
	}
	for seed := range 5 {
		y, err := simyard.Month(uint64(80_000+seed), f)
		if err != nil {
			t.Fatal(err)
		}
		shares, exceptions := y.Truth.Findings()[0].Shares, looked(t, y, 2)
		if len(shares) != 1 || len(exceptions) != 1 || len(exceptions[0].Solids) != 1 {
			t.Fatalf("seed %d: %v, found %+v", seed, shares, exceptions)
		}
		want, got := shares[0], exceptions[0].Solids[0]
		if off := (got.Mass - ledger.Mass(want.Missing)).Abs(); got.Pile != want.Pile || off > got.Mass/100 {
			t.Errorf("seed %d: %v of pile %s, want %v of %s", seed, got.Mass, got.Pile, ledger.Mass(want.Missing), want.Pile)
		}
	}
}

// concerns reports whether an exception is about a record of a finding, or, where that is about piles, about its pile.
func concerns(e screen.Exception, g simyard.Finding) bool {
	if len(g.Records) == 0 || e.Rule == (mirrored{}).Info().Name {
		return slices.ContainsFunc(g.Shares, func(s simyard.PileShare) bool { return s.Pile == e.Pile })
	}
	return slices.ContainsFunc(e.Records, func(id string) bool { return slices.Contains(g.Records, id) })
}

// accounted reports whether the truth accounts for an exception.
func accounted(e screen.Exception, truth []simyard.Finding) bool {
	return slices.ContainsFunc(truth, func(g simyard.Finding) bool {
		return (e.Rule == g.Rule || slices.Contains(g.Also, e.Rule)) && concerns(e, g)
	})
}
