package stat

import (
	"math"
	"strings"
	"testing"
)

// Mean run lengths of a two-sided CUSUM with k = 0.5: computed values of section 1.3 of the method page, which round to
// Montgomery's table (168, 74.2, 26.6, 8.38, 3.34, 2.19 for h = 4; 465, 139, 38.0, 10.4, 4.01, 2.57 for h = 5; from
// memory there).
func TestPageRunLength(t *testing.T) {
	for _, c := range []struct {
		shift      float64
		four, five string
	}{
		{0, "167.6838", "465.4435"}, {0.25, "74.2240", "139.4937"}, {0.5, "26.6302", "37.9961"},
		{1, "8.3831", "10.3760"}, {2, "3.3428", "4.0089"}, {3, "2.1945", "2.5733"},
	} {
		for h, want := range map[float64]string{4: c.four, 5: c.five} {
			up, down := PageRunLength(h, 0.5, c.shift), PageRunLength(h, 0.5, -c.shift)
			shown(t, "run length", 1/(1/up+1/down), want)
		}
	}
	shown(t, "one-sided, h = 4", PageRunLength(4, 0.5, 0), "335.3676")
	shown(t, "one-sided, h = 5", PageRunLength(5, 0.5, 0), "930.8870")
}

// The limits of section 1.3 of the method page. They were computed there from a chain of about 300 equal cells, whose
// last digit is still falling as cells are added: 4.1363 is 4.1362 in the limit, and 6.3524 is 6.3522.
func TestPageLimit(t *testing.T) {
	for _, c := range []struct {
		n, series int
		want      float64
	}{
		{12, 1, 3.3745}, {24, 1, 4.1363}, {12, 6, 4.8067}, {24, 6, 5.7359}, {12, 12, 5.3482}, {24, 12, 6.3524},
	} {
		h := PageLimit(0.05, 0.5, c.n, c.series)
		if math.Abs(h-c.want) > 2.5e-4 {
			t.Errorf("h for %d steps of %d series = %.5f, want %.4f", c.n, c.series, h, c.want)
		}
		// The same from equal cells, extrapolated to none.
		few, many := cellSurvival(h, 0.5, c.n, 60), cellSurvival(h, 0.5, c.n, 120)
		if got, want := math.Pow(many+(many-few)/3, float64(c.series)), 0.95; math.Abs(got-want) > 1e-5 {
			t.Errorf("%d steps of %d series stay below h with probability %.6f, want %.2f", c.n, c.series, got, want)
		}
	}
}

// cellSurvival is the probability that a cumulative sum stays below h, from the chain of Brook and Evans with equal cells.
func cellSurvival(h, k float64, n, cells int) float64 {
	width := 2 * h / float64(2*cells-1)
	alive := make([]float64, cells)
	for i := range alive {
		alive[i] = 1
	}
	for range n {
		before := make([]float64, cells)
		for i := range before {
			below := 0.0 // the first cell takes all that falls to zero
			for j := range alive {
				upTo := NormalCDF((float64(j-i)+0.5)*width + k)
				before[i] += (upTo - below) * alive[j]
				below = upTo
			}
		}
		alive = before
	}
	return alive[0]
}

// Montgomery, Introduction to Statistical Quality Control, example 9.1 (data and sums as in section 4.1 of the
// method page, which names the copies).
func TestCUSUMMontgomery(t *testing.T) {
	x := published(t, "MONT")
	up, down := CUSUM(x, 10, 0.5)
	shownAll(t, "C+", up, "0 0 0 1.16 2.82 2.50 0.04 1.00 0 0 0 0.97 0.98 0 0 0 0.12 0 0 0.34 0.74 0 1.79 2.79 2.89 3.47 3.35 4.47 5.28 5.30")
	shownAll(t, "C-", down, "0.05 1.56 1.77 0 0 0 1.46 0 0.30 0 0.47 0 0 0.10 0 0.13 0 0 0.98 0 0 0.17 0 0 0 0 0 0 0 0")
	if i := firstAbove(up, 5); i != 29 {
		t.Errorf("signal at %d, want 29", i)
	}
	run := 0
	for i := 28; up[i] > 0; i-- {
		run++
	}
	if run != 7 {
		t.Errorf("the sum has been above zero for %d, want 7", run)
	}
	shown(t, "new mean", 10+0.5+up[28]/float64(run), "11.254286")
}

