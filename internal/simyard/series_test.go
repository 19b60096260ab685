package simyard_test

import (
	"strconv"
	"strings"
	"testing"

	"repose/internal/simyard"
)

// series counts the numbers of an instrument and prefix.
type series struct{ count, last, missing, duplicates, backwards int }

// seriesOf counts the numbers of a table, from 1 on, by what stands before the digits.
func seriesOf(t *testing.T, y *simyard.Yard, table string) map[string]series {
	t.Helper()
	all := map[string]series{}
	seen := map[string]map[int]bool{}
	before := map[string]int{}
	for _, r := range rows(t, y, table) { // in order of time for each instrument
		prefix := strings.TrimRight(r["ticket"], "0123456789")
		n, err := strconv.Atoi(r["ticket"][len(prefix):])
		if err != nil {
			t.Fatal(err)
		}
		key := r["loader"] + r["deck"] + "/" + prefix
		s := all[key]
		if seen[key] == nil {
			seen[key] = map[int]bool{}
		}
		if seen[key][n] {
			s.duplicates++
		}
		if n < before[key] {
			s.backwards++
		}
		seen[key][n] = true
		s.count, s.last, before[key] = s.count+1, max(s.last, n), n
		all[key] = s
	}
	for key, s := range all {
		s.missing = s.last - len(seen[key])
		all[key] = s
	}
	return all
}

// In every series count + missing - duplicates is what is expected, and the findings say how many are missing,
// twice, or against time.
func TestSeriesAddUp(t *testing.T) {
	for seed := range uint64(20) {
		y := generate(t, with(simyard.Quick(seed), recordFaults[0]...))
		got := series{}
		for _, s := range seriesOf(t, y, "loads.csv") {
			if s.count+s.missing-s.duplicates != s.last {
				t.Errorf("seed %d: %+v does not add up", seed, s)
			}
			got.missing, got.duplicates, got.backwards = got.missing+s.missing, got.duplicates+s.duplicates, got.backwards+s.backwards
		}
		var want series
		for _, f := range y.Truth.Findings() {
			switch f.Rule {
			case "missing number":
				want.missing += len(f.Absent)
			case "repeated number":
				want.duplicates++
			case "out of order":
				want.backwards++
			}
		}
		if got != want || want.missing != 4 || want.duplicates != 2 || want.backwards != 2 {
			t.Errorf("seed %d: %+v, want %+v", seed, got, want)
		}
		if s := seriesOf(t, y, "deck.csv")["D1/W"]; s.count != s.last || s.backwards != 0 {
			t.Errorf("seed %d: deck %+v, want all numbers in order", seed, s)
		}
	}
}

// No finding is about a load that stands next to another's, so that none hides or feigns another.
func TestFaultsKeepApart(t *testing.T) {
	for seed := range uint64(20) {
		y := generate(t, with(simyard.Quick(seed), recordFaults[0]...))
		of := map[string]int{} // the finding, by loader and number
		at := func(id string) (string, int) {
			loader, n, _ := strings.Cut(strings.TrimPrefix(id, "load:SIM:"), "/")
			number, err := strconv.Atoi(n[len(loader)+1:])
			if err != nil {
				t.Fatal(err)
			}
			return loader, number
		}
		name := func(loader string, number int) string { return loader + "/" + strconv.Itoa(number) }
		for i, f := range y.Truth.Findings() {
			ids := f.Records
			if len(f.Absent) > 0 {
				ids = f.Absent // the records are its neighbours
			}
			for _, id := range ids {
				if strings.HasPrefix(id, "load:") {
					of[name(at(id))] = i + 1
				}
			}
		}
		for i, f := range y.Truth.Findings() {
			for _, id := range f.Records {
				if !strings.HasPrefix(id, "load:") || len(f.Absent) > 0 {
					continue
				}
				loader, n := at(id)
				for _, next := range []int{n - 1, n + 1} {
					if other := of[name(loader, next)]; other != 0 && other != i+1 {
						t.Errorf("seed %d: %s is next to a record of %+v", seed, id, y.Truth.Findings()[other-1])
					}
				}
			}
		}
	}
}
