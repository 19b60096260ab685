package intake

import "repose/ledger"

const (
	statusKept = "kept"
	statusVoid = "void"
)

func productionTable() Table {
	return Table{
		Name: "production", Kind: ledger.KindProductionRecord,
		Note: "what belts carried to piles: net masses, or readings of a totaliser",
		Columns: []Column{
			column(fTime, Required, Time, "the end of what net covers, or when the totaliser was read"),
			column(fBelt, Required, Code, "the belt weigher's code"),
			column(fPile, MayBeBlank, Code, "where the stone went"),
			column(fNet, Optional, Mass, "mass carried"),
			column(fReading, Optional, Mass, "what the totaliser showed"),
			column(fShift, Optional, Text, "the yard's name of the shift"),
			column(fNote, Optional, Text, "needed where the totaliser was set back"),
		},
		OneOf: [][]string{{fNet.String(), fReading.String()}},
		build: builder{
			fact: func(r *row) ledger.Fact {
				p := ledger.Production{At: r.at(fTime), Belt: r.code(fBelt), Pile: r.movedPile(fPile),
					Net: r.mass(fNet), Reading: r.mass(fReading), Shift: r.text(fShift), Note: r.own(fNote)}
				if p.IsReading = r.oneOf(fNet, fReading) == fReading; p.IsReading {
					p.ReadingUnit = r.unit(fReading).mass
				}
				return p
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				p := f.(ledger.Production)
				p.At = r.correctedTime(value)
				return p.Key()
			},
			instrument: fBelt,
		},
	}
}

func loadsTable() Table {
	purposes := [...]ledger.Purpose{ledger.PurposeSale, ledger.PurposeInternal, ledger.PurposeFree}
	return Table{
		Name: "loads", Kind: ledger.KindLoadRecord,
		Note: "truckloads out of a pile, weighed by the loader",
		Columns: []Column{
			column(fTime, Required, Time, "when the truck was loaded"),
			column(fLoader, Required, Code, "the loader scale's code"),
			column(fTicket, Required, Text, "number of the loader's ticket"),
			column(fPile, MayBeBlank, Code, "the pile loaded from"),
			column(fProduct, Optional, Text, "the product on the ticket"),
			column(fTruck, Optional, Text, "the truck"),
			column(fCustomer, Optional, Text, "the customer's code"),
			column(fPasses, Optional, Count, "bucket passes"),
			column(fNet, Required, Mass, "mass loaded"),
			choice(fPurpose, unitNames(purposes[:]...), ledger.PurposeSale.String(), "why it left"),
			choice(fStatus, []string{statusKept, statusVoid}, statusKept, "a void load moves nothing"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				l := ledger.Load{At: r.at(fTime), Loader: r.code(fLoader), Ticket: r.own(fTicket), Pile: r.movedPile(fPile),
					Product: r.text(fProduct), Truck: r.text(fTruck), Customer: r.text(fCustomer), Passes: r.count(fPasses),
					Net: r.mass(fNet), Void: r.words(fStatus) == statusVoid}
				if i := r.word(fPurpose); i >= 0 {
					l.Purpose = purposes[i]
				}
				return l
			},
			corrected: func(_ *row, f ledger.Fact, value string) string {
				l := f.(ledger.Load)
				l.Ticket = value
				return l.Key()
			},
			instrument: fLoader, ticket: fTicket,
		},
	}
}

