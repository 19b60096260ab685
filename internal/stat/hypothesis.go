package stat

// Class is the kind of a cause.
type Class uint8

// The classes of causes.
const (
	ClassLoss    Class = iota + 1 // stone left the pile without a record, or too much was recorded into it
	ClassSwap                     // stone that the records have in one pile is in another
	ClassLoader                   // a loader or deck scale reads high by a fraction
	ClassBelt                     // a belt reads high by a fraction
	ClassDensity                  // the density of a pile is high by a fraction, from a survey on
	ClassSurvey                   // one survey of a pile is high by a fraction, and the next is not
)

var classNames = [...]string{ClassLoss: "loss", ClassSwap: "swap", ClassLoader: "loader", ClassBelt: "belt",
	ClassDensity: "density", ClassSurvey: "survey"}

// String returns the class as it stands in JSON.
func (c Class) String() string { return nameOf(classNames[:], int(c)) }

// PerClass holds one number for each class; element 0 is not used.
type PerClass [ClassSurvey + 1]float64

// Cause is what could explain a difference, apart from its size and from when it began.
type Cause struct {
	Class      Class
	Pile       int // None for an instrument
	Other      int // of a swap, the pile in which the stone is; else None
	Instrument int // ID of a loader or belt; else None
}

// Shape says how a cause works on time.
type Shape uint8

// The shapes.
const (
	Pulse Shape = iota + 1 // in one balance, or by one survey
	Step                   // from the onset on
)

var shapeNames = [...]string{Pulse: "pulse", Step: "step"}

// String returns the shape as a word.
func (s Shape) String() string { return nameOf(shapeNames[:], int(s)) }

// Hypothesis is one cause with an onset and a shape. Its size is in tonnes (loss and swap, pulse), in tonnes a
// month (loss and swap, step), or a fraction of 1.
type Hypothesis struct {
	Cause Cause
	Onset int // ordinal of a period
	Shape Shape
	// OneSided marks a cause that works one way: what was lost does not come back. A swap of two piles is
	// two-sided; a negative size means that the stone went from Other to Pile.
	OneSided  bool
	Mean, Tau float64 // of the size before the data are seen: a normal's mean and standard deviation
}

// entry is a hypothesis with its place in the set.
type entry struct {
	Hypothesis
	group       int // into Hypotheses.groups
	plus, minus int // into Hypotheses.signatures: the vector is their difference
}

// group is a set of hypotheses that share one prior weight equally: those of one cause.
type group struct {
	class  Class
	weight float64
}

// signature is the effect of one unit of a cause on the residuals, in two parts: what it does alone, and the
// signature of the same cause that begins one step later. So a cause that lasts n periods costs as much as one
// that lasts one.
type signature struct {
	rest  int // into Hypotheses.signatures, before this one; 0 for none
	own   Vector
	first int // row of both; not always one of own, where a pile's surveys were missed
}

// Hypotheses is a set of hypotheses over the balances of one yard, made by [Observations.Hypotheses].
//
// There are as many swaps as pairs of piles, but the vector of a swap is the difference of the vectors of two
// losses. So only those are kept and computed with, and a swap costs a subtraction.
type Hypotheses struct {
	signatures []signature // the first is empty
	entries    []entry     // in order of first
	first      []int       // the row where an entry's vector starts
	groups     []group
}

// Len returns the number of hypotheses.
func (h *Hypotheses) Len() int { return len(h.entries) }

// At returns hypothesis i.
func (h *Hypotheses) At(i int) Hypothesis { return h.entries[i].Hypothesis }

// Vector returns what one unit of hypothesis i adds to each residual.
func (h *Hypotheses) Vector(i int) Vector {
	g := gather{}
	for k := h.entries[i].plus; k > 0; k = h.signatures[k].rest {
		g.addAll(h.signatures[k].own, 1)
	}
	for k := h.entries[i].minus; k > 0; k = h.signatures[k].rest {
		g.addAll(h.signatures[k].own, -1)
	}
	return g.vector(1)
}

// start returns the first row of an entry's vector.
func (h *Hypotheses) start(e entry) int {
	row := h.signatures[e.plus].first
	if e.minus > 0 {
		row = min(row, h.signatures[e.minus].first)
	}
	return row
}
