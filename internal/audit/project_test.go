package audit

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"repose/ledger"
)

func projected(t *testing.T, s *Sample, audited map[string]ledger.Mass) *Projection {
	t.Helper()
	p, err := s.Project(audited)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The factors of a textbook's table of reliability factors for overstatements, as an exercise on a question-and-answer
// page reprints it (read; Principles of Auditing and Other Assurance Services, 2006), for risks of 1, 5, 10, 15, 20, 25, 30
// and 37 %. Its two places are rounded, mostly upwards: 2.31 is 2.3026.
// 36.8 %, 1/e, and its first factor 1.
func TestConfidenceFactorPublished(t *testing.T) {
	for confidence, factors := range map[float64][]float64{
		0.99: {4.61, 6.64, 8.41, 10.05}, 0.95: {3.00, 4.75, 6.30, 7.76}, 0.90: {2.31, 3.89, 5.33, 6.69}, 0.85: {1.90, 3.38, 4.72, 6.02},
		0.80: {1.61, 3.00, 4.28, 5.52}, 0.75: {1.39, 2.70, 3.93, 5.11}, 0.70: {1.21, 2.44, 3.62, 4.77}, 0.63: {1.00, 2.14, 3.25, 4.34},
	} {
		for errors, want := range factors {
			got, err := ConfidenceFactor(confidence, errors)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got-want) > 0.0101 {
				t.Errorf("factor of %d errors at %.2f = %.4f, published %.2f", errors, confidence, got, want)
			}
		}
	}
}

func TestConfidenceFactorRefuses(t *testing.T) {
	for _, c := range []struct {
		confidence float64
		errors     int
		want       string
	}{
		{0, 0, "confidence 0: want a fraction above 0 and up to 0.9999"}, {95, 0, "confidence 95: want a fraction above 0 and up to 0.9999"},
		{0.95, -1, "-1 errors: want 0 to 200"}, {0.95, 201, "201 errors: want 0 to 200"},
	} {
		_, err := ConfidenceFactor(c.confidence, c.errors)
		same(t, "error", c.want, fmt.Sprint(err))
	}
	p := &Projection{Method: MethodMassUnit, Interval: 10}
	for range 201 {
		p.Findings = append(p.Findings, Finding{Selected: Selected{Item: Item{Mass: 5}}, Error: 1})
	}
	_, err := p.Upper(0.95)
	same(t, "too many errors", "201 errors: want 0 to 200", fmt.Sprint(err))
}

// Against the definition: a Poisson variable with the factor as its mean is above the number of errors with the
// confidence. For no errors it is the negative logarithm of the risk.
func TestConfidenceFactorDefinition(t *testing.T) {
	for _, confidence := range []float64{0.0001, 0.5, 0.9, 0.95, 0.9999} {
		for _, errors := range []int{0, 1, 2, 10, 50, 200} {
			factor, err := ConfidenceFactor(confidence, errors)
			if err != nil {
				t.Fatal(err)
			}
			sum := 0.0
			for k := range errors + 1 {
				logFactorial, _ := math.Lgamma(float64(k + 1))
				sum += math.Exp(float64(k)*math.Log(factor) - factor - logFactorial)
			}
			if math.Abs(1-sum-confidence) > 1e-9 {
				t.Errorf("more than %d errors at a mean of %v have probability %v, want %v", errors, factor, 1-sum, confidence)
			}
		}
		none, _ := ConfidenceFactor(confidence, 0)
		if want := -math.Log1p(-confidence); math.Abs(none-want) > 1e-9*(1+want) {
			t.Errorf("factor of no errors at %v = %v, want %v", confidence, none, want)
		}
	}
}

// The factors by expected over tolerable error at 5 and 10 % risk are those that sampling guides for auditors tabulate for
// mass units (from memory); the figures of n are computed here.
func TestSampleSize(t *testing.T) {
	for _, c := range []struct {
		confidence, ratio, factor float64
	}{
		{0.95, 0, 3.00}, {0.95, 0.05, 3.31}, {0.95, 0.10, 3.68}, {0.95, 0.15, 4.11}, {0.95, 0.20, 4.63}, {0.95, 0.25, 5.24}, {0.95, 0.30, 6.00},
		{0.90, 0, 2.31}, {0.90, 0.20, 3.41},
	} {
		if got := solve(c.confidence, 0, c.ratio); math.Abs(got-c.factor) > 0.0101 {
			t.Errorf("factor at %v with %v expected = %.4f, want %.2f", c.confidence, c.ratio, got, c.factor)
		}
	}
	for _, c := range []struct {
		name string
		plan Plan
		want int
	}{
		{"60,000 t, 2 % tolerable", Plan{tons(60000), tons(1200), 0, 0.95}, 150}, // 2.9957 x 50 = 149.8
		{"60,000 t, 2 % tolerable, 90 %", Plan{tons(60000), tons(1200), 0, 0.90}, 116},
		{"a fifth of it expected", Plan{tons(60000), tons(1200), tons(240), 0.95}, 232}, // 4.6202 x 50 = 231.01
	} {
		n, err := SampleSize(c.plan)
		if err != nil {
			t.Fatal(err)
		}
		same(t, c.name, c.want, n)
	}
	if n, err := SampleSize(Plan{tons(100), tons(4), tons(3), 0.95}); err != nil || n <= 75 {
		t.Errorf("three quarters expected: %d, %v, want more than 75", n, err)
	}
	for _, p := range []Plan{{0, 1, 0, 0.95}, {1, 0, 0, 0.95}, {100, 4, -1, 0.95}, {100, 4, 4, 0.95}, {100, 4, 0, 0}, {100, 4, 0, 1}, {100, 4, 0, math.NaN()}, {ledger.MaxMass, 1, 0, 0.95}} {
		if n, err := SampleSize(p); err == nil {
			t.Errorf("%v gives %d, want an error", p, n)
		}
	}
}

