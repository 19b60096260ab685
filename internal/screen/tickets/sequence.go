package tickets

import (
	"math"

	"repose/internal/screen"
	"repose/ledger"
)

// Sequence is what a month shows of one numbering series. Count + Missing - Duplicates = Expected.
type Sequence struct {
	Instrument, Series string // the series with its year where numbers start anew
	First, Last        int64  // First follows the last number of the month before, where that is known
	Count              int    // records with a number from First to Last, void ones among them
	Expected           int64  // Last - First + 1
	Missing            int64
	Duplicates         int // records whose number another record has too, but one of each
	Voids              int
	OutOfOrder         int // records of the month whose number is not from First to Last
	Gaps               []Gap
}

// Holds reports whether the counts agree.
func (s Sequence) Holds() bool {
	return int64(s.Count)+s.Missing-int64(s.Duplicates) == s.Expected
}

// Gap is a run of numbers that no record has.
type Gap struct {
	First, Last   int64
	before, after numbered
	pile          string // of the records on both sides, where all are of one; a loader that goes from pile to pile says nothing
	// Mass is as weighed: the number missing times the mean load of the series; Low and High bound it with 95 %
	// confidence by the scatter of its loads.
	Mass, Low, High ledger.Mass
}

// Number returns how many numbers are missing.
func (g Gap) Number() int64 { return g.Last - g.First + 1 }

// mostMissing bounds a gap: a record that lies farther above all others has a mistyped number, unless others follow.
var mostMissing = screen.Setting{Name: "rule missing number most", Holds: screen.Number, Default: "500",
	Meaning: "A few records that lie further above all others than this have a mistyped number; they open no gap."}

// fewAbove is how many records above a wide gap are mistyped numbers; more are a series that went on.
const fewAbove = 2

// Sequences reports the numbering series of a month, in order of instrument and prefix.
func Sequences(d *screen.Data) []Sequence {
	all := seriesOf(d)
	most := int64(d.Number(mostMissing))
	var out []Sequence
	for _, id := range sortedIDs(all) {
		if s, ok := sequenceOf(d, id, all[id], most); ok {
			out = append(out, s)
		}
	}
	return out
}

// sequenceOf counts one series, whose rows are in order of number; ok is false where the month has none of it. A
// record whose time disagrees with its number bounds nothing: else one mistyped number would open a gap, or close the
// book's eyes to others.
func sequenceOf(d *screen.Data, id seriesID, rows []numbered, most int64) (s Sequence, ok bool) {
	list, stray := withoutStrays(rows, most)
	s = Sequence{Instrument: id.instrument, Series: id.String(), OutOfOrder: len(stray), First: list[0].number}
	isRising, isFirst := longestRise(list), true
	for i, n := range list {
		switch {
		case !isRising[i]:
		case n.at.Before(d.Start):
			s.First = n.number + 1
			isFirst = false
		default:
			if isFirst {
				s.First, isFirst = n.number, false
			}
			s.Last, ok = n.number, true
		}
	}
	if !ok {
		return s, false
	}
	s.Expected = s.Last - s.First + 1
	s.count(d, list)
	mean, sd := loads(list)
	for _, g := range gaps(list) {
		if g.First >= s.First && g.Last <= s.Last {
			g.weigh(mean, sd)
			s.Gaps = append(s.Gaps, g)
			s.Missing += g.Number()
		}
	}
	return s, true
}

// count counts the records from First to Last, whenever they were made, and those of the month that lie outside.
func (s *Sequence) count(d *screen.Data, list []numbered) {
	for i, n := range list {
		if n.number < s.First || n.number > s.Last {
			if d.In(n.at) {
				s.OutOfOrder++
			}
			continue
		}
		s.Count++
		if n.isVoid {
			s.Voids++
		}
		if i > 0 && list[i-1].number == n.number {
			s.Duplicates++
		}
	}
}

// withoutStrays parts records that lie far above all others from a list in order of number.
func withoutStrays(list []numbered, most int64) (kept, stray []numbered) {
	cut := len(list)
	for i := len(list) - 1; len(list)-i <= fewAbove && i > fewAbove; i-- {
		if list[i].number-list[i-1].number > most+1 {
			cut = i // the lowest counts: two mistyped numbers may be far from each other too
		}
	}
	return list[:cut], list[cut:]
}

// gaps returns the numbers that a list in order of number lacks.
func gaps(list []numbered) []Gap {
	var all []Gap
	for i := 1; i < len(list); i++ {
		if a, b := list[i-1], list[i]; b.number > a.number+1 {
			all = append(all, Gap{First: a.number + 1, Last: b.number - 1, before: a, after: b, pile: onePile(list, i)})
		}
	}
	return all
}

// besideGap is how many records on each side of a gap have to be of one pile for the gap to be of it.
const besideGap = 3

// onePile returns the pile of all records beside a gap that ends before the i-th; "" where there are several.
func onePile(list []numbered, i int) string {
	if i < besideGap || len(list)-i < besideGap {
		return ""
	}
	for _, n := range list[i-besideGap : i+besideGap] {
		if n.pile != list[i].pile {
			return ""
		}
	}
	return list[i].pile
}

// loads returns the mean and the standard deviation of what the kept records of a series weigh, in grams.
func loads(list []numbered) (mean, sd float64) {
	var n, sum, squares float64
	for _, r := range list {
		if !r.isVoid && r.net > 0 {
			x := float64(r.net)
			n, sum, squares = n+1, sum+x, squares+x*x
		}
	}
	if n == 0 {
		return 0, 0
	}
	mean = sum / n
	return mean, math.Sqrt(max(squares/n-mean*mean, 0))
}

// z95 bounds 95 % of a normal distribution.
const z95 = 1.959963984540054

// weigh estimates what the missing records weigh, to the kilogram: independent loads of the series, so that the
// scatter grows with the root of their number.
func (g *Gap) weigh(mean, sd float64) {
	n := float64(g.Number())
	kilo := func(grams float64) ledger.Mass {
		return ledger.Mass(math.RoundToEven(min(max(grams, 0), float64(ledger.MaxMass))/float64(ledger.Kilogram))) * ledger.Kilogram
	}
	half := z95 * sd * math.Sqrt(n)
	g.Mass, g.Low, g.High = kilo(n*mean), kilo(n*mean-half), kilo(n*mean+half)
}
