package ledger

import (
	"errors"
	"fmt"
	"time"

	"github.com/shopspring/decimal"
)

// Opening states what lay in a pile when the book of that pile began.
type Opening struct {
	Pile     string
	At       time.Time
	Solids   Mass                // where HasSolids
	Mass     Mass                // as weighed, otherwise
	Moisture decimal.NullDecimal // per cent of dry mass, with Mass
	IsSolids bool
}

// Production states what a belt carried to a pile: a net mass, or the reading of its totaliser, whose
// difference from the reading before is the mass since then.
type Production struct {
	At          time.Time
	Belt, Pile  string
	Net         Mass
	Reading     Mass
	IsReading   bool
	ReadingUnit MassUnit // the totaliser's, so that a modulus stated as a bare number can be understood
	Shift, Note string
}

// Purpose says why a load left. The zero value is no purpose.
type Purpose uint8

// The purposes of a load.
const (
	PurposeSale Purpose = iota + 1
	PurposeInternal
	PurposeFree
)

var purposeNames = [...]string{PurposeSale: "sale", PurposeInternal: "internal", PurposeFree: "free"}

// String returns sale, internal or free.
func (p Purpose) String() string { return nameOf(purposeNames[:], int(p)) }

// ParsePurpose reads sale, internal or free.
func ParsePurpose(s string) (Purpose, error) {
	if i := indexFold(purposeNames[:], s); i > 0 {
		return Purpose(i), nil
	}
	return 0, fmt.Errorf("%q is not a purpose; want one of %s", s, listNames(purposeNames[:]))
}

// Load states that a loader weighed a truckload out of a pile. A void load moves nothing.
type Load struct {
	At              time.Time
	Loader, Ticket  string
	Pile            string // empty where nobody knows: the load goes to suspense
	Product         string
	Truck, Customer string
	Passes          int // bucket passes; 0 where unknown
	Net             Mass
	Purpose         Purpose
	Void            bool
}

// DeckTicket states that a truck was weighed on a deck scale. It is evidence beside a load, and moves
// nothing in the book.
type DeckTicket struct {
	At                       time.Time
	Deck, Ticket             string
	Truck, Customer, Product string
	Gross, Tare, Net         Mass // Gross and Tare are 0 where not stated
	Void                     bool
}

// Transfer states that stone was carried from one pile to another.
type Transfer struct {
	At             time.Time
	Loader, Ticket string
	From, To       string
	Net            Mass
	Truck          string
}

// Feed states that stone was carried from a pile back to the crusher.
type Feed struct {
	At         time.Time
	Instrument string
	Pile       string
	Net        Mass
}

// Return states that a customer brought stone back to a pile.
type Return struct {
	At                 time.Time
	Instrument, Ticket string
	Pile               string
	Net                Mass
}

func (Opening) Kind() Kind    { return KindOpeningRecord }
func (Production) Kind() Kind { return KindProductionRecord }
func (Load) Kind() Kind       { return KindLoadRecord }
func (DeckTicket) Kind() Kind { return KindDeckRecord }
func (Transfer) Kind() Kind   { return KindTransferRecord }
func (Feed) Kind() Kind       { return KindFeedRecord }
func (Return) Kind() Kind     { return KindReturnRecord }

func (o Opening) Key() string    { return joinKey(o.Pile, keyTime(o.At)) }
func (p Production) Key() string { return joinKey(p.Belt, keyTime(p.At)) }
func (l Load) Key() string       { return joinKey(l.Loader, l.Ticket) }
func (t DeckTicket) Key() string { return joinKey(t.Deck, t.Ticket) }
func (f Feed) Key() string       { return joinKey(f.Instrument, keyTime(f.At), f.Pile) }

// Key is the loader's ticket, or the loader, instant and piles where there is no ticket.
func (t Transfer) Key() string {
	if t.Ticket != "" {
		return joinKey(t.Loader, t.Ticket)
	}
	return joinKey(t.Loader, keyTime(t.At), t.From, t.To)
}

// Key is the instrument's ticket, or the instrument, instant and pile where there is no ticket.
func (r Return) Key() string {
	if r.Ticket != "" {
		return joinKey(r.Instrument, r.Ticket)
	}
	return joinKey(r.Instrument, keyTime(r.At), r.Pile)
}

