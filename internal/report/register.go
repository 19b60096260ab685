package report

// Screening is what the rules of the register found in a month, with the tables that the rules rest on, as far as
// the book knew when the month was closed.
type Screening struct {
	Exceptions *Exceptions
	Sequences  []SequenceLine
	Matching   []MatchLine
}

// SequenceLine is a numbering series over a month: count + missing - duplicates = expected.
type SequenceLine struct {
	Instrument string `json:"instrument"`
	Series     string `json:"series"` // the prefix of its numbers, and its year where they start anew
	First      string `json:"first"`
	Last       string `json:"last"`
	Count      int    `json:"count"`
	Expected   int    `json:"expected"`
	Missing    int    `json:"missing"`
	Duplicates int    `json:"duplicates"`
	Voids      int    `json:"voids"`
	OutOfOrder int    `json:"out_of_order"`
	Mass       Tonnes `json:"missing_t"` // estimated, as weighed, with its 95 % interval
	Low        Tonnes `json:"missing_low_t"`
	High       Tonnes `json:"missing_high_t"`
}

// MatchLine is a loader held against a deck scale, truck by truck, as weighed.
type MatchLine struct {
	Loader      string `json:"loader"`
	Deck        string `json:"deck"`
	Pairs       int    `json:"pairs"`
	LoaderMass  Tonnes `json:"loader_t"` // of the pairs
	DeckMass    Tonnes `json:"deck_t"`
	Merged      int    `json:"merged"` // loader records of several trucks
	Split       int    `json:"split"`  // trucks in several loader records
	LagMinutes  Ratio  `json:"lag_min"`
	SpreadMins  Ratio  `json:"lag_spread_min"`
	BiasPct     Ratio  `json:"bias_pct"` // loader over deck, less one
	SDPct       Ratio  `json:"sd_pct"`
	LoadsAlone  int    `json:"loads_alone"` // of the loader, without a deck ticket; the same in every line of the loader
	AloneMass   Tonnes `json:"loads_alone_t"`
	DeckAlone   int    `json:"tickets_alone"` // of the deck, without a load; the same in every line of the deck
	TicketsMass Tonnes `json:"tickets_alone_t"`
}
