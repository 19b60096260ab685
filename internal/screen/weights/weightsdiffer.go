package weights

import (
	"fmt"
	"math"

	"repose/internal/screen"
	"repose/ledger"
)

// weightsDiffer finds trucks that the loader and the deck scale weighed differently.
//
// The ratio of the two weights is held to the median of the loader and the deck scale. What is allowed is what one of
// all pairs of a clean month passes with a probability of 1 % (Sidak), with a scatter from the median absolute
// deviation and the tails of Student's t. Pairs below the margin at which the matching is sure are left out, and those
// that are off by buckets, by a unit, by rounding to whole tonnes or as merged loads are, which have rules of their own. Pairs that
// would agree with the truck's usual tare of the month before are one finding for each truck and tare. Where the scatter is not
// normal, such as with a loader that also loads while it moves, the setting states what is allowed instead.
//
// False alarms: fewer than one in twenty clean months.
type weightsDiffer struct{}

var differPercent = screen.Setting{Name: "rule weights differ percent", Holds: screen.Percent, Default: "0",
	Meaning: "how far a loader's weight may be from its usual ratio to the deck's; 0 for what the month's own scatter shows"}

func (weightsDiffer) Info() screen.Info {
	return screen.Info{Name: "weights differ", Strength: screen.Likely,
		Meaning: "A loader and a deck scale weighed the same truck, and their weights differ by more than these two usually do.",
		Benign: "Stone was put on or taken off between the two; the truck was not empty when it came, or a wrong tare is " +
			"stored for it; it stood only partly on the deck; a net was typed by hand.",
		Settle:      "The gross and tare of the ticket, the loader's passes, and what the customer was charged for. The later weighing of a verified scale is usually right.",
		FalseAlarms: 0.05, Settings: []screen.Setting{differPercent}}
}

func (weightsDiffer) Look(d *screen.Data, found func(screen.Finding)) {
	j := judge(d)
	for i := range j.pairs {
		p := &j.pairs[i]
		if p.verdict != unlike || !p.sure() || !d.In(d.MatchLoads[p.Load].At()) {
			continue
		}
		if _, ok := overloads(d)[p.Load]; ok {
			continue
		}
		f := pairFinding(d, p)
		f.Mass = (d.MatchLoads[p.Load].Fact.Net - p.by.expected(d.MatchDeck[p.Deck].Fact.Net)).Abs()
		f.Seen = fmt.Sprintf("%s: %s where no more than %.1f %% is usual%s", bothWeights(d, p), away(p.x), percentAway(math.Copysign(p.by.limit, p.x)), p.unitHint())
		found(f)
	}
	for _, list := range j.sameTares(d) {
		found(j.tareFinding(d, list))
	}
}

// tareFinding describes pairs of one truck that differ by one tare.
func (j *judged) tareFinding(d *screen.Data, list []int) screen.Finding {
	p := &j.pairs[list[0]]
	f := pairFinding(d, p)
	deck := d.MatchDeck[p.Deck].Fact
	f.Instrument, f.Pile, f.Product, f.Mass = deck.Deck, "", "", (deck.Tare-p.tare).Abs()*ledger.Mass(len(list))
	for _, i := range list[1:] {
		q := j.pairs[i]
		f.Records = append(f.Records, d.MatchLoads[q.Load].Rec.ID(), d.MatchDeck[q.Deck].Rec.ID())
	}
	f.Seen = fmt.Sprintf("%s: %s; %d tickets of truck %s have a tare of %s, and with its usual %s they would agree", bothWeights(d, p), away(p.x),
		len(list), deck.Truck, deck.Tare, p.tare)
	return f
}

// unitHint says so where a single pair is off by the ratio of two units.
func (p *judgedPair) unitHint() string {
	if p.slipped() == 0 {
		return ""
	}
	return "; that is about the number of short tons in a tonne"
}

// pairFinding returns what findings about a pair have in common. It is about the load.
func pairFinding(d *screen.Data, p *judgedPair) screen.Finding {
	load, deck := d.MatchLoads[p.Load], d.MatchDeck[p.Deck]
	id := load.Rec.ID()
	return screen.Finding{Subject: id, Time: load.At(), Pile: load.Fact.Pile, Mass: load.Fact.Net, Records: []string{id, deck.Rec.ID()},
		Instrument: load.Fact.Loader, Product: d.ProductOf(load.Rec), Customer: load.Fact.Customer, Truck: load.Fact.Truck}
}

// bothWeights says what both scales weighed and when.
func bothWeights(d *screen.Data, p *judgedPair) string {
	load, deck := d.MatchLoads[p.Load].Fact, d.MatchDeck[p.Deck].Fact
	return fmt.Sprintf("%s weighed %s at %s, %s %s at %s", load.Loader, load.Net, d.Clock(load.At), deck.Deck, deck.Net, d.Clock(deck.At))
}

// away says how far the loader is from its usual ratio.
func away(x float64) string {
	side := "above"
	if x < 0 {
		side = "below"
	}
	return fmt.Sprintf("the loader is %.1f %% %s its usual", percentAway(x), side)
}

// percentAway returns what a logarithm comes to in per cent, without its sign.
func percentAway(x float64) float64 { return math.Abs(100 * math.Expm1(x)) }

// onPile is what a finding makes of one pile; nothing where the pile is not known.
func onPile(pile string, m ledger.Mass) []screen.Effect {
	if pile == "" || m == 0 {
		return nil
	}
	return []screen.Effect{{Pile: pile, Mass: m}}
}