// A sample of the planned size is enough, and one item fewer is not.
func TestSampleSizeIsSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Plan{Population: ledger.Mass(rapid.Int64Range(1e6, 1e12).Draw(t, "population")), Confidence: rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")}
		p.Tolerable = p.Population / ledger.Mass(rapid.Int64Range(2, 1000).Draw(t, "part"))
		p.Expected = ledger.Mass(rapid.Float64Range(0, 0.7).Draw(t, "expected") * float64(p.Tolerable))
		n, err := SampleSize(p)
		if err != nil {
			t.Fatal(err)
		}
		// whether n items with the expected errors, as whole taintings, leave the limit below the tolerable error
		reached := func(n int) float64 {
			per := float64(n) / float64(p.Population)
			return gammaP(1+per*float64(p.Expected), per*float64(p.Tolerable))
		}
		if reached(n) < p.Confidence-1e-9 || n > 1 && reached(n-1) > p.Confidence+1e-9 {
			t.Fatalf("%+v: %d items reach %v, one fewer %v", p, n, reached(n), reached(n-1))
		}
	})
}

// An exercise on slides to a textbook chapter on audit sampling (read): of 3,000,000 booked, 100,000 were tested and 98,000
// found; by ratio the error of the whole is 60,000.
func TestRatioPublished(t *testing.T) {
	s := &Sample{Method: MethodRandom, Population: Total{30, 3_000_000}, Drawn: Total{1, 100_000},
		Selected: []Selected{{Item: Item{ID: "A", Mass: 100_000}, Hits: 1}}}
	p := projected(t, s, map[string]ledger.Mass{"A": 98_000})
	same(t, "known and projected", []ledger.Mass{2_000, 60_000}, []ledger.Mass{p.Known, p.Error})
	if _, err := p.Upper(0.95); err == nil {
		t.Error("an upper limit of a random sample, want an error")
	}
}

// The answer to an exercise of a university course on auditing (read; ACG 5637, notes to lecture 12, part 13): 2,500,000
// booked, a sample of 59, an interval of 42,373, four errors. It prints 25,424, 12,712, 4,237 and 10,699, of taintings
// rounded to the per cent, and an upper limit of 172,988 at 90 %, of steps between factors rounded to a place (1.6, 1.4, 1.4).
// Without that rounding the limit is 172,585, computed here.
func TestTaintingPublished(t *testing.T) {
	s := &Sample{Method: MethodMassUnit, Interval: 42_373}
	audited := map[string]ledger.Mass{}
	for _, row := range [][2]ledger.Mass{{71_330, 60_631}, {18_996, 17_096}, {30_081, 21_057}, {3_555, 1_422}, {20_000, 20_000}} {
		id := fmt.Sprint(row[0])
		s.Selected = append(s.Selected, Selected{Item: Item{ID: id, Mass: row[0]}, Hits: 1})
		audited[id] = row[1]
	}
	p := projected(t, s, audited)
	for i, want := range []ledger.Mass{10_699, 4_237, 12_712, 25_424, 0} {
		if got := p.Findings[i].Projected; (got - want).Abs() > 1 {
			t.Errorf("error of %v projects to %d, published %d", p.Findings[i].ID, got, want)
		}
	}
	same(t, "known and projected", []ledger.Mass{23_756, 53_072}, []ledger.Mass{p.Known, p.Error})
	upper, err := p.Upper(0.90)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "upper limit", ledger.Mass(172_585), upper)
	if math.Abs(float64(upper)/172_988-1) > 0.0025 {
		t.Errorf("upper limit %d, published 172,988", upper)
	}

	// An item of exactly the interval stands for itself in the limit too: the factor for no error, and its error.
	certain := &Projection{Method: MethodMassUnit, Interval: 100_000, Findings: []Finding{{Selected: Selected{Item: Item{Mass: 100_000}}, Error: 40_000}}}
	if upper, err = certain.Upper(0.95); err != nil || upper != 299_573+40_000 {
		t.Errorf("upper limit %d, %v, want 339,573", upper, err)
	}

	// 26,882 times 3.0 where nothing is wrong, by the same notes, part 8: 80,646.
	clean := &Projection{Method: MethodMassUnit, Interval: 26_882}
	if upper, err = clean.Upper(0.95); err != nil || math.Abs(float64(upper)/80_646-1) > 0.0015 {
		t.Errorf("basic precision %d, %v, published 80,646", upper, err)
	}
}

