package weights

import (
	"math"
	"time"

	"repose/internal/screen"
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
	since  map[string]time.Time
	until  time.Time // for how long what is in since counts
	series map[epoch]*days
}

// epochStep is how exactly the start of a certificate is kept to.
const epochStep = 15 * time.Minute

func newEpochs(d *screen.Data) *epochs { return &epochs{d: d, series: map[epoch]*days{}} }

// add puts a value to its series.
func (e *epochs) add(k pairKey, at time.Time, x float64) {
	if !at.Before(e.until) {
		e.since, e.until = map[string]time.Time{}, at.Truncate(epochStep).Add(epochStep)
	}
	name := epoch{k, e.from(k.deck, at)}
	if k.loader != "" {
		name.since = later(name.since, e.from(k.loader, at))
	}
	s := e.series[name]
	if s == nil {
		s = &days{zone: e.d.Zone}
		e.series[name] = s
	}
	s.add(at, x)
}

// from returns since when an instrument is as it is.
func (e *epochs) from(code string, at time.Time) time.Time {
	since, ok := e.since[code]
	if !ok {
		i, _ := e.d.Register.Instrument(e.d.Yard, code, at)
		since = i.From
		e.since[code] = since
	}
	return since
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

// emptiesByDay returns by how many kg trucks are heavier, empty, than they were in the month before. A weight that
// is exactly the one before is stored, and says nothing of the day.
func emptiesByDay(d *screen.Data, j *judged) map[epoch]*days {
	before, last := map[truckOn][]float64{}, map[truckOn]ledger.Mass{}
	slipped := j.slipped(d)
	weighed := func(lo, hi time.Time, f func(k truckOn, t *ledger.DeckTicket, kg float64)) {
		for i := range d.Deck {
			t := &d.Deck[i].Fact
			if t.At.Before(lo) || !t.At.Before(hi) || t.Void || t.Tare <= 0 || t.Truck == "" || slipped[d.Deck[i].Rec] {
				continue
			}
			k := truckOn{t.Deck, t.Truck}
			if last[k] != t.Tare {
				last[k] = t.Tare
				f(k, t, float64(t.Tare)/float64(ledger.Kilogram))
			}
		}
	}
	weighed(d.Lead, d.Start, func(k truckOn, _ *ledger.DeckTicket, kg float64) { before[k] = append(before[k], kg) })
	usual := map[truckOn]float64{}
	for k, list := range before {
		usual[k] = math.NaN()
		if len(list) >= enoughEmpties {
			usual[k] = median(list)
		}
	}
	clear(last)
	e := newEpochs(d)
	weighed(d.Lead, d.End, func(k truckOn, t *ledger.DeckTicket, kg float64) {
		if m, ok := usual[k]; ok && !math.IsNaN(m) {
			e.add(pairKey{deck: k.deck}, t.At, kg-m)
		}
	})
	return e.series
}
