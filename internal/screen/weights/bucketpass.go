package weights

import (
	"fmt"
	"math"
	"slices"

	"repose/internal/screen"
	"repose/ledger"
)

// bucketPass finds loads of which the loader counted a bucket twice, or missed one.
//
// Of the pairs whose weights differ by more than chance it takes those that differ by one or two buckets, to within a
// part of a bucket and twice the usual scatter. The bucket is the load's own net by its passes, or the loader's usual
// one. That buckets of one load are alike to about 15 % is common practice, no source. The deck
// is taken to be right.
//
// False alarms: as of weights that differ; a difference for another reason is taken for a bucket as often as it happens to be
// as large.
type bucketPass struct{}

var bucketPercent = screen.Setting{Name: "rule bucket pass percent", Holds: screen.Percent, Default: "15",
	Meaning: "how far, in per cent of a bucket, a difference may be from a whole one"}

func (bucketPass) Info() screen.Info {
	return screen.Info{Name: "bucket pass", Strength: screen.Likely,
		Meaning: "A loader and a deck scale differ on a truck by about one or two of the loader's buckets: a pass was counted twice, not counted, or taken off wrongly.",
		Benign:  "The truck was topped up or had some taken off after the loader's record was closed; another loader gave it the last bucket.",
		Settle: "The passes on the loader's record against those of like loads. Where the deck is right, a correction of the pile by the " +
			"difference.",
		FalseAlarms: 0.05, Settings: []screen.Setting{bucketPercent}}
}

func (bucketPass) Look(d *screen.Data, found func(screen.Finding)) {
	j := judge(d)
	for i := range j.pairs {
		p := &j.pairs[i]
		if p.verdict != byBuckets || !p.sure() || !d.In(d.MatchLoads[p.Load].At()) {
			continue
		}
		load, deck := d.MatchLoads[p.Load].Fact, d.MatchDeck[p.Deck].Fact
		over := load.Net - p.by.expected(deck.Net)
		f := pairFinding(d, p)
		f.Mass, f.Effects = over.Abs(), onPile(load.Pile, -over)
		f.Seen = fmt.Sprintf("%s: %s, by %s, which is about %s of %s that the loader %s", bothWeights(d, p), away(p.x), over.Abs(),
			buckets(p.buckets), p.bucket, missedOrTwice(p.buckets))
		found(f)
	}
}

// countBuckets marks the pairs that differ by buckets.
func (j *judged) countBuckets(d *screen.Data) {
	share := d.Number(bucketPercent) / 100
	for i := range j.pairs {
		p := &j.pairs[i]
		if p.verdict != unlike {
			continue
		}
		load, deck := d.MatchLoads[p.Load].Fact, d.MatchDeck[p.Deck].Fact
		over := float64(load.Net - p.by.expected(deck.Net))
		for _, bucket := range bucketsOf(load, p.by) {
			n := math.Round(math.Abs(over) / float64(bucket))
			slack := share*float64(bucket) + 2*p.by.sd*float64(deck.Net)
			if (n == 1 || n == 2) && math.Abs(math.Abs(over)-n*float64(bucket)) <= slack {
				p.verdict, p.buckets, p.bucket = byBuckets, int(math.Copysign(n, over)), bucket
				break
			}
		}
	}
}

// oddBucket is how many times the loader's usual bucket that of a load may be, or the reverse: beyond it, the passes on
// the record are not those of its net.
const oddBucket = 1.4

// bucketsOf returns what the bucket of a load may be, in whole kg: by its own passes, and the loader's usual one.
func bucketsOf(l ledger.Load, by *pairing) []ledger.Mass {
	var all []ledger.Mass
	usual := float64(by.learned.Bucket)
	if l.Passes > 0 && l.Net > 0 {
		own := float64(l.Net) / float64(l.Passes)
		if usual == 0 || own <= oddBucket*usual && usual <= oddBucket*own {
			all = append(all, wholeKilograms(own))
		}
	}
	if usual > 0 {
		all = append(all, wholeKilograms(usual))
	}
	return slices.DeleteFunc(all, func(m ledger.Mass) bool { return m <= 0 })
}

func buckets(n int) string {
	if n == 1 || n == -1 {
		return "one bucket"
	}
	return "two buckets"
}

func missedOrTwice(n int) string {
	if n < 0 {
		return "did not count"
	}
	return "counted twice"
}
