package weights

import (
	"fmt"
	"math"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// roundWeights finds instruments whose nets are whole or half tonnes more often than their division makes them.
//
// A display that steps by d shows a whole tonne once in 1 t/d by chance, or as often as the figures up to five steps beside
// it, if that is more: loads are filled to a target. Two things are out of the ordinary: so many such nets one after another that the month's number of
// nets makes a run like it with less than the level; and, beside those, so many over the month that the binomial distribution
// does. The level is 0.5 % for all instruments and grids together (Sidak). Short tons, long tons and pounds are told from the
// digits and tested in their own. The division is that of the month before; an instrument that always showed whole tonnes is
// not reported.
//
// False alarms: fewer than one in fifty clean months.
type roundWeights struct{}

func (roundWeights) Info() screen.Info {
	return screen.Info{Name: "round weights", Strength: screen.Pattern,
		Meaning:     "An instrument's nets fall on whole or half tonnes far more often than its display makes them: figures that were typed or agreed, not weighed.",
		Benign:      "The display or its print was set to a coarser step for a while; loads were entered by hand from slips while the scale was out of use.",
		Settle:      "The instrument's own memory or prints of those loads, and the deck tickets of the same trucks.",
		FalseAlarms: 0.02}
}

const roundLevel = 0.005

// roundGrids are the grids in grains of a thousandth of a ton.
var roundGrids = [...]int64{1000, 500}

func (roundWeights) Look(d *screen.Data, found func(screen.Finding)) {
	all := instruments(d)
	level := eachLevel(roundLevel, 2*len(roundGrids)*len(all))
	for _, in := range all {
		taken := make([]bool, len(in.nets))
		for _, grid := range roundGrids {
			if in.division < grid && grid%in.division == 0 {
				in.roundOn(grid, level, taken, found)
			}
		}
	}
}

// roundOn looks for runs on a grid, and then for too many nets on it; taken are those that a run has.
func (in *instrument) roundOn(grid int64, level float64, taken []bool, found func(screen.Finding)) {
	p := in.chance(grid)
	for first := 0; first < len(in.nets); {
		n := 0
		for first+n < len(in.nets) && !taken[first+n] && in.nets[first+n].on(grid) {
			n++
		}
		if n > 0 && float64(len(in.nets))*math.Pow(p, float64(n)) < level {
			f := in.roundFinding(in.nets[first:first+n], grid)
			f.Subject = f.Records[0]
			f.Seen = fmt.Sprintf("%d nets of %s one after another are multiples of %s; by chance one net in %.0f is", n, in.code, in.mass(grid), 1/p)
			found(f)
			for i := range n {
				taken[first+i] = true
			}
		}
		first += max(n, 1)
	}
	var left []net
	all := 0
	for i, w := range in.nets {
		if taken[i] {
			continue
		}
		all++
		if w.on(grid) {
			left = append(left, w)
		}
	}
	if tail := stat.BinomialTail(all, len(left), p); tail < level {
		f := in.roundFinding(left, grid)
		f.Subject = fmt.Sprintf("%s/%d", in.code, grid)
		f.Seen = fmt.Sprintf("%d of %d nets of %s are multiples of %s, where chance makes about %.0f; so many come once in %.0f such months",
			len(left), all, in.code, in.mass(grid), p*float64(all), 1/max(tail, 1e-9))
		found(f)
		for i := range in.nets {
			taken[i] = taken[i] || in.nets[i].on(grid)
		}
	}
}

// on reports whether a net lies on a grid.
func (w net) on(grid int64) bool { return w.n > 0 && w.n%grid == 0 }

// beside is how many divisions to each side of a grid nets are counted.
const beside = 5

// chance returns the probability of a net on a grid: one in as many as it has divisions, or the mean of those beside it.
func (in *instrument) chance(grid int64) float64 {
	near := 0
	for _, w := range in.nets {
		if off := w.n % grid; w.n > 0 && off != 0 && min(off, grid-off) <= beside*in.division {
			near++
		}
	}
	positions := float64(min(2*beside, grid/in.division-1))
	return max(float64(in.division)/float64(grid), float64(near)/positions/float64(max(len(in.nets), 1)))
}

func (in *instrument) roundFinding(list []net, grid int64) screen.Finding {
	f := screen.Finding{Time: list[0].rec.At, Instrument: in.code}
	for _, w := range list {
		f.Mass += w.mass
		f.Records = append(f.Records, w.rec.ID())
	}
	return f
}

// mass returns what a number of grains is.
func (in *instrument) mass(grains int64) ledger.Mass {
	return ledger.Mass(math.Round(float64(grains) * in.grain))
}
