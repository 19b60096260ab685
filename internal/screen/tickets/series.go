package tickets

import (
	"cmp"
	"iter"
	"slices"

	"repose/internal/screen"
	"repose/ledger"
)

// series is a numbering series with its records in order of number.
type series struct {
	id   seriesID
	rows []numbered
}

// recorded holds the series of a month's data, in order of instrument and prefix, with the records.
type recorded struct {
	*Numbers
	series  []series
	records []*ledger.Record // by their places
}

// seriesOf returns the numbering series of a month and the one before it. Callers must not change it.
func seriesOf(d *screen.Data) *recorded { return screen.Memo(d, collect) }

// collect sorts the records of a month and the one before it into series.
func collect(d *screen.Data) *recorded {
	r := &recorded{Numbers: NewNumbers(d.Yard, d.Month.Period, d.Zone)}
	for rec := range inOrder(recordsOf(d.Loads), recordsOf(d.Transfers), recordsOf(d.Deck), recordsOf(d.Returns)) {
		if r.add(rec) {
			r.records = append(r.records, rec)
		}
	}
	r.series = r.sorted()
	return r
}

func recordsOf[F ledger.Fact](rows []screen.Row[F]) []*ledger.Record {
	records := make([]*ledger.Record, len(rows))
	for i, r := range rows {
		records[i] = r.Rec
	}
	return records
}

// inOrder merges records of several kinds, each list in order.
func inOrder(lists ...[]*ledger.Record) iter.Seq[*ledger.Record] {
	return func(yield func(*ledger.Record) bool) {
		for {
			next := -1
			for i, l := range lists {
				if len(l) > 0 && (next < 0 || l[0].Compare(lists[next][0]) < 0) {
					next = i
				}
			}
			if next < 0 || !yield(lists[next][0]) {
				return
			}
			lists[next] = lists[next][1:]
		}
	}
}

// slip returns a record and what it says.
func (r *recorded) slip(x numbered) (*ledger.Record, slip) {
	rec := r.records[x.place]
	s, _ := slipOf(rec)
	return rec, s
}

// joined stands between the instruments of a shared counter.
const joined = "+"

// shared puts series of several instruments together that draw from one counter: see [oneCounter].
func shared(all map[seriesID][]numbered) []series {
	alike := map[seriesID][]seriesID{} // without the instrument
	for _, id := range sortedIDs(all) {
		key := seriesID{prefix: id.prefix, from: id.from}
		alike[key] = append(alike[key], id)
	}
	var out []series
	for _, ids := range alike {
		for len(ids) > 0 {
			s := series{ids[0], all[ids[0]]}
			rest := ids[:0:0]
			for _, id := range ids[1:] {
				if oneCounter(s.rows, all[id]) {
					s.id.instrument += joined + id.instrument
					s.rows = slices.Concat(s.rows, all[id])
					slices.SortFunc(s.rows, byTime)
				} else {
					rest = append(rest, id)
				}
			}
			out, ids = append(out, s), rest
		}
	}
	return out
}

const (
	// fewShared is how many records each of two instruments needs to say that they share a counter.
	fewShared = 3
	// commonShare and fallShare are one over the share of numbers that two instruments of one counter may both have, as a
	// number that was given twice, and of changes between them at which the number may fall, as a displaced record.
	commonShare, fallShare = 10, 4
)

// oneCounter reports whether two instruments, each in order of time, draw from one counter: their numbers lie among
// each other, next to none is in both, and where one takes over from the other the numbers go on. Counters of their own
// have numbers in common, or fall back at every other change.
func oneCounter(a, b []numbered) bool {
	if len(a) < fewShared || len(b) < fewShared {
		return false
	}
	low, high := max(lowest(a), lowest(b)), min(highest(a), highest(b))
	if low > high {
		return false
	}
	ofA, ofB := between(a, low, high), between(b, low, high)
	common, i := 0, 0
	for _, n := range ofB {
		for i < len(ofA) && ofA[i] < n {
			i++
		}
		if i < len(ofA) && ofA[i] == n {
			common++
		}
	}
	return common*commonShare <= min(len(ofA), len(ofB)) && goesOn(a, b)
}

// between returns the numbers from low to high, sorted.
func between(list []numbered, low, high int64) []int64 {
	var in []int64
	for _, n := range list {
		if n.number >= low && n.number <= high {
			in = append(in, n.number)
		}
	}
	slices.Sort(in)
	return in
}

// goesOn reports whether the numbers rise where one of two instruments takes over from the other.
func goesOn(a, b []numbered) bool {
	var changes, falls int
	var last numbered
	var lastIsA bool
	for i, j := 0, 0; i < len(a) || j < len(b); {
		isA := j == len(b) || i < len(a) && byTime(a[i], b[j]) <= 0
		var n numbered
		if isA {
			n = a[i]
			i++
		} else {
			n = b[j]
			j++
		}
		if i+j > 1 && isA != lastIsA {
			changes++
			if n.number < last.number {
				falls++
			}
		}
		last, lastIsA = n, isA
	}
	return falls*fallShare <= changes
}

// byTime and byNumber leave no two records level, so that nothing depends on the order in which they came.
func byTime(a, b numbered) int { return cmp.Compare(a.place, b.place) }

func byNumber(a, b numbered) int {
	if c := cmp.Compare(a.number, b.number); c != 0 {
		return c
	}
	return byTime(a, b)
}

func highest(list []numbered) int64 { return slices.MaxFunc(list, byNumber).number }

func lowest(list []numbered) int64 { return slices.MinFunc(list, byNumber).number }
