package match

import (
	"fmt"
	"slices"
)

// score counts what was found and what was claimed.
type score struct {
	pairs, found                      int // records of one truckload each
	claimed, false                    int
	partly                            int // of the false ones: a record of several trucks with one of them
	lumped, lumpedFound, lumpedClaims int
	sure, sureFalse                   int // pairs of SureMargin or more
}

func (s *score) add(in Input, w *truth, got *Result) {
	partner := map[int]int{}
	for _, p := range got.Pairs {
		partner[p.Load] = p.Deck
		s.claimed++
		if p.Margin >= SureMargin {
			s.sure++
			if !slices.Contains(w.ofLoad[p.Load], w.tickets[p.Deck]) {
				s.sureFalse++
			}
		}
		if held := w.ofLoad[p.Load]; !slices.Contains(held, w.tickets[p.Deck]) {
			s.false++
		} else if len(w.weighed(held)) > 1 {
			s.false++
			s.partly++
		}
	}
	merged := map[int][]int{}
	for _, m := range got.Merged {
		s.lumpedClaims++
		merged[m.Load] = m.Deck
		if !slices.Equal(m.Deck, w.weighed(w.ofLoad[m.Load])) {
			s.false++
			s.claimed++
		}
	}
	for i, held := range w.ofLoad {
		tickets := w.weighed(held)
		switch {
		case len(held) == 1 && len(tickets) == 1:
			s.pairs++
			if j, ok := partner[i]; ok && j == tickets[0] {
				s.found++
			}
		case len(held) > 1 && len(tickets) == len(held):
			s.lumped++
			if slices.Equal(merged[i], tickets) {
				s.lumpedFound++
			}
		}
	}
	s.claimed += len(got.Split)
	s.false += len(got.Split) // the yard has none
}

// weighed returns the tickets of truckloads, in order.
func (w *truth) weighed(loads []int) []int {
	var tickets []int
	for _, i := range loads {
		if j := w.loads[i].ticket; j >= 0 {
			tickets = append(tickets, j)
		}
	}
	slices.Sort(tickets)
	return tickets
}

func (s *score) String() string {
	return fmt.Sprintf("pairs found %d of %d (%.2f %%), false claims %d of %d (%.3f %%, %d partly), lumped found %d of %d (%.1f %%) with %d claims, false sure pairs %d of %d",
		s.found, s.pairs, 100*float64(s.found)/float64(s.pairs), s.false, s.claimed, 100*float64(s.false)/float64(s.claimed), s.partly,
		s.lumpedFound, s.lumped, 100*float64(s.lumpedFound)/float64(s.lumped), s.lumpedClaims, s.sureFalse, s.sure)
}
