// Package simyard is an invented quarry yard whose truth is known: what was made, sold, moved and lost, what
// the instruments and the surveys said of it, and which faults were put in. With it package stat can be asked how
// often it raises a false alarm, how soon it finds a fault, and how often it names the right one.
//
// A [Yard] and its [Fault]s make a [Year]; a year makes the [stat.Observations] that a real yard's records would. All
// masses are in t of solids. The same seed makes the same year.
package simyard

import "math"

// Yard is the plan of a yard. Piles, belts and loaders are numbered from 0.
type Yard struct {
	Piles             []Pile
	Belts, Loaders    int
	Routes            []Route
	Months            int // simulated, counted from 1; month 0 has only the opening surveys
	CalibrationMonths int // between calibrations of every belt and loader
	LoadMass          float64
	Production, Sales float64 // how far they swing about their means over a year, as fractions
	MainLoader        float64 // share of a pile's outbound that its own loader loads; the next loader has the rest
	Stated            Errors
	// ErrorScale is how many times larger the true errors are than the stated ones; 1 for honest statements.
	ErrorScale float64
}

// Pile is one pile of the plan.
type Pile struct {
	Name      string
	MeanStock float64 // over a year
	Monthly   float64 // mean production a month; what is not transferred is sold
	Belt      int
	Loader    int
	Peak      float64 // month of the year in which most is made and sold
}

// Route is a regular transfer.
type Route struct {
	From, To, Loader int
	Mass             float64
	Every            int // months
}

// Errors are relative standard uncertainties.
type Errors struct {
	Density            float64 // one test of each pile, in force throughout
	Volume             float64 // each survey
	BeltSystematic     float64 // each calibration
	BeltRandom         float64 // each pile and month
	LoaderSystematic   float64 // each calibration
	Weighing           float64 // each load
	MoistureSystematic float64 // each pile
	MoistureRandom     float64 // each pile and month
}

// Standard returns the invented yard of section 7.5 of the method page for a number of months: six piles, monthly surveys, two
// belts, two loaders, two routes, seasonal sales. The page prints what follows from the yard and not all of its
// plan; rates, seasons and who feeds what are chosen here so that it follows from this one too.
func Standard(months int) Yard {
	return Yard{
		Piles: []Pile{
			{"A", 34741, 13900, 0, 0, 6.75},
			{"B", 18046, 7150, 0, 0, 6.75},
			{"C", 21596, 9050, 0, 0, 6.75},
			{"D", 9274, 2950, 1, 1, 6.75},
			{"E", 41962, 13250, 1, 1, 9},
			{"F", 12168, 4050, 1, 0, 6.75},
		},
		Belts: 2, Loaders: 2,
		Routes:            []Route{{From: 5, To: 4, Loader: 0, Mass: 2200, Every: 3}, {From: 2, To: 3, Loader: 1, Mass: 500, Every: 1}},
		Months:            months,
		CalibrationMonths: 3,
		LoadMass:          20,
		Production:        0.10, Sales: 0.28,
		MainLoader: 0.8,
		Stated: Errors{Density: 0.03, Volume: 0.0112, BeltSystematic: 0.010, BeltRandom: 0.005,
			LoaderSystematic: 0.007, Weighing: 0.010, MoistureSystematic: 0.003, MoistureRandom: 0.003},
		ErrorScale: 1,
	}
}

// made and sold return the true masses of a month.
func (y *Yard) made(pile, month int) float64 {
	p := y.Piles[pile]
	return p.Monthly * (1 + y.Production*p.season(month))
}

func (y *Yard) sold(pile, month int) float64 {
	p := y.Piles[pile]
	mass := p.Monthly * (1 + y.Sales*p.season(month))
	for _, r := range y.Routes {
		switch pile {
		case r.From:
			mass -= r.Mass / float64(r.Every)
		case r.To:
			mass += r.Mass / float64(r.Every)
		}
	}
	return mass
}

// season is 1 at the pile's peak and -1 half a year away.
func (p Pile) season(month int) float64 {
	return math.Cos(2 * math.Pi * (float64(month) - p.Peak) / 12)
}

// moved returns what a route carries in a month.
func (r Route) moved(month int) float64 {
	if month%r.Every != 0 {
		return 0
	}
	return r.Mass
}

// opening returns the stock before month 1 that makes the mean of a year MeanStock.
func (y *Yard) opening(pile int) float64 {
	stock, sum := 0.0, 0.0
	for month := 1; month <= 12; month++ {
		stock += y.made(pile, month) - y.sold(pile, month)
		for _, r := range y.Routes {
			switch pile {
			case r.From:
				stock -= r.moved(month)
			case r.To:
				stock += r.moved(month)
			}
		}
		sum += stock
	}
	return y.Piles[pile].MeanStock - sum/12
}
