package piles

import (
	"fmt"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// notHeld finds loads whose stated product is not what their pile holds at that time. One of the two is wrong on the
// record: the pile, and then another pile is too high, or the product, and then a customer was billed for something
// else. It is certain that they do not agree.
type notHeld struct{}

func (notHeld) Info() screen.Info {
	return screen.Info{Name: "product not held", Strength: screen.Certain,
		Meaning: "A load states a product that its pile does not hold.",
		Benign:  "A pile that was rebuilt with another product before the register says so; two names for one product.",
		Settle:  "Reclass the load to the pile that it left; or a record with the right product; or a row of piles with the day it was rebuilt."}
}

func (notHeld) Look(d *screen.Data, found func(screen.Finding)) {
	for _, l := range d.Loads {
		f := l.Fact
		id := ledger.PileID{Yard: d.Yard, Code: f.Pile}
		if f.Void || f.Product == "" || f.Pile == "" || !d.Register.Known(id) || !d.In(l.At()) {
			continue
		}
		holds := d.Register.Pile(id, l.At()).Product
		if holds == f.Product {
			continue
		}
		x := screen.Finding{Subject: l.Rec.ID(), Time: l.At(), Pile: f.Pile, Mass: f.Net, Records: []string{l.Rec.ID()}, Instrument: f.Loader,
			Product: f.Product, Truck: f.Truck, Customer: f.Customer,
			Seen: fmt.Sprintf("load %s says %s out of pile %s, which holds %s", f.Ticket, f.Product, f.Pile, holds)}
		if pile := onlyHolder(d, f.Product, l.At()); pile != "" {
			x.Effects = []screen.Effect{{Pile: f.Pile, Mass: -f.Net}, {Pile: pile, Mass: f.Net}}
			x.Seen += fmt.Sprintf("; pile %s holds %s", pile, f.Product)
		}
		found(x)
	}
}

// onlyHolder returns the pile that holds a product at an instant, where just one does; "" otherwise.
func onlyHolder(d *screen.Data, product string, at time.Time) (only string) {
	for _, id := range d.Month.Piles {
		switch p := d.Register.Pile(id, at); {
		case p.Product != product || p.Opened.After(at) || !p.Closed.IsZero() && !p.Closed.After(at):
		case only != "":
			return ""
		default:
			only = id.Code
		}
	}
	return only
}
