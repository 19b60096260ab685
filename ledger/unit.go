package ledger

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// All conversions rest on two definitions of the international yard and pound agreement of 1959:
// 1 lb = 0.453 592 37 kg and 1 ft = 0.3048 m, both exact. Every factor below is a finite decimal.
var (
	gramsPerPound     = decimal.RequireFromString("453.59237")
	cubicMetrePerFoot = decimal.RequireFromString("0.028316846592")
	cubicFeetPerYard  = decimal.NewFromInt(27)
	poundsPerShortTon = decimal.NewFromInt(2000)
	poundsPerLongTon  = decimal.NewFromInt(2240)
)

// MassUnit is a unit of mass that a table or a report may use. The zero value is no unit.
type MassUnit uint8

// The units of mass.
const (
	UnitTonne MassUnit = iota + 1
	UnitKilogram
	UnitGram
	UnitPound
	UnitShortTon // 2,000 lb
	UnitLongTon  // 2,240 lb
)

var massUnitNames = [...]string{UnitTonne: "t", UnitKilogram: "kg", UnitGram: "g", UnitPound: "lb",
	UnitShortTon: "short ton", UnitLongTon: "long ton"}

// String returns the unit's symbol as tables write it.
func (u MassUnit) String() string { return nameOf(massUnitNames[:], int(u)) }

// ParseMassUnit reads a symbol: t, kg, g, lb, short ton, long ton. A bare "ton" is refused because it
// means three things.
func ParseMassUnit(s string) (MassUnit, error) {
	if i := indexFold(massUnitNames[:], s); i > 0 {
		return MassUnit(i), nil
	}
	return 0, fmt.Errorf("%q is not a unit of mass; want one of %s", s, listNames(massUnitNames[:]))
}

func (u MassUnit) metric() bool { return u >= UnitTonne && u <= UnitGram }

// placesToGram returns how many decimal places of a metric unit reach down to the gram.
func (u MassUnit) placesToGram() int { return 3 * int(UnitGram-u) }

// grams returns the exact number of grams in one unit.
func (u MassUnit) grams() decimal.Decimal {
	switch u {
	case UnitTonne:
		return decimal.New(1, 6)
	case UnitKilogram:
		return decimal.New(1, 3)
	case UnitGram:
		return decimal.New(1, 0)
	case UnitPound:
		return gramsPerPound
	case UnitShortTon:
		return gramsPerPound.Mul(poundsPerShortTon)
	case UnitLongTon:
		return gramsPerPound.Mul(poundsPerLongTon)
	}
	return decimal.Zero
}

// In returns the mass in the unit, rounded half-even to the given number of decimal places.
func (m Mass) In(u MassUnit, places int32) decimal.Decimal {
	return quotient(decimal.NewFromInt(int64(m)), u.grams(), places)
}

// VolumeUnit is a unit of volume. The zero value is no unit.
type VolumeUnit uint8

// The units of volume.
const (
	UnitCubicMetre VolumeUnit = iota + 1
	UnitCubicYard
	UnitCubicFoot
)

var volumeUnitNames = [...]string{UnitCubicMetre: "m3", UnitCubicYard: "yd3", UnitCubicFoot: "ft3"}

// String returns the unit's symbol.
func (u VolumeUnit) String() string { return nameOf(volumeUnitNames[:], int(u)) }

// ParseVolumeUnit reads m3, yd3 or ft3 (also with a superscript three).
func ParseVolumeUnit(s string) (VolumeUnit, error) {
	if i := indexFold(volumeUnitNames[:], strings.ReplaceAll(s, "³", "3")); i > 0 {
		return VolumeUnit(i), nil
	}
	return 0, fmt.Errorf("%q is not a unit of volume; want one of %s", s, listNames(volumeUnitNames[:]))
}

