package weights

import (
	"fmt"

	"repose/internal/screen"
)

// noDeckTicket finds loads for sale whose truck no deck scale weighed.
//
// It takes kept loads for sale, with a truck or a customer, that the matching left without a ticket, kept or void. At least
// four fifths of the loader's loads of the product (of all products where it has fewer than twenty) must have a ticket, so
// that loads that never cross a deck are left out. So are loads that are too much for one truck, which have a rule of their own,
// and those so late that the tickets on record do not reach far enough. The book has the load, so there is no effect.
//
// False alarms: fewer than one in fifty clean months; one in ten where loads bear no truck.
type noDeckTicket struct{}

func (noDeckTicket) Info() screen.Info {
	return screen.Info{Name: "no deck ticket", Strength: screen.Likely,
		Meaning: "A loader loaded a truck for sale, and no deck scale weighed it, though trucks of the kind do cross one.",
		Benign: "The deck was out of use or the truck weighed elsewhere; the load was tipped back or carried to a job in the yard; " +
			"a file of tickets is not in yet; the record is a second one of the same truck.",
		Settle:      "The ticket, once it is found; the purpose of the load set right; or the customer's own receipt. Until then the load may have left unpaid.",
		FalseAlarms: 0.02}
}

func (noDeckTicket) Look(d *screen.Data, found func(screen.Finding)) {
	if len(d.MatchDeck) == 0 || len(d.Match.LoadAlone) == 0 {
		return
	}
	with, _ := partnered(d)
	ways, last := waysOf(d), d.MatchDeck[len(d.MatchDeck)-1].At()
	all := shares{}
	for k := range d.MatchLoads {
		if row := &d.MatchLoads[k]; crosses(&row.Fact) {
			all.add(row.Fact.Loader, d.ProductOf(row.Rec), with[k])
		}
	}
	for _, k := range d.Match.LoadAlone {
		row := d.MatchLoads[k]
		l := row.Fact
		w, known := ways[l.Loader]
		if with[k] || !crosses(&l) || !d.In(l.At) || !known || l.At.Add(w.longest).After(last) {
			continue
		}
		product := d.ProductOf(row.Rec)
		part, ok := all.usual(l.Loader, product)
		if !ok {
			continue
		}
		if _, ok := overloads(d)[k]; ok {
			continue
		}
		id := row.Rec.ID()
		found(screen.Finding{Subject: id, Time: l.At, Pile: l.Pile, Mass: l.Net, Records: []string{id}, Instrument: l.Loader,
			Product: product, Customer: l.Customer, Truck: l.Truck,
			Seen: fmt.Sprintf("%s loaded %s%s at %s, and no deck scale has it; %.0f %% of its loads like that have a ticket, usually %s later",
				l.Loader, l.Net, onTruck(l.Truck), d.Clock(l.At), 100*part, minutes(w.usual))})
	}
}
