package tickets

import (
	"iter"
	"maps"
	"math"
	"slices"
	"time"

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
	before, after border
	pile          string // of the records on both sides, where all are of one; a loader that goes from pile to pile says nothing
	// Mass is as weighed: the number missing times the mean load of the series; Low and High bound it with 95 %
	// confidence by the scatter of its loads.
	Mass, Low, High ledger.Mass
}

// border is a record beside a gap.
type border struct {
	at      time.Time
	record  string // ID
	product string
}

// Number returns how many numbers are missing.
func (g Gap) Number() int64 { return g.Last - g.First + 1 }

// mostMissing bounds a gap: a record that lies farther above all others has a mistyped number, unless others follow.
var mostMissing = screen.Setting{Name: "rule missing number most", Holds: screen.Number, Default: "500",
	Meaning: "A few records that lie further above all others than this have a mistyped number; they open no gap."}

// fewAbove is how many records above a wide gap are mistyped numbers; more are a series that went on.
const fewAbove = 2

// sequences are what rules and reports share.
type sequences []Sequence

// Sequences reports the numbering series of a month, in order of instrument and prefix.
func Sequences(d *screen.Data) []Sequence {
	return screen.Memo(d, func(d *screen.Data) sequences {
		r := seriesOf(d)
		return r.count(d, slices.Values(r.series))
	})
}

// sequences reports the numbering series without the records.
func (n *Numbers) sequences(d *screen.Data) sequences { return n.count(d, n.all()) }

func (n *Numbers) count(d *screen.Data, all iter.Seq[series]) sequences {
	most := int64(d.Number(mostMissing))
	counted := map[seriesID]Sequence{}
	for x := range all {
		if s, ok := n.sequenceOf(x, most); ok {
			counted[x.id] = s
		}
	}
	var out sequences
	for _, id := range slices.SortedFunc(maps.Keys(counted), seriesID.compare) {
		out = append(out, counted[id])
	}
	return out
}

// sequenceOf counts one series, whose rows are in order of number; ok is false where the month has none of it. A
// record whose time disagrees with its number bounds nothing: else one mistyped number would open a gap, or close the
// book's eyes to others.
func (n *Numbers) sequenceOf(x series, most int64) (s Sequence, ok bool) {
	list, stray := withoutStrays(x.rows, most)
	s = Sequence{Instrument: x.id.instrument, Series: x.id.String(), OutOfOrder: len(stray), First: list[0].number}
	isRising, isFirst, start := longestRise(list), true, n.start.Sub(n.lead)
	for i, r := range list {
		switch {
		case !isRising[i]:
		case r.at < start:
			s.First = r.number + 1
			isFirst = false
		default:
			if isFirst {
				s.First, isFirst = r.number, false
			}
			s.Last, ok = r.number, true
		}
	}
	if !ok {
		return s, false
	}
	s.Expected = s.Last - s.First + 1
	s.count(n, list)
	mean, sd := loads(n.kept(list))
	for _, g := range n.gaps(list) {
		if g.First >= s.First && g.Last <= s.Last {
			g.weigh(mean, sd)
			s.Gaps = append(s.Gaps, g)
			s.Missing += g.Number()
		}
	}
	return s, true
}

// count counts the records from First to Last, whenever they were made, and those of the month that lie outside.
func (s *Sequence) count(n *Numbers, list []numbered) {
	for i, r := range list {
		if r.number < s.First || r.number > s.Last {
			if r.at >= n.start.Sub(n.lead) {
				s.OutOfOrder++
			}
			continue
		}
		s.Count++
		if n.of(r).isVoid {
			s.Voids++
		}
		if i > 0 && list[i-1].number == r.number {
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
func (n *Numbers) gaps(list []numbered) []Gap {
	var all []Gap
	for i := 1; i < len(list); i++ {
		if a, b := list[i-1], list[i]; b.number > a.number+1 {
			all = append(all, Gap{First: a.number + 1, Last: b.number - 1, before: n.border(a), after: n.border(b), pile: n.onePile(list, i)})
		}
	}
	return all
}

func (n *Numbers) border(r numbered) border {
	f := n.of(r)
	return border{n.when(r), f.record(n.yard, r.number), f.product}
}

// besideGap is how many records on each side of a gap have to be of one pile for the gap to be of it.
const besideGap = 3

// onePile returns the pile of all records beside a gap that ends before the i-th; "" where there are several.
func (n *Numbers) onePile(list []numbered, i int) string {
	if i < besideGap || len(list)-i < besideGap {
		return ""
	}
	pile := n.of(list[i]).pile
	for _, r := range list[i-besideGap : i+besideGap] {
		if n.of(r).pile != pile {
			return ""
		}
	}
	return pile
}

// kept yields what the kept records of a list weigh.
func (n *Numbers) kept(list []numbered) iter.Seq[ledger.Mass] {
	return func(yield func(ledger.Mass) bool) {
		for _, r := range list {
			if !n.of(r).isVoid && !yield(r.net) {
				return
			}
		}
	}
}

// loads returns the mean and the standard deviation of masses above zero, in grams.
func loads(masses iter.Seq[ledger.Mass]) (mean, sd float64) {
	var n, sum, squares float64
	for m := range masses {
		if m > 0 {
			x := float64(m)
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
