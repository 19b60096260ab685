package weights

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"repose/internal/screen"
)

// noLoaderLoad finds trucks that a deck scale weighed out and no loader's records have.
//
// It takes kept deck tickets that the matching left without a load, kept or void. At least four fifths of the deck's tickets of
// the product (of all products where it has fewer than twenty) must have a load, so that goods which no loader with a
// scale loads are left out, and so are tickets from before the first load on record or after the last. The stone left a pile that the
// book has not: that of the ticket's product, or if several hold it the one that at least nine tenths of six or more of the product's loads within
// an hour came from, else none is named. Tickets that are on a merged record (rule "merged load") are left out.
//
// False alarms: fewer than one in fifty clean months.
type noLoaderLoad struct{}

func (noLoaderLoad) Info() screen.Info {
	return screen.Info{Name: "no loader load", Strength: screen.Likely,
		Meaning: "A deck scale weighed a truck out, and no loader has a load for it: the book does not know that the stone is gone.",
		Benign: "The truck was filled by a machine without a scale or brought something in; a file of loads is not in yet; its load is " +
			"on another truck's record.",
		Settle:      "The load, taken in late, or a load entered by the ticket. Look among the missing numbers of the loaders first.",
		FalseAlarms: 0.02}
}

func (noLoaderLoad) Look(d *screen.Data, found func(screen.Finding)) {
	_, with := partnered(d)
	lag, alone := lagOf(d), []int(nil)
	for _, k := range d.Match.DeckAlone {
		t := &d.MatchDeck[k].Fact
		if !with[k] && t.Net > 0 && d.In(t.At) && onRecord(d, t.At.Add(-lag[t.Deck])) {
			alone = append(alone, k)
		}
	}
	if len(alone) == 0 {
		return
	}
	all := shares{}
	for k := range d.MatchDeck {
		if f := &d.MatchDeck[k].Fact; !f.Void && f.Net > 0 {
			all.add(f.Deck, f.Product, with[k])
		}
	}
	for _, tickets := range lumpedTickets(d) {
		for _, k := range tickets {
			with[k] = true
		}
	}
	names := namesakesOf(d)
	for _, k := range alone {
		t := &d.MatchDeck[k].Fact
		if part, ok := all.usual(t.Deck, t.Product); ok && !with[k] {
			loaded := t.At.Add(-lag[t.Deck])
			pile, how := likelyPile(d, names.pilesOf(d, t.Product, loaded), loaded)
			f := aloneFinding(d, k, part)
			if f.Pile, f.Effects = pile, onPile(pile, t.Net); pile == "" {
				f.Unplaced = t.Net
			}
			f.Seen += how
			found(f)
		}
	}
}

// aloneFinding describes a ticket without a load, where a part of those like it has one.
func aloneFinding(d *screen.Data, k int, part float64) screen.Finding {
	row := d.MatchDeck[k]
	t, id := row.Fact, row.Rec.ID()
	return screen.Finding{Subject: id, Time: t.At, Mass: t.Net, Records: []string{id}, Instrument: t.Deck, Product: t.Product,
		Customer: t.Customer, Truck: t.Truck,
		Seen: fmt.Sprintf("%s weighed out %s%s%s at %s, and no loader has it; %.0f %% of its tickets like that have a load",
			t.Deck, t.Net, ofProduct(t.Product), onTruck(t.Truck), d.Clock(t.At), 100*part)}
}

// onRecord reports whether the loads on record reach to an instant from both sides.
func onRecord(d *screen.Data, at time.Time) bool {
	n := len(d.MatchLoads)
	return n > 0 && !at.Before(d.MatchLoads[0].At()) && !at.After(d.MatchLoads[n-1].At())
}

// lagOf returns, by deck scale, the usual lag from the loader that most of its trucks come from.
func lagOf(d *screen.Data) map[string]time.Duration {
	lag, most := map[string]time.Duration{}, map[string]int{}
	for _, l := range d.Match.Learned {
		if _, seen := lag[l.Deck]; !seen || l.Pairs > most[l.Deck] {
			lag[l.Deck], most[l.Deck] = l.Lag, l.Pairs
		}
	}
	return lag
}

// leastWithinHour loads of a product and nearlyAll of them have to be of one pile for a truck that no loader has to be of it.
const (
	leastWithinHour = 6
	nearlyAll       = 0.9
)

// likelyPile returns which of the piles that hold a product it was taken from at an instant, and how that is known; both
// are empty where it is not.
func likelyPile(d *screen.Data, piles []string, at time.Time) (pile, how string) {
	switch len(piles) {
	case 0:
		return "", ""
	case 1:
		return piles[0], "; pile " + piles[0] + " alone holds the product"
	}
	count := map[string]int{}
	first := sort.Search(len(d.MatchLoads), func(i int) bool { return !d.MatchLoads[i].At().Before(at.Add(-time.Hour)) })
	for k := first; k < len(d.MatchLoads) && !d.MatchLoads[k].At().After(at.Add(time.Hour)); k++ {
		if f := &d.MatchLoads[k].Fact; !f.Void && slices.Contains(piles, f.Pile) {
			count[f.Pile]++
		}
	}
	most, all := 0, 0
	for _, p := range piles {
		if all += count[p]; count[p] > most {
			pile, most = p, count[p]
		}
	}
	// A pile is named only where hardly another comes into question: naming the wrong one accuses it.
	if all < leastWithinHour || float64(most) < nearlyAll*float64(all) {
		return "", ""
	}
	return pile, fmt.Sprintf("; within an hour %d of %d loads of the product came from pile %s", most, all, pile)
}
