package tickets

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"repose/internal/screen"
)

// order finds records whose number and time disagree with those around them. In order of time the numbers of a series
// should rise; the longest run of records whose numbers do is taken as right (Schensted 1961, from memory), so that
// one displaced record is one finding and not a finding for each neighbour. A task that was paused is stamped when it
// began or ended, so a record counts only where its time is further from its neighbours' in number than a setting.
type order struct{}

var orderMinutes = screen.Setting{Name: "rule out of order minutes", Holds: screen.Minutes, Default: "5",
	Meaning: "How far a record's time may be from where its number puts it: paused tasks are stamped early or late."}

func (order) Info() screen.Info {
	return screen.Info{Name: "out of order", Strength: screen.Certain,
		Meaning:  "A record's number and its time disagree with those around it, or its number lies far above all others.",
		Benign:   "A mistyped time or number; a clock that was set; a ticket written by hand and entered later; a paused task.",
		Settle:   "A record with the right time or number that replaces this one; or words.",
		Settings: []screen.Setting{orderMinutes, mostMissing}}
}

func (order) Look(d *screen.Data, found func(screen.Finding)) {
	r, slack, most := seriesOf(d), d.Duration(orderMinutes), int64(d.Number(mostMissing))
	for _, s := range r.series {
		list, stray := withoutStrays(s.rows, most)
		for _, n := range stray {
			found(r.displaced(s.id, n, fmt.Sprintf("number %d of series %s lies far above all others (the next below is %d)",
				n.number, s.id, list[len(list)-1].number)))
		}
		for _, i := range displaced(list, slack) {
			n := list[i]
			found(r.displaced(s.id, n, fmt.Sprintf("number %d of series %s was recorded at %s, %s", n.number, s.id, d.Clock(r.when(n)), r.neighbours(d, list, i))))
		}
	}
}

func (r *recorded) displaced(id seriesID, n numbered, seen string) screen.Finding {
	rec, s := r.slip(n)
	return screen.Finding{Subject: rec.ID(), Time: rec.At, Pile: s.pile, Mass: s.net, Records: []string{rec.ID()}, Seen: seen,
		Instrument: id.instrument, Series: id.String(), Product: s.product, Truck: s.truck, Customer: s.customer}
}

// neighbours says when the numbers before and after were recorded.
func (r *recorded) neighbours(d *screen.Data, list []numbered, i int) string {
	text := ""
	if i > 0 {
		text = fmt.Sprintf("the number before it at %s", d.Clock(r.when(list[i-1])))
	}
	if i+1 < len(list) {
		if text != "" {
			text += " and "
		}
		text += fmt.Sprintf("the one after it at %s", d.Clock(r.when(list[i+1])))
	}
	return text
}

// displaced returns the places of records, in order of number, that are not in a longest run of rising times and are
// further than slack from it.
func displaced(list []numbered, slack time.Duration) []int {
	keep := longestRise(list)
	latest := make([]time.Duration, len(list)) // of the run's next in number
	next := time.Duration(math.MaxInt64)
	for i, n := range slices.Backward(list) {
		latest[i] = next
		if keep[i] {
			next = n.at
		}
	}
	var out []int
	earliest := time.Duration(math.MinInt64) // of the run's last in number
	for i, n := range list {
		switch {
		case keep[i]:
			earliest = n.at
		case earliest > n.at+slack, latest[i] < n.at-slack:
			out = append(out, i)
		}
	}
	return out
}

// longestRise marks a longest run of records whose times do not fall, by patience sorting in n log n.
func longestRise(list []numbered) []bool {
	keep := make([]bool, len(list))
	if slices.IsSortedFunc(list, func(a, b numbered) int { return cmp.Compare(a.at, b.at) }) {
		for i := range keep {
			keep[i] = true // as in most series
		}
		return keep
	}
	var piles []int32 // the last record of the best run of each length
	before := make([]int32, len(list))
	for i, n := range list {
		k := sort.Search(len(piles), func(k int) bool { return list[piles[k]].at > n.at })
		before[i] = -1
		if k > 0 {
			before[i] = piles[k-1]
		}
		if k == len(piles) {
			piles = append(piles, int32(i))
		} else {
			piles[k] = int32(i)
		}
	}
	for i := piles[len(piles)-1]; i >= 0; i = before[i] {
		keep[i] = true
	}
	return keep
}
