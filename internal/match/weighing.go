package match

import (
	"math"
	"slices"
	"strings"

	"repose/ledger"
)

// weighing is a load or a deck ticket as the method sees it. Logarithms are natural.
type weighing struct {
	at             int64 // Unix time, s
	net            ledger.Mass
	log            float64 // of net in t
	scale          int32   // loader or deck scale, a number from 0
	truck, product int32   // numbers from 1; 0 where no label says
	void           bool

	// How common such a weighing is, to tell agreement from chance.
	rate          float64 // logarithm of weighings a second of this scale at the time
	chance        float64 // logarithm of the density of log among the scale's weighings
	truckRarity   float64 // minus the logarithm of the truck's share of the weighings of some hours around
	productRarity float64 // minus the logarithm of the product's share of the scale's weighings
}

// side is all loads or all deck tickets, in order of time.
type side struct {
	all    []weighing
	scales []string // names, by weighing.scale
	lanes  [][]int32
}

// labels gives numbers to names, from 1. A blank name is 0; case and outer blanks do not count, because people
// type labels.
type labels map[string]int32

func (l labels) number(name string) int32 {
	name = strings.ToUpper(strings.TrimSpace(name))
	if name == "" {
		return 0
	}
	n, ok := l[name]
	if !ok {
		n = int32(len(l) + 1)
		l[name] = n
	}
	return n
}

// readSides reads the records.
func readSides(in Input) (loads, deck *side) {
	trucks, products := labels{}, labels{}
	loads, deck = newSide(len(in.Loads)), newSide(len(in.Deck))
	names := map[string]int32{}
	for _, rec := range in.Loads {
		f := rec.Fact.(ledger.Load)
		product := f.Product
		if in.Product != nil {
			product = in.Product(rec)
		}
		loads.add(names, f.Loader, weighing{at: rec.At.Unix(), net: f.Net, truck: trucks.number(f.Truck),
			product: products.number(product), void: f.Void})
	}
	names = map[string]int32{}
	for _, rec := range in.Deck {
		f := rec.Fact.(ledger.DeckTicket)
		deck.add(names, f.Deck, weighing{at: rec.At.Unix(), net: f.Net, truck: trucks.number(f.Truck),
			product: products.number(f.Product), void: f.Void})
	}
	for _, s := range []*side{loads, deck} {
		s.rates()
		s.masses()
		s.truckRarities(len(trucks))
		s.productRarities(len(products))
	}
	return loads, deck
}

func newSide(n int) *side { return &side{all: make([]weighing, 0, n)} }

func (s *side) add(names map[string]int32, scale string, w weighing) {
	n, ok := names[scale]
	if !ok {
		n = int32(len(s.scales))
		names[scale] = n
		s.scales, s.lanes = append(s.scales, scale), append(s.lanes, nil)
	}
	w.scale = n
	if w.net > 0 {
		w.log = math.Log(float64(w.net) / float64(ledger.Tonne))
	}
	s.lanes[n] = append(s.lanes[n], int32(len(s.all)))
	s.all = append(s.all, w)
}

// rateReach is how far around a weighing others are counted for its rate, in s: long enough for a few of them, short
// enough to follow the rush of a morning.
const rateReach = 15 * 60

// rates counts the weighings of each scale around each weighing, itself included.
func (s *side) rates() {
	for _, lane := range s.lanes {
		s.around(lane, rateReach, func(w *weighing, n int) { w.rate = math.Log(float64(n) / (2 * rateReach)) })
	}
}

// around calls f for each weighing of a list in order of time, with how many of the list are at most reach away.
func (s *side) around(list []int32, reach int64, f func(w *weighing, n int)) {
	lo, hi := 0, 0
	for _, i := range list {
		w := &s.all[i]
		for s.all[list[lo]].at < w.at-reach {
			lo++
		}
		for hi < len(list) && s.all[list[hi]].at <= w.at+reach {
			hi++
		}
		f(w, hi-lo)
	}
}

// The density of masses is counted in bins of the logarithm from a kilogram to a thousand tonnes.
const (
	massBin   = 0.01
	massFirst = -6.9
	massBins  = 1381
	massReach = 3 // bins to each side that a weighing is spread over
	// massPrior is how many weighings an even density counts for, over masses of one e-fold: where there are few
	// weighings, they say little of what is common.
	massPrior = 10
)

func massIndex(log float64) int { return min(max(int((log-massFirst)/massBin), 0), massBins-1) }

// masses finds how common each mass is at its scale.
func (s *side) masses() {
	for _, lane := range s.lanes {
		count := make([]float64, massBins)
		n := float64(massPrior)
		for _, i := range lane {
			if s.all[i].net > 0 {
				count[massIndex(s.all[i].log)]++
				n++
			}
		}
		density := make([]float64, massBins)
		for i := range density {
			sum := 0.0
			for d := -massReach; d <= massReach; d++ {
				if k := i + d; k >= 0 && k < massBins {
					sum += count[k] * float64(massReach+1-max(d, -d))
				}
			}
			density[i] = math.Log((sum/((massReach+1)*(massReach+1)*massBin) + massPrior) / n)
		}
		for _, i := range lane {
			s.all[i].chance = density[massIndex(s.all[i].log)]
		}
	}
}

// truckReach is how far around a weighing the trucks are counted, in s: a truck that came in the last hours is likely
// to come again, one that did not come for a month is not.
const truckReach = 3 * 3600

// truckRarities finds how common each truck is around each of its weighings. Ten weighings by unknown trucks are
// added, so that few weighings prove little.
func (s *side) truckRarities(trucks int) {
	byTruck := make([][]int32, trucks+1)
	whole := make([]int32, len(s.all))
	for i := range s.all {
		whole[i] = int32(i)
		t := s.all[i].truck
		byTruck[t] = append(byTruck[t], int32(i))
	}
	s.around(whole, truckReach, func(w *weighing, n int) { w.truckRarity = math.Log(float64(n + 10)) })
	for _, list := range byTruck[1:] {
		s.around(list, truckReach, func(w *weighing, n int) { w.truckRarity -= math.Log(float64(n)) })
	}
}

func (s *side) productRarities(products int) {
	for _, lane := range s.lanes {
		count := make([]float64, products+1)
		for _, i := range lane {
			count[s.all[i].product]++
		}
		for _, i := range lane {
			w := &s.all[i]
			w.productRarity = math.Log((float64(len(lane)) + 2) / (count[w.product] + 1))
		}
	}
}

// lanesOf returns the lanes with only the weighings that keep says.
func (s *side) lanesOf(keep func(i int32) bool) [][]int32 {
	lanes := make([][]int32, len(s.lanes))
	for k, lane := range s.lanes {
		lanes[k] = slices.DeleteFunc(slices.Clone(lane), func(i int32) bool { return !keep(i) })
	}
	return lanes
}

// compareLabels says whether two numbered labels are the same.
func compareLabels(a, b int32) Tri {
	switch {
	case a == 0 || b == 0:
		return Unknown
	case a == b:
		return Yes
	}
	return No
}
