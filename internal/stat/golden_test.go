package stat

import (
	"math"
	"testing"
)

// twoPiles is the golden vector of section 7.8 of the method page: two piles, three months, one belt, one loader,
// one transfer, with values computed apart from this package.
func twoPiles() *Observations {
	o := &Observations{
		Instruments: []Instrument{{1, BeltWeigher, 0.010, 0.005}, {1, LoaderScale, 0.007, 0.010}},
		Densities:   []Density{{0.03}, {0.03}},
		Moistures:   []Moisture{{Random: 0.003}, {Random: 0.003}},
	}
	surveys := [2][]float64{{10000, 10400, 9900, 10250}, {6000, 5800, 6100, 5450}}
	belt := [2][]float64{{3000, 3200, 3100}, {1500, 1800, 1600}}
	outbound := [2][]float64{{2500, 3600, 2650}, {1800, 1650, 1700}}
	transfer := []float64{0, 0, 200} // pile 2 to pile 1
	for i := range 2 {
		for _, mass := range surveys[i] {
			o.Surveys = append(o.Surveys, Survey{Pile: i + 1, Mass: mass, Volume: 0.010, Density: i, Base: None})
		}
	}
	for t := range 3 {
		for i := range 2 {
			b := Balance{Pile: i + 1, From: t, Period: t + 1, Opening: 4*i + t, Closing: 4*i + t + 1}
			b.Flows = []Flow{
				{Period: t + 1, Instrument: 0, Mass: belt[i][t], Moisture: i},
				{Period: t + 1, Instrument: 1, Mass: -outbound[i][t], Weighings: outbound[i][t] / 20, Moisture: i},
			}
			if x := transfer[t]; x > 0 {
				sign := 1 - 2*float64(i)
				b.Flows = append(b.Flows, Flow{Period: t + 1, Instrument: 1, Mass: sign * x, Weighings: x / 20, Moisture: 1, Batch: 1})
			}
			o.Balances = append(o.Balances, b)
		}
	}
	return o
}

func TestGoldenVector(t *testing.T) {
	m := must(twoPiles().Model())(t)
	shownAll(t, "s", each(m.rows, func(r Row) float64 { return r.Residual }), "100 -100 100 -150 300 350")
	var sigmas []float64
	for i := range m.Len() {
		sigmas = append(sigmas, m.Balance(i).Sigma)
	}
	shownAll(t, "sigma", sigmas, "149.661284 86.281052 150.883001 87.794675 148.056594 87.022985")
	for i, row := range []string{
		"22398.5000 670.5000 -9595.0000 742.1250 1356.1250 712.7500",
		"670.5000 7444.4200 797.5200 -3002.4700 681.0900 524.5800",
		"-9595.0000 797.5200 22765.6800 867.0600 -8534.3200 847.1600",
		"742.1250 -3002.4700 867.0600 7707.9050 756.0825 -3454.8850",
		"1356.1250 681.0900 -8534.3200 756.0825 21920.7550 723.1550",
		"712.7500 524.5800 847.1600 -3454.8850 723.1550 7573.0000",
	} {
		var got []float64
		for j := range m.Len() {
			got = append(got, m.Covariance(i, j))
		}
		shownAll(t, "V row", got, row)
	}
	shownAll(t, "u", m.Whitened(), "0.668175 -1.195310 1.160896 -2.633501 3.198974 2.509580")
	shown(t, "chi2", m.Global().Value, "26.689656")
	shown(t, "p", m.Global().P(), "0.000166")

	e := m.Innovations()
	one, two := []float64{e[0], e[2], e[4]}, []float64{e[1], e[3], e[5]}
	shownAll(t, "SITMUF of pile 1", one, "0.668175 1.160896 3.198974")
	shownAll(t, "SITMUF of pile 2", two, "-1.159003 -2.431233 3.097202")
	up, _ := CUSUM(one, 0, 0.5)
	shownAll(t, "Page of pile 1", up, "0.168175 0.829071 3.528045")
	up, _ = CUSUM(two, 0, 0.5)
	shownAll(t, "Page of pile 2", up, "0 0 2.597202")
}

func TestGoldenHypotheses(t *testing.T) {
	o := twoPiles()
	m := must(o.Model())(t)
	set := o.Hypotheses(DefaultPriors())
	scan := NewScan(m, set)
	loss := func(pile int) Cause { return Cause{ClassLoss, pile, None, None} }
	for _, want := range []struct {
		cause           Cause
		onset           int
		shape           Shape
		z, b, sigma, md string
	}{
		{loss(1), 3, Pulse, "2.634153", "344.719273", "130.865324", "430.508606"},
		{loss(2), 3, Pulse, "2.509580", "184.921227", "73.686135", "242.405813"},
		{loss(2), 2, Step, "0.554393", "22.392578", "40.391143", "132.875035"},
		{Cause{ClassLoader, None, None, 1}, 1, Step, "-1.916388", "-0.031149", "0.016254", "0.053470"},
		{Cause{ClassBelt, None, None, 1}, 1, Step, "2.045464", "0.033471", "0.016364", "0.053831"},
		{Cause{ClassSurvey, 2, None, None}, 3, Pulse, "-2.509580", "-0.033931", "0.013520", "0.044478"},
		{Cause{ClassSurvey, 2, None, None}, 2, Pulse, "3.869873", "0.045138", "0.011664", "0.038371"},
		{Cause{ClassSurvey, 1, None, None}, 2, Pulse, "0.357369", "0.004251", "0.011896", "0.039135"},
		// The page has it as 2>1; here a swap is named by the lower pile, and the sign turns.
		{Cause{ClassSwap, 1, 2, None}, 3, Pulse, "-0.826629", "-49.057138", "59.346039", "195.231097"},
	} {
		h := find(t, set, want.cause, want.onset, want.shape)
		for name, fit := range map[string]Fit{"scan": scan.Fit(h, 2), "model": m.Fit(set.Vector(h))} {
			shown(t, name+" z", fit.Z(), want.z)
			shown(t, name+" b", fit.Size, want.b)
			shown(t, name+" sigma_b", fit.Sigma, want.sigma)
			shown(t, name+" MDL", DetectionFactor(0.05, 0.95, 1)*fit.Sigma, want.md)
		}
	}
	for _, x := range scan.Rank(2) {
		if x.Cause.Class == ClassSwap && x.Fit.Size < 0 {
			t.Errorf("cause %+v has size %v, want it turned to be positive", x.Cause, x.Fit.Size)
		}
	}
}

