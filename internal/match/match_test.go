package match

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

// at is a time of day.
func at(clock string) time.Time {
	t, err := time.Parse("15:04", clock)
	if err != nil {
		panic(err)
	}
	return time.Date(2026, 3, 2, t.Hour(), t.Minute(), 0, 0, time.UTC)
}

func tonnes(t float64) ledger.Mass { return steps(t, 0.01) }

func load(clock, truck, product string, t float64) ledger.Load {
	return ledger.Load{At: at(clock), Loader: "L1", Ticket: clock, Pile: "X", Product: product, Truck: truck, Net: tonnes(t)}
}

func ticket(clock, truck, product string, t float64) ledger.DeckTicket {
	return ledger.DeckTicket{At: at(clock), Deck: "D1", Ticket: clock, Truck: truck, Product: product, Net: tonnes(t)}
}

func voidLoad(l ledger.Load) ledger.Load { l.Void = true; return l }

func voidTicket(t ledger.DeckTicket) ledger.DeckTicket { t.Void = true; return t }

// input makes records of facts, which must be in order of time.
func input(facts ...ledger.Fact) Input {
	in := Input{}
	for _, f := range facts {
		if _, ok := f.(ledger.Load); ok {
			in.Loads = append(in.Loads, rec(f))
		} else {
			in.Deck = append(in.Deck, rec(f))
		}
	}
	return in
}

// A small yard's morning: too few records to learn from.
func TestMatchFew(t *testing.T) {
	first := []ledger.Fact{load("07:00", "T1", "A", 20.1), ticket("07:06", "T1", "A", 20), load("07:10", "T2", "B", 19.2), ticket("07:15", "T2", "B", 19.3)}
	tests := []struct {
		name  string
		facts []ledger.Fact // after the first two trucks
		want  string
	}{
		{"nothing more", nil, "pairs 0-0 1-1"},
		{"a ticket is missing", []ledger.Fact{load("07:20", "T3", "A", 21)}, "pairs 0-0 1-1 loads 2"},
		{"a load is missing", []ledger.Fact{ticket("07:26", "T3", "A", 21)}, "pairs 0-0 1-1 tickets 2"},
		{"another weight", []ledger.Fact{load("07:20", "T3", "A", 14), ticket("07:25", "T3", "A", 21)}, "pairs 0-0 1-1 2-2"},
		{"another truck", []ledger.Fact{load("07:20", "T3", "A", 21), ticket("07:25", "T4", "A", 21)}, "pairs 0-0 1-1 2-2"},
		{"another product", []ledger.Fact{load("07:20", "T3", "A", 21), ticket("07:25", "T3", "B", 21)}, "pairs 0-0 1-1 2-2"},
		{"no label", []ledger.Fact{load("07:20", "", "", 21), ticket("07:25", "T3", "B", 21)}, "pairs 0-0 1-1 2-2"},
		{"no weight", []ledger.Fact{load("07:20", "T3", "A", 0), ticket("07:25", "T3", "A", 21)}, "pairs 0-0 1-1 2-2"},
		{"another truck, product and weight", []ledger.Fact{load("07:20", "T3", "A", 21), ticket("07:25", "T4", "B", 12)},
			"pairs 0-0 1-1 loads 2 tickets 2"},
		{"the same truck in the afternoon", []ledger.Fact{load("07:20", "T3", "A", 21), ticket("15:25", "T3", "A", 21)},
			"pairs 0-0 1-1 loads 2 tickets 2"},
		{"the other order at the deck", []ledger.Fact{load("07:20", "T3", "A", 21), load("07:22", "T4", "A", 19.5), ticket("07:26", "T4", "A", 19.4),
			ticket("07:33", "T3", "A", 21)}, "pairs 0-0 1-1 2-3 3-2"},
		{"two trucks on one record", []ledger.Fact{ticket("07:26", "T3", "A", 21), ticket("07:29", "T4", "A", 18.3), load("07:25", "T4", "A", 39.4)},
			"pairs 0-0 1-1 merged 2-[2 3]"},
		{"two records of one truck", []ledger.Fact{load("07:20", "T3", "A", 17), load("07:22", "T3", "A", 4.1), ticket("07:27", "T3", "A", 21)},
			"pairs 0-0 1-1 split [2 3]-2"},
		{"a void load that was weighed out", []ledger.Fact{voidLoad(load("07:20", "T3", "A", 21)), ticket("07:25", "T3", "A", 21)},
			"pairs 0-0 1-1 tickets 2 void load 2-2"},
		{"a load whose ticket is void", []ledger.Fact{load("07:20", "T3", "A", 21), voidTicket(ticket("07:25", "T3", "A", 21))},
			"pairs 0-0 1-1 loads 2 void deck 2-2"},
		{"both void", []ledger.Fact{voidLoad(load("07:20", "T3", "A", 21)), voidTicket(ticket("07:25", "T3", "A", 21))}, "pairs 0-0 1-1"},
		{"a load and its void twin", []ledger.Fact{voidLoad(load("07:20", "T3", "A", 21)), load("07:21", "T3", "A", 21.1), ticket("07:25", "T3", "A", 21)},
			"pairs 0-0 1-1 3-2"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := Match(input(append(first[:len(first):len(first)], test.facts...)...))
			if diff := cmp.Diff(test.want, summary(got)); diff != "" {
				t.Errorf("result (-want +got):\n%s", diff)
			}
		})
	}
}

