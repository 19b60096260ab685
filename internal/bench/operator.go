package bench

import (
	"fmt"
	"math/rand/v2"
)

// products is how many there are. Each has one moisture and one density, whatever the day: tests come every month and
// find the same, so that the sums of masses as weighed can be held to a plain sum in SQL.
const products = 12

// operator is what the tables are written from, and what its piles truly hold.
type operator struct {
	size  Size
	yards []yard
	piles []pile
}

// yard is one place with its own piles, loaders, deck scale and belt.
type yard struct {
	code    string
	piles   []int  // places in operator.piles
	tickets [2]int // last number of each loader
	weighed int    // last number of the deck scale
}

// pile is one pile; its mass is as weighed, in units of 10 kg, the step of the scales.
type pile struct {
	yard    int
	code    string
	product int
	mass    int64
}

const perTonne = 100 // steps of the scales

// meanLoad is the middle of the loads that are drawn, in steps of the scales.
const meanLoad = 22 * perTonne

func newOperator(s Size) *operator {
	o := &operator{size: s}
	for i := range s.Yards {
		o.yards = append(o.yards, yard{code: fmt.Sprintf("Y%02d", i+1)})
	}
	// Enough that no pile runs empty before the belts have made what its loads take: half as much again as all loads.
	opening := int64(s.Loads)*meanLoad*3/2/int64(s.Piles) + 1000*perTonne
	for i := range s.Piles {
		y := i % s.Yards
		o.yards[y].piles = append(o.yards[y].piles, i)
		o.piles = append(o.piles, pile{yard: y, code: fmt.Sprintf("P%03d", i+1), product: i / s.Yards % products, mass: opening})
	}
	return o
}

func (p pile) productCode() string { return productCode(p.product) }

func productCode(i int) string { return fmt.Sprintf("S%02d", i+1) }

// moisture returns a product's moisture in per cent of dry mass.
func moisture(product int) float64 { return 2 + 0.25*float64(product) }

// density returns a product's bulk density at its moisture, in t/m3.
func density(product int) float64 { return 1.5 + 0.02*float64(product) }

// dice draws whole numbers; each month of a seed has dice of its own, so that a month is the same in a short book as
// in a long one.
type dice struct{ source *rand.PCG }

func (o *operator) dice(month int) dice {
	at := o.size.month(month)
	return dice{rand.NewPCG(o.size.Seed, uint64(at.Year()*12+int(at.Month())))}
}

// below draws from 0 up to but not including n. The bias of the remainder is below 1e-15 for the numbers used here.
func (d dice) below(n int) int { return int(d.source.Uint64() % uint64(n)) }
