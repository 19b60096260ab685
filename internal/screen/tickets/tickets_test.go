package tickets

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

var (
	at   = screentest.At
	load = screentest.Load
)

func october(t testing.TB, facts ...ledger.Fact) *screen.Data {
	t.Helper()
	return screentest.Month(t, "2026-10", screentest.Rows(append(screentest.Place(), facts...)...)...)
}

// wants holds what a rule finds to subjects.
func wants(t *testing.T, d *screen.Data, r screen.Rule, subjects ...string) []screen.Finding {
	t.Helper()
	found := screentest.Found(d, r)
	var got []string
	for _, f := range found {
		got = append(got, f.Subject)
	}
	if diff := cmp.Diff(subjects, got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", r.Info().Name, diff)
	}
	return found
}

// day returns loads numbered from first on, an hour apart, from eight in the morning of a day.
func dayOf(date string, prefix string, numbers ...int) []ledger.Fact {
	var facts []ledger.Fact
	for i, n := range numbers {
		facts = append(facts, load(fmt.Sprintf("%s%04d", prefix, n), fmt.Sprintf("%s %02d:00", date, 8+i), "P1", fmt.Sprint("V", i)))
	}
	return facts
}

func TestMissingNumbers(t *testing.T) {
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []string
	}{
		{"one number", dayOf("2026-10-05", "A-", 1, 2, 4), []string{"L1 A-/3-3"}},
		{"a run, and a void that is there", append(dayOf("2026-10-05", "A-", 1, 6),
			func() ledger.Load { l := load("A-0003", "2026-10-05 08:30", "P1", "V9"); l.Void = true; return l }()), []string{"L1 A-/2-2", "L1 A-/4-5"}},
		{"over the month's end, seen once", append(dayOf("2026-09-30", "A-", 1, 2), dayOf("2026-10-01", "A-", 4, 5)...), []string{"L1 A-/3-3"}},
		{"of the month before", append(dayOf("2026-09-29", "A-", 1, 3), dayOf("2026-10-01", "A-", 4)...), nil},
		{"the first of a book, and the last", dayOf("2026-10-05", "A-", 7, 8), nil},
		{"two prefixes", append(dayOf("2026-10-05", "A-", 1, 2), dayOf("2026-10-06", "B-", 9, 10)...), nil},
		{"a mistyped number", append(dayOf("2026-10-05", "A-", 1, 2, 3), dayOf("2026-10-06", "A-", 40004, 5)...), []string{"L1 A-/4-4"}},
		{"a transfer of the same counter", append(dayOf("2026-10-05", "A-", 1, 2, 4),
			ledger.Transfer{At: at("2026-10-05 09:30"), Loader: "L1", Ticket: "A-0003", From: "P1", To: "P2", Net: ledger.Tonne}), nil},
		{"what was split off has no number", append(dayOf("2026-10-05", "A-", 1, 2), load("A-0002 part 9", "2026-10-05 09:00", "P1", "V1")), nil},
	} {
		t.Run(c.name, func(t *testing.T) { wants(t, october(t, c.facts...), missing{}, c.want...) })
	}
}

// The gap's mass is its number times the mean load of the series, and its interval the scatter times the root of the
// number, times 1.96: loads of 19, 20 and 21 t scatter by 0.8165 t (the population's), so two of them weigh 40 t +/- 2.263.
func TestGapEstimate(t *testing.T) {
	var facts []ledger.Fact
	for i, tonnes := range []ledger.Mass{19, 20, 21} {
		l := load(fmt.Sprint([]int{1, 2, 5}[i]), fmt.Sprintf("2026-10-05 %02d:00", 8+i), "P1", fmt.Sprint("V", i))
		l.Net = tonnes * ledger.Tonne
		facts = append(facts, l)
	}
	f := wants(t, october(t, facts...), missing{}, "L1/3-4")[0]
	if f.Mass != 40*ledger.Tonne || f.Low != 37_737*ledger.Kilogram || f.High != 42_263*ledger.Kilogram || f.Pile != "" || f.Unplaced != f.Mass {
		t.Errorf("%v, %v to %v, pile %q", f.Mass, f.Low, f.High, f.Pile)
	}
}

// A gap is of a pile only where three records on each side are.
func TestGapOfAPile(t *testing.T) {
	f := wants(t, october(t, dayOf("2026-10-05", "A-", 1, 2, 3, 5, 6, 7)...), missing{}, "L1 A-/4-4")[0]
	if diff := cmp.Diff([]screen.Effect{{Pile: "P1", Mass: 20 * ledger.Tonne}}, f.Effects); diff != "" {
		t.Errorf("effects (-want +got):\n%s", diff)
	}
}