// CubicMetres returns v units of volume in cubic metres, exactly.
func (u VolumeUnit) CubicMetres(v decimal.Decimal) decimal.Decimal {
	switch u {
	case UnitCubicYard:
		return v.Mul(cubicMetrePerFoot).Mul(cubicFeetPerYard)
	case UnitCubicFoot:
		return v.Mul(cubicMetrePerFoot)
	}
	return v
}

// DensityUnit is a unit of bulk density. The zero value is no unit.
type DensityUnit uint8

// The units of bulk density.
const (
	UnitTonnePerCubicMetre DensityUnit = iota + 1
	UnitKilogramPerCubicMetre
	UnitPoundPerCubicFoot
	UnitPoundPerCubicYard
	UnitShortTonPerCubicYard
	UnitLongTonPerCubicYard
)

var densityUnitNames = [...]string{UnitTonnePerCubicMetre: "t/m3", UnitKilogramPerCubicMetre: "kg/m3",
	UnitPoundPerCubicFoot: "lb/ft3", UnitPoundPerCubicYard: "lb/yd3",
	UnitShortTonPerCubicYard: "short ton/yd3", UnitLongTonPerCubicYard: "long ton/yd3"}

// String returns the unit's symbol.
func (u DensityUnit) String() string { return nameOf(densityUnitNames[:], int(u)) }

// ParseDensityUnit reads t/m3, kg/m3, lb/ft3, lb/yd3, short ton/yd3 or long ton/yd3.
func ParseDensityUnit(s string) (DensityUnit, error) {
	if i := indexFold(densityUnitNames[:], strings.ReplaceAll(s, "³", "3")); i > 0 {
		return DensityUnit(i), nil
	}
	return 0, fmt.Errorf("%q is not a unit of bulk density; want one of %s", s, listNames(densityUnitNames[:]))
}

// densityPlaces is the precision to which a density of pounds or tons is held in t/m3. One unit in the
// last place is 1e-12 t/m3: a hundred-thousandth of a gram in a cubic metre.
const densityPlaces = 12

// TonnesPerCubicMetre returns v units of density in t/m3: exactly for metric units, rounded half-even
// to 12 places for the others, whose quotient has no finite decimal.
func (u DensityUnit) TonnesPerCubicMetre(v decimal.Decimal) decimal.Decimal {
	cubicYard := cubicMetrePerFoot.Mul(cubicFeetPerYard)
	grams, volume := decimal.Zero, cubicYard
	switch u {
	case UnitTonnePerCubicMetre:
		return v
	case UnitKilogramPerCubicMetre:
		return v.Shift(-3)
	case UnitPoundPerCubicFoot:
		grams, volume = UnitPound.grams(), cubicMetrePerFoot
	case UnitPoundPerCubicYard:
		grams = UnitPound.grams()
	case UnitShortTonPerCubicYard:
		grams = UnitShortTon.grams()
	case UnitLongTonPerCubicYard:
		grams = UnitLongTon.grams()
	}
	return quotient(v.Mul(grams).Shift(-6), volume, densityPlaces)
}

// quotient returns num/den rounded half-even to the given number of decimal places; den must be positive.
func quotient(num, den decimal.Decimal, places int32) decimal.Decimal {
	num = num.Shift(places)
	scale := min(num.Exponent(), den.Exponent(), 0)
	q := quotientHalfEven(num.Shift(-scale).BigInt(), den.Shift(-scale).BigInt())
	return decimal.NewFromBigInt(q, -places)
}

func nameOf(names []string, i int) string {
	if i <= 0 || i >= len(names) {
		return fmt.Sprintf("unknown(%d)", i)
	}
	return names[i]
}

// indexFold finds a name whatever its case and the number of blanks in it; 0 if there is none.
func indexFold(names []string, s string) int {
	s = strings.Join(strings.Fields(s), " ")
	for i := 1; i < len(names); i++ {
		if strings.EqualFold(names[i], s) {
			return i
		}
	}
	return 0
}

func listNames(names []string) string { return strings.Join(names[1:], ", ") }
