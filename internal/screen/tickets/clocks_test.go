package tickets

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/ledger"
)

// own is the yard's own work, without a customer.
func own(ticket, clock string) ledger.Load {
	l := load(ticket, clock, "P1", "V1")
	l.Customer, l.Purpose = "", ledger.PurposeInternal
	return l
}

// Times are UTC; the yard's clock is an hour ahead until 01:00 of the 25th. It is open from six to six on weekdays.
func TestStaffedHours(t *testing.T) {
	for _, c := range []struct {
		name           string
		facts          []ledger.Fact
		outside, night []string
	}{
		{"at closing and the grace", []ledger.Fact{own("1", "2026-10-05 17:15"), own("2", "2026-10-05 04:45")}, nil, nil},
		{"a minute beyond it", []ledger.Fact{own("1", "2026-10-05 17:16"), own("2", "2026-10-06 04:44")}, []string{"2026-10-05/L1", "2026-10-06/L1"}, nil},
		{"the same clock, before and after the change", []ledger.Fact{own("1", "2026-10-23 17:10"), own("2", "2026-10-26 18:10"), own("3", "2026-10-26 17:20")}, nil, nil},
		{"beyond the grace after the change", []ledger.Fact{own("1", "2026-10-26 18:20")}, []string{"2026-10-26/L1"}, nil},
		{"on the day with 25 hours", []ledger.Fact{load("1", "2026-10-25 00:30", "P1", "V1"), load("2", "2026-10-25 01:30", "P1", "V2"), load("3", "2026-10-25 10:00", "P1", "V3")},
			[]string{"2026-10-25/L1"}, []string{"2026-10-24/L1"}},
		{"a weekday that is closed by date", []ledger.Fact{ledger.Hours{Day: "2026-10-12"}, own("1", "2026-10-12 10:00"), own("2", "2026-10-19 10:00")}, []string{"2026-10-12/L1"}, nil},
		{"longer hours by date", []ledger.Fact{ledger.Hours{Day: "2026-10-12", Open: "06:00", Close: "24:00"}, own("1", "2026-10-12 22:30"),
			load("2", "2026-10-12 22:50", "P1", "V2")}, nil, nil},
		{"hours over midnight, with their grace", []ledger.Fact{ledger.Hours{Day: "2026-10-05", Open: "18:00", Close: "02:00"}, ledger.Hours{Day: "2026-10-06"},
			own("1", "2026-10-05 16:45"), own("2", "2026-10-05 22:30"), load("3", "2026-10-06 00:50", "P1", "V3"), own("4", "2026-10-06 01:15")}, nil, nil},
		{"beyond hours over midnight", []ledger.Fact{ledger.Hours{Day: "2026-10-05", Open: "18:00", Close: "02:00"}, ledger.Hours{Day: "2026-10-06"},
			own("1", "2026-10-05 16:44"), own("2", "2026-10-06 01:16")}, []string{"2026-10-05/L1", "2026-10-06/L1"}, nil},
		{"a minute past a day that ends at midnight", []ledger.Fact{ledger.Hours{Day: "2026-10-12", Open: "06:00", Close: "24:00"}, own("1", "2026-10-12 23:01")}, nil, nil},
		{"round the clock", []ledger.Fact{ledger.Hours{Day: "2026-10-05", Open: "06:00", Close: "06:00"}, own("1", "2026-10-05 21:00"), own("2", "2026-10-06 04:00")}, nil, nil},
		{"one night over midnight", []ledger.Fact{load("1", "2026-10-05 22:30", "P1", "V1"), load("2", "2026-10-05 23:30", "P1", "V2"), load("3", "2026-10-06 02:30", "P1", "V3")},
			nil, []string{"2026-10-05/L1"}},
		{"two nights", []ledger.Fact{load("1", "2026-10-05 02:30", "P1", "V1"), load("2", "2026-10-05 20:30", "P1", "V2")}, nil, []string{"2026-10-04/L1", "2026-10-05/L1"}},
		{"the night into the month", []ledger.Fact{load("1", "2026-09-30 22:30", "P1", "V1"), load("2", "2026-09-30 23:30", "P1", "V2")}, nil, []string{"2026-09-30/L1"}},
		{"five in the morning is no night, and closed", []ledger.Fact{load("1", "2026-10-05 04:00", "P1", "V1")}, []string{"2026-10-05/L1"}, nil},
		{"a night that does not pass midnight", []ledger.Fact{policy("rule night pickup from hour", "1"), policy("rule night pickup until hour", "4"),
			load("1", "2026-10-05 22:30", "P1", "V1"), load("2", "2026-10-06 01:30", "P1", "V2")}, []string{"2026-10-05/L1"}, []string{"2026-10-06/L1"}},
		{"the yard's own work at night", []ledger.Fact{own("1", "2026-10-05 22:30")}, []string{"2026-10-05/L1"}, nil},
		{"void", []ledger.Fact{func() ledger.Load { l := load("1", "2026-10-05 22:30", "P1", "V1"); l.Void = true; return l }()}, nil, nil},
		{"the deck scale", []ledger.Fact{deck("1", "2026-10-05 22:30", "V1", 20), deck("2", "2026-10-10 10:30", "V1", 20)}, []string{"2026-10-10/D1"}, []string{"2026-10-05/D1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := october(t, c.facts...)
			wants(t, d, outside{}, c.outside...)
			wants(t, d, night{}, c.night...)
		})
	}
}

