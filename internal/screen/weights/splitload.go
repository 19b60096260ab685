package weights

import (
	"fmt"
	"strings"

	"repose/internal/match"
	"repose/internal/screen"
)

// splitLoad finds trucks that stand in two or three loader records.
//
// They are those that the matching found: a deck ticket alone, or with a load that weighs much less, whose net is the
// sum of loads that are alone, at the margin from which it is sure. The sum is what left the piles, so there is no
// effect.
//
// False alarms: none seen in 200 clean months; where loads and tickets are missing, one claim in fifty is of the wrong records.
type splitLoad struct{}

func (splitLoad) Info() screen.Info {
	return screen.Info{Name: "split load", Strength: screen.Likely,
		Meaning:     "One truck on the deck scale is the sum of two or three loader records: the load was closed too early and the rest recorded on its own.",
		Benign:      "The truck took two products, or was topped up after it had been weighed; nothing is lost.",
		Settle:      "The ticket and the records of the same truck within minutes. Nothing is to be corrected unless the number of loads counts.",
		FalseAlarms: 0.02}
}

func (splitLoad) Look(d *screen.Data, found func(screen.Finding)) {
	for _, s := range d.Match.Split {
		first := d.MatchLoads[s.Loads[0]]
		if s.Margin < match.SureMargin || !d.In(first.At()) {
			continue
		}
		deck := d.MatchDeck[s.Deck]
		f := screen.Finding{Subject: deck.Rec.ID(), Time: first.At(), Pile: first.Fact.Pile, Mass: deck.Fact.Net, Instrument: first.Fact.Loader,
			Product: d.ProductOf(first.Rec), Customer: deck.Fact.Customer, Truck: deck.Fact.Truck}
		var parts []string
		for _, k := range s.Loads {
			load := d.MatchLoads[k]
			parts = append(parts, fmt.Sprintf("%s at %s", load.Fact.Net, d.Clock(load.At())))
			f.Records = append(f.Records, load.Rec.ID())
		}
		f.Records = append(f.Records, deck.Rec.ID())
		f.Seen = fmt.Sprintf("%s has %d records, %s, for the truck that %s weighed at %s with %s", first.Fact.Loader, len(parts),
			strings.Join(parts, " and "), deck.Fact.Deck, d.Clock(deck.At()), deck.Fact.Net)
		found(f)
	}
}
