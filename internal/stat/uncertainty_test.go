package stat

import (
	"math"
	"testing"
)

// The vectors are U1 to U24 of section 5 of the measurement page, which names the sources; "GUM" is JCGM 100:2008.

// gumH2 is the raw data of GUM H.2, table H.2: V in V, I in A, phase in rad.
func gumH2() [][]float64 {
	return [][]float64{
		{5.007, 4.994, 5.005, 4.990, 4.999},
		{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
		{1.0456, 1.0438, 1.0468, 1.0428, 1.0433},
	}
}

// impedance returns resistance, reactance and modulus, with their sensitivity coefficients.
func impedance(v, i, phase float64) (values []float64, coefficients [][]float64) {
	z := v / i
	sin, cos := math.Sincos(phase)
	return []float64{z * cos, z * sin, z}, [][]float64{
		{cos / i, -z * cos / i, -z * sin},
		{sin / i, -z * sin / i, z * cos},
		{1 / i, -z / i, 0},
	}
}

func roots(v [][]float64) []float64 {
	var u []float64
	for i := range v {
		u = append(u, math.Sqrt(v[i][i]))
	}
	return u
}

// correlations returns r(0,1), r(0,2) and r(1,2).
func correlations(v [][]float64) []float64 {
	u := roots(v)
	return []float64{v[0][1] / (u[0] * u[1]), v[0][2] / (u[0] * u[2]), v[1][2] / (u[1] * u[2])}
}

func TestGUMH2(t *testing.T) {
	means, v := MeanCovariance(gumH2())
	shownAll(t, "U1", []float64{means[0], 1000 * means[1], means[2]}, "4.9990 19.6610 1.044460")
	shownAll(t, "U2", roots(v), "0.00320936 9.47101e-6 0.000752064")
	shownAll(t, "U3", correlations(v), "-0.355311 0.857624 -0.645111")
	values, c := impedance(means[0], means[1], means[2])
	shownAll(t, "U4", values, "127.732170 219.846512 254.259702")
	out := Propagate(c, v)
	shownAll(t, "U5", roots(out), "0.0710714 0.2955817 0.2363361")
	shownAll(t, "U6", correlations(out), "-0.588430 -0.485259 0.992512")

	// U7: from the rounded values that the GUM prints.
	values, c = impedance(4.999, 19.661e-3, 1.04446)
	shownAll(t, "U4, GUM", values, "127.732 219.847 254.260")
	rounded := []float64{0.0032, 0.0095e-3, 0.00075}
	out = Propagate(c, CovarianceOf(rounded, [][]float64{{1, -0.36, 0.86}, {-0.36, 1, -0.65}, {0.86, -0.65, 1}}))
	shownAll(t, "U7", roots(out), "0.0699787280 0.2957168268 0.2366029718")
	shownAll(t, "U7", correlations(out), "-0.5914846108 -0.4906239054 0.9927974727")
}

// U8: taken as independent the inputs give other uncertainties. U9: the second approach of GUM H.2.4.
func TestGUMH2OtherWays(t *testing.T) {
	means, v := MeanCovariance(gumH2())
	_, c := impedance(means[0], means[1], means[2])
	identity := [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	// The page has 0.194545 for the first; from the raw data it is 0.19454445.
	shownAll(t, "U8", roots(Propagate(c, CovarianceOf(roots(v), identity))), "0.194544 0.200909 0.204076")

	raw := gumH2()
	results := make([][]float64, 3)
	for k := range raw[0] {
		values, _ := impedance(raw[0][k], raw[1][k], raw[2][k])
		for j, value := range values {
			results[j] = append(results[j], value)
		}
	}
	means, v = MeanCovariance(results)
	shownAll(t, "U9", means, "127.731630 219.846895 254.260050")
	shownAll(t, "U9", roots(v), "0.0712735 0.2954891 0.2362475")
}

// GUM H.1, the end gauge.
func TestGUMH1(t *testing.T) {
	d := Combine(Component{5.8, 24}, Component{3.9, 5}, Component{6.7, 8})
	shown(t, "U10 u", d.U, "9.681942")
	shown(t, "U10 df", d.DF, "25.44725")
	l := Combine(Component{25, 18}, d, Component{2.8868, 50}, Component{16.599, 2})
	shown(t, "U11 u", l.U, "31.66")
	shown(t, "U11 df", l.DF, "16.75")
	k, _ := l.Expanded(0.99)
	shown(t, "U12 t99(16)", k, "2.920782") // U16: 16.75 is cut down to 16, GUM G.4.1
	_, u := Component{32, l.DF}.Expanded(0.99)
	shown(t, "U12", u, "93")
	rounded := Combine(Component{25, 18}, Component{9.7, 25.6}, Component{2.9, 50}, Component{16.6, 2})
	// U13: from the printed 32 as well, where 16.7 is right.
	shown(t, "U13", math.Pow(32/rounded.U, 4)*rounded.DF, "17.47")
	shown(t, "U14", Combine(Component{0.2, math.Inf(1)}, Component{Arcsine(0.5), math.Inf(1)}).U, "0.406202")
}

func TestOtherPublishedUncertainties(t *testing.T) {
	inf := math.Inf(1)
	shown(t, "U17", Combine(Component{0.1, inf}, Component{2 * 0.3, 6}, Component{3 * 0.2, 8}, Component{0.5 * 1.1, 3}).DF, "15.60796")
	k, u := Component{0.35, 9}.Expanded(0.95)
	shown(t, "U18 k", k, "2.262157")
	shown(t, "U18", u, "0.79")
	shown(t, "U19", Combine(Component{0.13, inf}, Component{0.05, inf}, Component{0.22, inf}).U, "0.260384")
	y := 2.46 * 4.32 / (6.38 * 2.99)
	relative := Combine(Component{0.02 / 2.46, inf}, Component{0.13 / 4.32, inf}, Component{0.11 / 6.38, inf}, Component{0.07 / 2.99, inf}).U
	shown(t, "U20 y", y, "0.557092")
	shown(t, "U20 relative", relative, "0.042627")
	shown(t, "U20", y*relative, "0.023747")

	volume := Combine(Component{Triangular(0.1), inf}, Component{0.02, inf}, Component{Rectangular(0.084), inf}).U
	shown(t, "U21 u(V)", volume, "0.0664731")
	c := 1000 * 100.28 * 0.9999 / 100
	shown(t, "U21 c", c, "1002.69972")
	shown(t, "U21", c*Combine(Component{0.05 / 100.28, inf}, Component{Rectangular(0.0001) / 0.9999, inf}, Component{volume / 100, inf}).U, "0.8351992")

	mass := Combine(Component{Rectangular(0.15e-3), inf}, Component{Rectangular(0.15e-3), inf}).U
	shown(t, "U22 u(m)", mass, "0.000122474")
	c = 1000 * 0.3888 / (204.2212 * 18.64)
	shown(t, "U22 c", c, "0.102136159707")
	// The molar mass of C8H5O4K has the uncertainties of the atomic weights; those are from memory.
	molar := Combine(Component{8 * Rectangular(0.0008), inf}, Component{5 * Rectangular(0.00007), inf},
		Component{4 * Rectangular(0.0003), inf}, Component{Rectangular(0.0001), inf}).U
	u = c * Combine(Component{mass / 0.3888, inf}, Component{Rectangular(0.0005), inf}, Component{0.0005, inf},
		Component{molar / 204.2212, inf}, Component{math.Hypot(Triangular(0.03), 0.006) / 18.64, inf}).U
	shown(t, "U22", u, "0.000100500722")
	shown(t, "U22 U", 2*u, "0.000201")
	shown(t, "U24", Combine(Component{2, inf}, Component{1, inf}).U, "2.236")
	shown(t, "U24", Combine(Component{1.5, inf}, Component{2, inf}).U, "2.5")
}

// U23: GUM H.3, a thermometer's corrections on temperature less 20 C. The data, table H.6, are from memory; the results
// are published.
func TestGUMH3(t *testing.T) {
	temperature := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	correction := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	above := each(temperature, func(x float64) float64 { return x - 20 })
	f := must(FitPolynomial(above, correction, 1))(t)
	shown(t, "intercept", f.Coefficient(0).Value, "-0.171204")
	shown(t, "u", f.Coefficient(0).SE, "0.0028776")
	shown(t, "slope", f.Coefficient(1).Value, "0.00218270")
	shown(t, "u", f.Coefficient(1).SE, "0.00066794")
	shown(t, "r", f.Correlation(0, 1), "-0.930430")
	at30 := f.Predict(10)
	shown(t, "b(30)", at30.Value, "-0.149377")
	shown(t, "u", at30.SE, "0.0041386")
}

// W18 to W23 of section 4.4 of the measurement page: from tolerances to standard uncertainties.
func TestTolerances(t *testing.T) {
	shown(t, "W18, rectangular", Rectangular(0.40), "0.230940")
	shown(t, "W17, 1 %", 100*Rectangular(0.01), "0.57735")
	shown(t, "W19, triangular", Triangular(0.1), "0.040825")
	shown(t, "W20, resolution", Resolution(20), "5.7735")
	shown(t, "W21, expanded", FromExpanded(240, 3), "80")
	shown(t, "W22, 99 %", FromExpanded(129, 2.58), "50")
	shown(t, "W23, even", Even(0.04), "0.0592")
	shown(t, "W24, gross less tare", math.Sqrt2*Rectangular(0.15), "0.122474")
	shown(t, "t of infinitely many", TQuantile(0.975, math.Inf(1)), "1.959964")
}
