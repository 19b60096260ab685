package stat

import "math"

// Pair is two hypotheses fitted together.
type Pair struct {
	First, Second int // hypotheses of the set; the first explains more alone
	FirstFit      Fit
	SecondFit     Fit
	Chi2          float64 // by which the two together lower chi2
	Gain          float64 // by which they lower it more than the best single hypothesis does
}

// secondFaultCandidates is how many causes are tried in pairs. All pairs of them are fitted, because taking the
// best one out and looking again (serial compensation) goes wrong: the best single hypothesis is often
// neither of two true ones.
const secondFaultCandidates = 10

// SecondFault returns the two hypotheses that together explain most of the data to the close of the period at
// place t, of the likeliest causes, and whether a second fault is to be believed: whether chi2 falls, beyond what
// one hypothesis can do, by more than the square of the higher of the two thresholds. There are no third faults.
func (s *Scan) SecondFault(t int, th Thresholds) (Pair, bool) {
	causes := s.posterior(t)
	causes = causes[:min(len(causes), secondFaultCandidates)]
	hi := s.model.periods[t].hi
	w := make([][]float64, len(causes))
	single := 0.0
	for i, c := range causes {
		w[i] = s.model.whitenSparse(s.set.Vector(c.Index), hi)
		single = max(single, c.Fit.Z()*c.Fit.Z())
	}
	best, found := Pair{}, false
	for i := range causes {
		for j := range causes[:i] {
			p, ok := fitPair(s.model.u[:hi], w[i], w[j])
			a, b := s.set.entries[causes[i].Index], s.set.entries[causes[j].Index]
			if !ok || a.OneSided && p.FirstFit.Size < 0 || b.OneSided && p.SecondFit.Size < 0 || p.Chi2 <= best.Chi2 {
				continue
			}
			best, found = p, true
			best.First, best.Second, best.Gain = causes[i].Index, causes[j].Index, p.Chi2-single
			if math.Abs(causes[i].Fit.Z()) < math.Abs(causes[j].Fit.Z()) {
				best.First, best.Second, best.FirstFit, best.SecondFit = best.Second, best.First, best.SecondFit, best.FirstFit
			}
		}
	}
	if !found {
		return best, false
	}
	z := max(th.Z[s.set.entries[best.First].Cause.Class], th.Z[s.set.entries[best.Second].Cause.Class])
	return best, best.Gain > z*z
}

// fitPair fits two whitened signatures to whitened residuals by least squares. ok is false if they are one.
func fitPair(u, v, w []float64) (p Pair, ok bool) {
	vv, ww, vw := dot(v, v), dot(w, w), dot(v, w)
	det := vv*ww - vw*vw
	if det <= 1e-9*vv*ww {
		return Pair{}, false
	}
	vu, wu := dot(v, u), dot(w, u)
	p.FirstFit = Fit{(ww*vu - vw*wu) / det, math.Sqrt(ww / det)}
	p.SecondFit = Fit{(vv*wu - vw*vu) / det, math.Sqrt(vv / det)}
	p.Chi2 = p.FirstFit.Size*vu + p.SecondFit.Size*wu
	return p, true
}
