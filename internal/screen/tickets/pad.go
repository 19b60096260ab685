package tickets

import (
	"fmt"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var padPrefix = screen.Setting{Name: "rule outage pad prefix", Holds: screen.Words, Default: "PAD",
	Meaning: "With what the ticket numbers of the pad begin that is written by hand while a scale is out."}

var padDays = screen.Setting{Name: "rule outage pad days", Holds: screen.Days, Default: "7",
	Meaning: "How far the scale's own record of the same load may be from the pad's."}

// pad lists tickets of the pad that is written by hand while a scale is out. Most scales store the weighing and print it
// later: where the scale's own record of the truck and mass is kept too, the load counts twice; where there is none,
// the ticket rests on the hand alone and has to be seen.
type pad struct{}

func (pad) Info() screen.Info {
	return screen.Info{Name: "outage pad", Strength: screen.Certain,
		Meaning:  "A ticket of the pad that is written by hand while a scale is out: without the scale's own record, or kept beside it.",
		Benign:   "An outage without memory, as the pad is there for.",
		Settle:   "Words, with who saw the pad's sheet; void the pad's where the scale's own record is kept too.",
		Settings: []screen.Setting{padPrefix, padDays}}
}

func (pad) Look(d *screen.Data, found func(screen.Finding)) {
	prefix := strings.ToUpper(d.Text(padPrefix))
	isPad := func(ticket string) bool { return strings.HasPrefix(strings.ToUpper(strings.TrimSpace(ticket)), prefix) }
	own := map[string][]screen.Row[ledger.Load]{} // the machine's own, of the trucks on the pads
	var pads []screen.Row[ledger.Load]
	for _, l := range d.Loads {
		if !l.Fact.Void && isPad(l.Fact.Ticket) {
			pads = append(pads, l)
			own[l.Fact.Truck] = nil
		}
	}
	for _, l := range d.Loads {
		if _, ok := own[l.Fact.Truck]; ok && l.Fact.Truck != "" && !l.Fact.Void && !isPad(l.Fact.Ticket) {
			own[l.Fact.Truck] = append(own[l.Fact.Truck], l)
		}
	}
	within, ticketed := d.Duration(padDays), ticketedLoads(d)
	for _, p := range pads {
		f := p.Fact
		x := screen.Finding{Subject: p.Rec.ID(), Time: p.At(), Pile: f.Pile, Mass: f.Net, Records: []string{p.Rec.ID()}, Instrument: f.Loader,
			Product: f.Product, Truck: f.Truck, Customer: f.Customer,
			Seen: fmt.Sprintf("pad ticket %s of %s, %v, has no record of the scale's own beside it", f.Ticket, d.Clock(p.At()), f.Net)}
		if twin, ok := counterpart(p, own[f.Truck], within, ticketed); ok {
			x.Records = append(x.Records, twin.Rec.ID())
			x.Effects = effect(f.Pile, -f.Net)
			x.Seen = fmt.Sprintf("pad ticket %s of %s, %v, and the scale's own %s of %s, %v, are both kept", f.Ticket, d.Clock(p.At()), f.Net,
				twin.Fact.Ticket, d.Clock(twin.At()), twin.Fact.Net)
		}
		found(x)
	}
	for _, t := range d.Deck {
		if f := t.Fact; !f.Void && isPad(f.Ticket) {
			found(screen.Finding{Subject: t.Rec.ID(), Time: t.At(), Mass: f.Net, Records: []string{t.Rec.ID()}, Instrument: f.Deck, Product: f.Product,
				Truck: f.Truck, Customer: f.Customer, Seen: fmt.Sprintf("pad ticket %s of %s, %v, stands in for one of the deck scale", f.Ticket, d.Clock(t.At()), f.Net)})
		}
	}
}

// counterpart returns the scale's own record of a pad's load: the same pile, a mass within a thousandth, and printed
// with the pad's time or later. One that a deck ticket was found for at another time is another trip, and so is one
// where both have a ticket.
func counterpart(p screen.Row[ledger.Load], own []screen.Row[ledger.Load], within time.Duration, ticketed map[*ledger.Record]bool) (screen.Row[ledger.Load], bool) {
	for _, l := range own {
		f, later := l.Fact, l.At().Sub(p.At())
		if later < -padClock || later > within || f.Pile != p.Fact.Pile || (f.Net-p.Fact.Net).Abs()*padShare > f.Net {
			continue
		}
		if isOther := ticketed[l.Rec] && (ticketed[p.Rec] || later > padClock); !isOther {
			return l, true
		}
	}
	return screen.Row[ledger.Load]{}, false
}

// padClock is how far the time that a hand writes on a pad may be off (common practice, no source).
const padClock = 30 * time.Minute

// padShare is how near a scale's stored mass is to the one that was written by hand from its display: a thousandth, for
// a slip of rounding. A hundredth would take other loads of the same truck for it.
const padShare = 1000
