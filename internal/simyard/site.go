package simyard

import "fmt"

// The yard's fixed facts. All of them are invented. Stocks, rates, routes and uncertainties are those of
// repose/internal/stat/simyard, the same yard as pure numbers; a test holds the two together.

const (
	yardCode = "SIM"
	yardName = "Simulated yard"
)

// pile is one stockpile. Masses are t of solids.
type pile struct {
	code, product, name string
	stock               int64 // mean of the first year
	monthly             int64 // made in a mean month; what is not carried off is sold
	belt, loader        int   // of the two loaders the one that usually works there
	season              season
	density             int64      // g of solids in a m3 of the pile
	moisture, rain      millionths // in the driest month, and what the wettest adds
}

const (
	pileA = iota
	pileB
	pileC
	pileD
	pileE
	pileF
	pileCount
)

var piles = [pileCount]pile{
	pileA: {code: "A", product: "sand", name: "washed sand 0/4", stock: 34_741, monthly: 13_900,
		belt: belt1, loader: loader1, season: summer, density: 1_515_000, moisture: 48_000, rain: 14_000},
	pileB: {code: "B", product: "20mm", name: "20 mm clean", stock: 18_046, monthly: 7_150,
		belt: belt1, loader: loader1, season: summer, density: 1_455_000, moisture: 34_000, rain: 6_000},
	pileC: {code: "C", product: "10mm", name: "10 mm clean", stock: 21_596, monthly: 9_050,
		belt: belt1, loader: loader1, season: summer, density: 1_430_000, moisture: 36_000, rain: 7_000},
	pileD: {code: "D", product: "blend", name: "10 mm blend", stock: 9_274, monthly: 2_950,
		belt: belt2, loader: loader2, season: summer, density: 1_470_000, moisture: 38_000, rain: 7_000},
	pileE: {code: "E", product: "fill", name: "fill 0/63", stock: 41_962, monthly: 13_250,
		belt: belt2, loader: loader2, season: autumn, density: 1_690_000, moisture: 40_000, rain: 9_000},
	pileF: {code: "F", product: "scalpings", name: "scalpings", stock: 12_168, monthly: 4_050,
		belt: belt2, loader: loader1, season: summer, density: 1_560_000, moisture: 42_000, rain: 9_000},
}

// season is how far a month lies above the mean of the year, from January, in parts of seasonUnit of the
// largest swing: a cosine.
type season [12]int64

const seasonUnit = 100_000

var (
	summer = season{-99_144, -79_335, -38_268, 13_053, 60_876, 92_388, 99_144, 79_335, 38_268, -13_053, -60_876, -92_388}
	autumn = season{-50_000, -86_603, -100_000, -86_603, -50_000, 0, 50_000, 86_603, 100_000, 86_603, 50_000, 0}
)

// The largest swings of production and of sales about their means, in per cent, and the share of a pile's
// sales that the loader which usually works there loads.
const (
	productionSwing = 10
	salesSwing      = 28
	usualLoader     = 80
)

// wetness is what the months, from January, have of the rain of the wettest, in per cent.
var wetness = [12]int64{100, 90, 70, 45, 25, 10, 0, 5, 25, 50, 80, 95}

// route is a way on which stone is carried from one pile to another: so many t of solids in every so many
// months.
type route struct {
	from, to, loader int
	mass             int64
	every            int
}

const routeCount = 2

var routes = [routeCount]route{
	{from: pileF, to: pileE, loader: loader1, mass: 2_200, every: 3},
	{from: pileC, to: pileD, loader: loader2, mass: 500, every: 1},
}

// instrument weighs. Its uncertainties are the stated ones, relative.
type instrument struct {
	code, kind         string
	systematic, random PPB
	step               Grams // of its display
}

// The scales: the belts, then the loaders, then the deck.
const (
	belt1 = iota
	belt2
	beltCount
)

const (
	loader1 = iota
	loader2
	loaderCount
)

const (
	deckScale  = beltCount + loaderCount
	scaleCount = deckScale + 1
)

// scales are all weighing instruments. A belt's random error is one for each pile and month, that of the
// others one for each weighing.
var scales = [scaleCount]instrument{
	{"B1", "belt", percent, percent / 2, 10 * kilogram},
	{"B2", "belt", percent, percent / 2, 10 * kilogram},
	{"L1", "loader", 7 * percent / 10, percent, 10 * kilogram},
	{"L2", "loader", 7 * percent / 10, percent, 10 * kilogram},
	{"D1", "deck", percent / 10, percent / 10, 20 * kilogram},
}

// loaderScale returns the place of a loader among the scales.
func loaderScale(loader int) int { return beltCount + loader }

// calibrationMonths is how long a certificate serves.
const calibrationMonths = 3

// The other uncertainties that the records state, relative; that of a moisture is relative to the solids
// that it makes of a weighed mass, once for all tests of a pile and once more for each of them.
const (
	openingU  = 3 * percent
	densityU  = 3 * percent
	volumeU   = 112 * percent / 100
	moistureU = 3 * percent / 10
)

const truckCount, customerCount = 90, 12

func truckCode(i int) string    { return fmt.Sprintf("K-%d", 301+i) }
func customerCode(i int) string { return fmt.Sprintf("C-%d", 101+i) }
