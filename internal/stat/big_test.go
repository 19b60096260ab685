package stat

import (
	"math"
	"math/rand/v2"
	"testing"
)

func bigYard(months, piles int) *Observations {
	rng := rand.New(rand.NewPCG(1, 2))
	o := &Observations{}
	for e := range (months + 2) / 3 {
		_ = e
		for b := range 4 {
			o.Instruments = append(o.Instruments, Instrument{b, BeltWeigher, .01, .005})
		}
		for b := range 4 {
			o.Instruments = append(o.Instruments, Instrument{b, LoaderScale, .007, .01})
		}
	}
	stock := make([]float64, piles)
	last := make([]int, piles)
	for i := range piles {
		stock[i] = 5000 + 1000*float64(i%20)
		o.Densities = append(o.Densities, Density{.03})
		o.Moistures = append(o.Moistures, Moisture{.003, .003})
		last[i] = len(o.Surveys)
		o.Surveys = append(o.Surveys, Survey{Pile: i, Mass: stock[i], Volume: .0112, Density: i, Base: None})
	}
	for t := 1; t <= months; t++ {
		e := (t - 1) / 3 * 8
		for i := range piles {
			p := 3000 * (1 + .3*math.Sin(float64(t+i)))
			l := 3000 * (1 + .3*math.Cos(float64(t+i)))
			stock[i] += p - l
			o.Surveys = append(o.Surveys, Survey{Pile: i, Mass: stock[i] * (1 + .0112*rng.NormFloat64()), Volume: .0112, Density: i, Base: None})
			o.Balances = append(o.Balances, Balance{Pile: i, From: t - 1, Period: t, Opening: last[i], Closing: len(o.Surveys) - 1, Flows: []Flow{
				{Period: t, Instrument: e + i%4, Mass: p, Moisture: i}, {Period: t, Instrument: e + 4 + i%4, Mass: -.8 * l, Weighings: l / 25, Moisture: i}, {Period: t, Instrument: e + 4 + (i+1)%4, Mass: -.2 * l, Weighings: l / 100, Moisture: i}}})
			last[i] = len(o.Surveys) - 1
		}
	}
	return o
}
func BenchmarkModel(b *testing.B) {
	o := bigYard(24, 60)
	for b.Loop() {
		if _, err := o.Model(); err != nil {
			b.Fatal(err)
		}
	}
}
func BenchmarkHyp(b *testing.B) {
	o := bigYard(24, 60)
	for b.Loop() {
		h := o.Hypotheses(DefaultPriors())
		b.ReportMetric(float64(h.Len()), "hyps")
		b.ReportMetric(float64(len(h.signatures)), "sigs")
	}
}
func BenchmarkScan(b *testing.B) {
	o := bigYard(24, 60)
	m, err := o.Model()
	if err != nil {
		b.Fatal(err)
	}
	h := o.Hypotheses(DefaultPriors())
	b.ReportAllocs()
	for b.Loop() {
		NewScan(m, h)
	}
}
func BenchmarkScore(b *testing.B) {
	o := bigYard(24, 60)
	m, err := o.Model()
	if err != nil {
		b.Fatal(err)
	}
	h := o.Hypotheses(DefaultPriors())
	s := NewScan(m, h)
	u := make([][]float64, 16)
	for i := range u {
		u[i] = m.u
	}
	for b.Loop() {
		s.score(u, func(int, int, []float64) {})
	}
}

func BenchmarkThr(b *testing.B) {
	o := bigYard(24, 60)
	m, err := o.Model()
	if err != nil {
		b.Fatal(err)
	}
	h := o.Hypotheses(DefaultPriors())
	s := NewScan(m, h)
	b.Log(s.defaultDraws())
	var th Thresholds
	for b.Loop() {
		th = s.Thresholds(DefaultAlarmPolicy())
	}
	b.Log(th, s.Sidak(DefaultAlarmPolicy()))
}
func BenchmarkThrSmall(b *testing.B) {
	o := bigYard(12, 6)
	m, err := o.Model()
	if err != nil {
		b.Fatal(err)
	}
	h := o.Hypotheses(DefaultPriors())
	s := NewScan(m, h)
	b.Log(s.defaultDraws())
	var th Thresholds
	for b.Loop() {
		th = s.Thresholds(DefaultAlarmPolicy())
	}
	b.Log(th, s.Sidak(DefaultAlarmPolicy()))
}
