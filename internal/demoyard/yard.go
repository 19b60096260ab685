package demoyard

// The yard's fixed facts. Masses are whole tonnes here, moistures hundredths of a per cent of dry mass
// ("bp"), errors parts per million.

const (
	yardCode = "UMB"
	yardName = "Umberlow Yard"
	zoneName = "Europe/London"
)

const (
	kilogram int64 = 1_000 // grams
	tonne    int64 = 1_000_000
)

// product is a size that the yard makes, and how water behaves in it.
type product struct {
	code, name string
	word       string // what the deck scale's software calls it
	referenceBP,
	absorptionBP int64
	drainedBP   int64 // moisture after a dry week
	gainBPPerMM int64 // what a millimetre of rain adds at the face
}

const (
	mm40 = iota
	mm20
	mm10
	washedSand
	crusherRun
	productCount
)

var products = [productCount]product{
	mm40: {code: "40mm", name: "40 mm single size", word: "Schotter 40",
		referenceBP: 100, absorptionBP: 60, drainedBP: 110, gainBPPerMM: 3},
	mm20: {code: "20mm", name: "20 mm clean", word: "Splitt 20 gewaschen",
		referenceBP: 150, absorptionBP: 70, drainedBP: 140, gainBPPerMM: 4},
	mm10: {code: "10mm", name: "10 mm clean", word: "Splitt 10 gewaschen",
		referenceBP: 200, absorptionBP: 80, drainedBP: 180, gainBPPerMM: 5},
	washedSand: {code: "sand", name: "washed sand 0/4", word: "Füllsand, gewaschen",
		referenceBP: 500, absorptionBP: 110, drainedBP: 470, gainBPPerMM: 14},
	crusherRun: {code: "base", name: "crusher-run base 0/32", word: "Tragschicht 0/32",
		referenceBP: 400, absorptionBP: 90, drainedBP: 360, gainBPPerMM: 7},
}

// pile is one stockpile.
type pile struct {
	name    string
	product int
	belt    int
	loader  int   // the one that usually works there
	opening int64 // solids truly in it at the start, t
	target  int64 // solids that the plant runs towards, t
	share   int64 // of a thousand customer loads

	openingErrorPPM int64 // of the stock that the opening states
	densityKgM3     int64 // true dry bulk density in place
	compaction      int64 // thousandths: density in place over density of the loose test
	baseLayerM3     int64 // of the volume, the permanent layer that is not stock
	heightDM        int64 // mean height
}

const (
	forty = iota
	twentyEast
	twentyWest
	ten
	sandPile
	basePile
	pileCount
)

var piles = [pileCount]pile{
	forty: {name: "FORTY", product: mm40, belt: belt1, loader: loader1, opening: 7_400, target: 7_200, share: 80,
		openingErrorPPM: 2_500, densityKgM3: 1_480, compaction: 1_000, heightDM: 48},
	twentyEast: {name: "TWENTY-E", product: mm20, belt: belt1, loader: loader1, opening: 18_200, target: 17_600, share: 150,
		openingErrorPPM: -3_000, densityKgM3: 1_455, compaction: 1_000, heightDM: 71},
	twentyWest: {name: "TWENTY-W", product: mm20, belt: belt2, loader: loader2, opening: 9_100, target: 9_400, share: 110,
		openingErrorPPM: 2_000, densityKgM3: 1_460, compaction: 1_000, heightDM: 55},
	ten: {name: "TEN", product: mm10, belt: belt1, loader: loader1, opening: 10_300, target: 10_000, share: 270,
		openingErrorPPM: 1_500, densityKgM3: 1_430, compaction: 1_000, heightDM: 58},
	sandPile: {name: "SAND", product: washedSand, belt: belt2, loader: loader2, opening: 13_600, target: 14_000, share: 190,
		openingErrorPPM: -2_000, densityKgM3: 1_510, compaction: 1_020, heightDM: 60},
	basePile: {name: "BASE", product: crusherRun, belt: belt2, loader: loader2, opening: 31_500, target: 32_000, share: 200,
		openingErrorPPM: 3_000, densityKgM3: 1_720, compaction: 1_040, baseLayerM3: 412, heightDM: 82},
}

