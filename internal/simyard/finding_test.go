package simyard_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"repose/internal/simyard"
)

// residuals are those of the real intake and the ledger, by pile and month.
func residuals(t testing.TB, y *simyard.Yard, opening string) map[cell]float64 {
	t.Helper()
	all := map[cell]float64{}
	_, months := deriveFrom(t, takeIn(t, y), opening, len(y.Truth.Periods))
	for k, m := range months {
		for _, c := range m.Comparisons {
			if residual, ok := c.Residual(); ok {
				all[cell{c.Pile.Code, k}] = float64(residual) / 1e6
			}
		}
	}
	return all
}

// With true tests and scales the balances of the tables are the true shrinkage, whatever is wrong with the
// records.
func TestErrorlessRecordsLeaveShrinkage(t *testing.T) {
	for _, faults := range append(recordFaults, nil) {
		cfg := with(simyard.Quick(4), faults...)
		cfg.Scale, cfg.Traffic = 0, 0
		y := generate(t, cfg)
		got := residuals(t, y, "2026-02")
		for _, p := range y.Truth.Piles {
			for k, m := range p.Months {
				g, w := got[cell{p.Pile, k + 1}], tonnes(m.Shrinkage)
				if math.Abs(g-w) > 0.3 { // steps of displays
					t.Errorf("%s %s: residual %.3f t, want %.3f t", p.Pile, m.Period, g, w)
				}
				if faults == nil && m.Shrinkage != 0 {
					t.Errorf("%s %s: shrinkage %v in a clean yard", p.Pile, m.Period, w)
				}
			}
		}
	}
}

// What findings make of differences, with losses, is the shrinkage, to the gram.
func TestFindingsSumToShrinkage(t *testing.T) {
	for i, faults := range recordFaults {
		y := generate(t, with(simyard.Quick(uint64(i)), append(slices.Clone(faults), "loss:B:2:50t")...))
		for _, p := range y.Truth.Piles {
			for _, m := range p.Months {
				sum := m.Lost
				for _, f := range y.Truth.Findings() {
					for _, s := range f.Shares {
						if s.Pile == p.Pile && s.Period == m.Period {
							sum += s.Missing
						}
					}
				}
				if sum != m.Shrinkage {
					t.Errorf("%s %s: findings and losses of %d g, want %d g", p.Pile, m.Period, sum, m.Shrinkage)
				}
			}
		}
	}
}

// Whatever goes wrong with records, the tables are taken in and follow from the truth: each realised error,
// and what each fault states.
func TestAnyRecordFaultsFollowFromTruth(t *testing.T) {
	all := slices.Concat(recordFaults...)
	all = append(all, "loss:B:2:200t", "loader:L1:2:+3%", "belt:B2:1-:-2%", "survey:A:2:+5%", "density:C:1:-6%", "missing:L2:1-:3",
		"stale-moisture:A:2:100d", "void-after-exit:L2:1-:3", "totaliser-reset:B2:1-:1")
	rapid.Check(t, func(rt *rapid.T) {
		cfg := simyard.Quick(rapid.Uint64().Draw(rt, "seed"))
		cfg.Traffic = rapid.IntRange(15, 45).Draw(rt, "traffic")
		cfg.Scale = rapid.Float64Range(0, 1.5).Draw(rt, "scale")
		cfg = with(cfg, rapid.SliceOfNDistinct(rapid.SampledFrom(all), 0, 8, rapid.ID[string]).Draw(rt, "faults")...)
		y, err := simyard.Generate(cfg)
		if err != nil {
			rt.Skip(err) // two faults may want the same loads
		}
		got, want := residuals(t, y, "2026-02"), account{y.Truth, cfg.Faults}
		for i, p := range y.Truth.Piles {
			for month := 1; month <= cfg.Months; month++ {
				if g, w := got[cell{p.Pile, month}], want.residual(i, month); !(math.Abs(g-w) <= 0.15) {
					rt.Errorf("%s, month %d: residual %.3f t, want %.3f t", p.Pile, month, g, w)
				}
			}
		}
	})
}
