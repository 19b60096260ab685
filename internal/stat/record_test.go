package stat

import (
	"math"
	"slices"
	"testing"
)

// Grubbs' test of the data of NIST/SEMATECH e-Handbook 1.3.5.17.1, a copy of which is named in section 6 of the method
// page: published G 2.4687, critical 2.032 (one-sided).
func TestGrubbs(t *testing.T) {
	x := published(t, "URA")
	shown(t, "mean", mean(x), "206.43375")
	shown(t, "sd", deviation(x), "15.85256440")
	upper := must(Grubbs(x, 0.05, Upper))(t)
	shown(t, "G", upper.G, "2.46876461")
	shown(t, "critical, published", upper.Critical, "2.032")
	shown(t, "critical", upper.Critical, "2.03165200")
	both := must(Grubbs(x, 0.05, TwoSided))(t)
	shown(t, "critical, two-sided", both.Critical, "2.12664509")
	if x[upper.Index] != 245.57 || x[both.Index] != 245.57 {
		t.Errorf("farthest are %v and %v, want 245.57", x[upper.Index], x[both.Index])
	}
	// The largest z-score there can be among 8 is (n-1)/sqrt n, so that |z| > 3 never fires.
	extreme := must(Grubbs([]float64{0, 0, 0, 0, 0, 0, 0, 1e6}, 0.05, Upper))(t)
	shown(t, "ceiling", extreme.G, "2.47487373")
}

// Modified z-scores of the same data: 29.96 published.
func TestModifiedZ(t *testing.T) {
	z := ModifiedZScores(published(t, "URA"))
	shownAll(t, "M", z.Z, "-1.3965 -1.2473 -0.7999 -0.3728 0.3728 0.3932 0.5491 29.9627")
	shown(t, "median", Median(published(t, "URA")), "201.3700")
	if z.MeanDeviation {
		t.Error("fell back to the mean deviation")
	}
}

func TestModifiedZFallsBack(t *testing.T) {
	z := ModifiedZScores([]float64{20, 20, 20, 20, 25})
	if !z.MeanDeviation || math.Abs(z.Z[4]-5/(1.253314*1)) > 1e-9 || z.Z[0] != 0 {
		t.Errorf("scores %v, want 0 and 5/1.253314 from a mean deviation of 1", z)
	}
	if z := ModifiedZScores([]float64{20, 20}); !slices.Equal(z.Z, []float64{0, 0}) {
		t.Errorf("scores of equal values %v, want zeros", z.Z)
	}
	if z := ModifiedZScores(nil); len(z.Z) != 0 {
		t.Errorf("scores of nothing %v", z.Z)
	}
}

