package audit

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

func measured(t testing.TB, volume, deduction, density, moisture string) *Measured {
	return &Measured{ledger.Survey{Survey: "S1", Pile: "P1", VolumeM3: decimal.RequireFromString(volume), DeductionM3: decimal.RequireFromString(deduction)},
		ledger.DensityTest{MoistTPerM3: decimal.RequireFromString(density), Moisture: dry(t, moisture), Compaction: decimal.New(1, 0)}}
}

// Reckoned by hand. By survey: (20,600 - 600) m3 x 1.664 t/m3 at 4 % = 32,000 t, and 1,040 t at 4 % from a belt since, 1,000 t
// of solids. One per cent of the volume is 206 m3 or 329.6 t, of the density 320 t, of the belt 10 t. Moisture: 34,320 t as
// weighed are 33,000 t at 4 %, 34,320 / 1.0404 = 32,987.313 t at 4.04 %, and 34,320 / 1.05 = 32,685.714 t at 5 %; the last
// grams follow from rounding the survey and the weighing each for itself.
func TestSensitivityByHand(t *testing.T) {
	weighings := []Weighing{{Wet: tons(1040), Moisture: dry(t, "4"), Belt: "B1"}}
	closing := Closing{Pile: "P1", Product: "S20", Reference: dry(t, "3"), Survey: measured(t, "20600", "600", "1.664", "4"), Weighings: weighings}
	change := func(solids, adjusted ledger.Mass) Change { return Change{solids, adjusted} }
	down := func(solids, adjusted ledger.Mass) *Change { return new(change(solids, adjusted)) }
	want := &Sensitivity{Pile: "P1", Product: "S20", Solids: tons(33000), Adjusted: tons(33990), Lines: []SensitivityLine{
		{QuantityVolume, change(tons(329.6), tons(339.488)), down(-tons(329.6), -tons(339.488)), change(tons(329.6), tons(339.488))},
		{QuantityDensity, change(tons(320), tons(329.6)), down(-tons(320), -tons(329.6)), change(tons(320), tons(329.6))},
		{QuantityMoisture, change(-12687428, -13068051), down(12697191, 13078107), change(-12692308, -13073077)},
		{QuantityMoisturePoint, change(-314285715, -323714286), down(320388350, 330000000), change(-317307692, -326826923)},
		{QuantityBelt, change(tons(10), tons(10.3)), down(-tons(10), -tons(10.3)), change(tons(10), tons(10.3))},
	}}
	got, err := closing.Sensitivity()
	if err != nil {
		t.Fatal(err)
	}
	same(t, "by survey", want, got)
	same(t, "nothing was changed", measured(t, "20600", "600", "1.664", "4"), closing.Survey, cmp.Comparer(func(a, b ledger.DryBasis) bool { return a.Equal(b) }))
	same(t, "nor a weighing", tons(1040), weighings[0].Wet)
}

// A figure of the book knows nothing of volume and density; a dry density nothing of moisture; and without a belt there is
// none to be wrong. A moisture below one point has no point less.
func TestSensitivityRestsOn(t *testing.T) {
	belt := Weighing{Wet: tons(100), Moisture: dry(t, "4"), Belt: "B1"}
	load := Weighing{Wet: -tons(100), Moisture: dry(t, "0.5")}
	for _, c := range []struct {
		name    string
		closing Closing
		want    []Quantity
		noDown  bool
	}{
		{"book, nothing moved", Closing{Base: tons(5)}, nil, false},
		{"book and loads", Closing{Base: tons(5), Weighings: []Weighing{load}}, []Quantity{QuantityMoisture, QuantityMoisturePoint}, true},
		{"book and belt", Closing{Base: tons(5), Weighings: []Weighing{belt}}, []Quantity{QuantityMoisture, QuantityMoisturePoint, QuantityBelt}, false},
		{"dry density", Closing{Survey: measured(t, "100", "0", "1.6", "0")}, []Quantity{QuantityVolume, QuantityDensity}, false},
		{"moist density", Closing{Survey: measured(t, "100", "0", "1.6", "1")}, []Quantity{QuantityVolume, QuantityDensity, QuantityMoisture, QuantityMoisturePoint}, false},
	} {
		s, err := c.closing.Sensitivity()
		if err != nil {
			t.Fatal(err)
		}
		var got []Quantity
		for _, l := range s.Lines {
			got = append(got, l.Quantity)
			if (l.Down == nil) != (c.noDown && l.Quantity == QuantityMoisturePoint) {
				t.Errorf("%s: %s down is %v", c.name, l.Quantity, l.Down)
			}
		}
		same(t, c.name, c.want, got)
	}
}

