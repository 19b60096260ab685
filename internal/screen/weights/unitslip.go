package weights

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"repose/internal/screen"
	"repose/ledger"
)

// unitSlip finds runs of weighings in short tons that are called tonnes, or the reverse.
//
// A tonne has 1.1023 short tons. Three or more weighings of one instrument one after another, of those that the other
// scale has too, whose ratio lies within four standard deviations of that number or its reciprocal, are a run, if they are together a
// thousand times likelier so than by chance in all the month's pairs. One or two pairs of that ratio are left to the
// rule "weights differ", which says so. Which instrument is wrong show the tares of the run's trucks at other times, or the
// loader's nets outside the run; where neither shows, no effect is claimed. A wrong deck ticket changes no pile.
//
// False alarms: none in 200 clean months; by the level above, one in a thousand at most.
type unitSlip struct{}

func (unitSlip) Info() screen.Info {
	return screen.Info{Name: "unit slip", Strength: screen.Certain,
		Meaning: "Several weighings in a row of one instrument are 1.102 or 0.907 times those of the other for the same trucks: short tons where tonnes are meant, or the reverse.",
		Benign:  "A display or an export was switched to the other unit for a while, or a file was taken in with the wrong unit.",
		Settle:  "The unit on the instrument's own print of those weighings. Take the file in again with its right unit, or correct the piles by the difference."}
}

func (unitSlip) Look(d *screen.Data, found func(screen.Finding)) {
	j := judge(d)
	for _, r := range j.runs {
		if f, ok := j.unitFinding(d, r); ok {
			found(f)
		}
	}
}

// unitFinding describes the part of a run that lies in the month; ok is false where none does.
func (j *judged) unitFinding(d *screen.Data, r unitRun) (f screen.Finding, ok bool) {
	wrong := j.wrongSide(d, r)
	onDeck := r.onDeck
	if wrong != neither {
		onDeck = wrong == deckSide
	}
	effects := map[string]ledger.Mass{}
	var first, last string
	for _, i := range r.pairs {
		p := &j.pairs[i]
		load, deck := d.MatchLoads[p.Load], d.MatchDeck[p.Deck]
		rec, instrument := load.Rec, load.Fact.Loader
		if onDeck {
			rec, instrument = deck.Rec, deck.Fact.Deck
		}
		if !d.In(rec.At) {
			continue
		}
		over := load.Fact.Net - p.by.expected(deck.Fact.Net)
		if wrong == loaderSide && load.Fact.Pile != "" {
			effects[load.Fact.Pile] -= over
		}
		if f.Mass += over.Abs(); len(f.Records) == 0 {
			first, f.Time, f.Instrument = d.Clock(rec.At), rec.At, instrument
		}
		last = d.Clock(rec.At)
		f.Records = append(f.Records, rec.ID())
	}
	if len(f.Records) == 0 {
		return f, false
	}
	f.Subject = f.Records[0]
	for _, pile := range slices.Sorted(maps.Keys(effects)) {
		f.Effects = append(f.Effects, screen.Effect{Pile: pile, Mass: effects[pile]})
	}
	if len(f.Effects) == 1 {
		f.Pile = f.Effects[0].Pile
	}
	f.Seen = fmt.Sprintf("%d weighings of %s, from %s to %s, are %.3f times what the other scale says of the same trucks: %s; %s",
		len(f.Records), f.Instrument, first, last, math.Exp(r.excess(onDeck)*unitRatio), r.says(onDeck), wrong.because())
	return f, true
}

// excess returns 1 where the instrument's own figures are the larger ones, -1 where they are the smaller.
func (r unitRun) excess(onDeck bool) float64 {
	if onDeck {
		return -float64(r.sign)
	}
	return float64(r.sign)
}

func (r unitRun) says(onDeck bool) string {
	if r.excess(onDeck) > 0 {
		return "as short tons that are called t would be"
	}
	return "as t that are called short tons would be"
}

func (s side) because() string {
	switch s {
	case loaderSide:
		return "it is the loader that leaves what it showed before"
	case deckSide:
		return "it is the deck scale that leaves what it showed before, so no pile is wrong by it"
	}
	return "which of the two is wrong does not show"
}