func (o Opening) at() time.Time    { return o.At }
func (p Production) at() time.Time { return p.At }
func (l Load) at() time.Time       { return l.At }
func (t DeckTicket) at() time.Time { return t.At }
func (t Transfer) at() time.Time   { return t.At }
func (f Feed) at() time.Time       { return f.At }
func (r Return) at() time.Time     { return r.At }

var errNoInstant = errors.New("want an instant")

// checkMovement checks what all movements share: an instant and a mass of zero or more. The direction is
// in the kind of record, never in the sign.
func checkMovement(at time.Time, masses ...Mass) error {
	if at.IsZero() {
		return errNoInstant
	}
	for _, m := range masses {
		if m < 0 {
			return fmt.Errorf("mass %v: want zero or more", m)
		}
	}
	return nil
}

func (o Opening) validate() error {
	if o.Moisture.Valid {
		if _, err := NewDryBasis(o.Moisture.Decimal); err != nil {
			return err
		}
	}
	return errors.Join(checkCode("pile", o.Pile), checkMovement(o.At, o.Solids, o.Mass))
}

func (p Production) validate() error {
	return errors.Join(checkCode("belt", p.Belt), optionalCode("pile", p.Pile), checkMovement(p.At, p.Net, p.Reading))
}

func (l Load) validate() error {
	if l.Ticket == "" {
		return errors.New("ticket: want a number")
	}
	return errors.Join(checkCode("loader", l.Loader), optionalCode("pile", l.Pile), checkMovement(l.At, l.Net))
}

func (t DeckTicket) validate() error {
	if t.Ticket == "" {
		return errors.New("ticket: want a number")
	}
	return errors.Join(checkCode("deck", t.Deck), checkMovement(t.At, t.Gross, t.Tare, t.Net))
}

func (t Transfer) validate() error {
	if t.From == t.To && t.From != "" {
		return fmt.Errorf("transfer from %q to itself", t.From)
	}
	return errors.Join(optionalCode("loader", t.Loader), optionalCode("from pile", t.From),
		optionalCode("to pile", t.To), checkMovement(t.At, t.Net))
}

func (f Feed) validate() error {
	return errors.Join(optionalCode("instrument", f.Instrument), optionalCode("pile", f.Pile), checkMovement(f.At, f.Net))
}

func (r Return) validate() error {
	return errors.Join(optionalCode("instrument", r.Instrument), optionalCode("pile", r.Pile), checkMovement(r.At, r.Net))
}

const (
	statusKept = "kept"
	statusVoid = "void"
)

func status(void bool) string {
	if void {
		return statusVoid
	}
	return statusKept
}

func (d *fieldReader) void() bool {
	switch d.text("status") {
	case statusVoid:
		return true
	case statusKept:
	default:
		d.fail("status", ErrBody)
	}
	return false
}

func (o Opening) fields(w *fieldWriter) {
	w.text("pile", o.Pile)
	w.time("time", o.At)
	if o.IsSolids {
		w.mass("solids_g", o.Solids)
	} else {
		w.mass("mass_g", o.Mass)
	}
	w.optional("moisture_pct_dry", o.Moisture)
}

func (p Production) fields(w *fieldWriter) {
	w.time("time", p.At)
	w.text("belt", p.Belt)
	w.text("pile", p.Pile)
	if p.IsReading {
		w.mass("reading_g", p.Reading)
		w.text("reading_unit", p.ReadingUnit.String())
	} else {
		w.mass("net_g", p.Net)
	}
	w.text("shift", p.Shift)
	w.text("note", p.Note)
}

func (l Load) fields(w *fieldWriter) {
	w.time("time", l.At)
	w.text("loader", l.Loader)
	w.text("ticket", l.Ticket)
	w.text("pile", l.Pile)
	w.text("product", l.Product)
	w.text("truck", l.Truck)
	w.text("customer", l.Customer)
	w.count("passes", l.Passes)
	w.mass("net_g", l.Net)
	w.text("purpose", l.Purpose.String())
	w.text("status", status(l.Void))
}

