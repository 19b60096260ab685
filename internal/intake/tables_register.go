package intake

import (
	"fmt"
	"strings"

	"repose/ledger"
)

func yardsTable() Table {
	units := unitNames(ledger.UnitTonne, ledger.UnitShortTon, ledger.UnitLongTon)
	return Table{
		Name: "yards", Kind: ledger.KindYardRecord,
		Note: "places with their own piles, clocks and monthly close",
		Columns: []Column{
			column(fYard, Required, Code, "a short code; it becomes part of every record's ID"),
			column(fName, Required, Text, "the yard's name as reports print it"),
			column(fTimeZone, Required, Text, "IANA name of the clocks' zone, such as Europe/London"),
			choice(fUnit, units, ledger.UnitTonne.String(), "unit of reports on paper"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				u, err := ledger.ParseMassUnit(r.words(fUnit))
				if err != nil {
					return nil // the cell has been refused
				}
				return ledger.Yard{Code: r.code(fYard), Name: r.own(fName), Zone: r.zoneName(fTimeZone), Unit: u}
			},
			corrected: wholeKey,
		},
	}
}

func productsTable() Table {
	return Table{
		Name: "products", Kind: ledger.KindProductRecord,
		Note: "sizes and blends, the same in all yards of the book",
		Columns: []Column{
			column(fProduct, Required, Code, "a short code"),
			column(fName, Optional, Text, "the product's name as reports print it"),
			column(fReferenceMoisture, Required, Moisture, "the moisture at which stock is reported"),
			column(fAbsorption, Optional, DryPercent, "water absorption, per cent of dry mass"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				return ledger.Product{Code: r.code(fProduct), Name: r.own(fName),
					Reference: r.moisture(fReferenceMoisture), Absorption: r.quantity(fAbsorption)}
			},
			corrected: wholeKey,
		},
	}
}

func pilesTable() Table {
	return Table{
		Name: "piles", Kind: ledger.KindPileRecord,
		Note: "stockpiles and what lies in them; a pile built anew with another product is a second row with a later date",
		Columns: []Column{
			column(fPile, Required, Code, "a short code"),
			column(fProduct, Required, Code, "the product's code"),
			column(fOpened, Optional, Date, "when the pile was begun; a date means from its start"),
			column(fClosed, Optional, LastDate, "when it was cleared; a date means through that day"),
			column(fOwner, Optional, Text, "whose stone it is; blank for the yard's own"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				p := ledger.Pile{Code: r.code(fPile), Product: r.code(fProduct), Opened: r.date(fOpened),
					Closed: r.date(fClosed), Owner: r.text(fOwner)}
				if r.ok() && !p.Closed.IsZero() && !p.Closed.After(p.Opened) {
					r.fail(fClosed, quote(r.shown(fClosed))+", before the pile was opened", "a time after "+quote(r.shown(fOpened)))
				}
				return p
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				return r.ownKey(f, f.(ledger.Pile).Code, value)
			},
		},
	}
}

func instrumentsTable() Table {
	kinds := unitNames(ledger.InstrumentBelt, ledger.InstrumentLoader, ledger.InstrumentDeck)
	return Table{
		Name: "instruments", Kind: ledger.KindInstrumentRecord,
		Note: "belt weighers, loader scales and deck scales with their certificates; a new certificate is a new row",
		Columns: []Column{
			column(fInstrument, Required, Code, "a short code, as tickets and readings name it"),
			choice(fKind, kinds, "", "what it weighs"),
			column(fFrom, Required, Date, "from when this holds; a date means from its start"),
			column(fUntil, Optional, LastDate, "until when the certificate serves; a date means through that day"),
			column(fSystematic, Optional, Percent, "relative standard uncertainty that all weighings share"),
			column(fRandom, Optional, Percent, "relative standard uncertainty of a single weighing"),
			column(fModulus, Optional, BareMass, "where a belt's totaliser starts again at zero; without a unit: in the unit of its readings"),
			column(fCertificate, Optional, Text, "number of the certificate"),
			column(fCertificateClass, Optional, Text, "accuracy class and the standard that defines it"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				i := ledger.Instrument{Code: r.code(fInstrument), From: r.date(fFrom), Until: r.date(fUntil),
					Systematic: r.quantity(fSystematic), Random: r.quantity(fRandom),
					Certificate: r.own(fCertificate), CertificateClass: r.own(fCertificateClass)}
				i.Modulus, i.ModulusPlain = r.bareMass(fModulus)
				if r.ok() && !i.Until.IsZero() && !i.Until.After(i.From) {
					r.fail(fUntil, quote(r.shown(fUntil))+", before the certificate begins", "a time after "+quote(r.shown(fFrom)))
				}
				var err error
				if i.Weighs, err = ledger.ParseInstrumentKind(r.words(fKind)); err != nil {
					return nil // the cell has been refused
				}
				return i
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				return r.ownKey(f, f.(ledger.Instrument).Code, value)
			},
		},
	}
}