func policy(name, value string) ledger.Fact {
	return ledger.Policy{Name: ledger.PolicyName(name), Value: value, From: at("2026-01-01 00:00")}
}

// A tare that was weighed anew at last takes nothing from the trips before; neither few visits nor a short time make
// one stored.
func TestStoredTares(t *testing.T) {
	same := func(n int) []int {
		list := make([]int, n)
		for i := range list {
			list[i] = 14_000
		}
		return list
	}
	void := visits("V1", 0, same(25)...)
	for i := range void {
		f := void[i].(ledger.DeckTicket)
		f.Void = true
		void[i] = f
	}
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		trips ledger.Mass // of 20 t beyond 21 days; 0 where nothing is to be found
	}{
		{"renewed after 25 days", visits("V1", 0, append(same(25), 14_060, 14_040)...), 3},
		{"21 days and no more", visits("V1", 0, same(22)...), 0},
		{"22 days", visits("V1", 0, same(23)...), 1},
		{"four visits in 25 days", join(visits("V1", 0, 14_000), visits("V1", 10, 14_000), visits("V1", 20, 14_000), visits("V1", 25, 14_000)), 0},
		{"five visits in 25 days", join(visits("V1", 0, 14_000), visits("V1", 10, 14_000), visits("V1", 15, 14_000), visits("V1", 20, 14_000), visits("V1", 25, 14_000)), 1},
		{"void tickets", void, 0},
		{"no tare on record", visits("V1", 0, make([]int, 25)...), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			var want []string
			if c.trips > 0 {
				want = []string{"V1"}
			}
			for _, f := range wants(t, october(t, c.facts...), oldTare{}, want...) {
				if f.Mass != c.trips*20*ledger.Tonne {
					t.Errorf("%v at stake, want %d trips of 20 t: %s", f.Mass, c.trips, f.Seen)
				}
			}
		})
	}
}

// The scale's own record is beside a pad's where it has the pad's time or a later one, and is no other trip by the deck scale.
func TestPadBesideTheScalesOwn(t *testing.T) {
	hand := load("PAD-7", "2026-10-05 09:00", "P1", "V1")
	for _, c := range []struct {
		name   string
		facts  []ledger.Fact
		double bool
	}{
		{"the same minute", []ledger.Fact{load("A-1", "2026-10-05 09:00", "P1", "V1")}, true},
		{"printed a week later", []ledger.Fact{load("A-1", "2026-10-12 09:00", "P1", "V1")}, true},
		{"printed later than that", []ledger.Fact{load("A-1", "2026-10-12 09:01", "P1", "V1")}, false},
		{"a trip before it", []ledger.Fact{load("A-1", "2026-10-05 08:00", "P1", "V1")}, false},
		{"a later trip, weighed out", []ledger.Fact{load("A-1", "2026-10-06 09:00", "P1", "V1"), deck("W-1", "2026-10-06 09:08", "V1", 20)}, false},
		{"one trip, weighed out once", []ledger.Fact{load("A-1", "2026-10-05 09:02", "P1", "V1"), deck("W-1", "2026-10-05 09:10", "V1", 20)}, true},
		{"two trips, both weighed out", []ledger.Fact{load("A-1", "2026-10-05 09:25", "P1", "V1"), deck("W-1", "2026-10-05 09:08", "V1", 20), deck("W-2", "2026-10-05 09:33", "V1", 20)}, false},
		{"another pile", []ledger.Fact{load("A-1", "2026-10-05 09:00", "P2", "V1")}, false},
		{"another truck", []ledger.Fact{load("A-1", "2026-10-05 09:00", "P1", "V2")}, false},
		{"more than a thousandth", []ledger.Fact{func() ledger.Load {
			l := load("A-1", "2026-10-05 09:00", "P1", "V1")
			l.Net += 40 * ledger.Kilogram
			return l
		}()}, false},
		{"void", []ledger.Fact{func() ledger.Load { l := load("A-1", "2026-10-05 09:00", "P1", "V1"); l.Void = true; return l }()}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := wants(t, october(t, append(c.facts, hand)...), pad{}, "load:Y:L1/PAD-7")[0]
			var want []screen.Effect
			if c.double {
				want = []screen.Effect{{Pile: "P1", Mass: -20 * ledger.Tonne}}
			}
			if diff := cmp.Diff(want, f.Effects); diff != "" {
				t.Errorf("%s (-want +got):\n%s", f.Seen, diff)
			}
		})
	}
}

// Pads that are void are nothing; those of the deck scale are listed; a yard may call its pad something else.
func TestPads(t *testing.T) {
	void := load("PAD-1", "2026-10-05 09:00", "P1", "V1")
	void.Void = true
	facts := []ledger.Fact{void, deck("PAD-2", "2026-10-05 10:00", "V1", 20), load("HAND-3", "2026-10-05 11:00", "P1", "V3"), load("APAD-4", "2026-10-05 12:00", "P1", "V3")}
	wants(t, october(t, facts...), pad{}, "deck:Y:D1/PAD-2")
	wants(t, october(t, append(facts, policy("rule outage pad prefix", "hand"))...), pad{}, "load:Y:L1/HAND-3")
}
