package stat

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// AlarmPolicy says how many false alarms are accepted, and how they are shared out.
type AlarmPolicy struct {
	Level float64 // probability of any false alarm in all the periods scanned, above 0 and below 1, such as 0.05
	// Shares is how the false alarms are shared between the classes, relative to one another. A class with a large
	// share is found sooner, at the others' expense.
	Shares PerClass
	Draws  int // of the Monte Carlo; 0 stands for as many as take well under a second
	Seed   uint64
	// HistoryDF is the degrees of freedom of the scale by which the standard uncertainties were multiplied, see
	// [EstimateScale]: an estimated scale makes large ratios more frequent. 0 for stated uncertainties.
	HistoryDF int
}

// DefaultAlarmPolicy returns one false alarm in twenty, shared out to the classes that need it. One bad survey is a
// single spike in one pile and is hardest to see; a swap is felt by two piles at once and needs the least. The
// shares were chosen on the invented yard of section 7 of the method page: a bad survey is found there in 58 years of
// 100, where the page's one threshold for all classes finds 50, and no other fault of the page is found less often.
func DefaultAlarmPolicy() AlarmPolicy {
	return AlarmPolicy{Level: 0.05, Seed: 1, Shares: PerClass{
		ClassLoss: 1.5, ClassSwap: 0.25, ClassLoader: 0.75, ClassBelt: 1, ClassDensity: 2.5, ClassSurvey: 4}}
}

// Thresholds are the ratios z that raise an alarm, by class.
type Thresholds struct {
	Z     PerClass // +Inf for a class without hypotheses, or without a share
	Level float64
	Draws int // 0 where they are Sidak's
}

// Sidak returns thresholds for which all tests of a class, one for each hypothesis and period, are taken to be
// independent. They are too high, because neighbouring onsets are nearly one test, but need no draws.
func (s *Scan) Sidak(p AlarmPolicy) Thresholds {
	var tests PerClass
	for _, n := range s.active {
		for _, e := range s.set.entries[:n] {
			tests[e.Cause.Class]++
			if !e.OneSided {
				tests[e.Cause.Class]++
			}
		}
	}
	th := Thresholds{Level: p.Level}
	weights := s.weights(p)
	for c, m := range tests {
		th.Z[c] = NormalQuantile(math.Pow(1-p.Level*weights[c], 1/m)) // +Inf for a share of 0
	}
	return th
}

// weights returns each class's share, of the classes that have hypotheses.
func (s *Scan) weights(p AlarmPolicy) PerClass {
	var w PerClass
	for _, g := range s.set.groups {
		w[g.class] = p.Shares[g.class]
	}
	total := 0.0
	for _, share := range w {
		total += share
	}
	for c := range w {
		w[c] /= cmp.Or(total, 1)
	}
	return w
}

// The draws are made in batches of one size, each with its own generator, so that neither the number of processors
// nor their order plays a part. A batch shares its reading of L^-1.
const batchSize = 16

// Thresholds finds by Monte Carlo the ratios that residuals without faults exceed, in any class, any hypothesis
// and any period, with probability Level. Each class alone exceeds its own with a probability in
// proportion to its share.
//
// The tail of a class's largest ratio is that of the largest of m independent normals, with m from the tenth of
// the draws that are largest. So few draws give far quantiles; the joint level is counted, not assumed.
func (s *Scan) Thresholds(p AlarmPolicy) Thresholds {
	draws := p.Draws
	if draws <= 0 {
		draws = s.defaultDraws()
	}
	maxima := s.maxima(draws, p)
	weights := s.weights(p)
	var effective PerClass // number of tests
	ratios := make([]float64, draws)
	for c, w := range weights {
		if w == 0 {
			continue
		}
		for i := range maxima {
			ratios[i] = maxima[i][c]
		}
		slices.Sort(ratios)
		upper := len(ratios) - 1 - len(ratios)/10
		effective[c] = math.Log1p(-0.1) / logNormalCDF(ratios[upper])
	}
	level := jointLevel(maxima, effective, weights, p.Level)
	th := Thresholds{Level: p.Level, Draws: draws}
	for c, w := range weights {
		th.Z[c] = math.Inf(1)
		if w > 0 {
			th.Z[c] = NormalQuantile(math.Exp(math.Log1p(-min(level*w, p.Level)) / effective[c]))
		}
	}
	return th
}

