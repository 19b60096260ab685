package simyard

import (
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// Grams is a mass. In JSON it is text in tonnes.
type Grams int64

const (
	kilogram Grams = 1_000
	tonne    Grams = 1_000_000
)

// MarshalText returns the mass in tonnes with six places.
func (g Grams) MarshalText() ([]byte, error) { return []byte(fixed(int64(g), 6)), nil }

// inTonnes returns the mass in tonnes with two to six places.
func (g Grams) inTonnes() string { return trimmed(fixed(int64(g), 6), 2) }

// PPB is a relative error in parts per billion, positive where something reads high.
type PPB int64

const (
	billion     = 1_000_000_000
	percent PPB = billion / 100
)

// inPercent returns the error in per cent, exactly.
func (e PPB) inPercent() string { return strings.TrimSuffix(trimmed(fixed(int64(e), 7), 0), ".") }

// times returns the error times a number, rounded half away from zero.
func (e PPB) times(x float64) PPB { return PPB(math.Round(float64(e) * x)) }

// with returns a mass as something that is wrong by e shows it.
func (g Grams) with(e PPB) Grams { return g + Grams(mulDiv(int64(g), int64(e), billion)) }

// inSteps returns the mass to the nearest step of a display.
func (g Grams) inSteps(step Grams) Grams { return Grams(mulDiv(int64(g), 1, int64(step))) * step }

// millionths is a moisture in parts per million of the dry mass.
type millionths int64

const million = 1_000_000

// wet returns what solids weigh at a moisture.
func (g Grams) wet(m millionths) Grams { return g + Grams(mulDiv(int64(g), int64(m), million)) }

// dry returns the solids of a wet mass.
func (g Grams) dry(m millionths) Grams { return Grams(mulDiv(int64(g), million, million+int64(m))) }

// split parts a mass in proportion to weights, in steps that stay true to the running sum: the parts sum to
// the mass to the nearest step.
func (g Grams) split(weights []int64, step Grams) []Grams {
	var total, so int64
	for _, w := range weights {
		total += w
	}
	parts := make([]Grams, len(weights))
	var given Grams
	for i, w := range weights {
		so += w
		upTo := Grams(mulDiv(int64(g), so, total)).inSteps(step)
		parts[i] = upTo - given
		given = upTo
	}
	return parts
}

// mulDiv returns a times b over c > 0, rounded half away from zero. The quotient must fit an int64.
func mulDiv(a, b, c int64) int64 {
	hi, lo := bits.Mul64(magnitude(a), magnitude(b))
	q, r := bits.Div64(hi, lo, uint64(c))
	if r >= uint64(c)-r {
		q++
	}
	if (a < 0) != (b < 0) {
		return -int64(q)
	}
	return int64(q)
}

func magnitude(a int64) uint64 {
	if a < 0 {
		return uint64(-a)
	}
	return uint64(a)
}

// fixed writes v units of 10^-places as a decimal: fixed(2846, 2) is "28.46".
func fixed(v int64, places int) string {
	digits := strconv.FormatUint(magnitude(v), 10)
	if n := places + 1 - len(digits); n > 0 {
		digits = strings.Repeat("0", n) + digits
	}
	sign := ""
	if v < 0 {
		sign = "-"
	}
	whole := len(digits) - places
	return sign + digits[:whole] + "." + digits[whole:]
}

// trimmed takes the zeros off the end of a decimal, down to some places.
func trimmed(s string, places int) string {
	least := strings.IndexByte(s, '.') + 1 + places
	return s[:least] + strings.TrimRight(s[least:], "0")
}
