package piles

import (
	"fmt"
	"math"
	"time"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

var (
	densityLow = screen.Setting{Name: "rule density range from", Holds: screen.Number, Default: "1.2",
		Meaning: "The least bulk density in t/m3 of loose stone (from memory, unverified)."}
	densityHigh = screen.Setting{Name: "rule density range to", Holds: screen.Number, Default: "2.2",
		Meaning: "The greatest bulk density in t/m3 of loose stone (from memory, unverified)."}
	densityChange = screen.Setting{Name: "rule density range percent", Holds: screen.Percent, Default: "20",
		Meaning: "By how much a bulk density may leave the median of the earlier tests of its pile, of at least three."}
)

// density finds bulk densities outside what loose stone has, or far from the earlier tests of their pile, and says which
// slip of unit would explain one: pounds a cubic foot called kilograms or tonnes, cubic yards called cubic metres
// (factors exact: 1 lb = 0.45359237 kg, 1 ft = 0.3048 m). A slip of cubic yards by
// itself often stays in the range. It is certain that it is outside; the limits are common practice, no source. At 10 %
// from the earlier tests chance alone would find one in 120 tests of invented yards, whose samples scatter by 3 %.
type density struct{}

func (density) Info() screen.Info {
	return screen.Info{Name: "density range", Strength: screen.Certain,
		Meaning:  "A bulk density lies outside the range of loose stone, or far from the earlier tests of its pile.",
		Benign:   "Slag, ore or light aggregate: set the range for them.",
		Settle:   "A record with the right unit or value that replaces this one.",
		Settings: []screen.Setting{densityLow, densityHigh, densityChange}}
}

// unitSlips are factors by which a density is wrong if its unit is.
var unitSlips = []struct {
	factor float64
	words  string
}{
	{0.764554857984, "it is per cubic yard"},
	{1 / 0.764554857984, "it was divided by cubic yards twice"},
	{0.01601846337396, "it is in pounds a cubic foot"},
	{0.001, "it is in kilograms a cubic metre"},
	{0.90718474, "it is in short tons a cubic metre"},
}

func (density) Look(d *screen.Data, found func(screen.Finding)) {
	low, high, change := d.Number(densityLow), d.Number(densityHigh), d.Number(densityChange)/percentOfOne
	for _, t := range d.Densities {
		if !d.In(t.At()) {
			continue
		}
		v, usual := dryOf(t.Fact), usualDensity(d, t.Fact)
		f := screen.Finding{Subject: t.Rec.ID(), Time: t.At(), Pile: t.Fact.Pile, Product: t.Fact.Product, Records: []string{t.Rec.ID()},
			Seen: fmt.Sprintf("a dry bulk density of %.3f t/m3, where loose stone has %g to %g", v, low, high)}
		inRange := func(w float64) bool { return w >= low && w <= high }
		isUsual := func(w, share float64) bool { return usual == 0 || math.Abs(w/usual-1) <= share }
		if inRange(v) {
			if isUsual(v, change) {
				continue
			}
			f.Seen = fmt.Sprintf("a dry bulk density of %.3f t/m3, where the median of the tests before it is %.3f", v, usual)
		}
		for _, s := range unitSlips {
			if w := v * s.factor; inRange(w) && isUsual(w, change/2) {
				f.Seen += fmt.Sprintf("; it would be %.3f if %s", w, s.words)
			}
		}
		found(f)
	}
}

func dryOf(t ledger.DensityTest) float64 { return t.Dry().InexactFloat64() }

// How many earlier tests say what is usual of a pile, and how many are asked.
const (
	fewDensities  = 3
	mostDensities = 12
)

// usualDensity returns the median of the tests of a pile before one, in t/m3 dry; 0 where they are few, or it is of a
// product.
func usualDensity(d *screen.Data, t ledger.DensityTest) float64 {
	if t.Pile == "" {
		return 0
	}
	all := extended([]ledger.DensityTest{t}, mostDensities+1, func(t ledger.DensityTest) time.Time { return t.Taken },
		func(at time.Time) (ledger.DensityTest, bool) {
			x, _, ok := d.Register.Density(ledger.PileID{Yard: d.Yard, Code: t.Pile}, at)
			return x, ok && x.Pile == t.Pile
		})
	var values []float64
	for _, x := range all[:len(all)-1] {
		values = append(values, dryOf(x))
	}
	if len(values) < fewDensities {
		return 0
	}
	return stat.Median(values)
}
