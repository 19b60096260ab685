package weights

import (
	"math"
	"math/bits"
	"slices"
	"sort"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// The matching looks for the trucks of a merged record within the usual way to the deck. A loader that fills few trucks
// an hour has the first of them at the deck long before it closes the record. So for the records that are too much for one
// truck the tickets are looked for again: since the loader's record before.

const (
	lumpSpan    = 4 * time.Hour // that a record is open, at most
	lumpTickets = 12            // free tickets that are tried in all combinations, at most
)

// lumpedTickets returns, for the loads that are too much for one truck and that the matching has not merged, the deck
// tickets that are theirs: that of the truck itself, if it is known, and those without a load that add up to the record's
// net. Loads without any are left
// out. Rules must not change them.
func lumpedTickets(d *screen.Data) ticketsByLoad { return screen.Memo(d, findLumps) }

// ticketsByLoad are indices into MatchDeck, by index into MatchLoads.
type ticketsByLoad map[int][]int

func findLumps(d *screen.Data) ticketsByLoad {
	j, heavy := judge(d), overloads(d)
	taken, own := map[int]bool{}, map[int]int{}
	for i := range d.Match.Merged {
		taken[d.Match.Merged[i].Load] = true
	}
	for i := range j.pairs {
		if _, ok := heavy[j.pairs[i].Load]; ok {
			own[j.pairs[i].Load] = j.pairs[i].Deck
		}
	}
	s := lumpSearch{d: d, by: j.by, names: namesakesOf(d)}
	for _, p := range j.by {
		s.longest = max(s.longest, p.learned.Lag.Abs()+p.learned.Window)
	}
	all := ticketsByLoad{}
	for k := range heavy {
		if taken[k] {
			continue
		}
		var list []int
		ticket, ok := own[k]
		if !ok {
			ticket, ok = s.ownTicket(k)
		}
		if ok {
			list = append(list, ticket)
		}
		if list = s.others(k, list); len(list) > 0 {
			slices.Sort(list)
			all[k] = list
		}
	}
	return all
}

type lumpSearch struct {
	d       *screen.Data
	by      map[pairKey]*pairing
	names   namesakes
	longest time.Duration // between loader and deck, either way
}

// near returns the tickets without a load that may belong to a record of an instant.
func (s *lumpSearch) near(at time.Time) []int {
	all := s.d.Match.DeckAlone
	from := sort.Search(len(all), func(i int) bool { return !s.d.MatchDeck[all[i]].At().Before(at.Add(-lumpSpan - s.longest)) })
	n := sort.Search(len(all)-from, func(i int) bool { return s.d.MatchDeck[all[from+i]].At().After(at.Add(s.longest)) })
	return all[from : from+n]
}

// pairing returns what is known of a load's loader and a ticket's deck; nil where nothing is.
func (s *lumpSearch) pairing(load, deck int) *pairing {
	return s.by[pairKey{s.d.MatchLoads[load].Fact.Loader, s.d.MatchDeck[deck].Fact.Deck}]
}

// ownTicket returns the ticket without a load that is of a load's truck and as late as usual.
func (s *lumpSearch) ownTicket(k int) (ticket int, ok bool) {
	l := &s.d.MatchLoads[k].Fact
	nearest := time.Duration(math.MaxInt64)
	for _, i := range s.near(l.At) {
		t, p := &s.d.MatchDeck[i].Fact, s.pairing(k, i)
		if p == nil || l.Truck == "" || !sameLabel(l.Truck, t.Truck) {
			continue
		}
		if off := (t.At.Sub(l.At) - p.learned.Lag).Abs(); off <= p.learned.Window && off < nearest {
			ticket, ok, nearest = i, true, off
		}
	}
	return ticket, ok
}

// opened returns when the record of a load may have been begun: at the loader's record before.
func (s *lumpSearch) opened(k int) time.Time {
	l := &s.d.MatchLoads[k].Fact
	earliest := l.At.Add(-lumpSpan)
	for i := k - 1; i >= 0; i-- {
		f := &s.d.MatchLoads[i].Fact
		if f.At.Before(earliest) {
			break
		}
		if f.Loader == l.Loader {
			return f.At
		}
	}
	return earliest
}

// others adds to a load's own ticket, if there is one, the free tickets that bring the sum nearest to the load's net;
// none where no sum agrees.
func (s *lumpSearch) others(k int, own []int) []int {
	l := &s.d.MatchLoads[k].Fact
	opened, product := s.opened(k), s.d.ProductOf(s.d.MatchLoads[k].Rec)
	var free []int
	var by *pairing
	for _, i := range s.near(l.At) {
		t, p := &s.d.MatchDeck[i].Fact, s.pairing(k, i)
		if p == nil || len(own) > 0 && i == own[0] || product != "" && t.Product != "" && !s.names.same(product, t.Product) {
			continue
		}
		loaded := t.At.Add(-p.learned.Lag)
		if slack := 2 * p.learned.Spread; loaded.After(opened.Add(-slack)) && loaded.Before(l.At.Add(slack)) {
			free, by = append(free, i), p
		}
	}
	if len(free) == 0 {
		return own
	}
	free = free[max(len(free)-lumpTickets, 0):]
	var base ledger.Mass
	for _, i := range own {
		base += s.d.MatchDeck[i].Fact.Net
	}
	best, off := 0, by.limit
	for set := 1; set < 1<<len(free); set++ {
		if n := len(own) + bits.OnesCount(uint(set)); n < 2 {
			continue
		}
		x, ok := ratio(l.Net, base+s.sum(free, set))
		if x = math.Abs(x - by.bias); ok && x < off {
			best, off = set, x
		}
	}
	for i, ticket := range free {
		if best&(1<<i) != 0 {
			own = append(own, ticket)
		}
	}
	return own
}

func (s *lumpSearch) sum(free []int, set int) ledger.Mass {
	var m ledger.Mass
	for i, ticket := range free {
		if set&(1<<i) != 0 {
			m += s.d.MatchDeck[ticket].Fact.Net
		}
	}
	return m
}