func drawClosing(t *rapid.T) Closing {
	number := func(low, high int64, exp int32, name string) decimal.Decimal {
		return decimal.New(rapid.Int64Range(low, high).Draw(t, name), exp)
	}
	moisture := func() ledger.DryBasis {
		m, err := ledger.NewDryBasis(number(100, 2500, -2, "moisture")) // 1 to 25 %
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	c := Closing{Pile: "P1", Base: ledger.Mass(rapid.Int64Range(0, 1e11).Draw(t, "base")), Reference: moisture()}
	for range rapid.IntRange(0, 20).Draw(t, "weighings") {
		c.Weighings = append(c.Weighings, Weighing{Wet: ledger.Mass(rapid.Int64Range(-1e9, 1e9).Draw(t, "wet")), Moisture: moisture(), Belt: rapid.SampledFrom([]string{"", "B1"}).Draw(t, "belt")})
	}
	if rapid.Bool().Draw(t, "surveyed") {
		volume := number(0, 5_000_000, -2, "volume")
		c.Survey = &Measured{ledger.Survey{VolumeM3: volume, DeductionM3: volume.Mul(number(0, 99, -2, "deduction"))},
			ledger.DensityTest{MoistTPerM3: number(1200, 2200, -3, "density"), Moisture: moisture(), Compaction: number(90, 110, -2, "compaction")}}
	}
	return c
}

// The two routes agree within rounding: half a gram at each rounding, of which a weighing has two and the survey and the
// adjusted mass one each, before and after. Volume, density and belt are linear. Solids fall with moisture as s / (1 + e) with
// e the step over 100 + m, so that half the distance between down and up is the slope over 1 - e^2, and e is below 1/100.
func TestSensitivityTwoRoutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawClosing(t)
		s, err := c.Sensitivity()
		if err != nil {
			t.Fatal(err)
		}
		var weighed float64 // solids that moisture moves, whichever way they went
		for _, w := range c.Weighings {
			weighed += math.Abs(float64(w.Wet))
		}
		if c.Survey != nil {
			weighed += math.Abs(float64(s.Solids)) + weighed
		}
		for _, l := range s.Lines {
			slack := 2 + 2*float64(len(c.Weighings))
			if l.Quantity == QuantityMoisture || l.Quantity == QuantityMoisturePoint {
				slack += weighed * 1e-2 * 1e-4 * 1.01
			}
			for what, pair := range map[string][3]ledger.Mass{
				"solids": {l.Up.Solids, l.Down.Solids, l.Slope.Solids}, "adjusted": {l.Up.Adjusted, l.Down.Adjusted, l.Slope.Adjusted},
			} {
				if central := float64(pair[0]-pair[1]) / 2; math.Abs(central-float64(pair[2])) > 1.25*slack {
					t.Fatalf("%s, %s: %v by difference, %v by derivative, want within %v", l.Quantity, what, central, pair[2], slack)
				}
				linear := l.Quantity != QuantityMoisture && l.Quantity != QuantityMoisturePoint
				if linear && math.Abs(float64(pair[0]-pair[2])) > 1.25*slack {
					t.Fatalf("%s, %s: up %v, derivative %v", l.Quantity, what, pair[0], pair[2])
				}
			}
		}
	})
}

func TestSensitivityRefuses(t *testing.T) {
	for name, c := range map[string]Closing{
		"figure":        {Base: ledger.MaxMass, Weighings: []Weighing{{Wet: ledger.MaxMass}}},
		"shifted belt":  {Weighings: []Weighing{{Wet: ledger.MaxMass, Belt: "B1"}}},
		"shifted water": {Weighings: []Weighing{{Wet: 1, Moisture: dry(t, "1000")}}},
	} {
		if s, err := c.Sensitivity(); err == nil {
			t.Errorf("%s: %v, want an error", name, s)
		}
	}
}
