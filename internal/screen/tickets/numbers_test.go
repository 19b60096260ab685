package tickets

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

// hourly returns loads of a loader with numbers from first to last, an hour apart from a clock on; each truck comes
// once, so that no two loads are alike.
func hourly(loader, prefix string, first, last int, clock string) []ledger.Fact {
	var facts []ledger.Fact
	for i := range last - first + 1 {
		l := load(fmt.Sprintf("%s%d", prefix, first+i), clock, "P1", fmt.Sprint(loader, "-", first+i))
		l.At, l.Loader = l.At.Add(time.Duration(i)*time.Hour), loader
		facts = append(facts, l)
	}
	return facts
}

func join(lists ...[]ledger.Fact) []ledger.Fact {
	var all []ledger.Fact
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// Numbers that tell the rules about completeness apart: each case says all that the three of them find.
func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		name                     string
		facts                    []ledger.Fact
		missing, repeated, order []string
	}{
		{name: "a gap whose upper record is stamped in the month before",
			facts:   join(hourly("L1", "A-", 1, 3, "2026-09-30 08:00"), hourly("L1", "A-", 5, 5, "2026-09-10 08:00"), hourly("L1", "A-", 6, 9, "2026-10-01 08:00")),
			missing: []string{"L1 A-/4-4"}},
		{name: "two mistyped numbers, far apart",
			facts: join(hourly("L1", "A-", 1, 4, "2026-10-05 08:00"), hourly("L1", "A-", 40005, 40005, "2026-10-05 12:00"),
				hourly("L1", "A-", 900006, 900006, "2026-10-05 13:00")),
			order: []string{"load:Y:L1/A-40005", "load:Y:L1/A-900006"}},
		{name: "the yard's clock in digits counts nothing, also where one is of a slow printer",
			facts: []ledger.Fact{load("20261005090012", "2026-10-05 08:00", "P1", "V1"), load("20261005100040", "2026-10-05 09:00", "P1", "V2"),
				load("20261005102959", "2026-10-05 10:30", "P1", "V3"), load("20261026110000", "2026-10-26 11:00", "P1", "V4")}},
		{name: "the clock without the century, and to the minute",
			facts: []ledger.Fact{load("L2610050900", "2026-10-05 08:00", "P1", "V1"), load("L2610051000", "2026-10-05 09:00", "P1", "V2")}},
		{name: "a count of each day, also of a shift that ends after midnight",
			facts: []ledger.Fact{load("2610050001", "2026-10-05 08:00", "P1", "V1"), load("2610050002", "2026-10-05 09:00", "P1", "V2"), load("2610050004", "2026-10-05 23:10", "P1", "V3"),
				load("2610060007", "2026-10-06 08:00", "P1", "V4"), load("2610060008", "2026-10-06 09:00", "P1", "V5")},
			missing: []string{"L1 261005/2610050003-2610050003"}},
		{name: "a count of each day by two loaders, of which one loads little",
			facts: join(hourly("L1", "20261005", 11, 13, "2026-10-05 08:00"), hourly("L2", "20261005", 14, 14, "2026-10-05 11:00"), hourly("L1", "20261005", 15, 16, "2026-10-05 12:00"),
				hourly("L2", "20261006", 11, 11, "2026-10-06 08:00"), hourly("L1", "20261006", 12, 13, "2026-10-06 09:00"), hourly("L2", "20261006", 15, 15, "2026-10-06 12:00"), hourly("L1", "20261006", 16, 17, "2026-10-06 13:00")),
			missing: []string{"L1+L2 20261006/2026100614-2026100614"}},
		{name: "a count of each month",
			facts: []ledger.Fact{load("A26090123", "2026-09-30 08:00", "P1", "V1"), load("A26090124", "2026-09-30 09:00", "P1", "V2"),
				load("A26100001", "2026-10-01 08:00", "P1", "V3"), load("A26100003", "2026-10-01 09:00", "P1", "V4")},
			missing: []string{"L1 A 2610/26100002-26100002"}},
		{name: "a counter that comes to look like a date goes on",
			facts:   join(hourly("L1", "", 2609990, 2609999, "2026-10-05 08:00"), hourly("L1", "", 2610001, 2610001, "2026-10-05 18:00")),
			missing: []string{"L1/2610000-2610000"}},
		{name: "ten digits that are no clock",
			facts:   []ledger.Fact{load("9900000001", "2026-10-05 08:00", "P1", "V1"), load("9900000003", "2026-10-05 09:00", "P1", "V2")},
			missing: []string{"L1/9900000002-9900000002"}},
		{name: "a counter that was set on by hand goes on",
			facts:   join(hourly("L1", "A-", 1, 4, "2026-10-05 08:00"), hourly("L1", "A-", 2001, 2004, "2026-10-06 08:00")),
			missing: []string{"L1 A-/5-2000"}},
		{name: "zeros in front are of no account",
			facts: []ledger.Fact{load("A-9", "2026-10-05 08:00", "P1", "V1"), load("a-0010", "2026-10-05 09:00", "P1", "V2"), load(" A-011", "2026-10-05 10:00", "P1", "V3")}},
		{name: "one number, two records",
			facts:    []ledger.Fact{load("A-9", "2026-10-05 08:00", "P1", "V1"), load("A-10", "2026-10-05 09:00", "P1", "V2"), load("A-010", "2026-10-05 10:00", "P1", "V3")},
			repeated: []string{"load:Y:L1/A-010/load:Y:L1/A-10"}},
		{name: "parts of one record have no number",
			facts: []ledger.Fact{load("A-9", "2026-10-05 08:00", "P1", "V1"), load("A-10 part 1", "2026-10-05 09:00", "P1", "V2"),
				load("A-10 part 2", "2026-10-05 09:00", "P1", "V3"), load("A-11", "2026-10-05 10:00", "P1", "V4")},
			missing: []string{"L1 A-/10-10"}},
		{name: "a number no counter has room for is a text",
			facts: []ledger.Fact{load("A-9", "2026-10-05 08:00", "P1", "V1"), load("A-99999999999999999999", "2026-10-05 09:00", "P1", "V2"), load("none", "2026-10-05 10:00", "P1", "V3")}},
		{name: "a paused task within five minutes",
			facts: join(hourly("L1", "A-", 1, 2, "2026-10-05 08:00"), hourly("L1", "A-", 3, 3, "2026-10-05 08:55"), hourly("L1", "A-", 4, 5, "2026-10-05 11:00"))},
		{name: "one beyond five minutes",
			facts: join(hourly("L1", "A-", 1, 2, "2026-10-05 08:00"), hourly("L1", "A-", 3, 3, "2026-10-05 07:54"), hourly("L1", "A-", 4, 5, "2026-10-05 11:00")),
			order: []string{"load:Y:L1/A-3"}},
		{name: "the hour that the clock shows twice", // 02:00 summer time is 01:00 winter time on the 25th
			facts: join(hourly("L1", "A-", 1, 6, "2026-10-24 22:00"))},
		{name: "a deck scale and a loader with numbers of their own",
			facts: join(hourly("L1", "", 1, 9, "2026-10-05 08:00"),
				[]ledger.Fact{deck("3", "2026-10-05 08:10", "L1-1", 20), deck("4", "2026-10-05 09:10", "L1-2", 20), deck("6", "2026-10-05 11:10", "L1-4", 20)}),
			missing: []string{"D1/5-5"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := october(t, c.facts...)
			wants(t, d, missing{}, c.missing...)
			wants(t, d, repeated{}, c.repeated...)
			wants(t, d, order{}, c.order...)
		})
	}
}