func hoursTable() Table {
	return Table{
		Name: "hours", Kind: ledger.KindHoursRecord,
		Note: "when the yard is staffed; both clocks blank for a day without staff",
		Columns: []Column{
			column(fWeekday, Optional, Day, "Monday to Sunday"),
			column(fDate, Optional, Day, "a day that differs from its weekday"),
			column(fDay, Optional, Day, "either of them"),
			column(fOpen, Optional, Clock, "HH:MM in the yard's clock"),
			column(fClose, Optional, Clock, "HH:MM in the yard's clock, up to 24:00; of the next day where it is before the open"),
		},
		OneOf: [][]string{{fWeekday.String(), fDate.String(), fDay.String()}},
		build: builder{
			fact: func(r *row) ledger.Fact {
				h := ledger.Hours{Day: r.day(r.oneOf(fWeekday, fDate, fDay)), Open: r.clock(fOpen), Close: r.clock(fClose)}
				if r.has(fOpen) != r.has(fClose) {
					r.fail(fOpen, "one clock of two", "both open and close, or neither for a day without staff")
				} else if h.Open != "" && h.Open == h.Close {
					r.fail(fClose, fmt.Sprintf("%q, as open has it", h.Close), "another clock: 00:00 to 24:00 is a whole day, and a close before the open is of the next day")
				}
				return h
			},
			corrected: wholeKey,
		},
	}
}

func policyTable() Table {
	names := ledger.PolicyNames()
	words := make([]string, len(names))
	for i, n := range names {
		words[i] = string(n)
	}
	return Table{
		Name: "policy", Kind: ledger.KindPolicyRecord,
		Note: "the yard's own rules, each from a day on",
		Columns: []Column{
			choice(fName, words, "", "which rule; or, for the register of exceptions, rule and what it sets"),
			column(fValue, Required, Text, "adjust: never, always, outside; limit mass: a mass with its unit, such as 50 t; "+
				"limit percent: a number; limit of: book, throughput; limit join: and, or, plus; cut-off hours: a number; "+
				"survey every: a number of months, 0 for none; expected shrinkage PRODUCT: a per cent of production or load-out; belt factor BELT: from 0.5 to 2; value ...: how stock is valued"),
			column(fFrom, Required, Date, "from when it holds; a date means from its start"),
			column(fReason, Optional, Text, "why"),
		},
		build: builder{
			fact: func(r *row) ledger.Fact {
				p := ledger.Policy{Name: r.policyName(), Value: r.own(fValue),
					From: r.date(fFrom), Reason: r.own(fReason)}
				if _, err := ledger.NewRecord("", p); err != nil && r.ok() {
					_, wanted, _ := strings.Cut(err.Error(), "want ") // the ledger knows what each rule's value may be
					r.fail(fValue, quote(p.Value), wanted)
				}
				return p
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				return r.ownKey(f, string(f.(ledger.Policy).Name), value)
			},
		},
	}
}

// policyName returns the rule that a row sets: one of the fixed list, or a setting of a rule of the exception
// register, of which only those that read it know the names.
func (r *row) policyName() ledger.PolicyName {
	written := strings.Join(strings.Fields(r.own(fName)), " ")
	if n := ledger.PolicyName(strings.ToLower(written)); n.IsRuleSetting() {
		return n
	}
	// The code of a product or of a belt keeps its case.
	for _, named := range []func(string) ledger.PolicyName{ledger.ExpectedShrinkage, ledger.BeltFactor, ledger.ValueByProduct} {
		if n := len(named("")); len(written) > n && strings.EqualFold(written[:n], string(named(""))) {
			return named(written[n:])
		}
	}
	return ledger.PolicyName(r.words(fName))
}

// wholeKey is the key of a record whose key is a single name.
func wholeKey(_ *row, _ ledger.Fact, value string) string { return value }

// ownKey returns the fact's own key, for a correction under the same key, where value is the fact's code.
func (r *row) ownKey(f ledger.Fact, code, value string) string {
	if value != code {
		r.fail(fReplaces, quote(value), quote(code)+", for the record of the same key, or a whole key as the book prints it")
	}
	return f.Key()
}
