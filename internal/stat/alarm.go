package stat

import "math"

// Alarm is the hypothesis that passes its class's threshold by most, or comes nearest to it, with the data to
// the close of one period.
type Alarm struct {
	Raised     bool
	Period     int
	Hypothesis int // into the set
	Fit        Fit
	Threshold  float64 // |z| above it raises the alarm
}

// Alarms returns the alarm of every period. The first that is raised is the day the data spoke up; level is the
// probability that any is raised without a fault.
func (s *Scan) Alarms(th Thresholds) []Alarm {
	alarms := make([]Alarm, len(s.model.periods))
	for t, p := range s.model.periods {
		a := Alarm{Period: p.period, Hypothesis: None, Threshold: math.Inf(1), Fit: Fit{Sigma: math.Inf(1)}}
		nearest := 0.0
		for h := range s.set.entries[:s.active[t]] {
			e := &s.set.entries[h]
			fit := s.Fit(h, t)
			z := fit.Z()
			if !e.OneSided {
				z = math.Abs(z)
			}
			if ratio := z / th.Z[e.Cause.Class]; ratio > nearest {
				nearest = ratio
				a.Hypothesis, a.Fit, a.Threshold = h, fit, th.Z[e.Cause.Class]
			}
		}
		a.Raised = nearest > 1
		alarms[t] = a
	}
	return alarms
}
