package demoyard

import (
	"math"
	"testing"
)

func TestFigures(t *testing.T) {
	for _, tt := range []struct{ name, got, want string }{
		{"hundredths", fixed(2_846, 2), "28.46"},
		{"below one", fixed(7, 2), "0.07"},
		{"whole", fixed(981_240, 0), "981240"},
		{"negative", fixed(-250, 1), "-25.0"},
		{"tonnes of grams", tonnes(28_460_000, 2), "28.46"},
		{"whole tonnes", tonnes(981_240_000_000, 0), "981240"},
		{"to the gram", tonnes(1_000_001, 6), "1.000001"},
		{"short", german(9_600), "960,0"},
		{"thousands", german(374_205), "37.420,5"},
		{"millions", german(12_345_678), "1.234.567,8"},
	} {
		if tt.got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, tt.got, tt.want)
		}
	}
}

func TestSolidsOf(t *testing.T) {
	for _, tt := range []struct{ wet, moistureBP, want int64 }{
		{10_000 * tonne, 600, 9_433_962_264}, // 10,000 t at 6 % of dry mass: 9,433.962264 t
		{1_050, 500, 1_000},
		{3, 10_000, 2}, // half up
		{28 * tonne, 0, 28 * tonne},
	} {
		if got := solidsOf(tt.wet, tt.moistureBP); got != tt.want {
			t.Errorf("solids of %d g at %d bp are %d g, want %d", tt.wet, tt.moistureBP, got, tt.want)
		}
	}
}

// TestBell holds the draws to the moments they claim: with 20,000 of them the mean lies within 4 standard
// errors of 0 and the deviation within 3 %.
func TestBell(t *testing.T) {
	const sigma, n = 8_000, 20_000
	d := newDice(weatherStream)
	var sum, squares float64
	for range n {
		v := float64(d.bell(sigma))
		if math.Abs(v) > 6*sigma {
			t.Fatalf("drew %v, want at most six sigma", v)
		}
		sum, squares = sum+v, squares+v*v
	}
	if mean := sum / n; math.Abs(mean) > 4*sigma/math.Sqrt(n) {
		t.Errorf("mean %v of %d draws with sigma %d", mean, n, sigma)
	}
	if deviation := math.Sqrt(squares / n); math.Abs(deviation/sigma-1) > 0.03 {
		t.Errorf("standard deviation %v, want %d", deviation, sigma)
	}
}
