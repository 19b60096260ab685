package simyard

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"repose/internal/stat"
)

// fixedRule is the customary limit: a fixed share of the book (common practice, no source).
const fixedRule = 0.02

// Trial is a yard to be simulated many times.
type Trial struct {
	Yard    Yard
	History int // clean months before the ones judged, from which the scale of the uncertainties is estimated; 0 for none
	Reps    int
	Seed    uint64
	Priors  stat.Priors
	Alarm   stat.AlarmPolicy
	// Done is called after each replicate, from any goroutine; nil for no calls.
	Done func()
}

// NewTrial returns a trial of the standard yard over a year.
func NewTrial(reps int, seed uint64) Trial {
	y := Standard(12)
	p, policy := stat.DefaultPriors(), stat.DefaultAlarmPolicy()
	p.Routes = y.PriorRoutes()
	policy.Draws = 20000 // once for all replicates; the level is then good to 0.0015
	return Trial{Yard: y, Reps: reps, Seed: seed, Priors: p, Alarm: policy}
}

// Limits are what the tests of a trial are held to, each at the same joint level for all the balances judged.
type Limits struct {
	Fixed  float64 // share of the book
	Tuned  float64 // share of the book that clean years exceed with the joint level
	Single float64 // |z| of one balance
	Page   float64 // h
	Chi2   float64 // of one period
	Alarm  stat.Thresholds
}

// Limits finds the limits. The tuned rule is tuned on as many clean years as the trial has replicates, with other draws.
func (t Trial) Limits() (Limits, error) {
	year, err := Simulate(t.Yard, nil)
	if err != nil {
		return Limits{}, err
	}
	o := year.Observations().Between(t.History, t.Yard.Months)
	m, err := o.Model()
	if err != nil {
		return Limits{}, err
	}
	policy := t.Alarm
	if t.History > 0 {
		policy.HistoryDF = t.History * len(t.Yard.Piles)
	}
	piles, periods := len(t.Yard.Piles), len(m.Periods())
	l := Limits{
		Fixed:  fixedRule,
		Single: stat.NormalQuantile(1 - stat.Sidak(policy.Level, m.Len())/2),
		Page:   stat.PageLimit(policy.Level, 0.5, periods, 2*piles),
		Chi2:   stat.ChiSquare{DF: piles}.Quantile(1 - stat.Sidak(policy.Level, periods)),
		Alarm:  stat.NewScan(m, o.Hypotheses(t.Priors)).Thresholds(policy),
	}
	largest, err := forEach(t, func(rng *rand.Rand) (float64, error) {
		year, err := Simulate(t.Yard, rng)
		if err != nil {
			return 0, err
		}
		return slices.Max(shares(year.Observations().Between(t.History, t.Yard.Months))), nil
	}, ^t.Seed)
	if err != nil {
		return Limits{}, err
	}
	slices.Sort(largest)
	l.Tuned = largest[min(int((1-policy.Level)*float64(len(largest))), len(largest)-1)]
	return l, nil
}

// shares returns every residual as a share of the book.
func shares(o *stat.Observations) []float64 {
	s := make([]float64, len(o.Balances))
	for i, r := range o.Rows() {
		book := o.Surveys[o.Balances[i].Closing].Mass + r.Residual
		s[i] = math.Abs(r.Residual) / book
	}
	return s
}

// forEach calls do for every replicate of a trial, each with its own generator, and returns the results in order.
func forEach[T any](t Trial, do func(rng *rand.Rand) (T, error), seed uint64) ([]T, error) {
	if t.Reps < 1 {
		return nil, fmt.Errorf("%d replicates: want one or more", t.Reps)
	}
	results, errs := make([]T, t.Reps), make([]error, t.Reps)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(t.Reps, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < t.Reps; i = int(next.Add(1)) - 1 {
				results[i], errs[i] = do(rand.New(rand.NewPCG(seed, uint64(i))))
				if t.Done != nil {
					t.Done()
				}
			}
		})
	}
	wg.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("replicate %d: %w", i, err)
		}
	}
	return results, nil
}

// present returns the periods judged of a year, with the uncertainties that its history teaches.
func (t Trial) present(o *stat.Observations) (*stat.Observations, error) {
	if t.History == 0 {
		return o, nil
	}
	history, err := o.Between(0, t.History).Model()
	if err != nil {
		return nil, err
	}
	scale, err := stat.EstimateScale(history.Whitened())
	if err != nil {
		return nil, err
	}
	return o.Between(t.History, t.Yard.Months).Scaled(scale.Kappa), nil
}

// Run simulates a scenario and reports how its fault was found.
func (t Trial) Run(s Scenario, l Limits) (Outcome, error) {
	results, err := forEach(t, func(rng *rand.Rand) (replicate, error) {
		year, err := Simulate(t.Yard, rng, s.Faults...)
		if err != nil {
			return replicate{}, err
		}
		o, err := t.present(year.Observations())
		if err != nil {
			return replicate{}, err
		}
		m, err := o.Model()
		if err != nil {
			return replicate{}, err
		}
		r := replicate{}
		onset := s.onset(t.History + 1)
		r.balances(o, m, l, onset)
		r.alarm(stat.NewScan(m, o.Hypotheses(t.Priors)), l, onset, s)
		return r, nil
	}, t.Seed)
	if err != nil {
		return Outcome{}, err
	}
	return summarise(s, results), nil
}