func deckTable() Table {
	return Table{
		Name: "deck", Kind: ledger.KindDeckRecord,
		Note: "tickets of a deck (truck) scale; they are set against the loads and move nothing themselves",
		Columns: []Column{
			column(fTime, Required, Time, "when the loaded truck was weighed"),
			column(fDeck, Required, Code, "the deck scale's code"),
			column(fTicket, Required, Text, "number of the ticket"),
			column(fTruck, Optional, Text, "the truck"),
			column(fCustomer, Optional, Text, "the customer's code"),
			column(fProduct, Optional, Text, "the product on the ticket"),
			column(fGross, Optional, Mass, "truck and load"),
			column(fTare, Optional, Mass, "truck alone"),
			column(fNet, Required, Mass, "load"),
			choice(fStatus, []string{statusKept, statusVoid}, statusKept, "a void ticket counts for nothing"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				return ledger.DeckTicket{At: r.at(fTime), Deck: r.code(fDeck), Ticket: r.own(fTicket), Truck: r.text(fTruck),
					Customer: r.text(fCustomer), Product: r.text(fProduct), Gross: r.mass(fGross), Tare: r.mass(fTare),
					Net: r.mass(fNet), Void: r.words(fStatus) == statusVoid}
			},
			corrected: func(_ *row, f ledger.Fact, value string) string {
				t := f.(ledger.DeckTicket)
				t.Ticket = value
				return t.Key()
			},
			instrument: fDeck, ticket: fTicket,
		},
	}
}

func transfersTable() Table {
	return Table{
		Name: "transfers", Kind: ledger.KindTransferRecord,
		Note: "stone carried from one pile to another",
		Columns: []Column{
			column(fTime, Required, Time, "when it was carried"),
			column(fLoader, Optional, Code, "the loader scale's code"),
			column(fTicket, Optional, Text, "number of the loader's ticket"),
			column(fFromPile, MayBeBlank, Code, "the pile it left"),
			column(fToPile, MayBeBlank, Code, "the pile it came to"),
			column(fNet, Required, Mass, "mass carried"),
			column(fTruck, Optional, Text, "the truck"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				t := ledger.Transfer{At: r.at(fTime), Loader: r.code(fLoader), Ticket: r.own(fTicket),
					From: r.movedPile(fFromPile), To: r.movedPile(fToPile), Net: r.mass(fNet), Truck: r.text(fTruck)}
				if t.From == t.To && t.From != "" {
					r.fail(fToPile, quote(t.To)+", the pile that it left", "another pile")
				}
				return t
			},
			corrected: func(_ *row, f ledger.Fact, value string) string {
				t := f.(ledger.Transfer)
				t.Ticket = value
				return t.Key()
			},
			instrument: fLoader, ticket: fTicket,
		},
	}
}

func feedTable() Table {
	return Table{
		Name: "feed", Kind: ledger.KindFeedRecord,
		Note: "stone carried from a pile back to the crusher",
		Columns: []Column{
			column(fTime, Required, Time, "when it was carried"),
			column(fInstrument, Optional, Code, "what weighed it"),
			column(fPile, MayBeBlank, Code, "the pile it left"),
			column(fNet, Required, Mass, "mass carried"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				return ledger.Feed{At: r.at(fTime), Instrument: r.code(fInstrument), Pile: r.movedPile(fPile), Net: r.mass(fNet)}
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				t := f.(ledger.Feed)
				t.At = r.correctedTime(value)
				return t.Key()
			},
			instrument: fInstrument,
		},
	}
}

func returnsTable() Table {
	return Table{
		Name: "returns", Kind: ledger.KindReturnRecord,
		Note: "stone that customers brought back",
		Columns: []Column{
			column(fTime, Required, Time, "when it was weighed in"),
			column(fInstrument, Optional, Code, "what weighed it"),
			column(fTicket, Optional, Text, "number of the ticket"),
			column(fPile, MayBeBlank, Code, "the pile it was tipped on"),
			column(fNet, Required, Mass, "mass brought back"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				return ledger.Return{At: r.at(fTime), Instrument: r.code(fInstrument), Ticket: r.own(fTicket),
					Pile: r.movedPile(fPile), Net: r.mass(fNet)}
			},
			corrected: func(_ *row, f ledger.Fact, value string) string {
				t := f.(ledger.Return)
				t.Ticket = value
				return t.Key()
			},
			instrument: fInstrument, ticket: fTicket,
		},
	}
}
