package match

import (
	"math"
	"time"
)

// habit is how the lags and weights of one loader and one deck scale are spread, for trucks that both weighed.
type habit struct {
	lag         float64 // median of deck time less load time, s
	early, late float64 // spreads below and above it, s, as standard deviations
	bias        float64 // median of the logarithm of loader over deck
	sd          float64 // of that logarithm
	share       float64 // logarithm of the part of the loader's trucks that this deck weighs
	window      int64   // how far a lag may be from the median, s
	pairs       int     // that it was learned from

	firstLag int64     // whole lag, s, that lagLog starts with
	lagLog   []float32 // logarithm of the density of lags a second, by lagStep
	massLog  []float32 // logarithm of the density of the weights' logarithm beyond the bias, by massStep
	massBest float64   // the largest of them
}

const (
	lagStep  = 4      // s
	massStep = 0.0005 // of the logarithm
	massFar  = 1.0    // what the table reaches to each side
)

// Weights that differ for a reason: a pass too many, an edited figure, another truck's. They are spread by a
// double exponential. Common practice, no source.
const (
	unlikeShare = 0.03
	unlikeScale = 0.25
)

// tabulate fills the tables from the figures.
func (h *habit) tabulate() {
	h.firstLag = int64(math.Round(h.lag)) - h.window
	h.lagLog = make([]float32, 2*h.window/lagStep+1)
	for i := range h.lagLog {
		h.lagLog[i] = float32(h.logLag(float64(h.firstLag+int64(i)*lagStep) - h.lag))
	}
	h.massLog = make([]float32, int(2*massFar/massStep)+1)
	for i := range h.massLog {
		h.massLog[i] = float32(h.logMass(float64(i)*massStep - massFar))
	}
	h.massBest = h.logMass(0)
}

// logLag is the logarithm of the density of a lag that is d seconds from the median: Student's t with 3 degrees of
// freedom, each half with a scale of its own. Its tails are for loads that were paused, and for trucks that stopped
// on their way.
func (h *habit) logLag(d float64) float64 {
	scale := h.late
	if d < 0 {
		scale = h.early
	}
	z := d / scale
	return math.Log(2/(h.early+h.late)) + math.Log(2/(math.Pi*math.Sqrt(3))) - 2*math.Log1p(z*z/3)
}

// logMass is the logarithm of the density of ln(loader/deck) that is d from the bias: Student's t with 4 degrees of
// freedom for scales that work, and a wide one for weights that differ for a reason.
func (h *habit) logMass(d float64) float64 {
	z := d / h.sd
	alike := 3.0 / 8 / h.sd * math.Pow(1+z*z/4, -2.5)
	unlike := math.Exp(-math.Abs(d)/unlikeScale) / (2 * unlikeScale)
	return math.Log((1-unlikeShare)*alike + unlikeShare*unlike)
}

// mass is logMass from the table.
func (h *habit) mass(d float64) float64 {
	if i := int((d+massFar)/massStep + 0.5); d > -massFar && i < len(h.massLog) {
		return float64(h.massLog[i])
	}
	return h.logMass(d)
}

// difference returns ln(loader/deck) beyond the bias. ok is false where a weight is zero.
func (h *habit) difference(load, deck *weighing) (d float64, ok bool) {
	return load.log - deck.log - h.bias, load.net > 0 && deck.net > 0
}

// tolerance is the largest relative difference of weights that agree.
func (h *habit) tolerance() float64 { return 3 * h.sd }

// rates is how often things go wrong, in a yard as a whole.
type rates struct {
	noTicket, noLoad float64 // parts of the loads and of the deck tickets that have no partner
	wrongTruck       float64 // part of the pairs that have two labels which differ
	wrongProduct     float64
}

// odds are rates as logarithms of likelihood ratios.
type odds struct {
	prior                     float64 // of a pair against two records without partners
	sameTruck, otherTruck     float64
	sameProduct, otherProduct float64
	noTicket, noLoad          float64 // logarithms of the rates
	claim                     float64 // part of prior: what a pair must be worth to be claimed
}

// doubt is the odds that a pair must have to be claimed: as many true ones for a false one.
const doubt = 3

func (r rates) odds() odds {
	claim := math.Log(doubt)
	return odds{
		prior:     math.Log((1-r.noTicket)/r.noTicket) + math.Log((1-r.noLoad)/r.noLoad) - claim,
		sameTruck: math.Log(1 - r.wrongTruck), otherTruck: math.Log(r.wrongTruck),
		sameProduct: math.Log(1 - r.wrongProduct), otherProduct: math.Log(r.wrongProduct),
		noTicket: math.Log(r.noTicket), noLoad: math.Log(r.noLoad), claim: claim,
	}
}

// truck is what the labels of trucks say, where rarity belongs to either.
func (o *odds) truck(a, b int32, rarity float64) float64 {
	switch compareLabels(a, b) {
	case Yes:
		return o.sameTruck + rarity
	case No:
		return o.otherTruck
	}
	return 0
}

func (o *odds) product(a, b int32, rarity float64) float64 {
	switch compareLabels(a, b) {
	case Yes:
		return o.sameProduct + rarity
	case No:
		return o.otherProduct
	}
	return 0
}

// weight is the logarithm of the odds that a load and a deck ticket are of one truckload. ok is false outside the
// window.
func (h *habit) weight(o *odds, load, deck *weighing) (w float64, ok bool) {
	d := deck.at - load.at - h.firstLag
	if d < 0 || d > 2*h.window {
		return 0, false
	}
	w = o.prior + h.share + float64(h.lagLog[d/lagStep]) - deck.rate +
		o.truck(load.truck, deck.truck, deck.truckRarity) + o.product(load.product, deck.product, deck.productRarity)
	if x, ok := h.difference(load, deck); ok {
		w += h.mass(x) - deck.chance
	}
	return w, true
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s)) * time.Second }
