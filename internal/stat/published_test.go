package stat

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// published returns one of the published data sets that several tests share. Where each set was read is in its "what".
func published(t *testing.T, name string) []float64 {
	t.Helper()
	raw, err := os.ReadFile("testdata/published.json")
	if err != nil {
		t.Fatal(err)
	}
	var sets map[string]struct{ Values json.RawMessage }
	if err := json.Unmarshal(raw, &sets); err != nil {
		t.Fatal(err)
	}
	var values []float64
	if err := json.Unmarshal(sets[name].Values, &values); err != nil || len(values) == 0 {
		t.Fatalf("data set %q: %d values, %v", name, len(values), err)
	}
	return values
}

// shown holds a value to the digits that its source shows: within half a unit of the last one.
func shown(t *testing.T, what string, got float64, want string) {
	t.Helper()
	w, err := strconv.ParseFloat(want, 64)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	mantissa, exponent, _ := strings.Cut(strings.ToLower(want), "e")
	power, _ := strconv.Atoi(exponent)
	if _, decimals, ok := strings.Cut(mantissa, "."); ok {
		power -= len(decimals)
	}
	if tolerance := 0.5000001 * math.Pow10(power); !(math.Abs(got-w) <= tolerance) {
		t.Errorf("%s = %.12g, want %s", what, got, want)
	}
}

// shownAll holds a list of values to a list of numbers, separated by space.
func shownAll(t *testing.T, what string, got []float64, want string) {
	t.Helper()
	fields := strings.Fields(want)
	if len(got) != len(fields) || len(fields) == 0 {
		t.Fatalf("%s has %d values, want %d", what, len(got), len(fields))
	}
	for i, f := range fields {
		shown(t, what+" "+strconv.Itoa(i), got[i], f)
	}
}

// certified holds a value to a certified one, to 1e-9 of it.
func certified(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*math.Abs(want)) {
		t.Errorf("%s = %.16g, want %.16g", what, got, want)
	}
}

// each returns one number of each element of a list.
func each[T any](list []T, f func(T) float64) []float64 {
	values := make([]float64, len(list))
	for i, v := range list {
		values[i] = f(v)
	}
	return values
}

func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
