package stat

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// BinomialTail returns the probability of k or more in n with probability p each: how likely so many missing ticket
// numbers are, if p is the usual rate of voids.
func BinomialTail(n, k int, p float64) float64 {
	switch {
	case k <= 0:
		return 1
	case k > n:
		return 0
	}
	return mathext.RegIncBeta(float64(k), float64(n-k+1), p)
}

// PoissonInterval returns the exact limits of the mean of a Poisson variable of which count was seen (Garwood,
// Biometrika 28 (1936) 437).
func PoissonInterval(count int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	if count > 0 {
		low = distuv.ChiSquared{K: 2 * float64(count)}.Quantile(tail) / 2
	}
	return low, distuv.ChiSquared{K: 2 * float64(count+1)}.Quantile(1-tail) / 2
}

// Load is the usual mass of a truckload in t: its mean and its standard deviation.
type Load struct{ Mean, Deviation float64 }

// LoadCount is how many truckloads a loss may be.
type LoadCount struct {
	Loads, SE float64
	Low, High float64 // 95 %
	None      float64 // probability of no load at all, where any number was as likely as another before
}

// LoadsIn turns a loss into truckloads. The scatter of loads matters little beside the uncertainty of the loss.
func LoadsIn(loss Fit, load Load) LoadCount {
	n := loss.Size / load.Mean
	deviation := func(n float64) float64 {
		return math.Sqrt(loss.Sigma*loss.Sigma + max(n, 0)*load.Deviation*load.Deviation)
	}
	c := LoadCount{Loads: n, SE: deviation(n) / load.Mean}
	half := NormalQuantile(0.975) * c.SE
	c.Low, c.High = n-half, n+half
	density := func(k float64) float64 {
		d := deviation(k)
		return normalDensity((loss.Size-k*load.Mean)/d) / d
	}
	total := 0.0
	for k := 0.0; k <= max(n, 0)+10*c.SE+1; k++ {
		total += density(k)
	}
	c.None = density(0) / total
	return c
}

// Total returns the mean and the standard deviation in t of the mass of a random number of loads with a mean number (compound
// Poisson: variance is number x (mean^2 + deviation^2)).
func (l Load) Total(number float64) (mass, sigma float64) {
	return number * l.Mean, math.Sqrt(number * (l.Mean*l.Mean + l.Deviation*l.Deviation))
}

// EqualNetChance returns the probability that two loads have the same net weight by chance, for weights in divisions
// of d t and loads that scatter by a standard deviation: d/(2 sqrt(pi) deviation). Equal weights alone are
// no evidence of a duplicate: n loads have n(n-1)/2 times as many pairs.
func (l Load) EqualNetChance(division float64) float64 {
	return division / (2 * math.SqrtPi * l.Deviation)
}

// LastNumber estimates the last number of a book of tickets of which k were seen, the highest being highest, counted
// from 1: highest (1 + 1/k) - 1.
func LastNumber(highest, k int) float64 { return float64(highest)*(1+1/float64(k)) - 1 }
