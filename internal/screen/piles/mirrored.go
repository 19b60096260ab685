package piles

import (
	"fmt"
	"slices"
	"time"

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
// another by chance: beyond two standard uncertainties each, of fifteen pairs of piles one in 60 months. Whole days of loads of the pile with too little book are shown that come nearest to the difference: a product that was
// mis-keyed for a day moves that day's loads. The balances say more about how sure it is: see causes.
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
	m := (lost.residual - gained.residual) / 2
	f := screen.Finding{Subject: from + "/" + to, Time: later(lost.comparison.Survey.End, gained.comparison.Survey.End), Pile: from, Mass: m,
		Records: []string{lost.comparison.Record.ID(), gained.comparison.Record.ID()}, Product: lost.comparison.Product,
		Effects: []screen.Effect{{Pile: from, Mass: m}, {Pile: to, Mass: -m}}}
	f.Seen = fmt.Sprintf("pile %s misses %v of solids and pile %s has %v too much", from, lost.residual, to, -gained.residual)
	if day, loads, sum := nearestDay(d, to, from, m); day != "" {
		f.Records = append(f.Records, loads...)
		f.Seen += fmt.Sprintf("; the %d loads out of %s of %s are %v of solids", len(loads), to, day, sum)
	}
	return f
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// dayShare is how near a day's loads have to come to a difference to be shown.
const dayShare = 0.35

// nearestDay returns the day whose loads out of a pile come nearest to a mass of solids, preferring days on which the
// other pile has none though its neighbours have; "" where no day comes near.
func nearestDay(d *screen.Data, pile, other string, m ledger.Mass) (best string, loads []string, sum ledger.Mass) {
	sums := map[string]map[string]ledger.Mass{pile: {}, other: {}}
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
	days := make([]string, 0, len(ids))
	for day := range ids {
		days = append(days, day)
	}
	slices.Sort(days)
	off := func(day string) ledger.Mass {
		distance := (sums[pile][day] - m).Abs()
		if sums[other][day] > 0 {
			distance *= 2 // the pile that was meant has loads of its own that day
		}
		return distance
	}
	for _, day := range days {
		if float64((sums[pile][day]-m).Abs()) <= dayShare*float64(m) && (best == "" || off(day) < off(best)) {
			best = day
		}
	}
	return best, ids[best], sums[pile][best]
}
