package measure

import (
	"cmp"
	"math"
	"slices"
	"time"

	"repose/internal/stat"
	"repose/ledger"
)

// MonthPairs are the trucks that loaders and deck scales weighed in a month.
type MonthPairs struct {
	Period ledger.Period
	Pairs  ledger.Pairs
}

// LoaderCheck is a loader held against a deck scale in one calibration epoch. Bias is loader over deck, less
// one: positive means that the loader reads high. It is the ratio of the totals, in which every tonne
// counts the same.
type LoaderCheck struct {
	ledger.Pairing
	Count    int
	Unlike   int     // trucks left out because their weighings were a tenth or more apart
	Bias, U  float64 // a fraction, with the standard uncertainty of the comparison alone
	DeckU    float64 // relative standard uncertainty of the deck scale
	Drift    float64 // of Bias, a fraction a month
	DriftU   float64
	HasDrift bool // three months or more were compared
}

// enoughPairs is how many trucks a comparison needs before it says anything.
const enoughPairs = 10

// checkLoaders holds each loader against each deck scale. u returns the relative standard uncertainty of a deck scale.
func checkLoaders(months []MonthPairs, u func(deck string) float64) []LoaderCheck {
	totals := ledger.Pairs{}
	for _, m := range months {
		for p, t := range m.Pairs {
			totals[p] = totals[p].Add(t)
		}
	}
	var checks []LoaderCheck
	for _, p := range totals.Sorted() {
		t := totals[p]
		if t.Count < enoughPairs {
			continue
		}
		c := LoaderCheck{Pairing: p, Count: t.Count, Unlike: t.Unlike, DeckU: u(p.Deck)}
		c.Bias, c.U = ratio(t)
		c.Drift, c.DriftU, c.HasDrift = drift(months, p)
		checks = append(checks, c)
	}
	return checks
}

// ratio returns the ratio of the totals less one, with its standard uncertainty as a ratio estimator:
// sqrt(sum (y - R x)^2 / (n (n - 1))) / mean x, from the sums alone.
func ratio(t ledger.PairTotals) (bias, u float64) {
	n, x := float64(t.Count), float64(t.Deck)
	r := float64(t.Loader) / x
	squares := float64(t.LoaderSquares) - 2*r*float64(t.Product) + r*r*float64(t.DeckSquares)
	return r - 1, math.Sqrt(max(squares, 0)/(n*(n-1))) / (x / n)
}

// drift returns the slope of the monthly ratios on time.
func drift(months []MonthPairs, p ledger.Pairing) (slope, u float64, ok bool) {
	var at, bias []float64
	for i, m := range months {
		if t := m.Pairs[p]; t.Count >= enoughPairs {
			b, _ := ratio(t)
			at, bias = append(at, float64(i)), append(bias, b)
		}
	}
	if len(at) < 3 {
		return 0, 0, false
	}
	line, err := stat.FitPolynomial(at, bias, 1)
	if err != nil {
		return 0, 0, false
	}
	e := line.Coefficient(1)
	return e.Value, e.SE, true
}

// believe returns the standard uncertainty of a loader after it was held against deck scales: what was
// stated, and what the comparison says, each weighed by how sure it is. A loader that disagrees with the
// deck is not corrected, in the book or here: it is believed less.
func believe(stated float64, checks []LoaderCheck, loader string, epoch time.Time) float64 {
	best := stated
	for _, c := range checks {
		if c.Loader != loader || !c.Epoch.Equal(epoch) {
			continue
		}
		compared := math.Hypot(c.U, c.DeckU)
		variance := 1 / (1/(stated*stated) + 1/(compared*compared))
		mean := c.Bias * variance / (compared * compared)
		if u := math.Sqrt(variance + mean*mean); best == stated || u < best {
			best = u
		}
	}
	return best
}

// sortMonths puts months in order.
func sortMonths(months []MonthPairs) []MonthPairs {
	months = slices.Clone(months)
	slices.SortFunc(months, func(a, b MonthPairs) int {
		return cmp.Compare(a.Period.String(), b.Period.String())
	})
	return months
}