// find returns the place of a hypothesis that must be in the set exactly once.
func find(t *testing.T, set *Hypotheses, cause Cause, onset int, shape Shape) int {
	t.Helper()
	found := None
	for i := range set.Len() {
		if h := set.At(i); h.Cause == cause && h.Onset == onset && h.Shape == shape && h.Mean == 0 {
			if found != None {
				t.Fatalf("hypothesis %+v from %d twice", cause, onset)
			}
			found = i
		}
	}
	if found == None {
		t.Fatalf("no hypothesis %+v from %d (%s)", cause, onset, shape)
	}
	return found
}

func TestGoldenAttribution(t *testing.T) {
	o := twoPiles()
	m := must(o.Model())(t)
	a := m.Attribute()
	for _, want := range []struct {
		kind  Kind
		index int
		error string
	}{
		{SurveyVolume, 6, "3.317776"}, {SurveyVolume, 3, "-2.063195"}, {SurveyVolume, 7, "-1.856144"},
		{SurveyVolume, 4, "-1.721899"}, {BeltSystematic, 0, "1.250010"}, {SurveyVolume, 0, "1.101768"},
	} {
		for k, s := range m.Sources() {
			if s.Kind == want.kind && s.Index == want.index {
				shown(t, s.Kind.String(), a.Errors[k], want.error)
			}
		}
	}
	larger := 0
	for _, e := range a.Errors {
		if math.Abs(e) > 1.1 {
			larger++
		}
	}
	if larger != 6 {
		t.Errorf("%d errors above 1.1, want the 6 of the page", larger)
	}
	fit := m.Fit(Vector{{3, -6100}, {5, 6100}}) // survey 2 of pile 2
	shown(t, "T of the survey", fit.Z()*fit.Z(), "14.975919")
	shown(t, "rest of chi2", m.Global().Value-fit.Z()*fit.Z(), "11.71")
	shown(t, "p of the rest", ChiSquare{m.Global().Value - fit.Z()*fit.Z(), 5}.P(), "0.039")
}

// The worked sigma of section 7.1 of the method page.
func TestWorkedSigma(t *testing.T) {
	o := &Observations{
		Instruments: []Instrument{{1, BeltWeigher, 0.010, 0.005}, {1, LoaderScale, 0.007, 0.010}},
		Densities:   []Density{{0.03}},
		// The figure has one moisture term: 0.3 points of wet basis at a moisture of 4 %, sigma/(1-m).
		Moistures: []Moisture{{Systematic: 0.003 / (1 - 0.04)}},
		Surveys:   []Survey{{Mass: 18000, Volume: 0.01, Base: None}, {Mass: 17000, Volume: 0.01, Base: None}},
		Balances: []Balance{{Period: 1, Opening: 0, Closing: 1, Flows: []Flow{
			{Period: 1, Instrument: 0, Mass: 7000},
			{Period: 1, Instrument: 1, Mass: -7800, Weighings: 384},
		}}},
	}
	m := must(o.Model())(t)
	parts := PerKind{}
	volumes := []float64{}
	for _, s := range m.Sources() {
		for _, e := range s.Column {
			parts[s.Kind] = math.Hypot(parts[s.Kind], e.Value)
			if s.Kind == SurveyVolume {
				volumes = append(volumes, math.Abs(e.Value))
			}
		}
	}
	shown(t, "density", parts[DensityError], "30.0000")
	shownAll(t, "volumes", volumes, "180.0000 170.0000")
	shown(t, "belt systematic", parts[BeltSystematic], "70.0000")
	shown(t, "belt random", parts[BeltRandom], "35.0000")
	shown(t, "loader systematic", parts[LoaderSystematic], "54.6000")
	shown(t, "weighings", parts[Weighings], "3.9804")
	shown(t, "moisture", parts[MoistureSystematic], "2.5")
	sigma := m.Balance(0).Sigma
	shown(t, "sigma", sigma, "267.0735")
	shown(t, "sigma in % of closing", 100*sigma/17000, "1.5710")
	shown(t, "MDL", DetectionFactor(0.05, 0.95, 1)*sigma, "878.5936")

	o.Densities = append(o.Densities, Density{0.03})
	o.Surveys[1].Density = 1 // wrong: one density test taken as two
	shown(t, "sigma with independent densities", must(o.Model())(t).Balance(0).Sigma, "788.7511")
}
