package tickets

import (
	"cmp"
	"fmt"

	"repose/internal/match"
	"repose/internal/screen"
	"repose/ledger"
)

// voided finds a void record of a truck that the other scale weighed and kept: a load that was voided though its truck
// crossed the deck, or a deck ticket that was voided though its load is kept. A kept load that takes the truck's
// ticket clears it: then the void was reissued. The pair is looked for as [match.Match] does; one that could as well
// be another truck's is left out.
type voided struct{}

func (voided) Info() screen.Info {
	return screen.Info{Name: "void after weigh-out", Strength: screen.Certain,
		Meaning: "A load was voided and its truck was weighed out, or a deck ticket was voided and its load was kept.",
		Benign:  "A truck that was sent back to tip off and be loaded again; a void that was meant for another ticket; a reissue in another series.",
		Settle:  "Reinstate the load, where the stone left; void the load too, where it did not; or words and who saw the truck return."}
}

func (voided) Look(d *screen.Data, found func(screen.Finding)) {
	for _, p := range d.Match.VoidLoads {
		load, deck := d.MatchLoads[p.Load], d.MatchDeck[p.Deck]
		if p.Margin < match.SureMargin {
			continue
		}
		f := voidFinding(load, deck, fmt.Sprintf("load %s was voided at %s, and deck ticket %s weighed the truck out at %s with %v",
			load.Fact.Ticket, d.Clock(load.At()), deck.Fact.Ticket, d.Clock(deck.At()), deck.Fact.Net))
		if f.Pile != "" {
			f.Effects = []screen.Effect{{Pile: f.Pile, Mass: f.Mass}}
		}
		found(f)
	}
	for _, p := range d.Match.VoidDecks {
		load, deck := d.MatchLoads[p.Load], d.MatchDeck[p.Deck]
		if p.Margin < match.SureMargin {
			continue
		}
		found(voidFinding(load, deck, fmt.Sprintf("deck ticket %s was voided at %s, and load %s of %s with %v is kept",
			deck.Fact.Ticket, d.Clock(deck.At()), load.Fact.Ticket, d.Clock(load.At()), load.Fact.Net)))
	}
}

func voidFinding(load screen.Row[ledger.Load], deck screen.Row[ledger.DeckTicket], seen string) screen.Finding {
	l := load.Fact
	f := screen.Finding{Subject: load.Rec.ID(), Time: load.At(), Pile: l.Pile, Mass: l.Net, Seen: seen, Instrument: l.Loader,
		Records: []string{load.Rec.ID(), deck.Rec.ID()}, Product: l.Product, Truck: cmp.Or(deck.Fact.Truck, l.Truck), Customer: cmp.Or(deck.Fact.Customer, l.Customer)}
	if f.Mass == 0 {
		f.Mass = deck.Fact.Net
	}
	return f
}
