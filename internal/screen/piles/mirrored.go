package piles

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"repose/internal/match"
	"repose/internal/screen"
	"repose/ledger"
)

var (
	mirrorMass = screen.Setting{Name: "rule mirrored difference mass", Holds: screen.Tonnage, Default: "20 t",
		Meaning: "The least difference of each of the two piles."}
	mirrorPercent = screen.Setting{Name: "rule mirrored difference percent", Holds: screen.Percent, Default: "1",
		Meaning: "The least difference of each of the two piles, in per cent of its book."}
	mirrorSigmas = screen.Setting{Name: "rule mirrored difference sigmas", Holds: screen.Number, Default: "2",
		Meaning: "The least difference of each of the two piles, in standard uncertainties of its balance."}
	mirrorUnlike = screen.Setting{Name: "rule mirrored difference unlike percent", Holds: screen.Percent, Default: "40",
		Meaning: "By how much the two differences may differ, in per cent of the larger."}
)

// mirrored finds two piles of which one misses about what the other has too much: stone that left one and was booked to
// the other, or a transfer that nobody recorded. Both differences are those of the month alone (from survey to survey),
// and each must be beyond its measurement error, a mass and a share of the book, because two noisy piles mirror one
// another by chance: beyond two standard uncertainties each, of fifteen pairs of piles one in 60 months. The records that would
// explain it are looked for in two ways. A product that was mis-keyed for a day moves that day's loads: the day is shown
// whose loads beyond the usual come nearest to the difference. Loads here and there are shown where the deck scale's
// ticket says the product of the other pile, the surest pairs first, until they come to the difference. The balances say
// more about how sure it is: see causes.
type mirrored struct{}

func (mirrored) Info() screen.Info {
	return screen.Info{Name: "mirrored difference", Strength: screen.Likely, FalseAlarms: 0.05,
		Meaning:  "One pile misses about as much as another has too much.",
		Benign:   "Chance between two piles that are hard to measure; a toe line that was drawn through both.",
		Settle:   "Reclass the loads of the day that fits, once the tickets say so; a transfer that was not recorded; words.",
		Settings: []screen.Setting{mirrorSigmas, mirrorMass, mirrorPercent, mirrorUnlike}}
}

// imbalance is a pile's residual in the month.
type imbalance struct {
	comparison *ledger.Comparison
	residual   ledger.Mass // positive: missing
}

func (mirrored) Look(d *screen.Data, found func(screen.Finding)) {
	least, share := d.Tonnage(mirrorMass), d.Number(mirrorPercent)/percentOfOne
	var large []imbalance
	for _, id := range d.Month.Piles {
		c := d.Month.Final(id)
		if c == nil || !c.HasDensity {
			continue
		}
		r, ok := c.Residual()
		noise := ledger.Mass(d.Number(mirrorSigmas) * d.Sigma[c.Record.ID()] * float64(ledger.Tonne))
		if ok && r.Abs() >= max(least, noise, ledger.Mass(share*float64(c.Book.Solids.Abs()))) {
			large = append(large, imbalance{c, r})
		}
	}
	for _, lost := range large {
		for _, gained := range large {
			if lost.residual > 0 && gained.residual < 0 && near(lost.residual, -gained.residual, d.Number(mirrorUnlike)/percentOfOne) {
				found(mirror(d, lost, gained))
			}
		}
	}
}

func near(a, b ledger.Mass, share float64) bool {
	return float64((a - b).Abs()) <= share*float64(max(a, b))
}

