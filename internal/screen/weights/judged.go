package weights

import (
	"math"

	"repose/internal/match"
	"repose/internal/screen"
	"repose/ledger"
)

// verdict is what the weights of a pair say. The zero value is nothing: one of them is zero.
type verdict uint8

const (
	unweighed verdict = iota
	alike
	unlike    // they differ by more than chance, for a reason that does not show
	byBuckets // they differ by one or two buckets
	byUnit    // they are of a run in another unit
	byTare    // the deck took another tare than the truck's own
)

// judgedPair is a pair with its weights held to what is usual.
type judgedPair struct {
	*match.Pair
	by      *pairing
	x       float64 // logarithm of loader over deck, less the bias
	verdict verdict
	buckets int         // that the loader has too many, of a pair that differs by buckets; negative where they are missing
	bucket  ledger.Mass // of a pair that differs by buckets
	tare    ledger.Mass // the truck's own, of a pair that differs by it
}

// judged is all pairs of the matching, in their order, with the runs in another unit.
type judged struct {
	by    map[pairKey]*pairing
	pairs []judgedPair
	runs  []unitRun
}

// differLevel is the probability that any of the pairs of a clean month differs by more than the limits.
const differLevel = 0.01

// judge returns the pairs of a month, judged once for all rules, which must not change them.
func judge(d *screen.Data) *judged { return screen.Memo(d, judgePairs) }

// judgePairs holds the weights of all pairs to what is usual for their loader and deck scale.
func judgePairs(d *screen.Data) *judged {
	j := &judged{by: pairings(d), pairs: make([]judgedPair, len(d.Match.Pairs))}
	var last *pairing // most pairs are of the loader and the deck scale of the one before
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		load, deck := &d.MatchLoads[p.Load].Fact, &d.MatchDeck[p.Deck].Fact
		if last == nil || last.loader != load.Loader || last.deck != deck.Deck {
			last = j.by[pairKey{load.Loader, deck.Deck}]
		}
		j.pairs[i] = judgedPair{Pair: p, by: last}
		if x, ok := ratio(load.Net, deck.Net); ok {
			j.pairs[i].x, j.pairs[i].verdict = x, alike
			last.ratios = append(last.ratios, x)
		}
	}
	percent := d.Number(differPercent)
	for _, p := range j.by {
		p.learn()
		p.setLimit(differLevel, max(len(j.pairs), 1))
		if percent > 0 {
			p.limit = math.Log1p(percent / 100)
		}
	}
	for i := range j.pairs {
		if p := &j.pairs[i]; p.verdict == alike {
			p.x -= p.by.bias
			if math.Abs(p.x) > p.by.limit && !p.rounded(d) {
				p.verdict = unlike
			}
		}
	}
	j.findRuns(d)
	j.findTares(d)
	j.countBuckets(d)
	return j
}

// rounded reports whether a loader's figure is of whole tonnes or short tons and no farther off than that explains: half of
// one beyond the limit. There is a rule for round weights.
func (p *judgedPair) rounded(d *screen.Data) bool {
	load, deck := d.MatchLoads[p.Load].Fact.Net, d.MatchDeck[p.Deck].Fact.Net
	over := float64((load - p.by.expected(deck)).Abs())
	return wholeTons(load) && over <= float64(ledger.Tonne)/2+p.by.limit*float64(deck)
}

// wholeTons reports whether a mass is a whole number of tonnes, or of short tons to the gram.
func wholeTons(m ledger.Mass) bool {
	const shortTon = 907_184.74 // g: 2,000 lb of 0.45359237 kg
	off := math.Abs(math.Remainder(float64(m), shortTon))
	return m%ledger.Tonne == 0 || off <= 0.5
}

// sure reports whether a pair is hardly one of two trucks that are much alike.
func (p *judgedPair) sure() bool { return p.Margin >= match.SureMargin }
