package simyard

// FaultKind is a kind of fault.
type FaultKind uint8

// The kinds of faults, and what Size means for each. Those from RepeatedNumber on are faults of single
// records: they turn [Config.Detailed] on.
const (
	Loss           FaultKind = iota + 1 // t of solids a month, carried off without a record
	Swap                                // t of solids a month, loaded from Pile and recorded from Other
	Loader                              // fraction by which a loader's scale reads high
	Belt                                // fraction by which a belt reads high
	Density                             // fraction by which the density in use is above the pile's
	Survey                              // fraction by which a survey's volume is high
	MissedTransfer                      // t of solids a month, carried from Pile to Other without a record
	Lumped                              // truckloads that a loader has on a single record, once a month
	Missing                             // tickets of a loader a month that are not in the tables

	RepeatedNumber     // records of a loader a month that bear the number of the one before, padded otherwise
	OutOfOrder         // pairs of records of a loader a month whose numbers run against time
	VoidAfterExit      // loads of a loader a month that are void though the truck was weighed out
	VoidReissued       // loads of a loader a month that are void and stand again under the next number
	NearTwin           // loads of a loader a month that stand again under the next number
	NoDeckTicket       // loads of a loader a month whose truck never crossed the deck
	NoLoaderLoad       // loads of a loader a month that have no record and no number
	BucketPass         // loads of a loader a month with a bucket counted twice; negative: with one not counted
	UnitSlip           // records of a loader or deck in a row in short tons called t; negative: the reverse
	WrongPile          // loads a month from Pile that are recorded from Other, with its product
	WrongProduct       // loads a month from Pile that are recorded with Other's product
	WrongTruck         // loads of a loader a month recorded under a truck that was elsewhere
	SplitLoad          // loads of a loader a month that stand on two records
	OldTare            // trucks a month whose tare is that of their first visit in it
	SameTare           // trucks that share one exact tare, a month
	OutsideHours       // loads of a loader a month after closing
	NightPickup        // loads of a loader a month late in the night, to a customer
	OneSided           // transfers a month without the pile they came to
	BelowZero          // loads of a pile a month keyed tens of times too large, so that its book falls below zero
	BeltIdle           // t of solids a month that a belt counted at night, with nothing on it
	FeedAsNew          // runs of a belt a month in the hours in which stone is fed to the crusher
	TotaliserReset     // times a month that a totaliser is set to zero before a run, without a note
	StaleDensity       // days that the density test in force is old when the month's survey is flown, or more
	StaleMoisture      // days that the moisture test in force is old at the end of the month, or more
	StaleBase          // days that the base of the month's survey is old
	SurveyWhileLoading // loads from the pile while the survey that ends the month is flown
	ToeJump            // fraction by which the toe area of a survey is high, its volume being right
	WetForDry          // moisture tests a month entered on the wet basis in a column of dry ones
	RoundWeights       // records of a loader in a row in whole t, once a month
	OutagePad          // records of a loader in a row under numbers of a pad, without a deck ticket, once a month
)

// place says where a kind of fault happens.
type place uint8

const (
	atPile place = iota + 1
	betweenPiles
	atLoader
	atBelt
	atDeck
	atTruckScale // a loader or a deck
)

// measure says how the size of a kind of fault is written.
type measure uint8

const (
	inTonnes measure = iota + 1
	inPercent
	inNumber
	inDays
)

// kind is what is fixed about a kind of fault.
type kind struct {
	name     string
	place    place
	measure  measure
	min, max float64 // of Size
	rule     string  // that should find it; empty where no single record shows it
	also     []string
}