// Numbers that start anew with the year are two series; numbers that two loaders draw from one counter are one.
func TestSeries(t *testing.T) {
	rows := append(screentest.Place(), load("901", "2026-12-30 09:00", "P1", "V1"), load("902", "2026-12-31 09:00", "P1", "V2"),
		load("1", "2027-01-04 09:00", "P1", "V1"), load("3", "2027-01-05 09:00", "P1", "V2"))
	wants(t, screentest.Month(t, "2027-01", screentest.Rows(rows...)...), missing{}, "L1 2027/2-2")

	var shared []ledger.Fact
	for i := range 12 {
		l := load(fmt.Sprintf("T-%d", 100+i), fmt.Sprintf("2026-10-05 %02d:00", 6+i), "P1", fmt.Sprint("V", i))
		if i%2 == 1 {
			l.Loader = "L2"
		}
		if i != 7 {
			shared = append(shared, l)
		}
	}
	wants(t, october(t, shared...), missing{}, "L1+L2 T-/107-107")
}

// Whatever numbers there are, count + missing - duplicates = expected.
func TestSequenceHolds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var facts []ledger.Fact
		for i, n := range rapid.SliceOfN(rapid.IntRange(1, 60), 1, 40).Draw(rt, "numbers") {
			pad := rapid.SampledFrom([]string{"%d", "%04d", "%06d"}).Draw(rt, "pad")
			hour := rapid.IntRange(0, 24*45).Draw(rt, "hour")
			l := load(fmt.Sprintf(pad, n), "2026-09-10 00:00", "P1", fmt.Sprint("V", i))
			l.At = l.At.Add(time.Duration(hour) * time.Hour)
			if !slices.ContainsFunc(facts, func(f ledger.Fact) bool { return f.Key() == l.Key() }) {
				facts = append(facts, l)
			}
		}
		for _, s := range Sequences(october(t, facts...)) {
			if !s.Holds() {
				rt.Fatalf("%+v", s)
			}
		}
	})
}

func TestRepeatedAndOutOfOrder(t *testing.T) {
	d := october(t, append(dayOf("2026-10-05", "A-", 1, 2, 3), load("A-02", "2026-10-05 13:00", "P1", "V1"))...)
	f := wants(t, d, repeated{}, "load:Y:L1/A-02/load:Y:L1/A-0002")[0]
	if diff := cmp.Diff([]screen.Effect{{Pile: "P1", Mass: -20 * ledger.Tonne}}, f.Effects); diff != "" {
		t.Errorf("effects of the same truck and mass (-want +got):\n%s", diff)
	}
	wants(t, october(t, dayOf("2026-10-05", "A-", 1, 2, 9, 3, 4)...), order{}, "load:Y:L1/A-0009")
	wants(t, october(t, dayOf("2026-10-05", "A-", 1, 2, 3, 90004, 4)...), order{}, "load:Y:L1/A-90004")
	early := load("A-0003", "2026-10-05 08:56", "P1", "V8") // a paused task, stamped four minutes early
	wants(t, october(t, append(dayOf("2026-10-05", "A-", 1, 2), early)...), order{})
}

func TestNearTwin(t *testing.T) {
	first, second := load("1", "2026-10-05 08:00", "P1", "V1"), load("2", "2026-10-05 08:10", "P1", "V1")
	deck := func(n, clock string) ledger.DeckTicket {
		return ledger.DeckTicket{At: at(clock), Deck: "D1", Ticket: n, Truck: "V1", Product: "G1", Net: 20 * ledger.Tonne}
	}
	wants(t, october(t, first, second), twin{}, "load:Y:L1/2/load:Y:L1/1")
	for name, facts := range map[string][]ledger.Fact{
		"another mass":  {first, func() ledger.Load { l := second; l.Net += 20 * ledger.Kilogram; return l }()},
		"another pile":  {first, func() ledger.Load { l := second; l.Pile = "P2"; return l }()},
		"another truck": {first, func() ledger.Load { l := second; l.Truck = "V2"; return l }()},
		"an hour later": {first, func() ledger.Load { l := second; l.At = l.At.Add(time.Hour); return l }()},
		"one is void":   {first, func() ledger.Load { l := second; l.Void = true; return l }()},
		"both weighed":  {first, second, deck("1", "2026-10-05 08:06"), deck("2", "2026-10-05 08:16")},
	} {
		t.Run(name, func(t *testing.T) { wants(t, october(t, facts...), twin{}) })
	}
}

func TestVoidAndReissue(t *testing.T) {
	void := load("1", "2026-10-05 08:00", "P1", "V1")
	void.Void = true
	again := load("2", "2026-10-05 08:20", "P1", "V1")
	wants(t, october(t, void, again), reissue{}, "load:Y:L1/1")
	late := again
	late.At = at("2026-10-05 12:00")
	wants(t, october(t, void, late), reissue{})
	other := again
	other.Net += ledger.Tonne
	wants(t, october(t, void, other), reissue{})
}