// firstAbove returns the place, from 1, of the first value above a limit, and 0 for none.
func firstAbove(x []float64, limit float64) int {
	for i, v := range x {
		if v > limit {
			return i + 1
		}
	}
	return 0
}

// NIST/SEMATECH e-Handbook 6.3.2.3, its data and recomputed columns (section 4.2 of the method page: the printed
// ones agree to 0.005).
func TestCUSUMHandbook(t *testing.T) {
	x := published(t, "NIST_CU")
	up, down := CUSUM(x, 325, 0.3175)
	shownAll(t, "S_hi", up, "0 0 0 0 0.0325 0 0 0 0 0 0 0 3.0075 4.9400 7.4475 10.6300 11.9875 14.4450 16.0025 19.0350")
	shownAll(t, "S_lo", down, "0 0.0075 0 0.3325 0 0 0.5575 0.7150 0.1725 0.2550 0.3125 0 0 0 0 0 0 0 0 0")
	if i := firstAbove(up, 4.1959); i != 14 {
		t.Errorf("signal at group %d, want 14", i)
	}
	sum := 0.0
	for i, want := range strings.Fields("-0.075 -0.400 -0.675 -1.325 -0.975 -0.750 -1.625 -2.100 -1.875 -2.275 -2.650 -2.500 0.825 3.075 5.900 9.400 11.075 13.850 15.725 19.075") {
		sum += x[i] - 325
		shown(t, "cusum", sum, want)
	}
}

// NIST/SEMATECH e-Handbook 6.3.2.4 (section 4.3 of the method page).
func TestEWMAHandbook(t *testing.T) {
	z := EWMA(published(t, "NIST_EW"), 50, 0.3)
	shownAll(t, "EWMA", z, "50.600000 49.520000 50.564000 50.184800 50.159360 49.211552 49.748086 49.853660 50.257562 50.330294 "+
		"50.111206 49.357844 49.520491 50.054344 49.378040 49.924628 50.727240 51.229068 51.940348 51.988243")
	limit := EWMALimit(2.0539, 0.3, 3, 0)
	shown(t, "UCL", 50+limit, "52.58843174")
	shown(t, "LCL", 50-limit, "47.41156826")
	if i := firstAbove(z, 50+limit); i != 0 {
		t.Errorf("signal at %d, want none", i)
	}
}

// Montgomery's data with lambda 0.1 and L 2.7 (section 4.4 of the method page; limits from memory there). The first
// signal of the recursion is at 29.
func TestEWMAMontgomery(t *testing.T) {
	z := EWMA(published(t, "MONT"), 10, 0.1)
	shown(t, "z1", z[0], "9.94500")
	shown(t, "limit at 1", 10+EWMALimit(1, 0.1, 2.7, 1), "10.2700")
	shown(t, "steady limit", 10+EWMALimit(1, 0.1, 2.7, 0), "10.619422")
	shown(t, "z28", z[27], "10.57314")
	shown(t, "limit at 28", 10+EWMALimit(1, 0.1, 2.7, 28), "10.6186")
	shown(t, "z29", z[28], "10.64682")
	shown(t, "limit at 29", 10+EWMALimit(1, 0.1, 2.7, 29), "10.6187")
	for i, v := range z {
		if above := v > 10+EWMALimit(1, 0.1, 2.7, i+1); above != (i >= 28) {
			t.Errorf("observation %d above its limit: %v", i+1, above)
		}
	}
}