func (t DeckTicket) fields(w *fieldWriter) {
	w.time("time", t.At)
	w.text("deck", t.Deck)
	w.text("ticket", t.Ticket)
	w.text("truck", t.Truck)
	w.text("customer", t.Customer)
	w.text("product", t.Product)
	if t.Gross > 0 {
		w.mass("gross_g", t.Gross)
	}
	if t.Tare > 0 {
		w.mass("tare_g", t.Tare)
	}
	w.mass("net_g", t.Net)
	w.text("status", status(t.Void))
}

func (t Transfer) fields(w *fieldWriter) {
	w.time("time", t.At)
	w.text("loader", t.Loader)
	w.text("ticket", t.Ticket)
	w.text("from pile", t.From)
	w.text("to pile", t.To)
	w.mass("net_g", t.Net)
	w.text("truck", t.Truck)
}

func (f Feed) fields(w *fieldWriter) {
	w.time("time", f.At)
	w.text("instrument", f.Instrument)
	w.text("pile", f.Pile)
	w.mass("net_g", f.Net)
}

func (r Return) fields(w *fieldWriter) {
	w.time("time", r.At)
	w.text("instrument", r.Instrument)
	w.text("ticket", r.Ticket)
	w.text("pile", r.Pile)
	w.mass("net_g", r.Net)
}

func readOpening(d *fieldReader) Fact {
	o := Opening{Pile: d.text("pile"), At: d.time("time"), Moisture: d.optional("moisture_pct_dry")}
	if o.IsSolids = d.text("solids_g") != ""; o.IsSolids {
		o.Solids = d.mass("solids_g")
	} else {
		o.Mass = d.mass("mass_g")
	}
	return o
}

func readProduction(d *fieldReader) Fact {
	p := Production{At: d.time("time"), Belt: d.text("belt"), Pile: d.text("pile"), Shift: d.text("shift"), Note: d.text("note")}
	if p.IsReading = d.text("reading_g") != ""; p.IsReading {
		p.Reading = d.mass("reading_g")
		var err error
		if p.ReadingUnit, err = ParseMassUnit(d.text("reading_unit")); err != nil {
			d.fail("reading_unit", err)
		}
	} else {
		p.Net = d.mass("net_g")
	}
	return p
}

func readLoad(d *fieldReader) Fact {
	p, err := ParsePurpose(d.text("purpose"))
	if err != nil {
		d.fail("purpose", err)
	}
	return Load{At: d.time("time"), Loader: d.text("loader"), Ticket: d.text("ticket"), Pile: d.text("pile"),
		Product: d.text("product"), Truck: d.text("truck"), Customer: d.text("customer"),
		Passes: d.count("passes"), Net: d.mass("net_g"), Purpose: p, Void: d.void()}
}

func readDeckTicket(d *fieldReader) Fact {
	return DeckTicket{At: d.time("time"), Deck: d.text("deck"), Ticket: d.text("ticket"), Truck: d.text("truck"),
		Customer: d.text("customer"), Product: d.text("product"), Gross: d.optionalMass("gross_g"),
		Tare: d.optionalMass("tare_g"), Net: d.mass("net_g"), Void: d.void()}
}

func readTransfer(d *fieldReader) Fact {
	return Transfer{At: d.time("time"), Loader: d.text("loader"), Ticket: d.text("ticket"),
		From: d.text("from pile"), To: d.text("to pile"), Net: d.mass("net_g"), Truck: d.text("truck")}
}

func readFeed(d *fieldReader) Fact {
	return Feed{d.time("time"), d.text("instrument"), d.text("pile"), d.mass("net_g")}
}

func readReturn(d *fieldReader) Fact {
	return Return{d.time("time"), d.text("instrument"), d.text("ticket"), d.text("pile"), d.mass("net_g")}
}

// AsWeighed returns the mass that a movement or a deck ticket states with its water, for control totals.
// ok is false for a fact that states none, such as a totaliser's reading. A void ticket states nothing.
func AsWeighed(f Fact) (m Mass, ok bool) {
	switch f := f.(type) {
	case Opening:
		return f.Mass, !f.IsSolids
	case Production:
		return f.Net, !f.IsReading
	case Load:
		return f.Net, !f.Void
	case DeckTicket:
		return f.Net, !f.Void
	case Transfer:
		return f.Net, true
	case Feed:
		return f.Net, true
	case Return:
		return f.Net, true
	}
	return 0, false
}
