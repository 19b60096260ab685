package stat

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// Explanation is one cause, or several that the balances cannot tell apart, with its share of the belief.
type Explanation struct {
	// Hypothesis is the likeliest onset and shape of the cause. A swap is turned so that its size is positive: the
	// stone of Cause.Pile is in Cause.Other.
	Hypothesis
	Index int // of the hypothesis in the set
	Fit   Fit
	Share float64 // of all causes, with those of Also
	// Also is the causes that these balances cannot tell from it (absolute cosine above 0.95), each with its own
	// share: of a loss, most often the density and the survey of its pile. Print them with it.
	Also []Explanation
}

// sameCosine is the absolute cosine of two whitened signatures above which they are one class.
const sameCosine = 0.95

// rankedCauses is how many causes are compared with one another for being the same.
const rankedCauses = 12

// Rank returns the causes in order of their posterior odds, with the data to the close of the period at place
// t of Periods. Each class has its prior weight, shared equally by its causes, and that by their onsets and
// shapes. The size is averaged over priors tau, 3 tau and 10 tau.
//
// It says which cause is likeliest if there is one; whether there is one is for the alarm to say. The first few
// explanations have the causes of their class in Also.
func (s *Scan) Rank(t int) []Explanation {
	causes := s.posterior(t)
	n := min(len(causes), rankedCauses)
	merged := s.merge(t, causes[:n])
	return append(merged, causes[n:]...)
}

// posterior returns the causes with their shares, none merged.
func (s *Scan) posterior(t int) []Explanation {
	counts := make([]float64, len(s.set.groups))
	for _, e := range s.set.entries[:s.active[t]] {
		counts[e.group]++
	}
	byCause := map[Cause]*Explanation{}
	best := map[Cause]float64{}
	logs := make([]float64, s.active[t])
	highest := math.Inf(-1)
	for h, e := range s.set.entries[:s.active[t]] {
		logs[h] = math.Log(s.set.groups[e.group].weight/counts[e.group]) + e.logBayesFactor(s.Fit(h, t))
		highest = max(highest, logs[h])
	}
	if math.IsInf(highest, -1) {
		return nil // no hypothesis yet, or none with a prior weight
	}
	total := 0.0
	for h, e := range s.set.entries[:s.active[t]] {
		odds := math.Exp(logs[h] - highest)
		total += odds
		x := e.explain(h, s.Fit(h, t))
		if byCause[x.Cause] == nil {
			byCause[x.Cause] = &Explanation{}
		}
		if odds >= best[x.Cause] {
			best[x.Cause] = odds
			x.Share = byCause[x.Cause].Share
			*byCause[x.Cause] = x
		}
		byCause[x.Cause].Share += odds
	}
	causes := make([]Explanation, 0, len(byCause))
	for x := range maps.Values(byCause) {
		x.Share /= total
		causes = append(causes, *x)
	}
	slices.SortFunc(causes, func(a, b Explanation) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), a.Cause.compare(b.Cause))
	})
	return causes
}

// explain returns the hypothesis as an explanation, turned so that the size of a swap is positive.
func (h Hypothesis) explain(index int, fit Fit) Explanation {
	if h.Cause.Class == ClassSwap && fit.Size < 0 {
		h.Cause.Pile, h.Cause.Other = h.Cause.Other, h.Cause.Pile
		fit.Size = -fit.Size
	}
	return Explanation{Hypothesis: h, Index: index, Fit: fit}
}

// compare orders causes, for a fixed order of equal shares.
func (c Cause) compare(d Cause) int {
	return cmp.Or(cmp.Compare(c.Class, d.Class), cmp.Compare(c.Pile, d.Pile), cmp.Compare(c.Other, d.Other),
		cmp.Compare(c.Instrument, d.Instrument))
}

// logBayesFactor returns the logarithm of the odds that a fit gives the hypothesis against no cause at all,
// averaged over three widths of its prior. With a normal prior of mean m and standard deviation tau,
//
//	log BF = -1/2 ln(1 + tau^2/sigma^2) + z^2/2 - (b-m)^2/(2(sigma^2 + tau^2)),
//
// and a one-sided prior is the normal cut off at zero.
func (h Hypothesis) logBayesFactor(fit Fit) float64 {
	if math.IsInf(fit.Sigma, 0) {
		return 0
	}
	sum, highest := 0.0, math.Inf(-1)
	var logs [3]float64
	for i, width := range [...]float64{1, 3, 10} {
		tau2, sigma2 := width*width*h.Tau*h.Tau, fit.Sigma*fit.Sigma
		z, d := fit.Z(), fit.Size-h.Mean
		logs[i] = 0.5 * (z*z - math.Log1p(tau2/sigma2) - d*d/(sigma2+tau2))
		if h.OneSided && tau2 > 0 {
			mean := (fit.Size*tau2 + h.Mean*sigma2) / (sigma2 + tau2) // of the posterior
			deviation := math.Sqrt(sigma2 * tau2 / (sigma2 + tau2))
			logs[i] += logNormalCDF(mean/deviation) - logNormalCDF(h.Mean/math.Sqrt(tau2))
		}
		highest = max(highest, logs[i])
	}
	for _, l := range logs {
		sum += math.Exp(l - highest)
	}
	return highest + math.Log(sum/float64(len(logs)))
}

// merge puts causes under the likelier one that they cannot be told from.
func (s *Scan) merge(t int, causes []Explanation) []Explanation {
	hi := s.model.periods[t].hi
	var merged []Explanation
	var heads [][]float64
	for _, x := range causes {
		w := s.model.whitenSparse(s.set.Vector(x.Index), hi)
		same := slices.IndexFunc(heads, func(v []float64) bool { return math.Abs(cosine(v, w)) > sameCosine })
		if same < 0 {
			merged, heads = append(merged, x), append(heads, w)
			continue
		}
		merged[same].Also = append(merged[same].Also, x)
		merged[same].Share += x.Share
	}
	slices.SortStableFunc(merged, func(a, b Explanation) int { return cmp.Compare(b.Share, a.Share) })
	return merged
}

// Cosine returns the cosine of the whitened signatures of two hypotheses with the data to the period at place t:
// 1 or -1 if nothing can tell them apart, 0 if they have nothing in common.
func (s *Scan) Cosine(g, h, t int) float64 {
	hi := s.model.periods[t].hi
	return cosine(s.model.whitenSparse(s.set.Vector(g), hi), s.model.whitenSparse(s.set.Vector(h), hi))
}

func cosine(v, w []float64) float64 {
	vv, ww := dot(v, v), dot(w, w)
	if vv == 0 || ww == 0 {
		return 0
	}
	return dot(v, w) / math.Sqrt(vv*ww)
}
