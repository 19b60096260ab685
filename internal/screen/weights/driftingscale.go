package weights

import (
	"fmt"
	"math"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// driftingScale finds scales that shift: a loader against a deck scale, and the zero of a deck scale.
//
// For each loader and deck scale it takes the ratios of the same trucks, day by day, and watches the days' medians with
// Page's cumulative sums (Page 1954; limit by the chain of Brook and Evans, both in package stat) against the month before,
// or the first ten days where the month before has fewer. The ratios of the month before are those of the same truck
// within the usual lag. Weighings in another unit are left out. For each deck scale it takes the empty weights of trucks
// against those of the same trucks in the month before, likewise, without stored ones: trucks do not all change at once,
// but a zero does. A series begins anew on the first day that begins with a new certificate of the loader or deck scale.
// The first day is the likeliest one. The size is a difference of medians, with 95 % limits. Whether loader or deck is
// wrong is for a test weight to say, so there is no effect.
//
// False alarms: fewer than one in fifty clean months.
type driftingScale struct{}

var (
	driftPercent = screen.Setting{Name: "rule drifting scale percent", Holds: screen.Percent, Default: "0.5",
		Meaning: "from which shift of a loader against a deck scale on it is told"}
	driftEmpty = screen.Setting{Name: "rule drifting scale empty", Holds: screen.Tonnage, Default: "0.05 t",
		Meaning: "from which shift of empty weights on it is told"}
)

func (driftingScale) Info() screen.Info {
	return screen.Info{Name: "drifting scale", Strength: screen.Likely,
		Meaning: "A loader's weights against those of a deck scale, or the empty weights of trucks on a deck scale, have shifted from some day on.",
		Benign: "The loader was zeroed or calibrated and the register has no new certificate; other stone, a new bucket or tyre; for empty " +
			"weights mud, snow, or a habit of weighing with the driver.",
		Settle: "A test weight, or trucks of known weight, on both. Enter the new certificate from the day of the repair; what was weighed " +
			"before is not re-weighed, but the estimate of the shift tells what it may have cost.",
		FalseAlarms: 0.02, Settings: []screen.Setting{driftPercent, driftEmpty}}
}

func (driftingScale) Look(d *screen.Data, found func(screen.Finding)) {
	j := judge(d)
	ratios, zeros := ratiosByDay(d, j), emptiesByDay(d, j)
	limit := shiftLimit(len(ratios) + len(zeros))
	least := math.Log1p(d.Number(driftPercent) / 100)
	for k, s := range ratios {
		if shift, ok := shiftIn(d, s, limit); ok && math.Abs(shift.size) >= least {
			found(loaderShift(d, k, shift))
		}
	}
	leastKg := float64(d.Tonnage(driftEmpty)) / float64(ledger.Kilogram)
	for k, s := range zeros {
		if shift, ok := shiftIn(d, s, limit); ok && math.Abs(shift.size) >= leastKg {
			found(zeroShift(d, k, shift))
		}
	}
}

func loaderShift(d *screen.Data, k epoch, s shift) screen.Finding {
	from := later(s.first, d.Start)
	var affected ledger.Mass
	for i := range d.Loads {
		if f := &d.Loads[i].Fact; f.Loader == k.loader && !f.Void && !f.At.Before(from) && f.At.Before(d.End) {
			affected += f.Net
		}
	}
	low, high := s.interval()
	f := screen.Finding{Subject: k.subject(d), Time: from, Instrument: k.loader, Estimated: true}
	f.Mass, f.Low, f.High = estimates(float64(affected), math.Expm1(s.size), math.Expm1(low), math.Expm1(high))
	f.Seen = fmt.Sprintf("from %s on %s reads %.2f %% %s against %s than before (95 %%: %+.2f to %+.2f %%), by %d trucks against %d; it showed "+
		"on %s; %s were loaded since", dateOf(d, from), k.loader, math.Abs(100*math.Expm1(s.size)), moreOrLess(s.size), k.deck,
		100*math.Expm1(low), 100*math.Expm1(high), s.values, s.before, dateOf(d, s.found), affected)
	return f
}

func zeroShift(d *screen.Data, k epoch, s shift) screen.Finding {
	from := later(s.first, d.Start)
	tickets := 0
	for i := range d.Deck {
		if f := &d.Deck[i].Fact; f.Deck == k.deck && !f.Void && !f.At.Before(from) && f.At.Before(d.End) {
			tickets++
		}
	}
	low, high := s.interval()
	kg := float64(ledger.Kilogram)
	f := screen.Finding{Subject: k.subject(d), Time: from, Instrument: k.deck, Estimated: true}
	f.Mass, f.Low, f.High = estimates(float64(tickets)*kg, s.size, low, high)
	f.Seen = fmt.Sprintf("from %s on %s weighs empty trucks %s %s than the same trucks before (95 %%: %+.0f to %+.0f kg), by %d weighings "+
		"against %d; it showed on %s; %d trucks were weighed out since", dateOf(d, from), k.deck, wholeKilograms(math.Abs(s.size)*kg), moreOrLess(s.size),
		low, high, s.values, s.before, dateOf(d, s.found), tickets)
	return f
}

// estimates returns what a shift by a size between low and high comes to over so much, without their sign.
func estimates(over, size, low, high float64) (m, least, most ledger.Mass) {
	if size < 0 {
		size, low, high = -size, -high, -low
	}
	return wholeKilograms(over * size), wholeKilograms(over * max(low, 0)), wholeKilograms(over * high)
}

func moreOrLess(x float64) string {
	if x < 0 {
		return "less"
	}
	return "more"
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// dateOf writes the day of an instant in the yard's clock.
func dateOf(d *screen.Data, t time.Time) string { return t.In(d.Zone).Format(time.DateOnly) }
