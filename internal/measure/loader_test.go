package measure

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"repose/internal/stat"
	"repose/ledger"
)

// weigh makes the totals of trucks weighed by a loader that reads high by a fraction.
func weigh(random *rand.Rand, n int, bias float64) (ledger.PairTotals, stat.Pairs) {
	var t ledger.PairTotals
	var p stat.Pairs
	for range n {
		deck := math.Round(20000 + 8000*random.Float64())
		loader := math.Round(deck * (1 + bias + 0.01*random.NormFloat64()))
		t = t.Add(ledger.PairTotals{Count: 1, Loader: int64(loader), Deck: int64(deck), LoaderSquares: int64(loader * loader),
			DeckSquares: int64(deck * deck), Product: int64(loader * deck)})
		p.Judged, p.Reference = append(p.Judged, loader/1000), append(p.Reference, deck/1000)
	}
	return t, p
}

// The ratio of sums agrees with the same estimator on the single weighings.
func TestRatioFromSums(t *testing.T) {
	totals, pairs := weigh(rand.New(rand.NewPCG(1, 2)), 400, 0.006)
	bias, u := ratio(totals)
	want, err := pairs.Ratio()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bias", bias, want.Value-1, 1e-9)
	near(t, "u", u, want.SE, 1e-9)
	if math.Abs(bias-0.006) > 4*u {
		t.Errorf("bias %v +/- %v, and the loader reads 0.6 %% high", bias, u)
	}
}

func TestLoaderChecks(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	key := ledger.Pairing{Loader: "L1", Deck: "D1"}
	var months []MonthPairs
	for i, text := range []string{"2026-09", "2026-07", "2026-08", "2026-10"} { // not in order
		p, err := ledger.ParsePeriod(text)
		if err != nil {
			t.Fatal(err)
		}
		place := []float64{2, 0, 1, 3}[i]
		totals, _ := weigh(random, 500, 0.002*place)
		months = append(months, MonthPairs{p, ledger.Pairs{key: totals, {Loader: "L2", Deck: "D1"}: {Count: 2, Loader: 2, Deck: 2}}})
	}
	checks := checkLoaders(sortMonths(months), func(string) float64 { return 0.001 })
	if len(checks) != 1 || checks[0].Pairing != key || checks[0].Count != 2000 || !checks[0].HasDrift {
		t.Fatalf("checks %+v, want L1 alone: eight trucks of L2 say nothing", checks)
	}
	if c := checks[0]; math.Abs(c.Bias-0.003) > 4*c.U || math.Abs(c.Drift-0.002) > 4*c.DriftU {
		t.Errorf("bias %.5f +/- %.5f, drift %.5f +/- %.5f; true 0.003 and 0.002 a month", c.Bias, c.U, c.Drift, c.DriftU)
	}
}

// A loader that agrees with the deck is believed more, one that disagrees less than it would have been.
func TestBelief(t *testing.T) {
	check := func(bias float64) []LoaderCheck {
		return []LoaderCheck{{Pairing: ledger.Pairing{Loader: "L1", Deck: "D1"}, Bias: bias, U: 0.0003, DeckU: 0.001}}
	}
	agrees := believe(0.007, check(0.0002), "L1", time.Time{})
	disagrees := believe(0.007, check(0.02), "L1", time.Time{})
	if agrees > 0.0011 || agrees < 0.0009 {
		t.Errorf("after agreement %v, want about the deck's own 0.001", agrees)
	}
	if disagrees < 0.019 {
		t.Errorf("after a disagreement of 2 %%: %v, want about as much", disagrees)
	}
	if got := believe(0.007, check(0), "L2", time.Time{}); got != 0.007 {
		t.Errorf("another loader: %v, want what was stated", got)
	}
}
