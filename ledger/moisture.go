package ledger

import (
	"fmt"
	"math/big"
	"math/bits"

	"github.com/shopspring/decimal"
)

// moisturePlaces is the precision of a moisture in per cent of dry mass. One unit in the last place
// moves the solids of 10^7 t by a tenth of a gram.
const moisturePlaces = 12

var hundred = decimal.NewFromInt(100)

// DryBasis is a moisture content in per cent of oven-dry mass, 100 (wet - dry) / dry, as in ASTM C566
// and EN 1097-5. It is the only basis the ledger computes with. The zero DryBasis is bone dry.
type DryBasis struct {
	pct decimal.Decimal
	// solids = wet num / den; zero where the ratio has no room in 64 bits, and before construction.
	num, den uint64
}

// NewDryBasis returns a moisture in per cent of dry mass, from 0 to 1000, rounded half-even to 12 places.
func NewDryBasis(pct decimal.Decimal) (DryBasis, error) {
	if pct.IsNegative() || pct.GreaterThan(decimal.NewFromInt(1000)) {
		return DryBasis{}, fmt.Errorf("moisture %s %% of dry mass: want 0 to 1000", pct)
	}
	pct = pct.RoundBank(moisturePlaces)
	m := DryBasis{pct: pct}
	scale := max(-pct.Exponent(), 0)
	num := hundred.Shift(scale).BigInt()
	den := new(big.Int).Add(num, pct.Shift(scale).BigInt())
	if den.IsUint64() {
		m.num, m.den = num.Uint64(), den.Uint64()
	}
	return m, nil
}

// Percent returns the moisture in per cent of dry mass.
func (m DryBasis) Percent() decimal.Decimal { return m.pct }

// String returns the moisture with its unit, such as "4.2 % dry".
func (m DryBasis) String() string { return m.pct.String() + " % dry" }

// Equal reports whether two moistures are the same number.
func (m DryBasis) Equal(n DryBasis) bool { return m.pct.Equal(n.pct) }

// WetBasis is a moisture content in per cent of wet mass, 100 (wet - dry) / wet. It exists at the door
// only: ToDry converts it. The zero WetBasis is bone dry.
type WetBasis struct{ pct decimal.Decimal }

// NewWetBasis returns a moisture in per cent of wet mass, from 0 up to but not including 100.
func NewWetBasis(pct decimal.Decimal) (WetBasis, error) {
	if pct.IsNegative() || pct.GreaterThanOrEqual(hundred) {
		return WetBasis{}, fmt.Errorf("moisture %s %% of wet mass: want 0 to less than 100", pct)
	}
	return WetBasis{pct}, nil
}

// Percent returns the moisture in per cent of wet mass.
func (w WetBasis) Percent() decimal.Decimal { return w.pct }

// ToDry converts by dry = 100 wet / (100 - wet), rounded half-even to 12 places. A wet basis so close
// to 100 that the dry one passes 1000 % is refused.
func (w WetBasis) ToDry() (DryBasis, error) {
	return NewDryBasis(quotient(w.pct.Mul(hundred), hundred.Sub(w.pct), moisturePlaces))
}

// ToWet converts by wet = 100 dry / (100 + dry), rounded half-even to 12 places.
func (m DryBasis) ToWet() WetBasis {
	return WetBasis{quotient(m.pct.Mul(hundred), hundred.Add(m.pct), moisturePlaces)}
}

// MoistureFromMasses returns the moisture of a sample weighed before and after drying, in any one unit:
// 100 (wet - dry) / dry, rounded half-even to 12 places.
func MoistureFromMasses(wet, dry decimal.Decimal) (DryBasis, error) {
	if !dry.IsPositive() || wet.LessThan(dry) {
		return DryBasis{}, fmt.Errorf("sample of %s wet, %s dry: want wet >= dry > 0", wet, dry)
	}
	return NewDryBasis(quotient(wet.Sub(dry).Mul(hundred), dry, moisturePlaces))
}

// Split parts an as-weighed mass into solids and water: solids = wet 100 / (100 + m), rounded half-even
// to the gram, and water is the rest, so that nothing is lost. A negative mass gives the negated parts.
func (m DryBasis) Split(wet Mass) Amount {
	if wet < 0 {
		return m.Split(-wet).Neg()
	}
	solids := m.solidsOf(wet)
	return Amount{Solids: solids, Water: wet - solids}
}

func (m DryBasis) solidsOf(wet Mass) Mass {
	if m.pct.IsZero() {
		return wet
	}
	if m.den == 0 {
		// solids <= wet, so the quotient cannot leave the bounds of a Mass
		s, _ := divideToMass(decimal.NewFromInt(int64(wet)).Mul(hundred), hundred.Add(m.pct))
		return s
	}
	hi, lo := bits.Mul64(uint64(wet), m.num) // hi < num < den, because wet < 2^64
	q, r := bits.Div64(hi, lo, m.den)
	if half := m.den - r; r > half || (r == half && q&1 == 1) {
		q++
	}
	return Mass(q)
}

// Water returns the water that goes with solids at this moisture, solids m / 100, rounded half-even to
// the gram, or ErrMassRange.
func (m DryBasis) Water(solids Mass) (Mass, error) {
	return divideToMass(decimal.NewFromInt(int64(solids)).Mul(m.pct), hundred)
}

// Adjusted returns the mass that solids would have at this moisture: solids (100 + m) / 100.
// It is the moisture-adjusted inventory when m is the product's reference moisture.
func (m DryBasis) Adjusted(solids Mass) (Mass, error) {
	w, err := m.Water(solids)
	if err != nil {
		return 0, err
	}
	return solids.Add(w)
}
