package piles

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// outOfProportion is how many times the usual movement out of a pile one has to be to be named as a cause, and
// mostNamed how many are.
const (
	outOfProportion = 3
	mostNamed       = 5
)

// A pause in what is made for a pile is named as a cause where it is longer than any before it, of at least so many
// runs, and than a long weekend.
const (
	leastRuns   = 5
	longWeekend = 3 * screen.After
)

// causes holds what could have brought the books of piles below zero: it is gathered once, however often they fall.
type causes struct {
	large map[string][]moving // movements out of all proportion, largest first
	made  map[string][]run    // in order
}

// moving is a movement out of a pile.
type moving struct {
	entry  *ledger.Entry
	solids ledger.Mass
}

// run is a production record, and the longest pause up to it.
type run struct {
	at      time.Time
	longest time.Duration
}

func newCauses(d *screen.Data, spells []*spell) *causes {
	c := &causes{map[string][]moving{}, map[string][]run{}}
	for _, s := range spells {
		c.large[s.pile] = nil
	}
	for _, e := range d.Entries {
		for _, l := range e.Legs {
			pile := pileOf(l.From)
			if _, asked := c.large[pile]; asked && l.To.Kind != ledger.KindShrinkage { // which nobody carried
				c.large[pile] = append(c.large[pile], moving{e, l.Solids})
			}
		}
	}
	for pile, all := range c.large {
		c.large[pile] = disproportionate(all)
	}
	for _, p := range d.Production {
		list, next := c.made[p.Fact.Pile], run{at: p.At()}
		if n := len(list); n > 0 {
			next.longest = max(list[n-1].longest, next.at.Sub(list[n-1].at))
		}
		c.made[p.Fact.Pile] = append(list, next)
	}
	return c
}

// disproportionate returns the movements that are many times their median, the largest first, and no more than a reader
// wants to see.
func disproportionate(all []moving) []moving {
	slices.SortStableFunc(all, func(a, b moving) int { return cmp.Compare(b.solids, a.solids) })
	if len(all) < 2 {
		return nil
	}
	usual := all[len(all)/2].solids
	n := 0
	for n < min(len(all), mostNamed) && all[n].solids > outOfProportion*usual {
		n++
	}
	return all[:n]
}

// of says what in the records could have brought a pile below zero, the likeliest first, and names those records: a
// movement out of all proportion (a mass that was mis-keyed), days on which nothing was made though no pause had been as
// long (production that nobody wrote down), a pile that grew by about as much meanwhile (loads of that pile booked to
// this one, or its production to that), and what brought the pile up again (it may have come sooner than its record
// says). Where one movement explains all of it the rest is left out.
func (c *causes) of(d *screen.Data, s *spell) (words string, records []string) {
	var all []string
	var largest ledger.Mass
	for _, m := range c.large[s.pile] {
		if s.to != nil && m.entry.At().After(s.to.At()) {
			continue
		}
		all = append(all, fmt.Sprintf("%s with %v is out of all proportion", m.entry.Record.ID(), m.solids))
		records, largest = append(records, m.entry.Record.ID()), max(largest, m.solids)
	}
	if largest >= s.lowest.Abs() {
		return strings.Join(all, "; "), records
	}
	if n := c.pause(s.pile, s.start(d)); n > 0 {
		all = append(all, fmt.Sprintf("nothing was made for it in the %d days before, longer than at any time since %s", n, d.Clock(c.made[s.pile][0].at)))
	}
	if other := grown(d, s.pile, s.lowest.Abs()); other != "" {
		all = append(all, fmt.Sprintf("pile %s holds about as much more than the month began with", other))
	}
	if s.to != nil {
		if _, isSurvey := s.to.Record.Fact.(ledger.Survey); !isSurvey {
			all = append(all, fmt.Sprintf("%s of %s brought it up again, and may have come sooner", s.to.Record.ID(), d.Clock(s.to.At())))
			records = append(records, s.to.Record.ID())
		}
	}
	if len(all) == 0 {
		return "production, a transfer or an opening is missing, or loads of another pile were booked to it", nil
	}
	return strings.Join(all, "; "), records
}

// pause returns for how many whole days nothing had been made for a pile, where that is longer than any pause before; 0
// where it is not.
func (c *causes) pause(pile string, at time.Time) int {
	runs := c.made[pile]
	n, _ := slices.BinarySearchFunc(runs, at, func(r run, t time.Time) int { return r.at.Compare(t) })
	if n < leastRuns {
		return 0
	}
	last := runs[n-1]
	if idle := at.Sub(last.at); idle > max(last.longest, longWeekend) {
		return days(idle)
	}
	return 0
}

// grown returns the pile that grew in the month by between half and twice a mass, the nearest first; "" for none.
func grown(d *screen.Data, pile string, m ledger.Mass) (best string) {
	var nearest ledger.Mass = -1
	for _, id := range d.Month.Piles {
		growth := d.Month.Closing.Balances[id.Account()].Solids - d.Month.Opening.Balances[id.Account()].Solids
		if id.Code == pile || growth < m/2 || growth > 2*m {
			continue
		}
		if off := (growth - m).Abs(); nearest < 0 || off < nearest {
			nearest, best = off, id.Code
		}
	}
	return best
}
