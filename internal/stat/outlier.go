package stat

import (
	"fmt"
	"math"
	"slices"
)

// GrubbsTest is the largest distance from the mean in standard deviations, of one value.
type GrubbsTest struct {
	Index    int
	G        float64
	Critical float64 // G above it is an outlier
}

// Grubbs tests the value farthest from the mean at level alpha (NIST/SEMATECH e-Handbook 1.3.5.17.1). Upper tests the
// largest value only. It is for one outlier: two hide each other, and the test must not be repeated on what is left;
// use [GeneralizedESD].
func Grubbs(x []float64, alpha float64, side Side) (GrubbsTest, error) {
	n := float64(len(x))
	if len(x) < 3 {
		return GrubbsTest{}, fmt.Errorf("%d values: want at least 3: %w", len(x), errFew)
	}
	m, sd := mean(x), deviation(x)
	if err := finite(sd); err != nil {
		return GrubbsTest{}, err
	}
	if sd == 0 {
		return GrubbsTest{}, fmt.Errorf("all %d values are %v: want values that differ", len(x), x[0])
	}
	t := GrubbsTest{G: math.Inf(-1)}
	tails := 1.0
	if side == TwoSided {
		tails = 2
	}
	for i, v := range x {
		g := (v - m) / sd
		if side == TwoSided {
			g = math.Abs(g)
		}
		if g > t.G {
			t.Index, t.G = i, g
		}
	}
	q := TQuantile(1-alpha/(tails*n), n-2)
	t.Critical = (n - 1) / math.Sqrt(n) * math.Sqrt(q*q/(n-2+q*q))
	return t, nil
}

// Side says in which direction a test looks.
type Side uint8

// The sides.
const (
	TwoSided Side = iota + 1
	Upper
)

// ESDTest is one round of the generalised extreme studentised deviate test.
type ESDTest struct {
	Index  int // of the value taken out in this round
	R      float64
	Lambda float64 // critical value
}

// GeneralizedESD tests for up to most outliers in either direction at level alpha (Rosner, Technometrics 25 (1983)
// 165; NIST/SEMATECH e-Handbook 1.3.5.17.3). The number of outliers is the last round whose R is above Lambda, even
// if an earlier one's is not.
func GeneralizedESD(x []float64, most int, alpha float64) (rounds []ESDTest, outliers int, err error) {
	if most < 1 || len(x) < most+3 {
		return nil, 0, fmt.Errorf("up to %d outliers of %d values: want at least 1, and 3 values more than outliers: %w", most, len(x), errFew)
	}
	if err := finite(deviation(x)); err != nil {
		return nil, 0, err
	}
	left := make([]int, len(x))
	for i := range left {
		left[i] = i
	}
	for i := 1; i <= most; i++ {
		values := make([]float64, len(left))
		for k, index := range left {
			values[k] = x[index]
		}
		m, sd := mean(values), deviation(values)
		if sd == 0 {
			break // what is left is one value
		}
		far := 0
		for k, v := range values {
			if math.Abs(v-m) > math.Abs(values[far]-m) {
				far = k
			}
		}
		n := float64(len(left))
		q := TQuantile(1-alpha/(2*n), n-2)
		round := ESDTest{left[far], math.Abs(values[far]-m) / sd, (n - 1) * q / math.Sqrt((n-2+q*q)*n)}
		if round.R > round.Lambda {
			outliers = i
		}
		rounds = append(rounds, round)
		left = slices.Delete(left, far, far+1)
	}
	return rounds, outliers, nil
}

// ModifiedZ is robust scores of values; more than 3.5 from zero is taken for an outlier.
type ModifiedZ struct {
	Z []float64
	// MeanDeviation marks scores from the mean absolute deviation, because half the values or more are equal.
	MeanDeviation bool
}

// ModifiedZScores returns 0.6745 (x - median)/MAD (Iglewicz and Hoaglin; NIST/SEMATECH e-Handbook 1.3.5.17). Where the
// median absolute deviation is zero it falls back to (x - median)/(1.253314 mean absolute deviation)
// (from memory, no source), and where that is zero all scores are.
func ModifiedZScores(x []float64) ModifiedZ {
	z := ModifiedZ{Z: make([]float64, len(x))}
	if len(x) == 0 {
		return z
	}
	middle := Median(x)
	distances := make([]float64, len(x))
	for i, v := range x {
		distances[i] = math.Abs(v - middle)
	}
	unit := Median(distances) / 0.6745
	if unit == 0 {
		z.MeanDeviation = true
		unit = 1.253314 * mean(distances)
	}
	for i, v := range x {
		if unit > 0 {
			z.Z[i] = (v - middle) / unit
		}
	}
	return z
}

// Median returns the middle of values, or the mean of the two middle ones. It leaves x as it is; of no values it is NaN.
func Median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}