// visits are deck tickets of trucks, one a day, with tares in kilograms.
func visits(truck string, from int, tares ...int) []ledger.Fact {
	var facts []ledger.Fact
	for i, kg := range tares {
		clock := at("2026-09-20 09:00").AddDate(0, 0, from+i)
		facts = append(facts, ledger.DeckTicket{At: clock, Deck: "D1", Ticket: fmt.Sprint(truck, "-", from+i), Truck: truck,
			Tare: ledger.Mass(kg) * ledger.Kilogram, Gross: ledger.Mass(kg+20_000) * ledger.Kilogram, Net: 20 * ledger.Tonne})
	}
	return facts
}

func TestTares(t *testing.T) {
	stored := make([]int, 25)
	scattered := make([]int, 25)
	for i := range stored {
		stored[i], scattered[i] = 14_000, 14_000+20*(i%5)
	}
	f := wants(t, october(t, append(visits("V1", 0, stored...), visits("V2", 0, scattered...)...)...), oldTare{}, "V1")[0]
	if !strings.Contains(f.Seen, "24 days") || f.Mass != 3*20*ledger.Tonne {
		t.Errorf("%s; %v at stake, want three trips beyond 21 days", f.Seen, f.Mass)
	}
	renewed := slices.Clone(stored)
	renewed[15] = 14_020
	wants(t, october(t, visits("V1", 0, renewed...)...), oldTare{})

	three := slices.Concat(visits("V1", 12, 14_000, 14_000, 14_000), visits("V2", 12, 14_000, 14_000, 14_020), visits("V3", 12, 14_000, 14_000))
	wants(t, october(t, three...), sameTare{}, "14000000")
	two := slices.Concat(visits("V1", 12, 14_000, 14_000, 14_000), visits("V2", 12, 14_000, 14_000), visits("V3", 12, 14_000, 14_060, 14_080))
	wants(t, october(t, two...), sameTare{})
}

// The clocks are the yard's: in October London is an hour ahead of UTC until the 25th.
func TestHours(t *testing.T) {
	facts := []ledger.Fact{
		load("1", "2026-10-05 16:50", "P1", "V1"), // 17:50, open
		load("2", "2026-10-05 17:10", "P1", "V2"), // 18:10, within the grace
		load("3", "2026-10-05 18:00", "P1", "V3"), // 19:00, closed
		load("4", "2026-10-05 21:00", "P1", "V4"), // 22:00, night
		load("5", "2026-10-05 22:30", "P1", "V5"), // 23:30, the same night
		load("6", "2026-10-10 10:00", "P1", "V6"), // a Saturday
		load("7", "2026-10-31 21:30", "P1", "V7"), // 21:30 by winter time: night
		load("8", "2026-10-17 10:00", "P1", "V8"), // a Saturday with hours of its own
		ledger.Hours{Day: "2026-10-17", Open: "08:00", Close: "12:00"},
	}
	wants(t, october(t, facts...), outside{}, "2026-10-05/L1", "2026-10-10/L1")
	f := wants(t, october(t, facts...), night{}, "2026-10-05/L1", "2026-10-31/L1")[0]
	if f.Mass != 40*ledger.Tonne || len(f.Records) != 2 {
		t.Errorf("the night of the 5th: %v in %d records", f.Mass, len(f.Records))
	}
}

func TestLateAndReplaced(t *testing.T) {
	rows := screentest.Rows(append(screentest.Place(), dayOf("2026-10-05", "A-", 1, 2, 3)...)...)
	forgotten := screentest.Row{Fact: load("A-0009", "2026-10-04 09:00", "P1", "V9"), Recorded: at("2026-10-20 09:00")}
	wants(t, screentest.Month(t, "2026-10", append(rows, forgotten)...), late{}, "2026-10-20/L1")

	history := slices.Clone(rows) // all of it came at once, later
	for i := range history {
		history[i].Recorded = at("2026-12-01 09:00")
	}
	wants(t, screentest.Month(t, "2026-10", history...), late{})

	known := screentest.Row{Fact: load("A-0002", "2026-10-05 09:00", "P2", "V1"), Replaces: "L1/A-0002"}
	unknown := screentest.Row{Fact: load("A-0003b", "2026-10-05 15:00", "P1", "V1"), Replaces: "L1/A-002"}
	beyond := screentest.Row{Fact: load("A-0004", "2026-10-05 16:00", "P1", "V1"), Replaces: "L1/A-0700"}
	wants(t, screentest.Month(t, "2026-10", append(rows, known, unknown, beyond)...), replaced{}, "load:Y:L1/A-0003b")
}

func TestOutagePad(t *testing.T) {
	alone, double := load("PAD-1", "2026-10-05 08:00", "P1", "V1"), load("pad-2", "2026-10-05 09:00", "P1", "V2")
	found := wants(t, october(t, alone, double, load("77", "2026-10-06 07:00", "P1", "V2")), pad{}, "load:Y:L1/PAD-1", "load:Y:L1/pad-2")
	if found[0].Effects != nil || cmp.Diff([]screen.Effect{{Pile: "P1", Mass: -20 * ledger.Tonne}}, found[1].Effects) != "" {
		t.Errorf("effects: %+v and %+v", found[0].Effects, found[1].Effects)
	}
}