// Published single items (read, in questions of a professional examination): 5,000 booked and 2,000 found project to 6,000
// at an interval of 10,000; 10,000 booked and 8,000 found to 2,000 at one of 5,000; 5,000 booked and 4,000 found to 2,000 at
// one of 10,000.
func TestTaintingOfOneItem(t *testing.T) {
	for _, c := range []struct{ booked, found, interval, want ledger.Mass }{
		{5_000, 2_000, 10_000, 6_000}, {10_000, 8_000, 5_000, 2_000}, {5_000, 4_000, 10_000, 2_000},
		{10_000, 8_000, 10_000, 2_000},                               // an item of exactly the interval stands for itself
		{5_000, 6_000, 10_000, -2_000}, {8, 7, 12, 2}, {8, 5, 12, 4}, // too little booked; 1.5 and 4.5 g, half-even
	} {
		s := &Sample{Method: MethodMassUnit, Interval: c.interval, Selected: []Selected{{Item: Item{ID: "A", Mass: c.booked}, Hits: 1}}}
		same(t, fmt.Sprint(c), c.want, projected(t, s, map[string]ledger.Mass{"A": c.found}).Error)
	}
}

// Each stratum is projected by its own ratio; one that nothing was drawn from is named.
func TestProjectStrata(t *testing.T) {
	items := []Item{{"a1", tons(50), "a"}, {"a2", tons(50), "a"}, {"b1", tons(40), "b"}, {"b2", tons(20), "b"}, {"c1", tons(1), "c"}}
	s, err := Stratified(seed, 2, items)
	if err != nil {
		t.Fatal(err)
	}
	audited := map[string]ledger.Mass{}
	for _, d := range s.Selected {
		audited[d.ID] = d.Mass * 9 / 10
	}
	p := projected(t, s, audited)
	same(t, "error", tons(16), p.Error) // a tenth of 100 and of 60 t
	same(t, "unreached", Total{1, tons(1)}, p.Unreached)
}

// A sample that is the whole population projects to what was found, and a book that is everywhere too large by the same
// part to that part of it, whatever was drawn.
func TestProjectionOfKnownErrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items, n := drawItems(t), rapid.IntRange(1, 70).Draw(t, "n")
		for i := range items {
			items[i].Mass *= 1000
		}
		for name, draw := range methods {
			s, err := draw(seed, n, items)
			if err != nil {
				t.Fatal(err)
			}
			audited := map[string]ledger.Mass{}
			for _, d := range s.Selected {
				audited[d.ID] = d.Mass / 1000 * 980
			}
			p, err := s.Project(audited)
			if err != nil {
				t.Fatal(err)
			}
			reached := s.Population.Mass - p.Unreached.Mass
			for _, st := range s.Strata {
				if s.Method == MethodStratified && st.Drawn.Count > 0 && st.Drawn.Mass == 0 {
					reached -= st.Population.Mass // no ratio without mass
				}
			}
			want, slack := reached/50, ledger.Mass(len(s.Selected)) // a gram of rounding each
			if s.Method == MethodMassUnit {
				// Below the interval a hit stands for one interval, so the ends are chance; above it, an item for itself, though
				// it may span nearly an interval more than its hits.
				slack += 2 * s.Interval / 50
				for _, d := range s.Selected {
					if d.Mass >= s.Interval {
						slack += s.Interval / 50
					}
				}
			}
			if s.Drawn.Mass > 0 && (p.Error-want).Abs() > slack {
				t.Fatalf("%s: %v projected, want %v within %v", name, p.Error, want, slack)
			}
		}
	})
}

func TestProjectRefuses(t *testing.T) {
	s, err := Random(seed, 2, tickets(6)) // T5 and T6
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		audited map[string]ledger.Mass
		want    string
	}{
		{"one not found", map[string]ledger.Mass{"T5": tons(10)}, `item "T6": want the mass that was found, zero or more`},
		{"below nothing", map[string]ledger.Mass{"T5": tons(10), "T6": -1}, `item "T6": want the mass that was found, zero or more`},
		{"one not drawn", map[string]ledger.Mass{"T5": tons(10), "T6": tons(10), "T1": 0}, "3 items were audited and 2 drawn: want the drawn ones and no others"},
	} {
		_, err := s.Project(c.audited)
		same(t, c.name, c.want, fmt.Sprint(err))
	}
	// Without an error there is nothing to project, mass or none; and an error of an item without mass is of no proportion.
	massless := &Sample{Method: MethodRandom, Population: Total{2, tons(5)}, Selected: []Selected{{Item: Item{ID: "A"}, Hits: 1}}, Drawn: Total{Count: 1}}
	same(t, "nothing wrong", ledger.Mass(0), projected(t, massless, map[string]ledger.Mass{"A": 0}).Error)
	if _, err := massless.Project(map[string]ledger.Mass{"A": 7}); err == nil {
		t.Error("an error of an item without mass is projected, want it refused")
	}
}
