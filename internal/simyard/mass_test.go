package simyard

import (
	"math/big"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Against arithmetic without bounds.
func TestMulDiv(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Int64Range(-1e15, 1e15).Draw(t, "a")
		b := rapid.Int64Range(-1e12, 1e12).Draw(t, "b")
		c := rapid.Int64Range(1e9, 1e13).Draw(t, "c")
		exact := new(big.Rat).SetFrac(new(big.Int).Mul(big.NewInt(a), big.NewInt(b)), big.NewInt(c))
		want, err := strconv.ParseInt(exact.FloatString(0), 10, 64) // which rounds half away from zero
		if got := mulDiv(a, b, c); err != nil || got != want {
			t.Errorf("%d x %d / %d = %d, want %d, %v", a, b, c, got, want, err)
		}
	})
}

func TestSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mass := Grams(rapid.Int64Range(0, 1e11).Draw(t, "mass"))
		step := rapid.SampledFrom([]Grams{1, 10 * kilogram}).Draw(t, "step")
		weights := newDice(rapid.Uint64().Draw(t, "seed"), 0).weights(rapid.IntRange(1, 400).Draw(t, "n"))
		var sum Grams
		for i, part := range mass.split(weights, step) {
			even := float64(mass) / float64(len(weights)) // weights are within a tenth of one another
			if part%step != 0 || float64(part) < even*0.9-float64(step) || float64(part) > even*1.11+float64(step) {
				t.Errorf("part %d is %d g, of %d g in %d parts of about %.0f g", i, part, mass, len(weights), even)
			}
			sum += part
		}
		if sum != mass.inSteps(step) {
			t.Errorf("parts sum to %d g, want %d g", sum, mass.inSteps(step))
		}
	})
}

func TestInTonnes(t *testing.T) {
	for g, want := range map[Grams]string{0: "0.00", 1: "0.000001", -1: "-0.000001", 19_870_000: "19.87", 20 * tonne: "20.00",
		-1_234_567_890: "-1234.56789"} {
		if got := g.inTonnes(); got != want {
			t.Errorf("%d g are %s t, want %s t", int64(g), got, want)
		}
	}
	for e, want := range map[PPB]string{percent: "1", 7 * percent / 10: "0.7", -30 * percent: "-30", 1: "0.0000001", 112 * percent / 100: "1.12"} {
		if got := e.inPercent(); got != want {
			t.Errorf("%d ppb are %s %%, want %s %%", int64(e), got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Int64().Draw(t, "g")
		if got := strings.Replace(fixed(g, 6), ".", "", 1); strings.TrimLeft(strings.TrimPrefix(got, "-"), "0") != strings.TrimLeft(strings.TrimPrefix(strconv.FormatInt(g, 10), "-"), "0") {
			t.Errorf("%d is written %s", g, fixed(g, 6))
		}
	})
}
