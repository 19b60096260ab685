package weights

import (
	"math"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// truckOn is a truck on a deck scale.
type truckOn struct{ deck, truck string }

// enoughEmpties is how often a truck must have been weighed empty in the month before to be compared.
const enoughEmpties = 3

// findTares marks the pairs that differ because the deck took another tare than the truck's own: with the median of the month
// before they agree. It is asked for the pairs that differ alone, which are few.
func (j *judged) findTares(d *screen.Data) {
	tares := map[truckOn][]float64{}
	for i := range j.pairs {
		if t := &d.MatchDeck[j.pairs[i].Deck].Fact; j.pairs[i].verdict == unlike && t.Tare > 0 && t.Truck != "" {
			tares[truckOn{t.Deck, t.Truck}] = nil
		}
	}
	if len(tares) == 0 {
		return
	}
	for i := range d.Deck {
		t := &d.Deck[i].Fact
		if !t.At.Before(d.Start) {
			break
		}
		k := truckOn{t.Deck, t.Truck}
		if before, ok := tares[k]; ok && t.Tare > 0 && !t.Void {
			tares[k] = append(before, float64(t.Tare))
		}
	}
	for i := range j.pairs {
		p := &j.pairs[i]
		load, t := &d.MatchLoads[p.Load].Fact, &d.MatchDeck[p.Deck].Fact
		before := tares[truckOn{t.Deck, t.Truck}]
		if p.verdict != unlike || t.Tare <= 0 || len(before) < enoughEmpties {
			continue
		}
		usual := wholeKilograms(stat.Median(before))
		if x, ok := ratio(load.Net, t.Net+t.Tare-usual); ok && math.Abs(x-p.by.bias) <= p.by.limit {
			p.verdict, p.tare = byTare, usual
		}
	}
}

// sameTares returns the pairs of the month that differ by their tare, those of one truck with one tare together, in order.
func (j *judged) sameTares(d *screen.Data) [][]int {
	type stored struct {
		truckOn
		tare ledger.Mass
	}
	place := map[stored]int{}
	var all [][]int
	for i := range j.pairs {
		p := &j.pairs[i]
		if p.verdict != byTare || !p.sure() || !d.In(d.MatchLoads[p.Load].At()) {
			continue
		}
		t := &d.MatchDeck[p.Deck].Fact
		k := stored{truckOn{t.Deck, t.Truck}, t.Tare}
		if _, ok := place[k]; !ok {
			place[k] = len(all)
			all = append(all, nil)
		}
		all[place[k]] = append(all[place[k]], i)
	}
	return all
}
