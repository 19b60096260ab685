package match

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/ledger"
)

// TestEveryRecordOnce matches any records, and holds the result to its contract.
func TestEveryRecordOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		got := Match(in)
		if diff := cmp.Diff(got, Match(in)); diff != "" {
			t.Fatalf("the same records (-first +second):\n%s", diff)
		}
		loads, deck := map[int]int{}, map[int]int{}
		for _, p := range got.Pairs {
			loads[p.Load]++
			deck[p.Deck]++
			l, d := in.Loads[p.Load].Fact.(ledger.Load), in.Deck[p.Deck].Fact.(ledger.DeckTicket)
			if p.Lag != d.At.Sub(l.At) || p.Difference != l.Net-d.Net || p.Weight <= 0 {
				t.Fatalf("pair %+v of %+v and %+v", p, l, d)
			}
		}
		for _, m := range got.Merged {
			loads[m.Load]++
			sum := in.Loads[m.Load].Fact.(ledger.Load).Net - m.Difference
			for _, j := range m.Deck {
				deck[j]++
				sum -= in.Deck[j].Fact.(ledger.DeckTicket).Net
			}
			if sum != 0 || len(m.Deck) < 2 || len(m.Deck) > mostTrucks {
				t.Fatalf("merged %+v: %v is not in it", m, sum)
			}
		}
		for _, x := range got.Split {
			deck[x.Deck]++
			sum := in.Deck[x.Deck].Fact.(ledger.DeckTicket).Net + x.Difference
			for _, i := range x.Loads {
				loads[i]++
				sum -= in.Loads[i].Fact.(ledger.Load).Net
			}
			if sum != 0 || len(x.Loads) < 2 || len(x.Loads) > mostLoads {
				t.Fatalf("split %+v: %v is not in it", x, sum)
			}
		}
		once(t, "load", in.Loads, loads, got.LoadAlone)
		once(t, "ticket", in.Deck, deck, got.DeckAlone)
	})
}

// once checks that each kept record is in one thing or alone, and no void one in any.
func once(t *rapid.T, name string, records []*ledger.Record, in map[int]int, alone []int) {
	for _, i := range alone {
		in[i]++
	}
	for i, r := range records {
		want := 1
		switch f := r.Fact.(type) {
		case ledger.Load:
			if f.Void {
				want = 0
			}
		case ledger.DeckTicket:
			if f.Void {
				want = 0
			}
		}
		if in[i] != want {
			t.Fatalf("%s %d is in %d things, want %d", name, i, in[i], want)
		}
	}
}

func drawInput(t *rapid.T) Input {
	truck := rapid.SampledFrom([]string{"", "T1", "T2", "T3"})
	product := rapid.SampledFrom([]string{"", "A", "B"})
	net := rapid.SampledFrom([]float64{0, 4, 16, 20, 20.2, 21, 40, 61})
	gap := rapid.IntRange(0, 600)
	in := Input{}
	when := at("07:00")
	for i := range rapid.IntRange(0, 25).Draw(t, "loads") {
		when = when.Add(time.Duration(gap.Draw(t, "gap")) * time.Second)
		in.Loads = append(in.Loads, rec(ledger.Load{At: when, Loader: rapid.SampledFrom([]string{"L1", "L2"}).Draw(t, "loader"), Ticket: fmt.Sprint(i),
			Pile: "X", Product: product.Draw(t, "product"), Truck: truck.Draw(t, "truck"), Net: tonnes(net.Draw(t, "net")),
			Void: rapid.IntRange(0, 5).Draw(t, "void") == 0}))
	}
	when = at("07:00")
	for i := range rapid.IntRange(0, 25).Draw(t, "tickets") {
		when = when.Add(time.Duration(gap.Draw(t, "gap")) * time.Second)
		in.Deck = append(in.Deck, rec(ledger.DeckTicket{At: when, Deck: rapid.SampledFrom([]string{"D1", "D2"}).Draw(t, "deck"), Ticket: fmt.Sprint(i),
			Product: product.Draw(t, "product"), Truck: truck.Draw(t, "truck"), Net: tonnes(net.Draw(t, "net")),
			Void: rapid.IntRange(0, 5).Draw(t, "void") == 0}))
	}
	return in
}

// TestChoiceIsTheBest tries all choices of small offers.
func TestChoiceIsTheBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var offers [][]group
		for k := range rapid.IntRange(0, 6).Draw(t, "hosts") {
			var list []group
			for n := range rapid.IntRange(1, 3).Draw(t, "offers") {
				parts := rapid.SliceOfNDistinct(rapid.Int32Range(0, 9), 2, 3, rapid.ID).Draw(t, "parts")
				list = append(list, group{host: int32(k), parts: parts, weight: float64(9 - 3*n + rapid.IntRange(0, 2).Draw(t, "weight"))})
			}
			offers = append(offers, list)
		}
		sum, taken := 0.0, map[int32]bool{}
		for _, x := range choose(offers) {
			sum += x.weight
			for _, j := range x.parts {
				if taken[j] {
					t.Fatalf("part %d is in two groups", j)
				}
				taken[j] = true
			}
		}
		if want := bestChoice(offers, map[int32]bool{}); sum != want {
			t.Fatalf("weights sum to %v, want %v", sum, want)
		}
	})
}

func bestChoice(offers [][]group, taken map[int32]bool) float64 {
	if len(offers) == 0 {
		return 0
	}
	best := bestChoice(offers[1:], taken)
next:
	for _, x := range offers[0] {
		for _, j := range x.parts {
			if taken[j] {
				continue next
			}
		}
		for _, j := range x.parts {
			taken[j] = true
		}
		best = max(best, x.weight+bestChoice(offers[1:], taken))
		for _, j := range x.parts {
			delete(taken, j)
		}
	}
	return best
}
