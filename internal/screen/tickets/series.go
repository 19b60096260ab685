package tickets

import (
	"cmp"
	"slices"

	"repose/internal/screen"
)

// seriesByID holds the records of each series in order of number.
type seriesByID map[seriesID][]numbered

// seriesOf returns the numbering series of a month and the one before it. Callers must not change it.
func seriesOf(d *screen.Data) seriesByID { return screen.Memo(d, collect) }

// collect sorts the records of a month and the one before it into series. A loader's loads and transfers share its
// counter.
func collect(d *screen.Data) seriesByID {
	c := &collector{d.End, map[seriesID][]numbered{}}
	for _, l := range d.Loads {
		f := l.Fact
		c.add(f.Loader, f.Ticket, numbered{rec: l.Rec, isVoid: f.Void, net: f.Net, pile: f.Pile, product: f.Product, truck: f.Truck, customer: f.Customer})
	}
	for _, t := range d.Transfers {
		c.add(t.Fact.Loader, t.Fact.Ticket, numbered{rec: t.Rec, net: t.Fact.Net, pile: t.Fact.From, truck: t.Fact.Truck})
	}
	for _, t := range d.Deck {
		f := t.Fact
		c.add(f.Deck, f.Ticket, numbered{rec: t.Rec, isVoid: f.Void, net: f.Net, product: f.Product, truck: f.Truck, customer: f.Customer})
	}
	for _, r := range d.Returns {
		c.add(r.Fact.Instrument, r.Fact.Ticket, numbered{rec: r.Rec, net: r.Fact.Net, pile: r.Fact.Pile})
	}
	all := shared(byYear(d, c.series))
	for _, list := range all {
		slices.SortFunc(list, byNumber)
	}
	return all
}

// byYear parts series whose numbers start anew with the year: the middle one of the first few of the new year is below
// that of the last few of the old, so that a ticket that came late, or was mistyped, changes nothing. It leaves every list
// in order of time.
func byYear(d *screen.Data, all map[seriesID][]numbered) map[seriesID][]numbered {
	out := map[seriesID][]numbered{}
	year := func(n numbered) int { return n.at.In(d.Zone).Year() }
	for id, list := range all {
		slices.SortFunc(list, byTime)
		first := year(list[0])
		cut := len(list)
		if year(list[len(list)-1]) > first {
			cut = slices.IndexFunc(list, func(n numbered) bool { return year(n) > first })
		}
		if cut < len(list) && middle(list[cut:min(cut+aroundYear, len(list))]) < middle(list[max(cut-aroundYear, 0):cut]) {
			out[seriesID{id.instrument, id.prefix, first}] = list[:cut]
			out[seriesID{id.instrument, id.prefix, year(list[cut])}] = list[cut:]
			continue
		}
		out[id] = list
	}
	return out
}

// aroundYear is how many records on each side of the new year say whether the numbers start anew.
const aroundYear = 5

// middle returns the upper median of the numbers.
func middle(list []numbered) int64 {
	sorted := slices.SortedFunc(slices.Values(list), byNumber)
	return sorted[len(sorted)/2].number
}

// joined stands between the instruments of a shared counter.
const joined = "+"

// shared puts series of several instruments together that draw from one counter: see [oneCounter].
func shared(all map[seriesID][]numbered) seriesByID {
	alike := map[seriesID][]seriesID{} // without the instrument
	for _, id := range sortedIDs(all) {
		key := seriesID{prefix: id.prefix, year: id.year}
		alike[key] = append(alike[key], id)
	}
	out := seriesByID{}
	for _, ids := range alike {
		for len(ids) > 0 {
			name, list := ids[0], all[ids[0]]
			rest := ids[:0:0]
			for _, id := range ids[1:] {
				if oneCounter(list, all[id]) {
					name.instrument += joined + id.instrument
					list = slices.SortedFunc(slices.Values(slices.Concat(list, all[id])), byTime)
				} else {
					rest = append(rest, id)
				}
			}
			out[name], ids = list, rest
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
	have := make(map[int64]bool, len(a))
	var ofA, ofB, common int
	for _, n := range a {
		if n.number >= low && n.number <= high {
			have[n.number] = true
			ofA++
		}
	}
	for _, n := range b {
		if n.number >= low && n.number <= high {
			ofB++
			if have[n.number] {
				common++
			}
		}
	}
	return common*commonShare <= min(ofA, ofB) && goesOn(a, b)
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
func byTime(a, b numbered) int { return a.rec.Compare(b.rec) }

func byNumber(a, b numbered) int {
	if c := cmp.Compare(a.number, b.number); c != 0 {
		return c
	}
	return byTime(a, b)
}

func highest(list []numbered) int64 { return slices.MaxFunc(list, byNumber).number }

func lowest(list []numbered) int64 { return slices.MinFunc(list, byNumber).number }

// sortedIDs returns the series in order, so that nothing depends on a map.
func sortedIDs(all map[seriesID][]numbered) []seriesID {
	ids := make([]seriesID, 0, len(all))
	for id := range all {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b seriesID) int {
		return cmp.Or(cmp.Compare(a.instrument, b.instrument), cmp.Compare(a.prefix, b.prefix), cmp.Compare(a.year, b.year))
	})
	return ids
}