// instrument weighs. Its true bias and scatter are known only here; the stated ones go into the files.
type instrument struct {
	code, kind    string
	biasPPM       int64  // true systematic error
	scatterPPM    int64  // true random error of one weighing or one run, standard deviation
	statedBias    string // per cent, standard uncertainty, as the files state it
	statedScatter string
	certificate   string
	ratePerHour   int64 // belts: wet tonnes in an hour of full running
	step          int64 // belts: grams of one count
	firstReading  int64 // belts: totaliser at the start, grams
	modulusT      int64 // belts: tonnes at which the totaliser starts again from 0
}

const (
	belt1 = iota
	belt2
	beltCount
)

var belts = [beltCount]instrument{
	belt1: {code: "B1", kind: "belt", biasPPM: 2_500, scatterPPM: 5_000, statedBias: "0.5", statedScatter: "0.5",
		certificate: "BW-2206", ratePerHour: 60, step: tonne, firstReading: 980_412 * tonne, modulusT: 1_000_000},
	belt2: {code: "B2", kind: "belt", biasPPM: -2_000, scatterPPM: 5_000, statedBias: "0.5", statedScatter: "0.5",
		certificate: "BW-2207", ratePerHour: 60, step: tonne / 10, firstReading: 412_306_400_000, modulusT: 1_000_000},
}

const (
	loader1 = iota
	loader2
	loaderCount
)

var loaders = [loaderCount]instrument{
	loader1: {code: "L1", kind: "loader", biasPPM: 2_000, scatterPPM: 9_000, statedBias: "0.5", statedScatter: "1.0", certificate: "LS-0451"},
	loader2: {code: "L2", kind: "loader", biasPPM: -1_500, scatterPPM: 9_000, statedBias: "0.5", statedScatter: "1.0", certificate: "LS-0452"},
}

var deckScale = instrument{code: "D1", kind: "deck", biasPPM: 300, scatterPPM: 250, statedBias: "0.1", statedScatter: "0.1", certificate: "DS-1180"}

// bucket is what a loader carries in one pass.
const bucket = 4_600 * kilogram

// truck is a vehicle that collects.
type truck struct {
	code    string
	payload int64 // usual net mass, grams
	tare    int64 // grams
}

const truckCount = 24

// truckAt returns the truck of an index below truckCount: ten articulated, ten of four axles, four of three.
func truckAt(i int) truck {
	t := truck{code: "K-" + fixed(int64(301+7*i), 0)}
	switch {
	case i < 10:
		t.payload, t.tare = 27_800*kilogram, 14_900*kilogram
	case i < 20:
		t.payload, t.tare = 19_600*kilogram, 11_700*kilogram
	default:
		t.payload, t.tare = 14_400*kilogram, 10_300*kilogram
	}
	t.tare += int64(i*137%600-300) * kilogram
	return t
}

// dumper is the yard's own vehicle for internal use and transfers.
var dumper = truck{code: "YARD-1", payload: 23_500 * kilogram, tare: 19_200 * kilogram}

// customer is a code with the share of loads it collects and the jobs it names, if it names any.
type customer struct {
	code   string
	weight int64
	jobs   []string
}

var customers = [...]customer{
	{code: "C-101", weight: 22, jobs: []string{"J-2601", "J-2604"}},
	{code: "C-102", weight: 18},
	{code: "C-105", weight: 14, jobs: []string{"J-2610"}},
	{code: "C-108", weight: 11},
	{code: "C-110", weight: 9, jobs: []string{"J-2607", "J-2612", "J-2613"}},
	{code: "C-113", weight: 7},
	{code: "C-117", weight: 6},
	{code: "C-121", weight: 5, jobs: []string{"J-2615"}},
	{code: "C-122", weight: 4},
	{code: "C-130", weight: 2},
	{code: "C-131", weight: 2},
}

// freeCustomer is the code that free issues go to.
const freeCustomer = "C-190"

// policies are the yard's rules for the close, in force from the first day.
var policies = [...]struct {
	name, value, reason string
	number              bool // the value is a bare number
}{
	{name: "adjust", value: "outside", reason: "the book takes the survey's figure only where the difference falls outside"},
	{name: "limit mass", value: "50 t", reason: "agreed with the auditor"},
	{name: "limit percent", value: "1", number: true, reason: "agreed with the auditor"},
	{name: "limit of", value: "throughput", reason: "the per cent counts on what moved since the last survey"},
	{name: "limit join", value: "plus", reason: "both parts are added"},
	{name: "value normal production", value: "29000 t", reason: "mean of three years, without the winter stop"},
	{name: "value common costs by", value: "sales value", reason: "fines would bear more than they bring otherwise"},
}
