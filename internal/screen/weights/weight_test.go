package weights_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/ledger"
)

const kg = ledger.Kilogram

func TestWeightsDiffer(t *testing.T) {
	at := april(10, 12)
	pair := func(all []truckload) []told {
		return []told{{"weights differ", []string{all[at].loadID(), all[at].deckID()}, all[at].load.Pile, nil}}
	}
	by := func(percent float64) func(all []truckload) {
		return func(all []truckload) { all[at].load.Net = tonnes((1+percent/100)*all[at].mass, 10) }
	}
	check(t, []one{
		{"6 % more", by(6), nil, pair},
		{"6 % less", by(-6), nil, pair},
		{"2 % more", by(2), nil, nothing},
		{"6 % where 8 % are allowed", by(6), []ledger.Fact{setting("rule weights differ percent", "8")}, nothing},
		{"2 % where 1.9 % are allowed and others keep to it", func(all []truckload) {
			for i := range all {
				all[i].load.Net = tonnes(all[i].mass, 10)
			}
			by(2)(all)
		}, []ledger.Fact{setting("rule weights differ percent", "1.9")}, pair},
		{"one load in short tons", by(10.23), nil, pair},
		{"switched off", by(6), []ledger.Fact{setting("rule weights differ", "off")}, nothing},
		{"a whole tonne, rounded", func(all []truckload) {
			all[at].deck.Net, all[at].deck.Gross, all[at].load.Net = 21_480*kg, all[at].deck.Tare+21_480*kg, 22_000*kg
		}, nil, nothing},
		{"a wrong tare on three visits", func(all []truckload) {
			for _, i := range []int{at, at + 60, at + 180} {
				all[i].deck.Tare += 1_500 * kg
				all[i].deck.Tare = all[at].deck.Tare
				all[i].deck.Net = all[i].deck.Gross - all[i].deck.Tare
			}
		}, nil, func(all []truckload) []told {
			var ids []string
			for _, i := range []int{at, at + 60, at + 180} {
				ids = append(ids, all[i].loadID(), all[i].deckID())
			}
			return []told{{"weights differ", ids, "", nil}}
		}},
	})
}

func TestBucketPass(t *testing.T) {
	at := april(10, 12)
	change := func(buckets float64, passes int) func(all []truckload) {
		return func(all []truckload) {
			all[at].load.Net = tonnes((1+buckets/4)*all[at].mass, 10)
			all[at].load.Passes += passes
		}
	}
	of := func(rule string) func(all []truckload) []told {
		return func(all []truckload) []told {
			return []told{{rule, []string{all[at].loadID(), all[at].deckID()}, all[at].load.Pile, nil}}
		}
	}
	check(t, []one{
		{"a bucket and a half", change(1.5, 1), nil, of("weights differ")},
		{"a tenth more than a bucket where 1 % is allowed", change(1.2, 1), []ledger.Fact{setting("rule bucket pass percent", "1")}, of("weights differ")},
		{"passes not counted", func(all []truckload) {
			change(1, 0)(all)
			for i := range all {
				all[i].load.Passes = 0
			}
		}, nil, of("weights differ")},
	})
}

// A bucket that the loader counted twice has the book too low by it, one that it missed too high.
func TestBucketPassEffect(t *testing.T) {
	at := april(10, 12)
	for _, c := range []struct{ buckets, passes int }{{1, 1}, {-1, -1}, {2, 2}, {-2, -2}, {1, 0}, {-1, 0}} {
		all := plain(1)
		x := &all[at]
		x.load.Net = tonnes((1+float64(c.buckets)/4)*x.mass, 10)
		x.load.Passes += c.passes
		got := found(t, yardOf(t, all))
		if len(got) != 1 || got[0].Rule != "bucket pass" || !cmp.Equal([]string{x.loadID(), x.deckID()}, got[0].Records) {
			t.Errorf("%+v: %v, want one finding of the pair", c, got)
			continue
		}
		want := -tonnes(float64(c.buckets)*x.mass/4, 10)
		if e := got[0].Effects; len(e) != 1 || e[0].Pile != x.load.Pile || (e[0].Mass-want).Abs() > 50*kg || got[0].Mass != e[0].Mass.Abs() {
			t.Errorf("%+v: %s and effects %v, want about %s on %s", c, got[0].Mass, e, want, x.load.Pile)
		}
	}
}

