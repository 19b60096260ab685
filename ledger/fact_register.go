package ledger

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// Yard states that a yard exists: a place with its own piles, clocks and monthly close.
type Yard struct {
	Code, Name string
	Zone       string   // IANA time zone
	Unit       MassUnit // of reports on paper; the books are in grams
}

// Product states that a product exists, with the moisture at which its stock is reported.
type Product struct {
	Code, Name string
	Reference  DryBasis
	Absorption decimal.NullDecimal // per cent of dry mass
}

// Pile states that a pile exists and what lies in it. A pile that is emptied and built anew with another
// product is a second fact with a later Opened.
type Pile struct {
	Code, Product  string
	Opened, Closed time.Time // Closed is the first instant after; zero where unknown
	Owner          string    // empty for the yard's own stone
}

// InstrumentKind says what an instrument weighs. The zero value is no instrument.
type InstrumentKind uint8

// The weighing instruments of a yard.
const (
	InstrumentBelt InstrumentKind = iota + 1
	InstrumentLoader
	InstrumentDeck
)

var instrumentKindNames = [...]string{InstrumentBelt: "belt", InstrumentLoader: "loader", InstrumentDeck: "deck"}

// String returns belt, loader or deck.
func (k InstrumentKind) String() string { return nameOf(instrumentKindNames[:], int(k)) }

// ParseInstrumentKind reads belt, loader or deck.
func ParseInstrumentKind(s string) (InstrumentKind, error) {
	if i := indexFold(instrumentKindNames[:], s); i > 0 {
		return InstrumentKind(i), nil
	}
	return 0, fmt.Errorf("%q is not a kind of instrument; want one of %s", s, listNames(instrumentKindNames[:]))
}

// Instrument states what is known of a weighing instrument from an instant on.
type Instrument struct {
	Code             string
	Weighs           InstrumentKind
	From, Until      time.Time           // Until is the first instant after the certificate; zero where open
	Systematic       decimal.NullDecimal // relative standard uncertainty common to all weighings, per cent
	Random           decimal.NullDecimal // of a single weighing, per cent
	Modulus          Mass                // where a belt's totaliser starts again at zero; 0 where unknown
	ModulusPlain     decimal.NullDecimal // the same as a bare number, in the unit of the belt's readings
	Certificate      string
	CertificateClass string // class of a named standard, such as an accuracy class
}

// Hours states when a yard is staffed, on a weekday or a date, in the yard's clock.
type Hours struct {
	Day         string // a weekday's English name, or YYYY-MM-DD
	Open, Close string // HH:MM; both empty for a day without staff
}

// PolicyName names a rule that a yard sets for itself.
type PolicyName string

// The policies.
const (
	PolicyAdjust       PolicyName = "adjust"        // never, always, outside
	PolicyLimitMass    PolicyName = "limit mass"    // a mass with its unit
	PolicyLimitPercent PolicyName = "limit percent" // per cent
	PolicyLimitOf      PolicyName = "limit of"      // book, throughput
	PolicyLimitJoin    PolicyName = "limit join"    // and, or, plus
	PolicyCutOffHours  PolicyName = "cut-off hours" // how long a truck may be between loader and deck
	PolicySurveyEvery  PolicyName = "survey every"  // months that one survey serves

	// Standard uncertainties in per cent, for what the records leave out.
	PolicyUOpening          PolicyName = "u opening"
	PolicyUVolume           PolicyName = "u survey volume"
	PolicyUDensity          PolicyName = "u density"
	PolicyUBeltSystematic   PolicyName = "u belt systematic"
	PolicyUBeltRandom       PolicyName = "u belt random"
	PolicyULoaderSystematic PolicyName = "u loader systematic"
	PolicyULoaderRandom     PolicyName = "u loader random"
	PolicyUMoisture         PolicyName = "u moisture" // percentage points of dry mass
)

// Policy states a rule of a yard from an instant on.
type Policy struct {
	Name   PolicyName
	Value  string
	From   time.Time
	Reason string
}

// maxCode is the longest code, in bytes.
const maxCode = 64

// IsCode reports whether a text may be the code of a yard, pile, product or instrument, and so part of a
// record's ID: 1 to 64 bytes without / : # and control characters.
func IsCode(s string) bool {
	return s != "" && len(s) <= maxCode && !strings.ContainsAny(s, "/:#") &&
		!strings.ContainsFunc(s, func(r rune) bool { return r < ' ' })
}

// checkCode refuses what is no code.
func checkCode(what, code string) error {
	if !IsCode(code) {
		return fmt.Errorf("%s %.70q: want a code of 1 to %d bytes without / : # and control characters", what, code, maxCode)
	}
	return nil
}

// optionalCode is checkCode for a code that may be left out.
func optionalCode(what, code string) error {
	if code == "" {
		return nil
	}
	return checkCode(what, code)
}

func (Yard) Kind() Kind       { return KindYardRecord }
func (Product) Kind() Kind    { return KindProductRecord }
func (Pile) Kind() Kind       { return KindPileRecord }
func (Instrument) Kind() Kind { return KindInstrumentRecord }
func (Hours) Kind() Kind      { return KindHoursRecord }
func (Policy) Kind() Kind     { return KindPolicyRecord }

func (Yard) at() time.Time       { return time.Time{} }
func (Product) at() time.Time    { return time.Time{} }
func (Pile) at() time.Time       { return time.Time{} }
func (Instrument) at() time.Time { return time.Time{} }
func (Hours) at() time.Time      { return time.Time{} }
func (Policy) at() time.Time     { return time.Time{} }