func deck(ticket, clock, truck string, tonnes int) ledger.DeckTicket {
	return ledger.DeckTicket{At: at(clock), Deck: "D1", Ticket: ticket, Truck: truck, Product: "G1", Customer: "C1", Net: ledger.Mass(tonnes) * ledger.Tonne}
}

// Series of two loaders are put together where one counter numbers both, and stay apart otherwise.
func TestOneCounterOrTwo(t *testing.T) {
	turns := func(numbers ...int) []ledger.Fact { // by turns of L1 and L2
		var facts []ledger.Fact
		for i, n := range numbers {
			facts = append(facts, hourly(fmt.Sprint("L", 1+i%2), "", n, n, at("2026-10-05 06:00").Add(time.Duration(i)*time.Hour).Format("2006-01-02 15:04"))...)
		}
		return facts
	}
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []Sequence
	}{
		{"by turns, one number lost", turns(1, 2, 3, 4, 5, 6, 8, 9, 10, 11), []Sequence{{Instrument: "L1+L2", First: 1, Last: 11, Count: 10, Missing: 1}}},
		{"by turns, one number twice in 24", turns(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 19, 20, 21, 22, 23),
			[]Sequence{{Instrument: "L1+L2", First: 1, Last: 23, Count: 24, Duplicates: 1}}},
		{"a block for one, then for the other", join(hourly("L1", "", 1, 5, "2026-10-05 06:00"), hourly("L2", "", 6, 10, "2026-10-06 06:00"), hourly("L1", "", 11, 15, "2026-10-07 06:00")),
			[]Sequence{{Instrument: "L1+L2", First: 1, Last: 15, Count: 15}}},
		{"side by side with the same numbers", join(hourly("L1", "", 1, 9, "2026-10-05 06:00"), hourly("L2", "", 1, 9, "2026-10-05 06:30")),
			[]Sequence{{Instrument: "L1", First: 1, Last: 9, Count: 9}, {Instrument: "L2", First: 1, Last: 9, Count: 9}}},
		{"side by side, with a mistyped number above both", join(hourly("L1", "", 1, 9, "2026-10-05 06:00"), hourly("L1", "", 40010, 40010, "2026-10-05 15:00"),
			hourly("L1", "", 11, 14, "2026-10-05 16:00"), hourly("L2", "", 101, 114, "2026-10-05 06:30")),
			[]Sequence{{Instrument: "L1", First: 1, Last: 14, Count: 13, Missing: 1, OutOfOrder: 1}, {Instrument: "L2", First: 101, Last: 114, Count: 14}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []Sequence
			for _, s := range Sequences(october(t, c.facts...)) {
				got = append(got, Sequence{Instrument: s.Instrument, First: s.First, Last: s.Last, Count: s.Count, Missing: s.Missing,
					Duplicates: s.Duplicates, OutOfOrder: s.OutOfOrder})
				if !s.Holds() {
					t.Errorf("%+v does not hold", s)
				}
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("sequences (-want +got):\n%s", diff)
			}
		})
	}
}

