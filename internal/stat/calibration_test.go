package stat

import (
	"math"
	"testing"
)

// Reference sets of section 5.2 of the method page, which names where each was read.

// NIST StRD Norris: certified values.
func TestNorris(t *testing.T) {
	f := must(FitPolynomial(published(t, "NOR_X"), published(t, "NOR_Y"), 1))(t)
	certified(t, "b0", f.Coefficient(0).Value, -0.262323073774029)
	certified(t, "b1", f.Coefficient(1).Value, 1.00211681802045)
	certified(t, "se b0", f.Coefficient(0).SE, 0.232818234301152)
	certified(t, "se b1", f.Coefficient(1).SE, 0.429796848199937e-03)
	certified(t, "s", f.S, 0.884796396144373)
	certified(t, "R2", f.R2, 0.999993745883712)
	certified(t, "RSS", f.RSS, 26.6173985294224)
	// Computed on the page: is the scale right throughout?
	shown(t, "t(b1 = 1)", f.Coefficient(1).T(1), "4.925159")
	shown(t, "p", f.Coefficient(1).P(1), "2.147e-05")
	statistic, p, err := f.JointTest(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	shown(t, "F(0, 1)", statistic, "21.110035")
	shown(t, "p", p, "1.096e-06")
}

// NIST StRD Pontius, a load cell with a quadratic: certified values.
func TestPontius(t *testing.T) {
	x, y := published(t, "PON_X"), published(t, "PON_Y")
	f := must(FitPolynomial(x, y, 2))(t)
	certified(t, "B0", f.Coefficient(0).Value, 0.673565789473684e-03)
	certified(t, "B1", f.Coefficient(1).Value, 0.732059160401003e-06)
	certified(t, "B2", f.Coefficient(2).Value, -0.316081871345029e-14)
	certified(t, "se B0", f.Coefficient(0).SE, 0.107938612033077e-03)
	certified(t, "se B1", f.Coefficient(1).SE, 0.157817399981659e-09)
	certified(t, "se B2", f.Coefficient(2).SE, 0.486652849992036e-16)
	certified(t, "s", f.S, 0.205177424076185e-03)
	certified(t, "R2", f.R2, 0.999999900178537)
	shown(t, "t of the quadratic", f.Coefficient(2).T(0), "-64.9502")
	shown(t, "s of a straight line", must(FitPolynomial(x, y, 1))(t).S, "2.171272596e-03")
}

// NIST LOADCELL.DAT, quadratic: computed on the page; -0.18398E-04, 0.100102, 0.70319E-05 are from memory there.
func TestLoadCell(t *testing.T) {
	f := must(FitPolynomial(published(t, "LC_X"), published(t, "LC_Y"), 2))(t)
	shown(t, "a, from memory", f.Coefficient(0).Value, "-0.18398E-04")
	shown(t, "b, from memory", f.Coefficient(1).Value, "0.100102")
	shown(t, "c, from memory", f.Coefficient(2).Value, "0.70319E-05")
	// The page's -1.8398046726e-05 is one unit off in the last digit; this is from exact fractions.
	certified(t, "a", f.Coefficient(0).Value, -1.839804672679876e-05)
	shown(t, "b", f.Coefficient(1).Value, "1.0010248540e-01")
	shown(t, "c", f.Coefficient(2).Value, "7.0318651148e-06")
	shown(t, "s", f.S, "3.76402942e-05")
}

// Bland and Altman, Lancet i (1986) 307: peak flow by two meters. The paper prints -2.1, 38.8, -78.1 and 73.9.
func TestBlandAltman(t *testing.T) {
	a := must(Pairs{published(t, "BA_W"), published(t, "BA_M")}.Agreement())(t)
	shown(t, "mean", a.Bias.Value, "-2.11764705882")
	shown(t, "sd", a.Deviation, "38.7651298736")
	shown(t, "low, published", a.Low, "-78.1")
	shown(t, "high, published", a.High, "73.9")
	shown(t, "low", a.Low, "-78.0959054671")
	shown(t, "high", a.High, "73.8606113495")
	shown(t, "bias from", a.Bias.Low, "-22.0488376966")
	shown(t, "bias to", a.Bias.High, "17.8135435790")
	shown(t, "se of a limit", a.LimitSE, "16.284612")
}

// Giavarina, Biochemia Medica 25 (2015) 141: data read; the paper's -27.2 and 34.8 from memory.
func TestGiavarina(t *testing.T) {
	p := Pairs{published(t, "GI_1"), published(t, "GI_2")}
	a := must(p.Agreement())(t)
	shown(t, "mean, from memory", a.Bias.Value, "-27.2")
	shown(t, "mean", a.Bias.Value, "-27.16666667")
	shown(t, "sd", a.Deviation, "34.80594810")
	// The page's limits are at 1.96 rather than at the quantile.
	shown(t, "low", a.Bias.Value-1.96*a.Deviation, "-95.386325")
	shown(t, "high", a.Bias.Value+1.96*a.Deviation, "41.052992")
	shown(t, "bias from", a.Bias.Low, "-40.163421")
	shown(t, "bias to", a.Bias.High, "-14.169912")
	shown(t, "t", a.Bias.T(0), "-4.275073")
	r := must(p.RelativeAgreement())(t)
	shown(t, "percent mean", 100*r.Bias.Value, "-17.399896")
	shown(t, "percent sd", 100*r.Deviation, "38.661955")
}

// Deming's line: an example of a statistics program's manual (chapter 303, example 1), error variances .032 of x and
// .008 of y; published slope, intercept and interval.
func TestDeming(t *testing.T) {
	x, y := published(t, "DE_X"), published(t, "DE_Y")
	l := must(Deming(x, y, 0.008/0.032))(t)
	certified(t, "slope", l.Slope.Value, 1.00119422781949)
	certified(t, "intercept", l.Intercept.Value, -0.0897448990070444)
	shown(t, "slope from", l.Slope.Low, "0.5695632")
	shown(t, "slope to", l.Slope.High, "1.4328253")
	shown(t, "se slope", l.Slope.SE, "0.187177053")
	shown(t, "se intercept", l.Intercept.SE, "1.721987413")
	shown(t, "intercept from", l.Intercept.Low, "-4.0606550")
	shown(t, "intercept to", l.Intercept.High, "3.8811652")
	shown(t, "t", TQuantile(0.975, 8), "2.306004")

	// The page has 0.8905995051; from exact fractions it is 0.89059950500927.
	for lambda, want := range map[float64][2]string{1: {"0.3909253772", "0.9422885567"}, 0.032 / 0.008: {"0.8127080391", "0.8905995050"}} {
		l := must(Deming(x, y, lambda))(t)
		shown(t, "intercept", l.Intercept.Value, want[0])
		shown(t, "slope", l.Slope.Value, want[1])
	}
}

// Pearson's data with York's weights (York 1966).
func TestYork(t *testing.T) {
	l := must(Weighted(published(t, "YO_X"), published(t, "YO_Y"), published(t, "YO_WX"), published(t, "YO_WY")))(t)
	shown(t, "a", l.Intercept.Value, "5.47991022403")
	shown(t, "b", l.Slope.Value, "-0.48053340745")
	shown(t, "S/8", l.Chi2/8, "1.483294149")
	shown(t, "se a", l.Intercept.SE, "0.294970735")
	shown(t, "se b", l.Slope.SE, "0.0579850090")
}

// The invented loader and deck pairs of section 5.2 of the method page.
func TestLoaderAgainstDeck(t *testing.T) {
	p := Pairs{
		Reference: []float64{26.12, 25.48, 27.06, 24.90, 26.74, 25.88, 27.32, 24.66, 26.40, 25.94, 26.82, 25.20},
		Judged:    []float64{26.30, 25.58, 27.36, 25.02, 27.04, 26.10, 27.66, 24.88, 26.76, 26.26, 27.22, 25.52},
	}
	bias := must(p.Bias())(t)
	shown(t, "bias, %", 100*bias.Value, "1.011610")
	shown(t, "sd, %", 100*bias.SE*math.Sqrt(12), "0.350870")
	shown(t, "t", bias.T(0), "9.987517")
	shown(t, "p", bias.P(0), "7.5e-07")
	ratio := must(p.Ratio())(t)
	shown(t, "ratio of totals", ratio.Value, "1.01017535")
	if !(ratio.Low < ratio.Value-0.002 && ratio.Low > 1 && ratio.High > ratio.Value+0.002) {
		t.Errorf("ratio lies in %v..%v, want an interval of some 0.2 %% above 1", ratio.Low, ratio.High)
	}
	order := make([]float64, 12)
	for i := range order {
		order[i] = float64(i)
	}
	drift := must(p.Drift(order))(t)
	shown(t, "drift, % a pair", 100*drift.Value, "0.074360")
	shown(t, "se", 100*drift.SE, "0.019851")
	shown(t, "t", drift.T(0), "3.745908")
	shown(t, "p", drift.P(0), "0.00381")
}

func TestCalibrationRefuses(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5}
	for name, f := range map[string]func() error{
		"one pair":             func() error { _, err := (Pairs{x[:1], x[:1]}).Bias(); return err },
		"pairs without mates":  func() error { _, err := (Pairs{x, x[:4]}).Ratio(); return err },
		"a mass of zero":       func() error { _, err := (Pairs{[]float64{1, 0}, []float64{1, 1}}).Ratio(); return err },
		"drift of two":         func() error { _, err := (Pairs{x[:2], x[:2]}).Drift(x[:2]); return err },
		"agreement of one":     func() error { _, err := (Pairs{x[:1], x[:1]}).Agreement(); return err },
		"as many coefficients": func() error { _, err := FitPolynomial(x[:3], x[:3], 2); return err },
		"one x":                func() error { _, err := FitPolynomial([]float64{2, 2, 2}, x[:3], 1); return err },
		"x of zero":            func() error { _, err := FitPolynomial([]float64{0, 0, 0}, x[:3], 1); return err },
		"Deming of three":      func() error { _, err := Deming(x[:3], x[:3], 1); return err },
		"Deming, lambda 0":     func() error { _, err := Deming(x, x, 0); return err },
		"Deming, level":        func() error { _, err := Deming(x, []float64{1, 1, 1, 1, 1}, 1); return err },
		"York, weight 0":       func() error { _, err := Weighted(x, x, x, []float64{1, 1, 0, 1, 1}); return err },
		"York of two":          func() error { _, err := Weighted(x[:2], x[:2], x[:2], x[:2]); return err },
	} {
		if f() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}