func mirror(d *screen.Data, lost, gained imbalance) screen.Finding {
	from, to := lost.comparison.Pile.Code, gained.comparison.Pile.Code
	m, at := (lost.residual-gained.residual)/2, later(lost.comparison.Survey.End, gained.comparison.Survey.End)
	f := screen.Finding{Subject: from + "/" + to, Time: at, Pile: from, Mass: d.AsWeighed(from, at, m),
		Records: []string{lost.comparison.Record.ID(), gained.comparison.Record.ID()}, Product: lost.comparison.Product,
		Effects: []screen.Effect{{Pile: from, Mass: d.AsWeighed(from, at, m)}, {Pile: to, Mass: -d.AsWeighed(to, at, m)}}}
	f.Seen = fmt.Sprintf("pile %s misses %v of solids and pile %s has %v too much", from, lost.residual, to, -gained.residual)
	if day, loads, sum := nearestDay(d, to, from, m); day != "" {
		f.Records = append(f.Records, loads...)
		f.Seen += fmt.Sprintf("; on %s, when hardly a load of %s is on record, those of %s are %v of solids more than usual", day, from, to, sum)
	} else if loads, sum := crossedAs(d, gained.comparison, lost.comparison, m); len(loads) > 0 {
		f.Records = append(f.Records, loads...)
		f.Seen += fmt.Sprintf("; the deck scale has %s for loads of %s, %s: %v of solids", lost.comparison.Product, to, times(len(loads)), sum)
	}
	return f
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// dayShare is how near what a day has more than usual has to come to a difference to be shown, and quietShare the part
// of its usual loads that the other pile may have on that day.
const (
	dayShare   = 0.35
	quietShare = 0.2
)

// nearestDay returns the day on which a pile has loads beyond the usual that come nearest to a mass of solids, while the
// pile that was meant has hardly any, and how much more than usual they are; "" where no day comes near.
func nearestDay(d *screen.Data, pile, meant string, m ledger.Mass) (best string, loads []string, more ledger.Mass) {
	sums := map[string]map[string]ledger.Mass{pile: {}, meant: {}}
	ids := map[string][]string{}
	for _, e := range d.Entries {
		l, ok := e.Record.Fact.(ledger.Load)
		if !ok || sums[l.Pile] == nil || e.At().Before(d.Start) {
			continue
		}
		day := e.At().In(d.Zone).Format(time.DateOnly)
		sums[l.Pile][day] += leaving(e, l.Pile)
		if l.Pile == pile {
			ids[day] = append(ids[day], e.Record.ID())
		}
	}
	usual, usualMeant := medianMass(sums[pile]), medianMass(sums[meant])
	nearest := ledger.Mass(dayShare * float64(m))
	for _, day := range slices.Sorted(maps.Keys(ids)) {
		excess := sums[pile][day] - usual
		if isQuiet := float64(sums[meant][day]) <= quietShare*float64(usualMeant); isQuiet && (excess-m).Abs() <= nearest {
			best, more, nearest = day, excess, (excess - m).Abs()
		}
	}
	return best, ids[best], more
}

// mostLoads is how many loads are named at most.
const mostLoads = 20

// crossedAs returns the loads of a pile that the deck scale has with the product of another, the surest pairs first, until
// they come nearest to a mass of solids; and the sum of them.
func crossedAs(d *screen.Data, pile, other *ledger.Comparison, m ledger.Mass) (loads []string, sum ledger.Mass) {
	if pile.Product == other.Product {
		return nil, 0
	}
	var pairs []match.Pair
	for _, p := range d.Match.Pairs {
		l := d.MatchLoads[p.Load]
		if l.Fact.Pile == pile.Pile.Code && d.MatchDeck[p.Deck].Fact.Product == other.Product && d.In(l.At()) && !l.At().After(pile.Survey.End) {
			pairs = append(pairs, p)
		}
	}
	slices.SortStableFunc(pairs, func(a, b match.Pair) int { return cmp.Compare(b.Margin, a.Margin) })
	for _, p := range pairs[:min(len(pairs), mostLoads)] {
		l := d.MatchLoads[p.Load]
		solids := d.Solids(l.Fact.Pile, l.At(), l.Fact.Net)
		if (sum + solids - m).Abs() > (sum - m).Abs() {
			break
		}
		loads, sum = append(loads, l.Rec.ID()), sum+solids
	}
	return loads, sum
}

// medianMass returns the median of the days' masses; 0 for none.
func medianMass(days map[string]ledger.Mass) ledger.Mass {
	list := slices.Sorted(maps.Values(days))
	if len(list) == 0 {
		return 0
	}
	return list[len(list)/2]
}

// leaving returns the solids that an entry takes out of a pile.
func leaving(e *ledger.Entry, pile string) (m ledger.Mass) {
	for _, l := range e.Legs {
		if l.From.Kind == ledger.KindPile && l.From.Name == pile {
			m += l.Solids
		}
	}
	return m
}
