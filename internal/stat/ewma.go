package stat

import "math"

// EWMA returns the exponentially weighted moving average of a series that starts from target.
func EWMA(x []float64, target, lambda float64) []float64 {
	z := make([]float64, len(x))
	last := target
	for i, v := range x {
		last = lambda*v + (1-lambda)*last
		z[i] = last
	}
	return z
}

// EWMALimit returns how far the average of step (from 1) may be from its target: width times its standard
// deviation, sigma sqrt(lambda/(2-lambda) (1-(1-lambda)^2step)). A step of 0 stands for the steady state.
func EWMALimit(sigma, lambda, width float64, step int) float64 {
	variance := lambda / (2 - lambda)
	if step > 0 {
		variance *= 1 - math.Pow(1-lambda, 2*float64(step))
	}
	return width * sigma * math.Sqrt(variance)
}