// faultKinds are the kinds of faults. also names rules that may rightly speak of the same records.
var faultKinds = [...]kind{
	Loss:           {"loss", atPile, inTonnes, 1, 100_000, "", nil},
	Swap:           {"swap", betweenPiles, inTonnes, 1, 100_000, ruleMirrored, []string{ruleWrongPile, ruleWrongProduct}},
	Loader:         {"loader", atLoader, inPercent, -0.5, 0.5, "", nil},
	Belt:           {"belt", atBelt, inPercent, -0.5, 0.5, "", nil},
	Density:        {"density", atPile, inPercent, -0.5, 0.5, "", nil},
	Survey:         {"survey", atPile, inPercent, -0.5, 0.5, "", nil},
	MissedTransfer: {"missed-transfer", betweenPiles, inTonnes, 1, 100_000, ruleMirrored, nil},
	Lumped:         {"lumped", atLoader, inNumber, 2, 6, ruleMerged, []string{ruleNoLoad}},
	Missing:        {"missing", atLoader, inNumber, 1, 1_000, ruleMissing, []string{ruleNoLoad}},

	RepeatedNumber:     {"repeated-number", atLoader, inNumber, 1, 100, ruleRepeated, nil},
	OutOfOrder:         {"out-of-order", atLoader, inNumber, 1, 100, ruleOrder, nil},
	VoidAfterExit:      {"void-after-exit", atLoader, inNumber, 1, 100, ruleVoidExit, []string{ruleNoLoad}},
	VoidReissued:       {"void-reissued", atLoader, inNumber, 1, 100, ruleReissue, []string{ruleTwin}},
	NearTwin:           {"near-twin", atLoader, inNumber, 1, 100, ruleTwin, []string{ruleNoDeck}},
	NoDeckTicket:       {"no-deck-ticket", atLoader, inNumber, 1, 100, ruleNoDeck, nil},
	NoLoaderLoad:       {"no-loader-load", atLoader, inNumber, 1, 100, ruleNoLoad, nil},
	BucketPass:         {"bucket-pass", atLoader, inNumber, -100, 100, ruleBucket, nil},
	UnitSlip:           {"unit-slip", atTruckScale, inNumber, -500, 500, ruleUnit, nil},
	WrongPile:          {"wrong-pile", betweenPiles, inNumber, 1, 100, ruleWrongPile, []string{ruleWrongProduct, ruleMirrored}},
	WrongProduct:       {"wrong-product", betweenPiles, inNumber, 1, 100, ruleWrongProduct, []string{ruleWrongPile, ruleNotHeld}},
	WrongTruck:         {"wrong-truck", atLoader, inNumber, 1, 100, ruleWrongTruck, nil},
	SplitLoad:          {"split-load", atLoader, inNumber, 1, 100, ruleSplit, []string{ruleNoDeck}},
	OldTare:            {"old-tare", atDeck, inNumber, 1, 20, ruleOldTare, []string{ruleDiffer}},
	SameTare:           {"same-tare", atDeck, inNumber, 2, 20, ruleSameTare, []string{ruleOldTare, ruleDiffer}},
	OutsideHours:       {"outside-hours", atLoader, inNumber, 1, 20, ruleHours, nil},
	NightPickup:        {"night-pickup", atLoader, inNumber, 1, 20, ruleNight, []string{ruleHours}},
	OneSided:           {"one-sided", betweenPiles, inNumber, 1, 100, ruleOneSided, nil},
	BelowZero:          {"below-zero", atPile, inNumber, 1, 5, ruleBelowZero, []string{ruleMerged, ruleBucket, ruleUnit}},
	BeltIdle:           {"belt-idle", atBelt, inTonnes, 1, 1_000, ruleBeltIdle, nil},
	FeedAsNew:          {"feed-as-new", atBelt, inNumber, 1, 1, ruleFeed, nil},
	TotaliserReset:     {"totaliser-reset", atBelt, inNumber, 1, 5, ruleReset, nil},
	StaleDensity:       {"stale-density", atPile, inDays, 1, 5_000, ruleStaleDensity, nil},
	StaleMoisture:      {"stale-moisture", atPile, inDays, 1, 5_000, ruleStaleMoisture, nil},
	StaleBase:          {"stale-base", atPile, inDays, 1, 5_000, ruleStaleBase, nil},
	SurveyWhileLoading: {"survey-while-loading", atPile, inNumber, 1, 50, ruleSurveyLoading, nil},
	ToeJump:            {"toe-jump", atPile, inPercent, -0.9, 9, ruleToe, nil},
	WetForDry:          {"wet-for-dry", atPile, inNumber, 1, 1, ruleWetDry, nil},
	RoundWeights:       {"round-weights", atLoader, inNumber, 2, 1_000, ruleRound, nil},
	OutagePad:          {"outage-pad", atLoader, inNumber, 1, 50, ruleOutage, []string{ruleNoDeck}},
}

// The names of the rules of the exception register that should find faults.
const (
	ruleMissing       = "missing number"
	ruleRepeated      = "repeated number"
	ruleOrder         = "out of order"
	ruleVoidExit      = "void after weigh-out"
	ruleReissue       = "void and reissue"
	ruleTwin          = "near twin"
	ruleNoDeck        = "no deck ticket"
	ruleNoLoad        = "no loader load"
	ruleBucket        = "bucket pass"
	ruleUnit          = "unit slip"
	ruleWrongPile     = "wrong pile"
	ruleWrongProduct  = "wrong product"
	ruleWrongTruck    = "wrong truck"
	ruleMerged        = "merged load"
	ruleSplit         = "split load"
	ruleOldTare       = "old tare"
	ruleSameTare      = "same tare"
	ruleHours         = "outside hours"
	ruleNight         = "night pickup"
	ruleOneSided      = "one-sided transfer"
	ruleBelowZero     = "below zero"
	ruleBeltIdle      = "belt while idle"
	ruleFeed          = "feed as new"
	ruleReset         = "totaliser reset"
	ruleStaleDensity  = "stale density"
	ruleStaleMoisture = "stale moisture"
	ruleStaleBase     = "stale base"
	ruleSurveyLoading = "survey while loading"
	ruleToe           = "toe jump"
	ruleWetDry        = "wet for dry"
	ruleRound         = "round weights"
	ruleOutage        = "outage pad"
	ruleMirrored      = "mirrored difference"
	ruleNotHeld       = "product not held"
	ruleDiffer        = "weights differ"
)

// String returns the kind's name on the command line, and "unknown" for what is no kind.
func (k FaultKind) String() string {
	if !k.known() {
		return "unknown"
	}
	return faultKinds[k].name
}

// Rule returns the name of the rule that should find faults of the kind, empty where the records do not show
// them one by one.
func (k FaultKind) Rule() string {
	if !k.known() {
		return ""
	}
	return faultKinds[k].rule
}

func (k FaultKind) known() bool { return k >= Loss && int(k) < len(faultKinds) }

func (k FaultKind) is(p place) bool { return faultKinds[k].place == p }

// ofRecords reports whether a kind is a fault of single records, which only a detailed yard has.
func (k FaultKind) ofRecords() bool { return k >= RepeatedNumber }

// FaultKinds returns all kinds.
func FaultKinds() []FaultKind {
	var all []FaultKind
	for k := Loss; int(k) < len(faultKinds); k++ {
		all = append(all, k)
	}
	return all
}
