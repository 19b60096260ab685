package audit

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/ledger"
)

const (
	pileOne  = "pile:Y:P1"
	sales    = "out:Y:sale"
	internal = "out:Y:internal"
)

// quiet is a journal that nothing is wrong with: a year of corrections by two writers, and those of October 2026, all in the
// middle of their months, on working days, by day.
func quiet(t testing.TB) Journal {
	zone, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	j := Journal{From: at(t, "2026-10-01 06:00"), Until: at(t, "2026-11-01 06:00"), Calendar: Calendar{Zone: zone}}
	for i := range 12 {
		day := time.Date(2025, time.Month(11+i), 10, 10, 0, 0, 0, zone)
		for day.Weekday() == time.Saturday || day.Weekday() == time.Sunday {
			day = day.AddDate(0, 0, 1)
		}
		for n, by := range []string{"clerk 1", "clerk 2"} {
			when := day.AddDate(0, 0, n)
			if n == 1 && day.Weekday() == time.Friday {
				when = day.AddDate(0, 0, 3)
			}
			j.Entries = append(j.Entries, Manual{ID: fmt.Sprintf("M%02d-%d", i+1, n+1), Kind: "correction", By: by, Recorded: when, At: when.Add(-48 * time.Hour),
				Reason: "Ticket keyed to the wrong pile.", From: pileOne, To: sales, Mass: tons(17.3 + float64(i)), Pile: "P1"})
		}
	}
	return j
}

func TestQuietMonth(t *testing.T) {
	j := quiet(t)
	same(t, "flags", []Flag{}, j.Screen())
	if last := j.Entries[len(j.Entries)-1]; last.Recorded.Before(j.From) || !last.Recorded.Before(j.Until) {
		t.Fatalf("%v is not of the month, which then proves nothing", last)
	}
}

// The order of the entries plays no part, an entry outside the screened span is never flagged, and one more day of
// history before the 12 months changes nothing.
func TestScreenOfAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)
		j := Journal{From: start, Until: start.AddDate(0, 1, 0), Options: Options{Approval: 100}}
		for i := range rapid.IntRange(0, 25).Draw(t, "entries") {
			j.Entries = append(j.Entries, Manual{ID: fmt.Sprint(i), By: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "by"),
				Recorded: start.Add(time.Duration(rapid.IntRange(-400, 40).Draw(t, "day")) * 24 * time.Hour), Mass: ledger.Mass(rapid.IntRange(0, 120).Draw(t, "grams")),
				From: rapid.SampledFrom([]string{pileOne, sales}).Draw(t, "from"), To: internal})
		}
		want := j.Screen()
		for _, f := range want {
			i := slices.IndexFunc(j.Entries, func(m Manual) bool { return m.ID == f.ID })
			if m := j.Entries[i]; m.Recorded.Before(j.From) || !m.Recorded.Before(j.Until) {
				t.Fatalf("%v is flagged outside the span: %v", m, f)
			}
		}
		slices.Reverse(j.Entries)
		j.Entries = append(j.Entries, Manual{ID: "old", By: "a", Recorded: start.AddDate(-1, 0, -1), From: pileOne, To: internal, Mass: 50})
		if diff := cmp.Diff(want, j.Screen()); diff != "" {
			t.Fatal(diff)
		}
	})
}
