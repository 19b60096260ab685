package weights

import (
	"maps"
	"math"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// net is one kept weighing of an instrument.
type net struct {
	rec  *ledger.Record
	mass ledger.Mass
	n    int64 // in grains of the instrument; -1 where it is no whole number of its divisions
}

// instrument is what the nets of a loader or a deck scale are written in.
type instrument struct {
	code     string
	nets     []net   // of the month, in order
	grain    float64 // g in a thousandth of a ton of its unit, or in a pound
	division int64   // grains that its display steps by
}

// grains are those of the units that displays have, in g: 1 kg, a thousandth of a short ton, of a long ton, and a pound
// (0.45359237 kg by the international yard and pound agreement of 1959).
var grains = [...]float64{1000, 907.18474, 1016.0469088, 453.59237}

// divisions are the steps of displays in grains, largest first.
var divisions = [...]int64{1000, 500, 200, 100, 50, 20, 10, 5, 2, 1}

const (
	// inDivisions is the part of nets that must be whole divisions: a run in another unit or from another
	// source must not hide what the display steps by.
	inDivisions = 0.8
	// enoughNets is how many nets of the month before, or of both, tell a display's division.
	enoughNets = 50
	// manyNets is how many are looked at, the latest.
	manyNets = 2000
)

// instruments returns the loaders and deck scales whose division shows, in order of their codes, loaders first. The
// division is that of the month before where it has enough nets, so that a month in whole tonnes is seen as one.
// Rules must not change them.
func instruments(d *screen.Data) []*instrument { return screen.Memo(d, findInstruments) }

func findInstruments(d *screen.Data) []*instrument {
	loaders, decks := map[string]*nets{}, map[string]*nets{}
	for i := range d.Loads {
		if f := &d.Loads[i].Fact; !f.Void && f.Net > 0 && f.At.Before(d.End) {
			netsOf(loaders, f.Loader).add(d.Start, d.Loads[i].Rec, f.Net)
		}
	}
	for i := range d.Deck {
		if f := &d.Deck[i].Fact; !f.Void && f.Net > 0 && f.At.Before(d.End) {
			netsOf(decks, f.Deck).add(d.Start, d.Deck[i].Rec, f.Net)
		}
	}
	var all []*instrument
	for _, group := range []map[string]*nets{loaders, decks} {
		for _, code := range slices.Sorted(maps.Keys(group)) {
			if in, ok := group[code].instrument(code); ok {
				all = append(all, in)
			}
		}
	}
	return all
}

// nets are those of an instrument in the month before and in the month.
type nets struct{ before, month []net }

func netsOf(all map[string]*nets, code string) *nets {
	n := all[code]
	if n == nil {
		n = new(nets)
		all[code] = n
	}
	return n
}

func (n *nets) add(start time.Time, rec *ledger.Record, m ledger.Mass) {
	if rec.At.Before(start) {
		n.before = append(n.before, net{rec: rec, mass: m})
	} else {
		n.month = append(n.month, net{rec: rec, mass: m})
	}
}

// instrument finds the unit and the division of the nets; ok is false where they have none in common.
func (n *nets) instrument(code string) (in *instrument, ok bool) {
	known := n.before
	if len(known) < enoughNets {
		known = append(slices.Clone(n.before), n.month...)
	}
	if len(known) < enoughNets {
		return nil, false
	}
	known = known[max(len(known)-manyNets, 0):]
	in = &instrument{code: code, nets: n.month}
	for _, g := range grains {
		if in.grain = g; in.divide(known) {
			for i := range in.nets {
				in.nets[i].n = in.whole(in.nets[i].mass)
			}
			return in, true
		}
	}
	return nil, false
}

// divide finds the largest division that most nets are whole numbers of, in the instrument's grains.
func (in *instrument) divide(known []net) bool {
	var count [len(divisions)]int
	for _, k := range known {
		n, ok := in.inGrains(k.mass)
		for i, div := range divisions {
			if ok && n%div == 0 {
				count[i]++
			}
		}
	}
	for i, div := range divisions {
		if float64(count[i]) >= inDivisions*float64(len(known)) {
			in.division = div
			return true
		}
	}
	return false
}

// inGrains returns a mass in grains; ok is false where it is farther from a whole number than its rounding to the gram.
func (in *instrument) inGrains(m ledger.Mass) (n int64, ok bool) {
	if in.grain == float64(ledger.Kilogram) {
		return int64(m / ledger.Kilogram), m%ledger.Kilogram == 0
	}
	n = int64(math.Round(float64(m) / in.grain))
	return n, math.Abs(float64(n)*in.grain-float64(m)) <= 0.5+1e-6
}

// whole returns a mass in grains, or -1 where it is no whole number of divisions.
func (in *instrument) whole(m ledger.Mass) int64 {
	if n, ok := in.inGrains(m); ok && n%in.division == 0 {
		return n
	}
	return -1
}

// eachLevel is the level of each test where instruments together have one.
func eachLevel(level float64, tests int) float64 { return stat.Sidak(level, max(tests, 1)) }