func TestUnitSlip(t *testing.T) {
	at := april(10, 12)
	loader := func(loads ...int) func(all []truckload) {
		return func(all []truckload) {
			for _, i := range loads {
				all[i].load.Net = shortTons(all[i].load.Net)
			}
		}
	}
	each := func(rule string, loads ...int) func(all []truckload) []told {
		return func(all []truckload) (want []told) {
			for _, i := range loads {
				want = append(want, told{rule, []string{all[i].loadID(), all[i].deckID()}, all[i].load.Pile, nil})
			}
			return want
		}
	}
	check(t, []one{
		{"two in a row", loader(at, at+2), nil, each("weights differ", at, at+2)},
		{"three not in a row", loader(at, at+2, at+6), nil, each("weights differ", at, at+2, at+6)},
		{"20 tickets", func(all []truckload) { deckInShortTons(all, at, 20) }, nil, func(all []truckload) []told {
			var ids []string
			for i := at; i < at+20; i++ {
				ids = append(ids, all[i].deckID())
			}
			return []told{{"unit slip", ids, "", nil}}
		}},
	})
}

// A ticket whose load is missing does not break a run.
func TestUnitSlipWithGap(t *testing.T) {
	at := april(10, 12)
	all := plain(1)
	deckInShortTons(all, at, 20)
	lost := &all[at+7]
	lost.noLoad = true
	var ids []string
	for i := at; i < at+20; i++ {
		if i != at+7 {
			ids = append(ids, all[i].deckID())
		}
	}
	want := []told{{"unit slip", ids, "", nil}, {"no loader load", []string{lost.deckID()}, lost.load.Pile, onPile(lost.load.Pile, lost.deck.Net)}}
	if diff := cmp.Diff(want, findings(t, yardOf(t, all))); diff != "" {
		t.Errorf("findings (-want +got):\n%s", diff)
	}
}

func shortTons(m ledger.Mass) ledger.Mass { return tonnes(float64(m)/907_184.74, 10) }

func deckInShortTons(all []truckload, at, n int) {
	for i := at; i < at+n; i++ {
		c := &all[i].deck
		c.Gross, c.Tare = shortTons(c.Gross), shortTons(c.Tare)
		c.Net = c.Gross - c.Tare
	}
}

// A loader's run names its loads, and what each pile is off by: the book has more leave it than did.
func TestUnitSlipOfLoader(t *testing.T) {
	for _, n := range []int{3, 10, 400} {
		all := plain(2)
		over, want := map[string]ledger.Mass{}, []string(nil)
		for i := range n {
			x := &all[april(10, 12)+2*i]
			was := x.load.Net
			x.load.Net = shortTons(was)
			over[x.load.Pile] += x.load.Net - was
			want = append(want, x.loadID())
		}
		var got []screen.Exception
		for _, e := range found(t, yardOf(t, all)) {
			if e.Rule != "unit slip" {
				t.Errorf("%d loads: %s: %s", n, e.Rule, e.Seen)
				continue
			}
			got = append(got, e)
		}
		if len(got) != 1 || !cmp.Equal(want, got[0].Records) {
			t.Fatalf("%d loads: %+v, want one finding of them", n, got)
		}
		for _, e := range got[0].Effects {
			if off := e.Mass + over[e.Pile]; off.Abs() > ledger.Mass(max(n/3, 1))*350*kg {
				t.Errorf("%d loads: effect on pile %s is %s, want about %s", n, e.Pile, e.Mass, -over[e.Pile])
			}
		}
		if len(got[0].Effects) != len(over) || !strings.Contains(got[0].Seen, "1.10") {
			t.Errorf("%d loads: effects %v, want on %d piles; %s", n, got[0].Effects, len(over), got[0].Seen)
		}
	}
}