// Rosner's 54 values, NIST/SEMATECH e-Handbook 1.3.5.17.3: published R 3.119 2.943 3.179 2.810 2.816, lambda 3.159 3.151
// 3.144 3.136 3.128, three outliers.
func TestGeneralizedESD(t *testing.T) {
	rounds, outliers, err := GeneralizedESD(published(t, "ROS"), 10, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	shownAll(t, "R", each(rounds, func(r ESDTest) float64 { return r.R }),
		"3.118906 2.942973 3.179424 2.810181 2.815580 2.848172 2.279327 2.310366 2.101581 2.067178")
	shownAll(t, "lambda", each(rounds, func(r ESDTest) float64 { return r.Lambda }),
		"3.158794 3.151430 3.143890 3.136165 3.128247 3.120128 3.111796 3.103243 3.094456 3.085425")
	if outliers != 3 {
		t.Errorf("%d outliers, want 3, though the first two rounds pass", outliers)
	}
}

func TestOutliersRefuse(t *testing.T) {
	if _, err := Grubbs([]float64{1, 2}, 0.05, TwoSided); err == nil {
		t.Error("Grubbs' test of two values was accepted")
	}
	if _, err := Grubbs([]float64{5, 5, 5}, 0.05, TwoSided); err == nil {
		t.Error("Grubbs' test of equal values was accepted")
	}
	if _, _, err := GeneralizedESD([]float64{1, 2, 3}, 1, 0.05); err == nil {
		t.Error("ESD of three values was accepted")
	}
	if _, _, err := GeneralizedESD([]float64{1, 2, 3, 4}, 0, 0.05); err == nil {
		t.Error("ESD for no outliers was accepted")
	}
	if rounds, n, err := GeneralizedESD([]float64{1, 1, 1, 1, 1, 9}, 3, 0.05); err != nil || len(rounds) != 1 || n != 1 {
		t.Errorf("rounds %v, outliers %d, %v: want one round, since what is left is equal", rounds, n, err)
	}
}

// Section 6 of the method page, computed there.
func TestTicketCounts(t *testing.T) {
	shown(t, "7 missing of 480 at 0.5 %", BinomialTail(480, 7, 0.005), "0.01137777")
	load := Load{Mean: 25, Deviation: 0.60}
	p := load.EqualNetChance(0.02)
	shown(t, "equal nets", p, "0.00940316")
	shown(t, "pairs among 10", 45*p, "0.423142")
	shown(t, "pairs among 30", 435*p, "4.090374")

	n := LoadsIn(Fit{812, 305}, Load{20.3, 1.6})
	shown(t, "loads", n.Loads, "40.00")
	shown(t, "se", n.SE, "15.03")
	shown(t, "from", n.Low, "10.54")
	shown(t, "to", n.High, "69.46")
	shown(t, "P(none)", n.None, "0.000770")
	shown(t, "share of load scatter, %", 100*40*1.6*1.6/(305*305+40*1.6*1.6), "0.11")
	mass, sigma := Load{20.3, 1.6}.Total(40)
	shown(t, "mass of 40", mass, "812.0")
	shown(t, "its sd", sigma, "128.7866")
}

func TestBinomialTailEnds(t *testing.T) {
	for _, c := range []struct {
		n, k int
		want float64
	}{{5, 0, 1}, {5, -1, 1}, {5, 6, 0}, {2, 1, 0.75}, {2, 2, 0.25}} {
		if got := BinomialTail(c.n, c.k, 0.5); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("P(X >= %d of %d) = %v, want %v", c.k, c.n, got, c.want)
		}
	}
}

// The limits hold by definition: a mean at the lower limit gives count or more with half the rest, and so on.
func TestPoissonInterval(t *testing.T) {
	for _, count := range []int{0, 1, 3, 17} {
		low, high := PoissonInterval(count, 0.95)
		if below := poissonCDF(count, high); math.Abs(below-0.025) > 1e-9 {
			t.Errorf("%d: P(X <= count) at the upper limit %v is %v, want 0.025", count, high, below)
		}
		if count == 0 {
			if low != 0 {
				t.Errorf("lower limit of 0 is %v, want 0", low)
			}
			continue
		}
		if above := 1 - poissonCDF(count-1, low); math.Abs(above-0.025) > 1e-9 {
			t.Errorf("%d: P(X >= count) at the lower limit %v is %v, want 0.025", count, low, above)
		}
	}
	// Garwood's limits of 3 from memory: 0.6187 and 8.7673.
	low, high := PoissonInterval(3, 0.95)
	shown(t, "low of 3, from memory", low, "0.6187")
	shown(t, "high of 3, from memory", high, "8.7673")
}

func poissonCDF(k int, mean float64) float64 {
	term := math.Exp(-mean)
	sum := term
	for i := 1; i <= k; i++ {
		term *= mean / float64(i)
		sum += term
	}
	return sum
}

func TestLastNumber(t *testing.T) {
	// All of 1..60 seen: the estimate is the last itself. (Formula from memory.)
	if got := LastNumber(60, 60); got != 60 {
		t.Errorf("last number %v, want 60", got)
	}
	if got := LastNumber(60, 4); got != 74 {
		t.Errorf("last number %v, want 74", got)
	}
}
