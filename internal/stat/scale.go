package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// MinHistory is the number of accepted balances below which nothing is said of how well the stated uncertainties
// fit, and a difference is not called real unless every uncertainty has a certificate.
const MinHistory = 12

// Scale is how well stated uncertainties fit: residuals scatter Kappa times as much as they say.
type Scale struct {
	Kappa     float64
	DF        int
	Low, High float64 // 95 % confidence limits of the true scale
}

// EstimateScale estimates the scale from whitened residuals (see [Model.Whitened]) of balances that were accepted
// as free of faults: kappa^2 = chi2/df. Multiply the uncertainties by Kappa ([Observations.Scaled]), and tell the
// alarm the degrees of freedom ([AlarmPolicy]). Use only a history from before the periods judged: an estimate
// from the same year hides what it should find.
func EstimateScale(u []float64) (Scale, error) {
	if len(u) < MinHistory {
		return Scale{}, fmt.Errorf("%d accepted balances: want at least %d to judge the stated uncertainties", len(u), MinHistory)
	}
	chi2 := dot(u, u)
	if !(chi2 > 0) {
		return Scale{}, fmt.Errorf("all %d accepted balances are exact: want measured ones", len(u))
	}
	df := float64(len(u))
	d := distuv.ChiSquared{K: df}
	return Scale{math.Sqrt(chi2 / df), len(u), math.Sqrt(chi2 / d.Quantile(0.975)), math.Sqrt(chi2 / d.Quantile(0.025))}, nil
}