// What a yard sets is not learned.
func TestSettings(t *testing.T) {
	late := []ledger.Fact{load("07:00", "T1", "A", 20), load("07:10", "T2", "A", 19), ticket("07:15", "T2", "A", 19), ticket("07:40", "T1", "A", 20)}
	heavy := []ledger.Fact{load("07:10", "T2", "A", 41.5), ticket("07:14", "T1", "A", 20), ticket("07:15", "T2", "A", 20)}
	tests := []struct {
		name     string
		facts    []ledger.Fact
		settings Settings
		want     string
	}{
		{"learned window", late, Settings{}, "pairs 0-1 1-0"},
		{"set window", late, Settings{Window: 20 * time.Minute}, "pairs 1-0 loads 0 tickets 1"},
		{"learned tolerance", heavy, Settings{}, "pairs merged 0-[0 1]"},
		{"set tolerance", heavy, Settings{Tolerance: 0.02}, "pairs 0-1 tickets 0"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			in := input(test.facts...)
			in.Settings = test.settings
			if diff := cmp.Diff(test.want, summary(Match(in))); diff != "" {
				t.Errorf("result (-want +got):\n%s", diff)
			}
		})
	}
}

// A side may be empty.
func TestOneSide(t *testing.T) {
	for _, test := range []struct {
		in   Input
		want string
	}{
		{Input{}, "pairs"},
		{input(load("07:00", "T1", "A", 20)), "pairs loads 0"},
		{input(ticket("07:00", "T1", "A", 20), voidTicket(ticket("07:10", "T1", "A", 20))), "pairs tickets 0"},
	} {
		if diff := cmp.Diff(test.want, summary(Match(test.in))); diff != "" {
			t.Errorf("result (-want +got):\n%s", diff)
		}
	}
}

// What a pair says of its records.
func TestPair(t *testing.T) {
	in := input(load("07:00", "T1", "", 20.4), ticket("06:58", "T2", "B", 20))
	in.Product = func(*ledger.Record) string { return "b" }
	got := Match(in).Pairs
	if len(got) != 1 {
		t.Fatalf("%d pairs, want 1", len(got))
	}
	p := got[0]
	want := Pair{Lag: -2 * time.Minute, Difference: 400 * ledger.Kilogram, Z: p.Z, Weight: p.Weight, Margin: p.Weight, SameTruck: No, SameProduct: Yes}
	if diff := cmp.Diff(want, p); diff != "" {
		t.Errorf("pair (-want +got):\n%s", diff)
	}
	if p.Z < 0.6 || p.Z > 0.7 {
		t.Errorf("z = %v, want ln(1.02)/0.03", p.Z)
	}
}

func summary(r *Result) string {
	s := "pairs"
	for _, p := range r.Pairs {
		s += fmt.Sprintf(" %d-%d", p.Load, p.Deck)
	}
	if r.LoadAlone != nil {
		s += " loads"
	}
	for _, i := range r.LoadAlone {
		s += fmt.Sprint(" ", i)
	}
	if r.DeckAlone != nil {
		s += " tickets"
	}
	for _, j := range r.DeckAlone {
		s += fmt.Sprint(" ", j)
	}
	for _, m := range r.Merged {
		s += fmt.Sprintf(" merged %d-%v", m.Load, m.Deck)
	}
	for _, x := range r.Split {
		s += fmt.Sprintf(" split %v-%d", x.Loads, x.Deck)
	}
	for _, p := range r.VoidLoads {
		s += fmt.Sprintf(" void load %d-%d", p.Load, p.Deck)
	}
	for _, p := range r.VoidDecks {
		s += fmt.Sprintf(" void deck %d-%d", p.Load, p.Deck)
	}
	return s
}

// A ticket that is a part of a merged record is not the host of a split one as well: it would be in two things.
func TestGroupedMayNotHost(t *testing.T) {
	host := weighing{net: tonnes(20)}
	g := &grouping{hosts: &side{all: []weighing{host, host}}, partner: []int32{alone, grouped}}
	if !g.mayHost(0) || g.mayHost(1) {
		t.Errorf("alone may host: %v, grouped may host: %v; want true and false", g.mayHost(0), g.mayHost(1))
	}
}
