package audit

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"repose/ledger"
)

// A truck was loaded with 24.1 t at 13:58 and weighed out at 14:06, the survey ended at 14:00 (worked example of the close:
// V11): it is named, and with the survey ten minutes earlier or later it is none.
func TestStraddling(t *testing.T) {
	pair := func(ticket, loaded, weighed string, mass float64) Pair {
		return Pair{Movement{ID: "load:" + ticket, Instrument: "L1", Ticket: ticket, At: at(t, "2026-11-27 "+loaded), Pile: "P1", Mass: tons(mass)},
			Movement{ID: "deck:" + ticket, Instrument: "D1", Ticket: "7" + ticket, At: at(t, "2026-11-27 "+weighed), Mass: tons(mass + 0.1)}}
	}
	pairs := []Pair{pair("3", "14:03", "14:10", 25), pair("2", "13:58", "14:06", 24.1), pair("1", "13:40", "13:49", 23)}
	for _, c := range []struct {
		survey string
		want   []string
		mass   float64
	}{
		{"13:49", nil, 0}, {"13:48", []string{"1"}, 23}, {"13:57", nil, 0}, {"13:58", []string{"2"}, 24.1}, {"14:00", []string{"2"}, 24.1},
		{"14:05", []string{"2", "3"}, 49.1}, {"14:06", []string{"3"}, 25}, {"14:10", nil, 0},
	} {
		found, mass, err := Straddling(Cut{at(t, "2026-11-27 "+c.survey), CutSurvey}, pairs)
		if err != nil {
			t.Fatal(err)
		}
		var tickets []string
		for _, p := range found {
			tickets = append(tickets, p.Loader.Ticket)
		}
		same(t, "trucks at "+c.survey, c.want, tickets)
		same(t, "mass at "+c.survey, tons(c.mass), mass)
	}
}

func TestCutOff(t *testing.T) {
	zone, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	october, november := period(t, "2026-10"), period(t, "2026-11")
	end := PeriodEnd(october, zone)
	same(t, "month's end", at(t, "2026-11-01 06:00"), end.At)
	move := func(instrument, ticket, when string, entered ledger.Period) Movement {
		return Movement{ID: instrument + "/" + ticket, Instrument: instrument, Ticket: ticket, At: at(t, when), Pile: "P1", Mass: tons(20), Period: entered}
	}
	before := move("L1", "2", "2026-11-01 05:59", october) // still October in the yard
	before2 := move("L1", "1", "2026-11-01 05:00", november)
	after := move("L1", "3", "2026-11-01 06:00", november) // the instant itself belongs to November
	after2 := move("L1", "4", "2026-11-02 06:00", ledger.Period{})
	deck := move("D1", "9", "2026-10-30 09:00", october)
	got := NewCutOff(end, zone, 2, []Movement{after2, move("L1", "0", "2026-11-01 04:00", october), after, deck, before,
		move("L1", "5", "2026-11-02 07:00", november), before2})
	want := []InstrumentCut{
		{"D1", []CutLine{{deck, october, false}}, []CutLine{}},
		{"L1", []CutLine{{before2, october, true}, {before, october, false}}, []CutLine{{after, november, false}, {after2, november, true}}},
	}
	same(t, "cut-off", fmt.Sprint(want), fmt.Sprint(got))

	survey := NewCutOff(Cut{after.At, CutSurvey}, zone, 1, []Movement{before, after, after2})
	same(t, "a movement at a survey's end", []string{"3", "4"}, []string{survey[0].Before[0].Ticket, survey[0].After[0].Ticket})
}

// Lines are those that a count of all movements nearer to the cut leaves below n, on the side where they lie.
func TestCutOffKeepsTheNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := time.Date(2026, 10, 31, 20, 0, 0, 0, time.UTC)
		var all []Movement
		for i := range rapid.IntRange(0, 40).Draw(t, "movements") {
			all = append(all, Movement{ID: fmt.Sprint(i), Instrument: rapid.SampledFrom([]string{"L1", "L2"}).Draw(t, "instrument"),
				At: start.Add(time.Duration(i) * 17 * time.Minute)}) // no two at one instant
		}
		n := rapid.IntRange(0, 5).Draw(t, "n")
		cut := Cut{start.Add(time.Duration(rapid.IntRange(-10, 800).Draw(t, "minute")) * time.Minute), rapid.SampledFrom([]CutKind{CutPeriod, CutSurvey}).Draw(t, "kind")}
		listed := map[string]bool{}
		for _, c := range NewCutOff(cut, time.UTC, n, all) {
			for _, l := range slices.Concat(c.Before, c.After) {
				listed[l.ID] = true
			}
			if slices.ContainsFunc(c.Before, func(l CutLine) bool { return !cut.Takes(l.At) }) || slices.ContainsFunc(c.After, func(l CutLine) bool { return cut.Takes(l.At) }) {
				t.Fatalf("%v on the wrong side of %v", c, cut)
			}
		}
		for _, m := range all {
			nearer := 0
			for _, o := range all {
				between := o.At.After(m.At) == cut.Takes(m.At) && o.ID != m.ID
				if o.Instrument == m.Instrument && cut.Takes(o.At) == cut.Takes(m.At) && between {
					nearer++
				}
			}
			if listed[m.ID] != (nearer < n) {
				t.Fatalf("%s with %d nearer, of %d wanted: listed %v", m.ID, nearer, n, listed[m.ID])
			}
		}
	})
}
