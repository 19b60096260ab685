package piles

import (
	"fmt"
	"math"
	"slices"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// wetDry finds moistures that are out of line with the tests of the same pile or product, and says where the other basis
// would put them in line: 6 % of dry mass is 5.66 % of wet mass, so a slip of basis is small and shows only where tests
// scatter little. Out of line is a modified z-score above 3.5 (Iglewicz and Hoaglin, as in the NIST/SEMATECH e-Handbook
// 1.3.5.17) among at least eight tests; a plain z-score of eight values never reaches 3.
type wetDry struct{}

func (wetDry) Info() screen.Info {
	return screen.Info{Name: "wet for dry", Strength: screen.Likely, FalseAlarms: 0.5,
		Meaning: "A moisture is out of line with the tests of its pile or product; the other basis of per cent may put it in line.",
		Benign:  "Rain; a pile that was turned; a sample from the toe.",
		Settle:  "A new sample; a record on the right basis that replaces this one."}
}

const (
	fewTests      = 8
	outOfLine     = 3.5
	shiftInPoints = 0.2 // a change of basis below this is lost in the sampling
)

func (wetDry) Look(d *screen.Data, found func(screen.Finding)) {
	groups := map[string][]screen.Row[ledger.MoistureTest]{}
	for _, m := range d.Moistures {
		groups[m.Fact.Pile+"/"+m.Fact.Product] = append(groups[m.Fact.Pile+"/"+m.Fact.Product], m)
	}
	for _, m := range d.Moistures {
		list := groups[m.Fact.Pile+"/"+m.Fact.Product]
		if !d.In(m.At()) || len(list) < fewTests {
			continue
		}
		values := make([]float64, len(list))
		at := 0
		for i, other := range list {
			values[i] = other.Fact.Moisture.Percent().InexactFloat64()
			if other.Rec == m.Rec {
				at = i
			}
		}
		if z := stat.ModifiedZScores(values); math.Abs(z.Z[at]) > outOfLine {
			found(moistureFinding(m, values[at], median(values)))
		}
	}
}

func moistureFinding(m screen.Row[ledger.MoistureTest], p, middle float64) screen.Finding {
	f := screen.Finding{Subject: m.Rec.ID(), Time: m.At(), Pile: m.Fact.Pile, Product: m.Fact.Product, Records: []string{m.Rec.ID()},
		Seen: fmt.Sprintf("a moisture of %.2f %% of dry mass, where the median of the tests around it is %.2f %%", p, middle)}
	asWet, asDry := p/(1+p/percentOfOne), p/(1-p/percentOfOne) // the figure, had it been on the other basis
	for _, other := range []struct {
		value float64
		words string
	}{{asDry, "it was given per cent of wet mass"}, {asWet, "it was converted twice"}} {
		if math.Abs(other.value-p) > shiftInPoints && math.Abs(other.value-middle) < math.Abs(p-middle)/2 {
			f.Seen += fmt.Sprintf("; it would be %.2f %% if %s", other.value, other.words)
		}
	}
	return f
}

func median(values []float64) float64 {
	s := slices.Sorted(slices.Values(values))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

var (
	densityLow = screen.Setting{Name: "rule density range from", Holds: screen.Number, Default: "1.2",
		Meaning: "The least bulk density in t/m3 of loose stone (from memory, unverified)."}
	densityHigh = screen.Setting{Name: "rule density range to", Holds: screen.Number, Default: "2.2",
		Meaning: "The greatest bulk density in t/m3 of loose stone (from memory, unverified)."}
)

// density finds bulk densities outside what loose stone has, and says which slip of unit would explain one: pounds a
// cubic foot called kilograms or tonnes, cubic yards called cubic metres (factors exact: 1 lb = 0.45359237 kg, 1 ft =
// 0.3048 m).
type density struct{}

func (density) Info() screen.Info {
	return screen.Info{Name: "density range", Strength: screen.Certain,
		Meaning:  "A bulk density lies outside the range of loose stone.",
		Benign:   "Slag, ore or light aggregate: set the range for them.",
		Settle:   "A record with the right unit or value that replaces this one.",
		Settings: []screen.Setting{densityLow, densityHigh}}
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
	low, high := d.Number(densityLow), d.Number(densityHigh)
	for _, t := range d.Densities {
		v := t.Fact.Dry().InexactFloat64()
		if !d.In(t.At()) || v >= low && v <= high {
			continue
		}
		f := screen.Finding{Subject: t.Rec.ID(), Time: t.At(), Pile: t.Fact.Pile, Product: t.Fact.Product, Records: []string{t.Rec.ID()},
			Seen: fmt.Sprintf("a dry bulk density of %.3f t/m3, where loose stone has %g to %g", v, low, high)}
		for _, s := range unitSlips {
			if w := v * s.factor; w >= low && w <= high {
				f.Seen += fmt.Sprintf("; it would be %.3f if %s", w, s.words)
			}
		}
		found(f)
	}
}
