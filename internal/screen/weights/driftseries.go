package weights

import (
	"time"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// epoch names a series: a loader and a deck scale, or a deck scale alone, and since when both are as they are.
type epoch struct {
	pairKey
	since time.Time
}

// subject names the series in a finding.
func (e epoch) subject(d *screen.Data) string {
	s := e.deck
	if e.loader != "" {
		s = e.loader + "/" + s
	}
	if !e.since.IsZero() {
		s += "/" + e.since.In(d.Zone).Format(time.DateOnly)
	}
	return s
}

// epochs tells to which series weighings belong, whose times rise.
type epochs struct {
	d      *screen.Data
	now    map[pairKey]*days
	series map[epoch]*days
}

func newEpochs(d *screen.Data) *epochs {
	return &epochs{d: d, now: map[pairKey]*days{}, series: map[epoch]*days{}}
}

// add puts a value to its series. What the certificates are is asked once a day.
func (e *epochs) add(k pairKey, at time.Time, x float64) {
	s := e.now[k]
	if s == nil || !at.Before(s.end) {
		s = e.at(k, at)
		e.now[k] = s
	}
	s.add(at, x)
}

// at returns the series that begins with the certificates in force at an instant.
func (e *epochs) at(k pairKey, at time.Time) *days {
	in, _ := e.d.Register.Instrument(e.d.Yard, k.deck, at)
	name := epoch{k, in.From}
	if k.loader != "" {
		in, _ = e.d.Register.Instrument(e.d.Yard, k.loader, at)
		name.since = later(name.since, in.From)
	}
	s := e.series[name]
	if s == nil {
		s = &days{zone: e.d.Zone}
		e.series[name] = s
	}
	return s
}

// ratiosByDay returns the logarithms of loader over deck of the same trucks.
func ratiosByDay(d *screen.Data, j *judged) map[epoch]*days {
	e := newEpochs(d)
	earlierRatios(d, e)
	for i := range j.pairs {
		p := &j.pairs[i]
		if p.verdict == unweighed || p.verdict == byUnit {
			continue
		}
		load := &d.MatchLoads[p.Load].Fact
		e.add(p.by.pairKey, load.At, p.x+p.by.bias)
	}
	return e.series
}

// earlierRatios adds those of the month before, which is not matched: a truck's load and the ticket of the same truck that
// is as late as most are.
func earlierRatios(d *screen.Data, e *epochs) {
	ways := pairings(d)
	lag := lagOf(d)
	last := map[string]*ledger.Load{} // of each truck
	next, end := 0, len(d.Loads)-len(d.MatchLoads)
	for i := range len(d.Deck) - len(d.MatchDeck) {
		t := &d.Deck[i].Fact
		if t.Void || t.Truck == "" {
			continue
		}
		for ; next < end && !d.Loads[next].At().After(t.At.Add(lateBy-lag[t.Deck])); next++ {
			if f := &d.Loads[next].Fact; !f.Void && f.Truck != "" {
				last[f.Truck] = f
			}
		}
		l := last[t.Truck]
		if l == nil {
			continue
		}
		p := ways[pairKey{l.Loader, t.Deck}]
		x, ok := ratio(l.Net, t.Net)
		if ok && p != nil && (t.At.Sub(l.At)-p.learned.Lag).Abs() <= 4*p.learned.Spread+lateBy {
			e.add(p.pairKey, t.At, x)
		}
	}
}

// lateBy is by how much a way may be shorter than most, where their spread says nothing.
const lateBy = 5 * time.Minute

// empty is one empty weight of a truck that was weighed, not stored.
type empty struct {
	ticket *ledger.DeckTicket
	truck  int // a number
}

// emptiesByDay returns by how many kg trucks are heavier, empty, than they were in the month before.
func emptiesByDay(d *screen.Data, j *judged) map[epoch]*days {
	all, trucks := empties(d, j)
	before := make([][]float64, trucks)
	for _, w := range all {
		if w.ticket.At.Before(d.Start) {
			before[w.truck] = append(before[w.truck], float64(w.ticket.Tare)/float64(ledger.Kilogram))
		}
	}
	usual := make([]float64, trucks)
	for i, list := range before {
		usual[i] = stat.Median(list)
	}
	e := newEpochs(d)
	for _, w := range all {
		if len(before[w.truck]) >= enoughEmpties {
			e.add(pairKey{deck: w.ticket.Deck}, w.ticket.At, float64(w.ticket.Tare)/float64(ledger.Kilogram)-usual[w.truck])
		}
	}
	return e.series
}

// empties returns the empty weights of trucks through the month's end, and how many trucks there are. One that is exactly
// the truck's before is stored, and says nothing of the day.
func empties(d *screen.Data, j *judged) (all []empty, trucks int) {
	slipped := j.slipped(d)
	numbers, last := map[truckOn]int{}, []ledger.Mass{}
	all = make([]empty, 0, len(d.Deck))
	for i := range d.Deck {
		t := &d.Deck[i].Fact
		if t.Void || t.Tare <= 0 || t.Truck == "" || !t.At.Before(d.End) || slipped[d.Deck[i].Rec] {
			continue
		}
		n, ok := numbers[truckOn{t.Deck, t.Truck}]
		if !ok {
			n = len(last)
			numbers[truckOn{t.Deck, t.Truck}] = n
			last = append(last, 0)
		}
		if last[n] != t.Tare {
			last[n] = t.Tare
			all = append(all, empty{t, n})
		}
	}
	return all, len(last)
}
