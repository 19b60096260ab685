package weights

import (
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// likeShare is the part of like records with a partner from which one without is out of the ordinary, and likeNumber how
// many there must be for a likeness to be told by product; below it, all products of the instrument are taken together.
const (
	likeShare  = 0.8
	likeNumber = 20
)

// likeness is what makes records like one another: their instrument and product, or the instrument alone.
type likeness struct{ instrument, product string }

// shares counts, for records that are like one another, how many have a partner on the other scale.
type shares map[likeness]*struct{ with, all int }

func (s shares) add(instrument, product string, with bool) {
	s.count(likeness{instrument, product}, with)
	if product != "" {
		s.count(likeness{instrument, ""}, with)
	}
}

func (s shares) count(l likeness, with bool) {
	n := s[l]
	if n == nil {
		n = new(struct{ with, all int })
		s[l] = n
	}
	n.all++
	if with {
		n.with++
	}
}

// usual returns the part of like records with a partner; ok is false where it is too small for one without to matter.
func (s shares) usual(instrument, product string) (part float64, ok bool) {
	n := s[likeness{instrument, product}]
	if n == nil || n.all < likeNumber {
		n = s[likeness{instrument, ""}]
	}
	if n == nil || n.all == 0 {
		return 0, false
	}
	part = float64(n.with) / float64(n.all)
	return part, part >= likeShare
}

// partnered returns which loads and which tickets the matching found a partner for, void ones included.
func partnered(d *screen.Data) (loads, deck []bool) {
	loads, deck = make([]bool, len(d.MatchLoads)), make([]bool, len(d.MatchDeck))
	m := d.Match
	for i := range m.Pairs {
		loads[m.Pairs[i].Load], deck[m.Pairs[i].Deck] = true, true
	}
	for i := range m.Merged {
		loads[m.Merged[i].Load] = true
		for _, k := range m.Merged[i].Deck {
			deck[k] = true
		}
	}
	for i := range m.Split {
		deck[m.Split[i].Deck] = true
		for _, k := range m.Split[i].Loads {
			loads[k] = true
		}
	}
	for i := range m.VoidLoads {
		deck[m.VoidLoads[i].Deck] = true
	}
	for i := range m.VoidDecks {
		loads[m.VoidDecks[i].Load] = true
	}
	return loads, deck
}

// way is how long trucks take from a loader to the deck scales.
type way struct{ usual, longest time.Duration }

// waysOf returns the way of each loader: the usual lag to the deck that most of its trucks cross, and the longest to
// any.
func waysOf(d *screen.Data) map[string]way {
	ways, most := map[string]way{}, map[string]int{}
	for _, l := range d.Match.Learned {
		w, seen := ways[l.Loader]
		if !seen || l.Pairs > most[l.Loader] {
			w.usual, most[l.Loader] = l.Lag, l.Pairs
		}
		if !seen || l.Lag+l.Window > w.longest {
			w.longest = l.Lag + l.Window
		}
		ways[l.Loader] = w
	}
	return ways
}

// crosses reports whether a load is of the kind that goes over a deck scale: sold, to somebody or on some truck.
func crosses(l *ledger.Load) bool {
	return !l.Void && l.Net > 0 && l.Purpose == ledger.PurposeSale && (l.Truck != "" || l.Customer != "")
}
