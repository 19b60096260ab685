package piles

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

// seen checks that the first finding's sentence and records have what they should.
func seen(t *testing.T, f screen.Finding, words string, records ...string) {
	t.Helper()
	if !strings.Contains(f.Seen, words) {
		t.Errorf("%q: want %q", f.Seen, words)
	}
	if diff := cmp.Diff(records, f.Records); diff != "" {
		t.Errorf("records of %q (-want +got):\n%s", f.Seen, diff)
	}
}

// A pile that began the month below zero is found on its first instant, whatever moves first, and not again by what moves
// after that.
func TestBelowZeroSinceBefore(t *testing.T) {
	before := weighing(load("1", "2026-09-20 08:00", "P1", "V1"), 1300)
	after := load("3", "2026-10-06 08:00", "P1", "V1")
	f := wants(t, october(t, before, made("2026-10-05 09:00", "B1", "P1", 100), after), belowZero{}, "P1")[0]
	if f.Mass != 300*ledger.Tonne || !f.Time.Equal(at("2026-09-30 23:00")) {
		t.Errorf("%v below zero at %v", f.Mass, f.Time)
	}
	seen(t, f, "begins the month below zero")
	f = wants(t, october(t, before, made("2026-10-05 09:00", "B1", "P1", 320), after, weighing(load("4", "2026-10-07 08:00", "P1", "V2"), 30)),
		belowZero{}, "P1", "P1/load:Y:L1/4")[0]
	seen(t, f, "brought it up again", "production:Y:B1/2026-10-05T09:00:00Z")
}

// A correction of a sealed record takes the old mass back before it enters the new one: what lies between the two was
// never in the book.
func TestBelowZeroWithinAnEntry(t *testing.T) {
	d := october(t, weighing(load("1", "2026-10-05 08:00", "P1", "V1"), 900), made("2026-10-06 12:00", "B1", "P1", 50))
	pile, belt := ledger.PileID{Yard: screentest.Yard, Code: "P1"}.Account(), ledger.Account{Kind: ledger.KindProduction, Yard: screentest.Yard, Name: "B1"}
	for _, e := range d.Entries {
		if _, ok := e.Record.Fact.(ledger.Production); ok {
			e.Legs = []ledger.Leg{{From: pile, To: belt, Amount: ledger.Amount{Solids: 500 * ledger.Tonne}},
				{From: belt, To: pile, Amount: ledger.Amount{Solids: 450 * ledger.Tonne}}}
		}
	}
	wants(t, d, belowZero{})
}

// Two masses that were mis-keyed in one spell are both named, the larger first; an ordinary one is not.
func TestBelowZeroNamesWhatIsOutOfProportion(t *testing.T) {
	var facts []ledger.Fact
	for i := range 9 {
		facts = append(facts, load(fmt.Sprint(i), fmt.Sprintf("2026-10-05 %02d:00", 6+i), "P1", "V1"))
	}
	facts = append(facts, weighing(load("20", "2026-10-05 09:30", "P1", "V2"), 900), weighing(load("21", "2026-10-06 09:30", "P1", "V2"), 1000),
		weighing(load("22", "2026-10-06 10:30", "P1", "V2"), 55))
	f := wants(t, october(t, facts...), belowZero{}, "P1/load:Y:L1/5")[0]
	seen(t, f, "load:Y:L1/21 with 1000.000 t is out of all proportion; load:Y:L1/20", "load:Y:L1/5", "load:Y:L1/21", "load:Y:L1/20")
}

// Production that pauses for longer than ever is named, a weekend like those before is not.
func TestBelowZeroNamesAPause(t *testing.T) {
	var facts []ledger.Fact
	n := 0
	for day := at("2026-10-01 12:00"); day.Before(at("2026-10-13 00:00")); day = day.AddDate(0, 0, 1) {
		if weekday := day.Weekday(); weekday != time.Saturday && weekday != time.Sunday {
			facts = append(facts, ledger.Production{At: day, Belt: "B1", Pile: "P1", Net: 100 * ledger.Tonne})
		}
	}
	loads := func(from string, days int) (all []ledger.Fact) {
		for i := range days {
			n++
			l := weighing(load(fmt.Sprint(n), "2026-10-01 10:00", "P1", "V1"), 250)
			l.At = at(from).AddDate(0, 0, i)
			all = append(all, l)
		}
		return all
	}
	long := wants(t, october(t, append(facts, loads("2026-10-13 09:00", 8)...)...), belowZero{}, "P1/load:Y:L1/8")[0]
	seen(t, long, "nothing was made for it in the 7 days before", "load:Y:L1/8")
	short := wants(t, october(t, append(facts, loads("2026-10-06 09:00", 8)...)...), belowZero{}, "P1/load:Y:L1/15", "P1/load:Y:L1/16")[0]
	if strings.Contains(short.Seen, "nothing was made") {
		t.Error(short.Seen)
	}
}