func (y Yard) Key() string       { return y.Code }
func (p Product) Key() string    { return p.Code }
func (i Instrument) Key() string { return joinKey(i.Code, keyTime(i.From)) }
func (h Hours) Key() string      { return h.Day }
func (p Policy) Key() string     { return joinKey(string(p.Name), keyTime(p.From)) }

// Key is the pile's code, and the day it was opened where that is stated.
func (p Pile) Key() string {
	if p.Opened.IsZero() {
		return p.Code
	}
	return joinKey(p.Code, keyTime(p.Opened))
}

func (y Yard) validate() error {
	if _, err := time.LoadLocation(y.Zone); err != nil || y.Zone == "" || y.Zone == "Local" {
		return fmt.Errorf("time zone %q: want an IANA name such as Europe/London", y.Zone)
	}
	return checkCode("yard", y.Code)
}

func (p Product) validate() error {
	return checkCode("product", p.Code)
}

func (p Pile) validate() error {
	if !p.Closed.IsZero() && p.Closed.Before(p.Opened) {
		return errors.New("pile closed before it was opened")
	}
	return errors.Join(checkCode("pile", p.Code), checkCode("product", p.Product))
}

func (i Instrument) validate() error {
	if i.Modulus < 0 || i.ModulusPlain.Valid && !i.ModulusPlain.Decimal.IsPositive() {
		return errors.New("modulus: want more than zero")
	}
	for _, u := range []decimal.NullDecimal{i.Systematic, i.Random} {
		if u.Valid && u.Decimal.IsNegative() {
			return fmt.Errorf("uncertainty %s %%: want zero or more", u.Decimal)
		}
	}
	return checkCode("instrument", i.Code)
}

func (h Hours) validate() error {
	if h.Day == "" {
		return errors.New("want a weekday or a date")
	}
	return nil
}

func (y Yard) fields(w *fieldWriter) {
	w.text("code", y.Code)
	w.text("name", y.Name)
	w.text("zone", y.Zone)
	w.text("unit", y.Unit.String())
}

func (p Product) fields(w *fieldWriter) {
	w.text("product", p.Code)
	w.text("name", p.Name)
	w.decimal("reference_moisture_pct_dry", p.Reference.pct)
	w.optional("absorption_pct_dry", p.Absorption)
}

func (p Pile) fields(w *fieldWriter) {
	w.text("pile", p.Code)
	w.text("product", p.Product)
	w.time("opened", p.Opened)
	w.time("closed", p.Closed)
	w.text("owner", p.Owner)
}

func (i Instrument) fields(w *fieldWriter) {
	w.text("instrument", i.Code)
	w.text("weighs", i.Weighs.String())
	w.time("from", i.From)
	w.time("until", i.Until)
	w.optional("systematic_pct", i.Systematic)
	w.optional("random_pct", i.Random)
	if i.Modulus > 0 {
		w.mass("modulus_g", i.Modulus)
	}
	w.optional("modulus", i.ModulusPlain)
	w.text("certificate", i.Certificate)
	w.text("class", i.CertificateClass)
}

func (h Hours) fields(w *fieldWriter) {
	w.text("day", h.Day)
	w.text("open", h.Open)
	w.text("close", h.Close)
}

func (p Policy) fields(w *fieldWriter) {
	w.text("name", string(p.Name))
	w.text("value", p.Value)
	w.time("from", p.From)
	w.text("reason", p.Reason)
}

func readYard(d *fieldReader) Fact {
	u, err := ParseMassUnit(d.text("unit"))
	if err != nil {
		d.fail("unit", err)
	}
	return Yard{d.text("code"), d.text("name"), d.text("zone"), u}
}

func readProduct(d *fieldReader) Fact {
	return Product{d.text("product"), d.text("name"), d.moisture("reference_moisture_pct_dry"), d.optional("absorption_pct_dry")}
}

func readPile(d *fieldReader) Fact {
	return Pile{d.text("pile"), d.text("product"), d.time("opened"), d.time("closed"), d.text("owner")}
}

func readInstrument(d *fieldReader) Fact {
	k, err := ParseInstrumentKind(d.text("weighs"))
	if err != nil {
		d.fail("weighs", err)
	}
	return Instrument{Code: d.text("instrument"), Weighs: k, From: d.time("from"), Until: d.time("until"),
		Systematic: d.optional("systematic_pct"), Random: d.optional("random_pct"),
		Modulus: d.optionalMass("modulus_g"), ModulusPlain: d.optional("modulus"),
		Certificate: d.text("certificate"), CertificateClass: d.text("class")}
}

func readHours(d *fieldReader) Fact {
	return Hours{d.text("day"), d.text("open"), d.text("close")}
}

func readPolicy(d *fieldReader) Fact {
	return Policy{PolicyName(d.text("name")), d.text("value"), d.time("from"), d.text("reason")}
}

// moisture reads a moisture in per cent of dry mass.
func (d *fieldReader) moisture(name string) DryBasis {
	text := d.text(name)
	if d.memo != nil {
		if m, ok := d.memo.moistures[text]; ok {
			return m
		}
	}
	v, err := ParseDecimal(text)
	if err != nil {
		d.fail(name, err)
		return DryBasis{}
	}
	m, err := NewDryBasis(v)
	if err != nil {
		d.fail(name, err)
		return m
	}
	if d.memo != nil {
		if d.memo.moistures == nil {
			d.memo.moistures = map[string]DryBasis{}
		}
		d.memo.moistures[text] = m
	}
	return m
}
