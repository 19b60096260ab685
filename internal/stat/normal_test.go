package stat

import (
	"math"
	"testing"
)

// Factors of sections 1.3 and 7.4 of the method page.
func TestDetectionFactors(t *testing.T) {
	shown(t, "z .95", NormalQuantile(0.95), "1.6448536270")
	shown(t, "5 %/95 % factor", DetectionFactor(0.05, 0.95, 1), "3.2897072539")
	shown(t, "z .975", NormalQuantile(0.975), "1.9599639845")
	shown(t, "two-sided tail of 3", TwoSidedP(3), "0.0026997961")
	for _, c := range []struct {
		m                          int
		sidak, one, two, detection string
	}{
		{1, "0.05000000", "1.644854", "1.959964", "3.289707"},
		{6, "0.00851244", "2.386170", "2.631038", "4.031023"},
		{12, "0.00426532", "2.630313", "2.857843", "4.275166"},
		{39, "0.00131435", "3.008120", "3.212828", "4.652973"},
		{72, "0.00071215", "3.189680", "3.384857", "4.834533"},
		{500, "0.00010258", "3.712573", "3.884404", "5.357427"},
	} {
		each := Sidak(0.05, c.m)
		shown(t, "Sidak", each, c.sidak)
		shown(t, "z one-sided", NormalQuantile(1-each), c.one)
		shown(t, "z two-sided", NormalQuantile(1-each/2), c.two)
		shown(t, "factor", DetectionFactor(0.05, 0.95, c.m), c.detection)
	}
	for k, want := range map[float64]string{1: "0.259511", 2: "0.638760", 2.5: "0.803765", 3: "0.912315", 3.2897: "0.949999", 4: "0.990742"} {
		shown(t, "power", Power(0.05, k), want)
	}
}

func TestLogNormalCDF(t *testing.T) {
	for z := -29.0; z < 8; z += 0.5 {
		if got, want := logNormalCDF(z), math.Log(0.5*math.Erfc(-z/math.Sqrt2)); math.Abs(got-want) > 1e-12*math.Abs(want)+1e-15 {
			t.Errorf("log Phi(%v) = %v, want %v", z, got, want)
		}
	}
	// On both sides of the change of method, and far beyond what a float64 can hold as a probability.
	if a, b := logNormalCDF(-29.999999), logNormalCDF(-30.000001); math.Abs(a-b) > 2e-3 {
		t.Errorf("log Phi jumps from %v to %v at -30", a, b)
	}
	if got := logNormalCDF(-100); !(got < -5000 && got > -5010) {
		t.Errorf("log Phi(-100) = %v, want about -5005.5", got)
	}
}
