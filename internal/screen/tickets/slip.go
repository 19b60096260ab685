package tickets

import (
	"fmt"

	"repose/ledger"
)

// slip is what a record with a ticket says, whatever its kind. What its kind does not state is empty.
type slip struct {
	instrument, ticket             string
	pile, product, truck, customer string
	net                            ledger.Mass
	isVoid                         bool
}

// slipOf reads a record; ok is false for a kind without tickets. A loader's loads and transfers share its counter.
func slipOf(rec *ledger.Record) (s slip, ok bool) {
	switch f := rec.Fact.(type) {
	case ledger.Load:
		return slip{f.Loader, f.Ticket, f.Pile, f.Product, f.Truck, f.Customer, f.Net, f.Void}, true
	case ledger.Transfer:
		return slip{instrument: f.Loader, ticket: f.Ticket, pile: f.From, truck: f.Truck, net: f.Net}, true
	case ledger.DeckTicket:
		return slip{f.Deck, f.Ticket, "", f.Product, f.Truck, f.Customer, f.Net, f.Void}, true
	case ledger.Return:
		return slip{instrument: f.Instrument, ticket: f.Ticket, pile: f.Pile, net: f.Net}, true
	}
	return slip{}, false
}

// form is what many slips of a month have in common: all but their numbers, times and masses.
type form struct {
	kind          ledger.Kind
	instrument    string
	before, after string // the number, in the ticket
	width         int    // of the number in digits
	revision      int
	pile, product string
	isVoid        bool
}

// record returns the ID of the record of a form and number.
func (f *form) record(yard string, number int64) string {
	ticket := f.before + fmt.Sprintf("%0*d", f.width, number) + f.after
	rec := ledger.Record{Yard: yard, Revision: f.revision}
	switch f.kind {
	case ledger.KindTransferRecord:
		rec.Fact = ledger.Transfer{Loader: f.instrument, Ticket: ticket}
	case ledger.KindDeckRecord:
		rec.Fact = ledger.DeckTicket{Deck: f.instrument, Ticket: ticket}
	case ledger.KindReturnRecord:
		rec.Fact = ledger.Return{Instrument: f.instrument, Ticket: ticket}
	default:
		rec.Fact = ledger.Load{Loader: f.instrument, Ticket: ticket}
	}
	return rec.ID()
}
