package simyard

import (
	"math/rand/v2"
	"slices"
)

// The streams of chance. Each source of error has its own, so that the draws of one do not move another's.
const (
	openingStream uint64 = iota + 1
	densityStream
	volumeStream
	scaleStream
	beltStream
	moistureStream
	weighingStream
	haulingStream
	deckStream
	trafficStream
	routeStream
	runStream
	faultStream // the first of as many as there are faults
)

// The streams of what only a detailed yard has, beyond those of faults.
const (
	momentStream uint64 = iota + 1_001
	purposeStream
	truckStream
	lagStream
	tareStream
	feedStream
	feedLoadStream
	toeStream
)

// dice is one stream of chance.
type dice struct{ r *rand.Rand }

func newDice(seed, stream uint64) dice { return dice{rand.New(rand.NewPCG(seed, stream))} }

// normal draws an error with mean 0 and the standard deviation sigma.
func (d dice) normal(sigma PPB) PPB { return sigma.times(d.r.NormFloat64()) }

// weights draws n weights that differ by up to a twentieth from one another's mean: truckloads and days are
// never quite alike. Their squares, on which the scatter of a sum of weighings depends, exceed those of equal
// ones by less than a thousandth.
func (d dice) weights(n int) []int64 {
	w := make([]int64, n)
	for i := range w {
		w[i] = 950_000 + d.r.Int64N(100_001) // finely, for their rounding to a display's steps to be fair
	}
	return w
}

// some draws count different numbers below n, in order.
func (d dice) some(count, n int) []int {
	drawn := d.r.Perm(n)[:count]
	slices.Sort(drawn)
	return drawn
}
