package weights

import (
	"math"
	"time"

	"repose/internal/screen"
	"repose/internal/stat"
)

// day is the values of one day of the yard's clock.
type day struct {
	start time.Time
	x     []float64
}

// days are values in order of time, by day.
type days struct {
	zone *time.Location
	list []day
	end  time.Time // of the last one
}

// add puts a value to its day, which is the last one or a later one.
func (s *days) add(at time.Time, x float64) {
	if len(s.list) == 0 || !at.Before(s.end) {
		y, m, d := at.In(s.zone).Date()
		s.list = append(s.list, day{start: time.Date(y, m, d, 0, 0, 0, 0, s.zone)})
		s.end = time.Date(y, m, d+1, 0, 0, 0, 0, s.zone)
	}
	last := &s.list[len(s.list)-1]
	last.x = append(last.x, x)
}

const (
	baseDays  = 10 // that a shift is held to, at least
	dayValues = 5  // that a day needs for its median to count
	// driftLevel is the probability that any series of a clean month leaves its limits, and slack half the shift that is
	// looked for, in standard deviations of a day's median.
	driftLevel = 0.005
	driftSlack = 0.5
)

// baseline is what a series was like before.
type baseline struct {
	target float64 // mean of the days' medians
	sigma  float64 // standard deviation of one value
	scale  float64 // by how much days scatter more than their values say, 1 or more
	values int
}

// se returns the standard deviation of the median of n values: pi/2 times the variance of a mean (from memory).
func (b baseline) se(n int) float64 { return b.scale * b.sigma * math.Sqrt(math.Pi/2/float64(n)) }

// newBaseline learns from days, leaving out those whose median is out of line; medians are those of the days.
func newBaseline(list []day, medians []float64) baseline {
	scores := stat.ModifiedZScores(medians).Z
	var b baseline
	var far, z []float64
	n := 0
	for i, m := range medians {
		if math.Abs(scores[i]) > 3.5 {
			continue
		}
		n++
		b.target += m
		b.values += len(list[i].x)
		for _, x := range list[i].x {
			far = append(far, math.Abs(x-m))
		}
	}
	b.target /= float64(n)
	b.sigma, b.scale = 1.4826*stat.Median(far), 1
	for i, m := range medians {
		if math.Abs(scores[i]) <= 3.5 {
			v := (m - b.target) / b.se(len(list[i].x))
			z = append(z, v*v)
		}
	}
	sum := 0.0
	for _, v := range z {
		sum += v
	}
	b.scale = max(math.Sqrt(sum/float64(len(z)-1)), 1)
	return b
}

// shift is a series that left its limits.
type shift struct {
	first          time.Time // day from which it seems to be off
	found          time.Time // day on which that showed
	size, se       float64
	values, before int
}

// interval returns the limits of the size with 95 % confidence.
func (s shift) interval() (low, high float64) {
	half := stat.NormalQuantile(0.975) * s.se
	return s.size - half, s.size + half
}

// shiftLimit returns what a cumulative sum of one of several series may reach in a month.
func shiftLimit(series int) float64 {
	return stat.PageLimit(driftLevel, driftSlack, longestMonth, 2*max(series, 1))
}

const longestMonth = 31

// shiftIn finds whether a series leaves its limits in the month: the cumulative sums of Page of its days' medians, in
// standard deviations from what they were before the month, or on its first ten days where there are not as many
// before. ok is false where it does not, or has too few days to say.
func shiftIn(d *screen.Data, s *days, limit float64) (found shift, ok bool) {
	var list []day
	var medians []float64
	before := 0
	for _, one := range s.list {
		if len(one.x) < dayValues {
			continue
		}
		list, medians = append(list, one), append(medians, stat.Median(one.x))
		if one.start.Before(d.Start) {
			before = len(list)
		}
	}
	if before = max(before, baseDays); len(list) <= before {
		return shift{}, false
	}
	base := newBaseline(list[:before], medians[:before])
	if !(base.sigma > 0) {
		return shift{}, false
	}
	var z []float64
	for i := before; i < len(list); i++ {
		z = append(z, (medians[i]-base.target)/base.se(len(list[i].x)))
	}
	up, down := stat.CUSUM(z, 0, driftSlack)
	for _, sums := range [][]float64{up, down} {
		for t, sum := range sums {
			if sum > limit {
				from := likeliestStart(z, sums, t)
				return base.shift(list[before+from:], list[before+t].start), true
			}
		}
	}
	return shift{}, false
}

// likeliestStart returns the day on which a shift that showed on a later one most likely began: that from which on the
// days, as long as their cumulative sum stays above zero, are off by the most for their number (maximum likelihood of one
// step, from memory).
func likeliestStart(z, sums []float64, shown int) int {
	end := shown + 1
	for end < len(z) && sums[end] > 0 {
		end++
	}
	best, most, sum := shown, 0.0, 0.0
	for i := end - 1; i >= 0; i-- {
		sum += z[i]
		if likelihood := sum * sum / float64(end-i); i <= shown && likelihood > most {
			best, most = i, likelihood
		}
	}
	return best
}

// shift measures by how much days are off.
func (b baseline) shift(list []day, found time.Time) shift {
	var all []float64
	for _, one := range list {
		all = append(all, one.x...)
	}
	s := shift{first: list[0].start, found: found, size: stat.Median(all) - b.target, values: len(all), before: b.values}
	s.se = math.Hypot(b.se(len(all)), b.se(b.values))
	return s
}
