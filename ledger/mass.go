package ledger

import (
	"errors"
	"fmt"
	"math/big"
	"strconv"

	"github.com/shopspring/decimal"
)

// Mass is a signed mass in whole grams. The zero Mass is nothing.
//
// A Mass made by this package lies within ±MaxMass, so that the negation of a Mass and the sum of any
// two fit an int64; Add and Sub report ErrMassRange where a result leaves the bound.
type Mass int64

// Units of Mass. There is no ton here: a ton may be short, long or metric, which is a matter of
// [MassUnit].
const (
	Gram     Mass = 1
	Kilogram      = 1000 * Gram
	Tonne         = 1000 * Kilogram
	MaxMass       = 1e12 * Tonne
)

// ErrMassRange says that a mass lies outside ±MaxMass (10^12 t).
var ErrMassRange = errors.New("mass beyond 10^12 t")

// Add returns m + n, or ErrMassRange.
func (m Mass) Add(n Mass) (Mass, error) { return (m + n).checked() }

// Sub returns m - n, or ErrMassRange.
func (m Mass) Sub(n Mass) (Mass, error) { return (m - n).checked() }

// Abs returns the mass without its sign.
func (m Mass) Abs() Mass {
	if m < 0 {
		return -m
	}
	return m
}

func (m Mass) checked() (Mass, error) {
	if m > MaxMass || m < -MaxMass {
		return 0, ErrMassRange
	}
	return m, nil
}

// Decimal returns the mass in tonnes, exactly.
func (m Mass) Decimal() decimal.Decimal { return decimal.New(int64(m), -6) }

// Tonnes returns the mass in tonnes as exact decimal text with at least three places and at most six:
// 24310000 g is "24.310", 1 g is "0.000001".
func (m Mass) Tonnes() string {
	places := 6
	for v := m; places > 3 && v%10 == 0; v /= 10 {
		places--
	}
	return m.Decimal().StringFixed(int32(places))
}

// String is Tonnes with its unit.
func (m Mass) String() string { return m.Tonnes() + " t" }

// ParseMass reads a plain decimal number of the given unit. Metric figures must be whole grams: a digit
// below the gram is refused, never dropped. Pounds and tons of pounds are rounded half-even to the gram,
// which is at most 0.5 g away from the exact product.
func ParseMass(s string, u MassUnit) (Mass, error) {
	if m, ok := parseMetric(s, u); ok {
		return m, nil
	}
	d, err := ParseDecimal(s)
	if err != nil {
		return 0, err
	}
	grams := d.Mul(u.grams())
	if u.metric() && !grams.IsInteger() {
		return 0, fmt.Errorf("mass %q %s: finer than a gram", s, u)
	}
	return massOf(grams)
}

// parseMetric is ParseMass for the common case, a short metric figure, without big numbers. It reports
// false for everything else and leaves the verdict to the general path.
func parseMetric(s string, u MassUnit) (Mass, bool) {
	if !u.metric() || len(s) == 0 || len(s) > 15 {
		return 0, false
	}
	room := u.placesToGram()
	digits, i := s, 0
	if s[0] == '-' {
		digits, i = s[1:], 1
	}
	if digits == "" || digits[0] == '.' || digits[len(digits)-1] == '.' {
		return 0, false
	}
	var v int64
	point := false
	for ; i < len(s); i++ {
		switch c := s[i]; {
		case c == '.' && !point:
			point = true
		case c < '0' || c > '9':
			return 0, false
		default:
			if point {
				room--
			}
			v = v*10 + int64(c-'0')
		}
	}
	if room < 0 {
		return 0, false
	}
	for ; room > 0; room-- {
		if v > int64(MaxMass)/10 {
			return 0, false
		}
		v *= 10
	}
	if digits != s {
		v = -v
	}
	return Mass(v), true
}

// ParseDecimal reads a plain decimal number: an optional sign, digits, an optional point with digits
// after it. Exponents, thousands separators, blanks and more than 40 characters are refused, so that
// nothing is read in two ways.
func ParseDecimal(s string) (decimal.Decimal, error) {
	digits := s
	if digits != "" && (digits[0] == '-' || digits[0] == '+') {
		digits = digits[1:]
	}
	point := -1
	for i := 0; i < len(digits); i++ {
		switch c := digits[i]; {
		case c == '.' && point < 0 && i > 0 && i < len(digits)-1:
			point = i
		case c < '0' || c > '9':
			return decimal.Zero, fmt.Errorf("%q is not a plain decimal number", s)
		}
	}
	if digits == "" || len(s) > 40 {
		return decimal.Zero, fmt.Errorf("%q is not a plain decimal number", s)
	}
	return decimal.NewFromString(s)
}

// massOf rounds a decimal number of grams half-even to a Mass.
func massOf(grams decimal.Decimal) (Mass, error) {
	r := grams.RoundBank(0).BigInt()
	if !r.IsInt64() {
		return 0, ErrMassRange
	}
	return Mass(r.Int64()).checked()
}

// quotientHalfEven returns num/den rounded half-even to a whole number. den must be positive.
func quotientHalfEven(num, den *big.Int) *big.Int {
	q, r := new(big.Int).DivMod(num, den, new(big.Int)) // floor: 0 <= r < den
	switch r.Lsh(r, 1).Cmp(den) {
	case 1:
		return q.Add(q, big.NewInt(1))
	case 0:
		return q.Add(q, new(big.Int).And(q, big.NewInt(1)))
	}
	return q
}

// divideToMass returns num/den grams rounded half-even, both exact decimals and den positive.
func divideToMass(num, den decimal.Decimal) (Mass, error) {
	scale := min(num.Exponent(), den.Exponent(), 0)
	q := quotientHalfEven(num.Shift(-scale).BigInt(), den.Shift(-scale).BigInt())
	if !q.IsInt64() {
		return 0, ErrMassRange
	}
	return Mass(q.Int64()).checked()
}

// Amount is stone and the water with it. As-weighed (as-is) mass is their sum.
type Amount struct {
	Solids Mass // oven-dry stone
	Water  Mass
}

// AsIs returns solids plus water. The sum of two masses within bounds always fits.
func (a Amount) AsIs() Mass { return a.Solids + a.Water }

// Add returns a + b, or ErrMassRange.
func (a Amount) Add(b Amount) (Amount, error) {
	s, err := a.Solids.Add(b.Solids)
	if err != nil {
		return Amount{}, fmt.Errorf("solids: %w", err)
	}
	w, err := a.Water.Add(b.Water)
	if err != nil {
		return Amount{}, fmt.Errorf("water: %w", err)
	}
	return Amount{s, w}, nil
}

// Neg returns the amount with both signs turned.
func (a Amount) Neg() Amount { return Amount{-a.Solids, -a.Water} }

// IsZero reports whether there is neither stone nor water.
func (a Amount) IsZero() bool { return a == Amount{} }

// appendGrams writes the mass as a whole number of grams, the form in which records keep it.
func (m Mass) appendGrams(b []byte) []byte { return strconv.AppendInt(b, int64(m), 10) }
