package stat

// Priors says how large causes are thought to be before the data are seen, and how likely each class is.
// The values are judgement, with no source: they belong in a yard's policy, and beside what they lead to.
type Priors struct {
	Loss    float64  // size of a loss, as a share of the pile's mean monthly outbound
	Swap    float64  // size of a swap, as a share of the smaller outbound of its piles
	Scale   float64  // error of a belt or a loader, as a fraction
	Stock   float64  // error of a density or a survey, as a fraction
	Classes PerClass // relative weight of each class
	Routes  []Route
	// RouteShare is the part of the swaps' weight that goes to a missed transfer of the usual size on a
	// declared route, rather than to any swap of any two piles.
	RouteShare float64
}

// Route is a way that stone is usually carried from one pile to another.
type Route struct {
	From, To int     // piles
	Mass     float64 // t, usual in a period in which it is used
}

// DefaultPriors returns the sizes of the method page and equal weights for all classes.
func DefaultPriors() Priors {
	return Priors{
		Loss: 0.05, Swap: 0.05, Scale: 0.02, Stock: 0.03, RouteShare: 0.5,
		Classes: PerClass{ClassLoss: 1, ClassSwap: 1, ClassLoader: 1, ClassBelt: 1, ClassDensity: 1, ClassSurvey: 1},
	}
}

// routeSpread is the prior standard deviation of a missed transfer about its usual mass, as a fraction.
const routeSpread = 0.3
