package weights

import (
	"fmt"

	"repose/internal/match"
	"repose/internal/screen"
)

// wrongTruck finds loads that are recorded under another truck than the deck ticket has.
//
// It takes the pairs whose trucks differ, from the margin on at which the matching is sure by time, weight and product alone.
// Where more than half of a loader's pairs differ, the two systems name trucks differently, and nothing is said.
//
// False alarms: fewer than one in fifty clean months.
type wrongTruck struct{}

func (wrongTruck) Info() screen.Info {
	return screen.Info{Name: "wrong truck", Strength: screen.Likely,
		Meaning:     "A loader's record and the deck ticket of what seems the same load have different trucks.",
		Benign:      "The operator picked the wrong truck on the display, or left the one before; a haulier sent another truck under the old label.",
		Settle:      "The label on the truck. No mass is wrong by it, but a stored tare may be.",
		FalseAlarms: 0.02}
}

func (wrongTruck) Look(d *screen.Data, found func(screen.Finding)) {
	labelled, differ := map[string]int{}, map[string]int{}
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		if p.SameTruck == match.Unknown {
			continue
		}
		loader := d.MatchLoads[p.Load].Fact.Loader
		labelled[loader]++
		if p.SameTruck == match.No {
			differ[loader]++
		}
	}
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		load, deck := &d.MatchLoads[p.Load], &d.MatchDeck[p.Deck]
		l, t := load.Fact, deck.Fact
		if p.SameTruck != match.No || p.Margin < match.SureMargin || !d.In(l.At) || 2*differ[l.Loader] > labelled[l.Loader] {
			continue
		}
		id := load.Rec.ID()
		found(screen.Finding{Subject: id, Time: l.At, Pile: l.Pile, Mass: l.Net, Records: []string{id, deck.Rec.ID()}, Instrument: l.Loader,
			Product: d.ProductOf(load.Rec), Customer: l.Customer, Truck: t.Truck,
			Seen: fmt.Sprintf("%s loaded %s on truck %s at %s; %s weighed %s on truck %s at %s", l.Loader, l.Net, l.Truck, d.Clock(l.At),
				t.Deck, t.Net, t.Truck, d.Clock(t.At))})
	}
}
