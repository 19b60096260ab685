package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// NormalCDF returns the probability that a standard normal is at most z.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// NormalQuantile returns the z below which a standard normal lies with probability p.
func NormalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// TwoSidedP returns the probability that a standard normal is at least |z| from zero.
func TwoSidedP(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }

// Sidak returns the level of each of m independent tests that together have level alpha,
// 1 - (1-alpha)^(1/m).
func Sidak(alpha float64, m int) float64 { return -math.Expm1(math.Log1p(-alpha) / float64(m)) }

// logNormalCDF returns the logarithm of NormalCDF(z), precisely in both tails.
func logNormalCDF(z float64) float64 {
	switch {
	case z > 0:
		return math.Log1p(-0.5 * math.Erfc(z/math.Sqrt2))
	case z > -30:
		return math.Log(0.5 * math.Erfc(-z/math.Sqrt2))
	}
	// The first term of the asymptotic expansion (Abramowitz and Stegun 26.2.12, from memory); its error is 1/z^2
	// of the whole.
	return -0.5*z*z - math.Log(-z*math.Sqrt(2*math.Pi))
}

// DetectionFactor returns how many standard uncertainties a loss must have for one of m one-sided tests at joint
// level alpha (Sidak) to find it with the given power: z(1 - alpha') + z(power). It is 3.2897 for one test at
// 5 % and 95 %.
func DetectionFactor(alpha, power float64, m int) float64 {
	return NormalQuantile(1-Sidak(alpha, m)) + NormalQuantile(power)
}

// Power returns the probability that a one-sided test at level alpha finds a loss of k standard uncertainties.
func Power(alpha, k float64) float64 { return NormalCDF(k - NormalQuantile(1-alpha)) }
