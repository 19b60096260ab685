package audit

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"repose/ledger"
)

// The roll-forward from a survey's instant to the period's end (worked example of the close: V11), its truck of 24.1 t that
// was loaded two minutes before the survey, and the way back from a survey in December.
func TestRollPublishedExample(t *testing.T) {
	moved := func(record, when string, column ledger.Column, mass float64) Carried {
		return Carried{record, at(t, when), column, tons(mass)}
	}
	carried := []Carried{
		moved("load:24.1", "2026-11-27 13:58", ledger.ColumnSale, -24.1),
		moved("belt:1", "2026-11-28 18:00", ledger.ColumnProduction, 4000),
		moved("belt:2", "2026-11-29 18:00", ledger.ColumnProduction, 310),
		moved("load:1", "2026-11-29 08:00", ledger.ColumnSale, -3925),
		moved("carry:1", "2026-11-29 09:00", ledger.ColumnTransferOut, -600),
		moved("load:2", "2026-11-29 10:00", ledger.ColumnInternal, -85),
		moved("rain:1", "2026-11-29 11:00", ledger.ColumnWeather, 0),
		moved("survey:1", "2026-11-30 11:00", ledger.ColumnShrinkage, -7),
		moved("belt:3", "2026-12-01 00:00", ledger.ColumnProduction, 50), // the next month's
	}
	survey := Cut{at(t, "2026-11-27 14:00"), CutSurvey}
	end := PeriodEnd(period(t, "2026-11"), time.UTC)
	forward, err := NewRoll("P1", survey, tons(40986), end, carried)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "forward", &Roll{Pile: "P1", From: survey, To: end, Start: tons(40986), End: tons(40686), Lines: []RollLine{
		{ledger.ColumnProduction, tons(4310), 2}, {ledger.ColumnSale, -tons(3925), 1}, {ledger.ColumnInternal, -tons(85), 1}, {ledger.ColumnTransferOut, -tons(600), 1}}}, forward)

	earlier, err := NewRoll("P1", Cut{at(t, "2026-11-27 13:50"), CutSurvey}, tons(40986), end, carried)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "ten minutes earlier", tons(40686-24.1), earlier.End)

	december := Cut{at(t, "2026-12-02 09:00"), CutSurvey}
	back, err := NewRoll("P1", december, tons(40736), end, carried)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "back", &Roll{Pile: "P1", From: december, To: end, Start: tons(40736), End: tons(40686), Lines: []RollLine{{ledger.ColumnProduction, -tons(50), 1}}}, back)
	nowhere, err := NewRoll("P1", december, tons(5), december, carried)
	if err != nil || nowhere.Back() || nowhere.End != tons(5) {
		t.Errorf("from a cut to itself: %v, %v, want 5 t and not back", nowhere, err)
	}
	if forward.Back() || !back.Back() {
		t.Errorf("forward is back: %v, back is back: %v", forward.Back(), back.Back())
	}
}

// Rolling forward and then back over the same movements ends where it began, by the same records; and so does going
// through a third cut between the two.
func TestRollThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := time.Date(2026, 11, 27, 14, 0, 0, 0, time.UTC)
		cut := func(name string) Cut {
			return Cut{start.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, name)) * time.Minute), rapid.SampledFrom([]CutKind{CutPeriod, CutSurvey}).Draw(t, name+" kind")}
		}
		var carried []Carried
		for i := range rapid.IntRange(0, 30).Draw(t, "records") {
			carried = append(carried, Carried{fmt.Sprint(i), start.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, "minute")) * time.Minute),
				ledger.Column(rapid.IntRange(0, int(ledger.Columns)-1).Draw(t, "column")), ledger.Mass(rapid.Int64Range(-5e7, 5e7).Draw(t, "grams"))})
		}
		roll := func(from, to Cut, mass ledger.Mass) *Roll {
			r, err := NewRoll("P1", from, mass, to, carried)
			if err != nil {
				t.Fatal(err)
			}
			sum := r.Start
			for _, l := range r.Lines {
				sum += l.Solids
			}
			if sum != r.End {
				t.Fatalf("%v does not foot: %v", *r, sum)
			}
			return r
		}
		a, b, c := cut("a"), cut("b"), cut("c")
		mass := ledger.Mass(rapid.Int64Range(0, 1e11).Draw(t, "start"))
		there := roll(a, b, mass)
		back := roll(b, a, there.End)
		if back.End != mass || len(back.Lines) != len(there.Lines) {
			t.Fatalf("there %v, back %v", *there, *back)
		}
		for i, l := range there.Lines {
			if want := (RollLine{l.Column, -l.Solids, l.Records}); back.Lines[i] != want {
				t.Fatalf("back by %v, want %v", back.Lines[i], want)
			}
		}
		if by := roll(c, b, roll(a, c, mass).End); by.End != there.End {
			t.Fatalf("through a third cut to %v, directly to %v", by.End, there.End)
		}
	})
}

func TestRollRefuses(t *testing.T) {
	from, to := Cut{at(t, "2026-11-01 00:00"), CutSurvey}, Cut{at(t, "2026-12-01 00:00"), CutPeriod}
	when := at(t, "2026-11-02 00:00")
	_, err := NewRoll("P1", from, 1, to, []Carried{{"a", when, ledger.ColumnReturns, ledger.MaxMass}})
	same(t, "end beyond bounds", "pile P1: mass beyond 10^12 t", fmt.Sprint(err))
	_, err = NewRoll("P1", from, 0, to, []Carried{{"a", when, ledger.ColumnReturns, ledger.MaxMass}, {"b", when, ledger.ColumnReturns, 1}})
	same(t, "column beyond bounds", "returns of pile P1: mass beyond 10^12 t", fmt.Sprint(err))
}
