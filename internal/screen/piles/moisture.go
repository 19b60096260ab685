package piles

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// wetDry finds moistures that are out of line with the tests of the same pile, or, where those are few, of the same
// product, and says where the other basis would put them in line: 6 % of dry mass is 5.66 % of wet mass, so a slip of
// basis is small and shows only where tests scatter little. Below about 4.5 % of moisture none is found; there
// the slip moves less than 2 kg in a tonne. Out of line is a modified z-score above 3.5 (Iglewicz and Hoaglin, as in the
// NIST/SEMATECH e-Handbook 1.3.5.17) among at least eight tests; a plain z-score of eight values never reaches 3.
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
	shiftInPoints = 0.2 // what is out of line by less, or moved by less by its basis, is lost in the sampling
)

func (wetDry) Look(d *screen.Data, found func(screen.Finding)) {
	groups := moisturesOf(d)
	products := map[string][]ledger.MoistureTest{}
	for _, key := range slices.Sorted(maps.Keys(groups)) {
		product := productOf(d, groups[key][0])
		products[product] = append(products[product], groups[key]...)
	}
	scored := map[string]scores{}
	for _, m := range d.Moistures {
		if !d.In(m.At()) {
			continue
		}
		key := subject(m.Fact.Pile, m.Fact.Product)
		list := groups[key]
		if len(list) < fewTests {
			key = "product " + productOf(d, m.Fact)
			list = products[productOf(d, m.Fact)]
		}
		s, ok := scored[key]
		if !ok {
			s = newScores(list)
			scored[key] = s
		}
		if p := percentOf(m.Fact); s.outOfLine(p) {
			found(moistureFinding(m, p, s.middle))
		}
	}
}

// productOf returns the product that a test is of, or that its pile holds.
func productOf(d *screen.Data, m ledger.MoistureTest) string {
	if m.Pile == "" {
		return m.Product
	}
	return d.Register.Pile(ledger.PileID{Yard: d.Yard, Code: m.Pile}, m.Taken).Product
}

func percentOf(m ledger.MoistureTest) float64 { return m.Moisture.Percent().InexactFloat64() }

// scores are the modified z-scores of tests, by their moisture.
type scores struct {
	middle float64
	of     map[float64]float64
}

// newScores returns the scores of tests, none where they are too few.
func newScores(list []ledger.MoistureTest) scores {
	if len(list) < fewTests {
		return scores{}
	}
	values := make([]float64, len(list))
	for i, m := range list {
		values[i] = percentOf(m)
	}
	s := scores{stat.Median(values), map[float64]float64{}}
	for i, z := range stat.ModifiedZScores(values).Z {
		s.of[values[i]] = z
	}
	return s
}

func (s scores) outOfLine(p float64) bool {
	return math.Abs(s.of[p]) > outOfLine && math.Abs(p-s.middle) > shiftInPoints
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
