package intake

import (
	"strings"

	"repose/ledger"

	"github.com/shopspring/decimal"
)

// Dimension says what a column holds, and so how its cells are read and which units its header may name.
type Dimension uint8

// What columns hold.
const (
	Text         Dimension = iota + 1
	Code                   // a short name of the yard's own; part of record IDs
	Word                   // one of Column.Words
	Count                  // a whole number
	Number                 // a plain number, more than zero
	Time                   // an instant: ISO 8601, or YYYY-MM-DD HH:MM[:SS] in the yard's zone
	Date                   // an instant, or a date, which is the start of that day in the yard's zone
	LastDate               // the same, but a date means through that day: it is the start of the next
	Day                    // a weekday or a date
	Clock                  // HH:MM
	Month                  // YYYY-MM, or a date in it
	Money                  // a plain number of a currency, which may be negative
	Mass                   // zero or more
	BareMass               // a mass, or a bare number in the unit of the instrument's readings
	Volume                 // zero or more
	Area                   // more than zero
	Density                // mass by volume, more than zero
	Moisture               // per cent of dry or of wet mass, as the header says
	Percent                // 0 to 100
	DryPercent             // per cent of dry mass, 0 to 100
	PercentPoint           // percentage points, 0 to 100
)

var dimensionNames = [...]string{Text: "text", Code: "code", Word: "word of a list", Count: "whole number", Number: "number",
	Time: "time", Date: "date or time", LastDate: "date or time", Day: "weekday or date", Clock: "HH:MM", Month: "month", Money: "amount of money", Mass: "mass",
	BareMass: "mass or bare number", Volume: "volume", Area: "area", Density: "mass by volume", Moisture: "moisture",
	Percent: "per cent", DryPercent: "per cent of dry mass", PercentPoint: "percentage points"}

// String returns what cells of the dimension hold, in a clerk's words.
func (d Dimension) String() string { return dimensionNames[d] }

// Units returns the units that a header of this dimension may name, the usual one first; none for what
// has no unit.
func (d Dimension) Units() []string {
	switch d {
	case Mass, BareMass:
		return unitNames(ledger.UnitTonne, ledger.UnitKilogram, ledger.UnitGram, ledger.UnitPound,
			ledger.UnitShortTon, ledger.UnitLongTon)
	case Volume:
		return unitNames(ledger.UnitCubicMetre, ledger.UnitCubicYard, ledger.UnitCubicFoot)
	case Area:
		return unitNames(squareMetre, squareYard, squareFoot)
	case Density:
		return unitNames(ledger.UnitTonnePerCubicMetre, ledger.UnitKilogramPerCubicMetre, ledger.UnitPoundPerCubicFoot,
			ledger.UnitPoundPerCubicYard, ledger.UnitShortTonPerCubicYard, ledger.UnitLongTonPerCubicYard)
	case Moisture:
		return []string{unitDry, unitWet}
	case Percent:
		return []string{unitPercent}
	case DryPercent:
		return []string{unitPercent, unitDry}
	case PercentPoint:
		return []string{unitPercent, unitPoints}
	default:
		return nil
	}
}

// MayBeBare reports whether a header of a dimension with units may leave them out.
func (d Dimension) MayBeBare() bool { return d == BareMass || d == PercentPoint }

func unitNames[U interface{ String() string }](units ...U) []string {
	names := make([]string, len(units))
	for i, u := range units {
		names[i] = u.String()
	}
	return names
}

const (
	unitPercent = "%"
	unitPoints  = "pp"
	unitDry     = "% dry"
	unitWet     = "% wet"
)

// areaUnit is a unit of area. The zero value is no unit.
type areaUnit uint8

const (
	squareMetre areaUnit = iota + 1
	squareYard
	squareFoot
)

// String returns the unit's symbol.
func (u areaUnit) String() string {
	return [...]string{squareMetre: "m2", squareYard: "yd2", squareFoot: "ft2"}[u]
}

// squareMetres returns v units of area in square metres, exactly: 1 ft = 0.3048 m and 1 yd = 3 ft
// (international yard and pound agreement, 1959).
func (u areaUnit) squareMetres(v decimal.Decimal) decimal.Decimal {
	squareFeet := decimal.New(9290304, -8) // 0.3048²
	switch u {
	case squareYard:
		return v.Mul(squareFeet).Mul(decimal.NewFromInt(9))
	case squareFoot:
		return v.Mul(squareFeet)
	}
	return v
}

// unit is the unit of a column: the one that its dimension calls for is set, and none for a bare number.
type unit struct {
	mass    ledger.MassUnit
	volume  ledger.VolumeUnit
	density ledger.DensityUnit
	area    areaUnit
	wet     bool // of a moisture: per cent of wet mass
}

// parseUnit reads the unit of a header. It reports false for one that the dimension does not have, and
// for none where there must be one.
func (d Dimension) parseUnit(s string) (unit, bool) {
	var u unit
	if s == "" {
		return u, d.Units() == nil || d.MayBeBare()
	}
	i := indexFolded(d.Units(), strings.NewReplacer("²", "2", "³", "3").Replace(s))
	if i < 0 {
		return u, false
	}
	var err error
	switch name := d.Units()[i]; d {
	case Mass, BareMass:
		u.mass, err = ledger.ParseMassUnit(name)
	case Volume:
		u.volume, err = ledger.ParseVolumeUnit(name)
	case Density:
		u.density, err = ledger.ParseDensityUnit(name)
	case Area:
		u.area = squareMetre + areaUnit(i)
	case Moisture:
		u.wet = name == unitWet
	}
	return u, err == nil
}
