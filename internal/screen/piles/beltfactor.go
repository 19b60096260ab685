package piles

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

var beltSigmas = screen.Setting{Name: "rule belt factor sigmas", Holds: screen.Number, Default: "3",
	Meaning: "How many standard uncertainties a belt's factor may be away from one, its own stated uncertainty among them."}

// beltFactor holds a belt against the piles that it feeds: what went missing from them in the month, over what the belt
// says it made for them. A belt that reads high makes all its piles miss the same share of their production, whatever
// else is wrong with single ones, so the median of the piles' shares is taken, with the median absolute deviation for
// its scatter: at least six piles, and a pile that a survey closes. The standard error of a median is 1.2533 times that
// of a mean (normal, from memory). The belt's own stated systematic uncertainty is added: what its certificate allows is
// no finding. An instrument's factor K2 of mine reconciliation is one less this (close practice).
type beltFactor struct{}

func (beltFactor) Info() screen.Info {
	return screen.Info{Name: "belt factor", Strength: screen.Likely, FalseAlarms: 0.05,
		Meaning:  "The piles that a belt feeds all miss, or all have too much of, the same share of what the belt counted.",
		Benign:   "A density that is wrong for all of them; moisture at the belt that differs from the piles'.",
		Settle:   "A zero and span test of the belt; a factor for the time to come. What is in the book stays as it was read.",
		Settings: []screen.Setting{beltSigmas}}
}

// fewPiles is how many piles it takes to tell a belt from its piles.
const fewPiles = 6

// share is what a pile misses of its production.
type share struct {
	missing float64     // of production
	made    ledger.Mass // as weighed
}

func (beltFactor) Look(d *screen.Data, found func(screen.Finding)) {
	shares := map[string][]share{}
	for _, id := range d.Month.Piles {
		c := d.Month.Final(id)
		if c == nil || !c.HasDensity {
			continue
		}
		residual, ok := c.Residual()
		if belt, made := onlyBelt(c.Base.Streams); ok && made > 0 {
			shares[belt] = append(shares[belt], share{float64(residual) / float64(made), d.AsWeighed(id.Code, c.Survey.End, made)})
		}
	}
	for _, belt := range slices.Sorted(maps.Keys(shares)) {
		if list := shares[belt]; len(list) >= fewPiles {
			beltFinding(d, belt, list, found)
		}
	}
}

// onlyBelt returns the belt that made all that came to a pile, and how much it was; "" where several did.
func onlyBelt(streams ledger.Streams) (belt string, made ledger.Mass) {
	for _, s := range streams.Sorted() {
		if s.Way != ledger.ColumnProduction {
			continue
		}
		if belt != "" && belt != s.Instrument {
			return "", 0
		}
		belt, made = s.Instrument, made+streams[s].Solids
	}
	return belt, made
}

func beltFinding(d *screen.Data, belt string, list []share, found func(screen.Finding)) {
	slices.SortFunc(list, func(a, b share) int { return cmp.Compare(a.missing, b.missing) })
	values := make([]float64, len(list))
	var made ledger.Mass
	for i, s := range list {
		values[i] = s.missing
		made += s.made
	}
	middle := stat.Median(values)
	for i, v := range values {
		values[i] = math.Abs(v - middle)
	}
	const normalMAD, medianError = 1.4826, 1.2533
	scatter := medianError * normalMAD * stat.Median(values) / math.Sqrt(float64(len(list)))
	u := math.Hypot(scatter, systematic(d, belt))
	if math.Abs(middle) <= d.Number(beltSigmas)*u {
		return
	}
	tonnes := func(x float64) ledger.Mass {
		return ledger.Mass(math.RoundToEven(math.Abs(x)*float64(made)/float64(ledger.Kilogram))) * ledger.Kilogram
	}
	word := "high"
	if middle < 0 {
		word = "low"
	}
	f := screen.Finding{Subject: belt, Time: d.End.Add(-1), Instrument: belt, Mass: tonnes(middle), Estimated: true,
		Low: tonnes(max(math.Abs(middle)-2*scatter, 0)), High: tonnes(math.Abs(middle) + 2*scatter)}
	f.Seen = fmt.Sprintf("by the balances of %d piles belt %s reads %.2f %% too %s, +/- %.2f (95 %%), on %v since their last surveys",
		len(list), belt, percentOfOne*math.Abs(middle), word, percentOfOne*2*scatter, made)
	found(f)
}

// systematic returns the relative standard uncertainty that a belt shares between all it counts, as its record states
// it or the yard assumes.
func systematic(d *screen.Data, belt string) float64 {
	assumed := d.Month.Policies.Uncertainty.BeltSystematic
	i, ok := d.Register.Instrument(d.Yard, belt, d.End.Add(-1))
	if ok && i.Systematic.Valid {
		assumed = i.Systematic.Decimal
	}
	return assumed.InexactFloat64() / percentOfOne
}
