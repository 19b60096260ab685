package tickets

import (
	"slices"
	"strings"
	"testing"

	"repose/internal/screen/screentest"
	"repose/ledger"
)

// correction is a load that says that it replaces the record of a key.
func correction(ticket, clock, replaces string) screentest.Row {
	return screentest.Row{Fact: load(ticket, clock, "P1", "V1"), Replaces: replaces}
}

// Only a number between those of its series that are in view is known not to be held: what is older than the month
// before may be in the book all the same.
func TestReplacedAtTheEdgeOfView(t *testing.T) {
	belt := func(clock string) ledger.Production {
		return ledger.Production{At: at(clock), Belt: "B1", Pile: "P1", Net: 100 * ledger.Tonne}
	}
	rows := screentest.Rows(slices.Concat(screentest.Place(), hourly("L1", "A-", 301, 303, "2026-09-01 08:00"), hourly("L1", "A-", 305, 309, "2026-10-05 08:00"),
		hourly("L1", "B-", 901, 904, "2026-10-06 08:00"), []ledger.Fact{belt("2026-09-02 18:00"), belt("2026-10-02 18:00")})...)
	for _, c := range []struct {
		name string
		row  screentest.Row
		want []string
	}{
		{"one that is there", correction("A-310", "2026-10-07 08:00", "L1/A-303"), nil},
		{"its own key", correction("A-308", "2026-10-05 11:00", "L1/A-308"), nil},
		{"the lost one", correction("A-310", "2026-10-07 08:00", "L1/A-304"), []string{"load:Y:L1/A-310"}},
		{"the lost one, with zeros", correction("A-310", "2026-10-07 08:00", "L1/A-0304"), []string{"load:Y:L1/A-310"}},
		{"the first in view, with a zero", correction("A-310", "2026-10-07 08:00", "L1/A-0301"), []string{"load:Y:L1/A-310"}},
		{"the one before the first in view", correction("A-310", "2026-10-07 08:00", "L1/A-300"), nil},
		{"another series between the two", correction("A-310", "2026-10-07 08:00", "L1/B-600"), nil},
		{"a number of an older month in the range of another series", correction("A-310", "2026-10-07 08:00", "L1/A-700"), nil},
		{"another loader", correction("A-310", "2026-10-07 08:00", "L7/A-304"), nil},
		{"no number", correction("A-310", "2026-10-07 08:00", "L1/A-x"), nil},
		{"of the month before, not of this one", correction("A-303b", "2026-09-07 08:00", "L1/A-304"), nil},
		{"a belt's day that is not there", screentest.Row{Fact: belt("2026-10-03 18:00"), Replaces: "B1/2026-10-03T17:00:00Z"}, []string{"production:Y:B1/2026-10-03T18:00:00Z"}},
		{"a belt's day before the view", screentest.Row{Fact: belt("2026-10-03 18:00"), Replaces: "B1/2026-08-03T17:00:00Z"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			wants(t, screentest.Month(t, "2026-10", append(slices.Clone(rows), c.row)...), replaced{}, c.want...)
		})
	}
}

// A mistyped number low down does not stretch the view.
func TestReplacedBelowAMistypedNumber(t *testing.T) {
	rows := screentest.Rows(slices.Concat(screentest.Place(), hourly("L1", "A-", 4001, 4005, "2026-10-05 08:00"), hourly("L1", "A-", 7, 7, "2026-10-05 13:00"),
		hourly("L1", "A-", 4007, 4009, "2026-10-05 14:00"))...)
	wants(t, screentest.Month(t, "2026-10", append(rows, correction("A-4010", "2026-10-05 18:00", "L1/A-2500"))...), replaced{})
}

// A record is late by when the book had a later one of its instrument, and by more than the days that a yard allows.
func TestLateRecords(t *testing.T) {
	came := func(facts []ledger.Fact, clock string) []screentest.Row {
		rows := screentest.Rows(facts...)
		for i := range rows {
			rows[i].Recorded = at(clock)
		}
		return rows
	}
	place := screentest.Rows(screentest.Place()...)
	for _, c := range []struct {
		name string
		rows []screentest.Row
		want []string
	}{
		{"three days and no more", slices.Concat(came(hourly("L1", "", 1, 1, "2026-10-05 08:00"), "2026-10-08 08:00"), came(hourly("L1", "", 2, 2, "2026-10-06 08:00"), "2026-10-06 20:00")), nil},
		{"a minute more", slices.Concat(came(hourly("L1", "", 1, 1, "2026-10-05 08:00"), "2026-10-08 08:01"), came(hourly("L1", "", 2, 2, "2026-10-06 08:00"), "2026-10-06 20:00")),
			[]string{"2026-10-08/L1"}},
		{"a later one of another loader", slices.Concat(came(hourly("L1", "", 1, 1, "2026-10-05 08:00"), "2026-10-20 08:00"), came(hourly("L2", "", 2, 2, "2026-10-06 08:00"), "2026-10-06 20:00")), nil},
		{"a whole export behind", slices.Concat(came(hourly("L1", "", 1, 5, "2026-10-05 08:00"), "2026-10-20 08:00"), came(hourly("L1", "", 6, 9, "2026-10-06 08:00"), "2026-10-20 08:00")), nil},
		{"by days of arrival", slices.Concat(came(hourly("L1", "", 1, 2, "2026-10-05 08:00"), "2026-10-20 08:00"), came(hourly("L1", "", 3, 3, "2026-10-05 10:00"), "2026-10-21 08:00"),
			came(hourly("L1", "", 4, 9, "2026-10-06 08:00"), "2026-10-07 08:00")), []string{"2026-10-20/L1", "2026-10-21/L1"}},
		{"corrections", slices.Concat(came(hourly("L1", "", 1, 9, "2026-10-05 08:00"), "2026-10-06 08:00"),
			[]screentest.Row{{Fact: load("2", "2026-10-05 09:00", "P2", "V1"), Replaces: "L1/2", Recorded: at("2026-10-30 08:00")}}), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			wants(t, screentest.Month(t, "2026-10", slices.Concat(place, c.rows)...), late{}, c.want...)
		})
	}
}

// What belongs to a closed month is late however soon it came, at the first instant of the month that it is entered in.
func TestLateForAClosedMonth(t *testing.T) {
	d := october(t, hourly("L1", "", 1, 3, "2026-10-05 08:00")...)
	rec, err := ledger.NewRecord(screentest.Yard, load("77", "2026-09-30 16:00", "P1", "V1"))
	if err != nil {
		t.Fatal(err)
	}
	rec.Recorded = at("2026-10-01 06:00")
	d.Month.Late = append(d.Month.Late, &rec)
	f := wants(t, d, late{}, "2026-10-01/L1/sealed")[0]
	if !f.Time.Equal(d.Start) || f.Mass != 20*ledger.Tonne || !strings.Contains(f.Seen, "closed month") {
		t.Errorf("%v, %v: %s", f.Time, f.Mass, f.Seen)
	}
}