// Numbers that start anew with the year are two series, also where a ticket of the old year comes late and where the old
// and the new numbers overlap; numbers that run on are one.
func TestNumbersOverTheYear(t *testing.T) {
	for _, c := range []struct {
		name                     string
		facts                    []ledger.Fact
		missing, repeated, order []string
	}{
		{name: "anew, one lost", facts: join(hourly("L1", "", 901, 910, "2026-12-30 06:00"), hourly("L1", "", 1, 2, "2027-01-04 06:00"), hourly("L1", "", 4, 6, "2027-01-04 09:00")),
			missing: []string{"L1 2027/3-3"}},
		{name: "anew, and one of the old year's weighed after it", facts: join(hourly("L1", "", 901, 910, "2026-12-30 06:00"),
			hourly("L1", "", 911, 911, "2027-01-01 06:00"), hourly("L1", "", 1, 6, "2027-01-04 06:00")),
			order: []string{"load:Y:L1/911"}},
		{name: "anew, beyond where the old year ended", facts: join(hourly("L1", "", 11, 15, "2026-12-30 06:00"), hourly("L1", "", 1, 18, "2027-01-04 06:00"))},
		{name: "on, one lost over the night", facts: join(hourly("L1", "", 901, 910, "2026-12-31 06:00"), hourly("L1", "", 912, 918, "2027-01-04 06:00")),
			missing: []string{"L1/911-911"}},
		{name: "two loaders of one counter, anew", facts: join(hourly("L1", "", 901, 905, "2026-12-30 06:00"), hourly("L2", "", 906, 909, "2026-12-30 12:00"),
			hourly("L1", "", 910, 911, "2026-12-30 17:00"), hourly("L1", "", 1, 3, "2027-01-04 06:00"), hourly("L2", "", 4, 6, "2027-01-04 10:00"), hourly("L1", "", 8, 9, "2027-01-04 15:00")),
			missing: []string{"L1+L2 2027/7-7"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := screentest.Month(t, "2027-01", screentest.Rows(append(screentest.Place(), c.facts...)...)...)
			wants(t, d, missing{}, c.missing...)
			wants(t, d, repeated{}, c.repeated...)
			wants(t, d, order{}, c.order...)
		})
	}
}

// A gap of g numbers predicts g times the mean load: forty loads of 20.3 t are 812.0 t (the worked example of missing
// loads, which stat has too), and at 1.6 t a load they scatter by 1.6 sqrt(40) = 10.119 t, times 1.96.
func TestGapOfForty(t *testing.T) {
	g := Gap{First: 101, Last: 140}
	g.weigh(20.3e6, 1.6e6)
	want := []string{"812.000 t", "792.167 t", "831.833 t"}
	if diff := cmp.Diff(want, []string{g.Mass.String(), g.Low.String(), g.High.String()}); diff != "" {
		t.Errorf("mass, low, high (-want +got):\n%s", diff)
	}
}

// The estimate of a gap that no yard could have filled stays a mass.
func TestGapBeyondAnyMass(t *testing.T) {
	facts := join(hourly("L1", "", 1, 4, "2026-10-05 06:00"), hourly("L1", "", 900_000_000_000_000_000, 900_000_000_000_000_004, "2026-10-06 06:00"))
	for _, f := range wants(t, october(t, facts...), missing{}, "L1/5-899999999999999999") {
		if f.Mass != ledger.MaxMass || f.Low > f.Mass || f.High < f.Mass || f.Low < 0 || f.High > ledger.MaxMass {
			t.Errorf("%v, %v to %v", f.Mass, f.Low, f.High)
		}
	}
}

// Two records on each side are too few to say of which pile a gap is, and another pile among three is too.
func TestGapOfNoPile(t *testing.T) {
	mixed := append(dayOf("2026-10-05", "A-", 1, 2, 4, 5, 6), load("A-0007", "2026-10-05 15:00", "P1", "V9"))
	other := append(dayOf("2026-10-05", "A-", 1, 2, 3, 5, 6), load("A-0007", "2026-10-05 15:00", "P2", "V9"))
	for _, facts := range [][]ledger.Fact{mixed, other} {
		for _, f := range screentest.Found(october(t, facts...), missing{}) {
			if diff := cmp.Diff([]screen.Effect(nil), f.Effects); diff != "" || f.Unplaced != f.Mass || f.Mass == 0 {
				t.Errorf("%s: effects %v, %v without a place", f.Seen, f.Effects, f.Unplaced)
			}
		}
	}
}