// jointLevel returns the level which, times its weight, each class may exceed so that a draw exceeds any with the
// probability wanted.
func jointLevel(maxima []PerClass, effective, weights PerClass, want float64) float64 {
	least := make([]float64, len(maxima))
	for i, z := range maxima {
		least[i] = math.Inf(1)
		for c, w := range weights {
			if w > 0 {
				least[i] = min(least[i], -math.Expm1(effective[c]*logNormalCDF(z[c]))/w)
			}
		}
	}
	slices.Sort(least)
	return least[max(0, min(int(want*float64(len(least))), len(least)-1))]
}

// defaultDraws is as many draws as keep the Monte Carlo to some 4e8 operations, within bounds: 400 draws hold a level of
// 0.05 to a standard error of 0.011, 4,000 to 0.0034.
func (s *Scan) defaultDraws() int {
	n := len(s.model.rows)
	operations := n * n / 2
	for _, active := range s.active {
		operations += active + len(s.columns.row)
	}
	return max(400, min(4000, int(4e8)/operations))
}

// maxima returns the largest ratio of each class in each of a number of draws without faults.
func (s *Scan) maxima(draws int, p AlarmPolicy) []PerClass {
	all := make([]PerClass, draws)
	parallel((draws+batchSize-1)/batchSize, func(batch int) {
		lo := batch * batchSize
		maxima := all[lo:min(lo+batchSize, draws)]
		rng := rand.New(rand.NewPCG(p.Seed, uint64(batch)))
		us := make([][]float64, len(maxima))
		for d := range us {
			us[d] = whiteNoise(rng, len(s.model.rows), p.HistoryDF)
		}
		c := tally{s, make([]float64, s.columns.len())}
		s.score(us, func(t, d int, scores []float64) { c.add(t, scores, &maxima[d]) })
	})
	return all
}

// whiteNoise returns n independent standard normals, all divided by one estimate of their standard deviation
// with df degrees of freedom if df > 0.
func whiteNoise(rng *rand.Rand, n, df int) []float64 {
	scale := 1.0
	if df > 0 {
		sum := 0.0
		for range df {
			v := rng.NormFloat64()
			sum += v * v
		}
		scale = math.Sqrt(float64(df) / sum)
	}
	u := make([]float64, n)
	for i := range u {
		u[i] = scale * rng.NormFloat64()
	}
	return u
}

// tally finds the largest ratios of a draw.
type tally struct {
	scan    *Scan
	squares []float64 // by signature: z^2 of the losses that swaps are made of
}

// add raises the largest ratio of each class to those of one period.
//
// Most swaps need not be looked at. With the ratios z of a swap's two losses, z^2 of the swap is at most
// (z_a^2 + z_b^2)/least, by Cauchy and Schwarz, where least is the smallest |a-b|^2/(|a|^2 + |b|^2) of the period.
func (c *tally) add(t int, scores []float64, z *PerClass) {
	s, inv := c.scan, c.scan.inv[t]
	for _, e := range s.singles[:s.activeSingles[t]] {
		ratio := scores[e.plus] * inv[e.entry]
		if ratio < 0 && !e.oneSided {
			ratio = -ratio
		}
		if ratio > z[e.class] {
			z[e.class] = ratio
		}
	}
	highest := 0.0
	for _, k := range s.losses {
		ratio := scores[k] * s.lossInv[t][k]
		c.squares[k] = ratio * ratio
		highest = max(highest, c.squares[k])
	}
	swap := z[ClassSwap] * z[ClassSwap]
	for _, r := range s.runs[:s.activeRuns[t]] {
		need := swap*s.least[t] - c.squares[r.plus]
		if highest <= need {
			continue
		}
		for _, q := range s.pairs[r.lo:r.hi] {
			if c.squares[q.minus] <= need {
				continue
			}
			ratio := (scores[q.plus] - scores[q.minus]) * inv[q.entry]
			if ratio*ratio > swap {
				swap = ratio * ratio
				need = swap*s.least[t] - c.squares[r.plus]
			}
		}
	}
	z[ClassSwap] = math.Sqrt(swap)
}
