package weights_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

// lump has a loader write one record of n of its trucks, with the last of them. All are of one pile.
func lump(all []truckload, last, n int) {
	x := &all[last]
	for k := 1; k < n; k++ {
		y := &all[last-2*k]
		y.noLoad, y.deck.Product = true, x.deck.Product
		x.load.Net += y.load.Net
		x.load.Passes += y.load.Passes
	}
}

func TestMergedLoad(t *testing.T) {
	at := april(10, 20)
	merged := func(trucks int) func(all []truckload) []told {
		return func(all []truckload) []told {
			ids := []string{all[at].loadID()}
			for k := trucks - 1; k >= 0; k-- {
				ids = append(ids, all[at-2*k].deckID())
			}
			return []told{{"merged load", ids, all[at].load.Pile, nil}}
		}
	}
	alone := func(all []truckload) []told {
		return []told{{"merged load", []string{all[at].loadID(), all[at].deckID()}, all[at].load.Pile, nil}}
	}
	times := func(f float64) func(all []truckload) {
		return func(all []truckload) { all[at].load.Net = tonnes(f*all[at].mass, 10) }
	}
	check(t, []one{
		{"two trucks", func(all []truckload) { lump(all, at, 2) }, nil, merged(2)},
		{"three trucks", func(all []truckload) { lump(all, at, 3) }, nil, merged(3)},
		{"five trucks", func(all []truckload) { lump(all, at, 5) }, nil, merged(5)},
		{"twice the load and one ticket", times(2.13), nil, alone},
		{"a road train that the deck weighed too", func(all []truckload) {
			times(2.2)(all)
			all[at].deck.Net = tonnes(2.2*all[at].mass, 20)
		}, nil, nothing},
		{"a load a fifth heavier", func(all []truckload) {
			times(1.2)(all)
			all[at].deck.Net = tonnes(1.2*all[at].mass, 20)
		}, nil, nothing},
		{"a void record", func(all []truckload) {
			times(2.13)(all)
			all[at].load.Void, all[at].noTicket = true, true
		}, nil, nothing},
		{"for the yard's own use, without a deck", func(all []truckload) {
			times(3)(all)
			all[at].load.Purpose, all[at].noTicket = ledger.PurposeInternal, true
		}, nil, func(all []truckload) []told {
			return []told{{"merged load", []string{all[at].loadID()}, all[at].load.Pile, nil}}
		}},
	})
}

func TestMergedLoadByPasses(t *testing.T) {
	at := april(10, 20)
	passes := func(n int) func(all []truckload) {
		return func(all []truckload) {
			all[at].load.Passes, all[at].load.Purpose, all[at].noTicket = n, ledger.PurposeInternal, true
		}
	}
	check(t, []one{
		{"fifty", passes(50), nil, func(all []truckload) []told {
			return []told{{"merged load", []string{all[at].loadID()}, all[at].load.Pile, nil}}
		}},
		{"forty-nine", passes(49), nil, nothing},
		{"fifty where sixty are the limit", passes(50), []ledger.Fact{setting("rule merged load passes", "60")}, nothing},
		{"fifty, and a deck that agrees", func(all []truckload) { all[at].load.Passes = 50 }, nil, nothing},
		{"fifty on a loader of small buckets", func(all []truckload) {
			for i := range all {
				all[i].load.Passes = 45
			}
			passes(50)(all)
		}, nil, nothing},
	})
}

// The record says about how many trucks it holds, also where no ticket does.
func TestMergedLoadCounts(t *testing.T) {
	all := plain(1)
	at := april(10, 20)
	all[at].load.Net, all[at].noTicket, all[at].load.Purpose = tonnes(4*all[at].mass, 10), true, ledger.PurposeInternal
	got := found(t, yardOf(t, all))
	if len(got) != 1 || !strings.Contains(got[0].Seen, "about 4 loads") || got[0].Mass != all[at].load.Net {
		t.Errorf("%+v, want a merged load of about 4 loads", got)
	}
}

// A net that is off by its decimal point has the book short of what the ticket does not have.
func TestMergedLoadByDecimalPoint(t *testing.T) {
	at := april(10, 20)
	for _, n := range []float64{10, 100, 1000, 100_000} {
		all := plain(1)
		x := &all[at]
		x.load.Net = tonnes(n*x.mass, 10)
		got := found(t, yardOf(t, all))
		if len(got) != 1 || got[0].Rule != "merged load" || !slices.Equal(got[0].Records, []string{x.loadID(), x.deckID()}) {
			t.Errorf("%v times: %v, want one finding of load and ticket", n, got)
			continue
		}
		want := x.deck.Net - x.load.Net
		if e := got[0].Effects; len(e) != 1 || e[0].Pile != x.load.Pile || (e[0].Mass-want).Abs() > 100*kg {
			t.Errorf("%v times: effects %v, want about %s", n, e, want)
		}
	}
}

func TestSplitLoad(t *testing.T) {
	at := april(10, 20)
	for n := 2; n <= 3; n++ {
		all := plain(1)
		whole := all[at]
		ids, parts := []string(nil), []truckload(nil)
		for k := range n {
			part := whole
			part.load.Net = whole.load.Net / ledger.Mass(n) / (10 * kg) * (10 * kg)
			if k == n-1 {
				part.load.Net = whole.load.Net - ledger.Mass(n-1)*part.load.Net
			}
			part.noTicket, part.load.Passes = k > 0, 2
			part.load.Ticket = whole.load.Ticket + "abc"[k:k+1]
			part.load.At = whole.load.At.Add(time.Duration(k) * time.Minute)
			parts, ids = append(parts, part), append(ids, part.loadID())
		}
		want := []told{{"split load", append(ids, whole.deckID()), whole.load.Pile, nil}}
		if diff := cmp.Diff(want, findings(t, yardOf(t, slices.Concat(all[:at], parts, all[at+1:])))); diff != "" {
			t.Errorf("%d parts (-want +got):\n%s", n, diff)
		}
	}
}
