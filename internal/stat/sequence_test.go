package stat

import (
	"math"
	"slices"
	"testing"
)

// Worked examples of nuclear material accountancy, section 1.2 of the method page: n items of equal size have a
// random error of I d/sqrt n, a systematic one of I d (published 0.89, 8, 0.566 and 0.80 kg).
func TestThroughput(t *testing.T) {
	sigma := func(mass, systematic, random, n float64) float64 {
		o := &Observations{
			Instruments: []Instrument{{1, LoaderScale, systematic, random}},
			Surveys:     []Survey{{Density: None, Base: None}, {Density: None, Base: None}},
			Balances:    []Balance{{Period: 1, Opening: 0, Closing: 1, Flows: []Flow{{Period: 1, Mass: mass, Weighings: n, Moisture: None}}}},
		}
		return must(o.Model())(t).Balance(0).Sigma
	}
	shown(t, "random", sigma(800, 0, 0.01, 80), "0.894427191")
	shown(t, "random, 3 sigma", 3*sigma(800, 0, 0.01, 80), "2.683281573")
	shown(t, "systematic", sigma(800, 0.01, 0, 80), "8")
	shown(t, "systematic, 3 sigma", 3*sigma(800, 0.01, 0, 80), "24")
	shown(t, "50 batches", sigma(500, 0, 0.008, 50), "0.565685425")
	shown(t, "25 batches", sigma(500, 0, 0.008, 25), "0.800000000")
}

// sequence is the invented sequence of section 1.2 of the method page: one pile, four periods.
func sequence() *Observations {
	o := &Observations{
		Instruments: []Instrument{{1, BeltWeigher, 0.010, 0.005}, {1, LoaderScale, 0.007, 0.001}},
		Densities:   []Density{{0.030}},
	}
	for _, mass := range []float64{20000, 21000, 19000, 22000, 20500} {
		o.Surveys = append(o.Surveys, Survey{Mass: mass, Volume: 0.010, Base: None})
	}
	in, out := []float64{9000, 8000, 10000, 8500}, []float64{7900, 9850, 6700, 9700}
	for i := range in {
		o.Balances = append(o.Balances, Balance{From: i, Period: i + 1, Opening: i, Closing: i + 1, Flows: []Flow{
			{Period: i + 1, Instrument: 0, Mass: in[i], Moisture: None},
			{Period: i + 1, Instrument: 1, Mass: -out[i], Moisture: None},
		}})
	}
	return o
}

func TestSequence(t *testing.T) {
	o := sequence()
	m := must(o.Model())(t)
	rows := m.RowsOf(0, None)
	balances := each(rows, func(i int) float64 { return m.Balance(i).Sigma })
	shownAll(t, "MUF", each(rows, func(i int) float64 { return m.Balance(i).Residual }), "100.0 150.0 300.0 300.0")
	shownAll(t, "sigma", balances, "313.4414 310.8876 327.6347 325.8616")
	shownAll(t, "MUF/sigma", each(rows, func(i int) float64 { return m.Balance(i).Z() }), "0.319039 0.482489 0.915654 0.920636")
	sums := m.Cumulate(rows)
	shownAll(t, "CUMUF", each(sums, func(s Sum) float64 { return s.Residual }), "100.0 250.0 550.0 850.0")
	shownAll(t, "sigma CUMUF", each(sums, func(s Sum) float64 { return s.Sigma }), "313.4414 353.7266 447.7964 523.1153")
	shownAll(t, "CUMUF/sigma", each(sums, Sum.Z), "0.319039 0.706761 1.228237 1.624881")
	shownAll(t, "SITMUF", m.Innovations(), "0.319039 0.639072 1.090477 1.283069")
	shownAll(t, "u", m.Whitened(), "0.319039 0.639072 1.090477 1.283069") // one pile: the same
	up, down := CUSUM(m.Innovations(), 0, 0.5)
	shownAll(t, "Page", up, "0.000000 0.139072 0.729549 1.512618")
	shownAll(t, "Page, gains", down, "0 0 0 0")
	for i, row := range []string{
		"98245.50 -34887.07 14293.57 10054.87", "-34887.07 96651.12 -30266.25 14181.70",
		"14293.57 -30266.25 107344.50 -40765.49", "10054.87 14181.71 -40765.49 106185.75",
	} {
		shownAll(t, "V", each(rows, func(j int) float64 { return m.Covariance(i, j) }), row)
	}
	for i, want := range []string{"-0.358018", "-0.297143", "-0.381830"} {
		shown(t, "lag-1 correlation", m.Covariance(i, i+1)/(balances[i]*balances[i+1]), want)
	}

	o.Densities = append(o.Densities, Density{0.030})
	o.Surveys[1].Density = 1
	wrong := must(o.Model())(t).Balance(0).Sigma
	shown(t, "sigma with density taken as independent", wrong, "924.2540")
	shown(t, "times too wide", wrong/balances[0], "2.95")
}

// Where surveys are all that is wrong, neighbouring balances correlate by -1/2 and the cumulative sum stays at
// sqrt 2 surveys however long it runs (section 1.2 of the method page).
func TestSurveyErrorsTelescope(t *testing.T) {
	o := &Observations{}
	for i := range 9 {
		o.Surveys = append(o.Surveys, Survey{Mass: 5000, Volume: 0.02, Density: None, Base: None})
		if i > 0 {
			o.Balances = append(o.Balances, Balance{From: i - 1, Period: i, Opening: i - 1, Closing: i})
		}
	}
	m := must(o.Model())(t)
	if c := m.Covariance(3, 4) / m.Covariance(3, 3); math.Abs(c+0.5) > 1e-12 {
		t.Errorf("lag-1 correlation %v, want -1/2", c)
	}
	for i, s := range m.Cumulate(m.RowsOf(0, None)) {
		if want := math.Sqrt2 * 100; math.Abs(s.Sigma-want) > 1e-9 {
			t.Errorf("sigma of %d periods %v, want %v", i+1, s.Sigma, want)
		}
	}
}

func TestRowsOfPilesAndPeriods(t *testing.T) {
	m := must(twoPiles().Model())(t)
	for name, c := range map[string]struct{ got, want []int }{
		"all of pile 2":      {m.RowsOf(2, None), []int{1, 3, 5}},
		"pile 2 after 1":     {m.RowsOf(2, 1), []int{3, 5}},
		"period 3":           {m.RowsIn(3), []int{4, 5}},
		"pile there is none": {m.RowsOf(7, None), nil},
		"periods":            {m.Periods(), []int{1, 2, 3}},
	} {
		if !slices.Equal(c.got, c.want) {
			t.Errorf("%s: %v, want %v", name, c.got, c.want)
		}
	}
}
