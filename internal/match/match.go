package match

import (
	"time"

	"repose/ledger"
)

// Input is the records of one yard that are to be matched.
type Input struct {
	// Loads and Deck are the standing records (not superseded) of [ledger.Load] and [ledger.DeckTicket], kept and
	// void ones, each in order of time. Results hold indices into them.
	Loads, Deck []*ledger.Record
	// Product returns the product of a load: what its record says, else what its pile holds, "" where unknown. Where
	// it is nil the record alone is asked.
	Product func(*ledger.Record) string

	Settings Settings
}

// Settings is what a yard may set instead of having it learned.
type Settings struct {
	// Window is how far from the usual lag a truck may be, earlier or later; 0 to learn it. The usual lag itself is
	// always learned: it holds the offset of the clocks.
	Window time.Duration
	// Tolerance is the largest relative difference, after the loader's bias, of two weighings that agree: three
	// standard deviations of it; 0 to learn it.
	Tolerance float64
}

// Result says which loader record and which deck ticket are of the same truckload. Every index occurs in at
// most one of Pairs, Merged and Split, and is otherwise in LoadAlone or DeckAlone if its record is kept.
type Result struct {
	Pairs []Pair // in order of load
	// LoadAlone and DeckAlone are the kept records that no kept record was found for, in order. Those that a void
	// record was found for are in them too, and in VoidLoads or VoidDecks.
	LoadAlone, DeckAlone []int
	Merged               []Merged   // in order of load
	Split                []Split    // in order of deck ticket
	VoidLoads            []VoidPair // a void load whose truck a kept deck ticket weighed, in order of load
	VoidDecks            []VoidPair // a void deck ticket whose truck a kept load filled, in order of load
	Learned              []Learned  // by loader and deck, in order of their names
}

// Pair is a load and the deck ticket of the same truck.
type Pair struct {
	Load, Deck int
	Lag        time.Duration // deck time less load time; negative where the deck's clock is behind
	Difference ledger.Mass   // loader less deck
	// Z is the relative difference after the loader's bias, in standard deviations; 0 where a weight is zero.
	// Positive means that the loader says more.
	Z float64
	// Weight is the natural logarithm of the odds that the two are of one truckload against chance, less that of the
	// odds of three to one that a pair must have.
	Weight float64
	// Margin is by how much Weight exceeds that of the likeliest other pair that either could be in, or of none;
	// negative where one gave its likeliest partner up for the sake of the whole. A pair below [SureMargin] may be
	// an exchange of partners between trucks that are much alike.
	Margin      float64
	SameTruck   Tri
	SameProduct Tri
}

// SureMargin is the margin from which on about one pair in a thousand was false in invented yards of up to 60 trucks an
// hour without truck labels, and one in two hundred without products too. Below it, it was one in ten and one in six.
const SureMargin = 2

// VoidPair is a void record and a kept one of the same truck.
type VoidPair Pair

// Merged is a loader record that holds several trucks: its net is the sum of theirs.
type Merged struct {
	Load       int
	Deck       []int       // two to six, in order
	Difference ledger.Mass // loader less the sum of the deck tickets
	Z          float64     // as of a pair
	Weight     float64     // as of a pair, against all of them alone, or the load in a pair with one
	Margin     float64     // as of a pair, against other sets of tickets for the same load
}

// Split is a truck that stands in several loader records: its net is the sum of theirs.
type Split struct {
	Deck       int
	Loads      []int       // two or three, in order
	Difference ledger.Mass // sum of the loads less deck
	Z          float64     // as of a pair
	Weight     float64     // as of a pair, against all of them alone, or the ticket in a pair with one
	Margin     float64     // as of a pair, against other sets of loads for the same ticket
}

// Learned is what the records say of a loader and a deck scale.
type Learned struct {
	Loader, Deck string
	Lag          time.Duration // median of deck time less load time: the way, the queue and the offset of the clocks
	Spread       time.Duration // of Lag: 1.4826 times the median absolute deviation
	Bias         float64       // median of loader over deck, less one: positive means that the loader reads high
	SD           float64       // robust standard deviation of loader over deck, a fraction
	Tolerance    float64       // as in [Settings]
	Window       time.Duration // as in [Settings]
	Bucket       ledger.Mass   // the loader's usual mass of a bucket pass; 0 where no record counts passes
	Pairs        int           // that it was learned from; 0 where other pairings' or the defaults were taken
}

// Tri is the answer to a question that may have none. The zero value is no answer.
type Tri uint8

// The answers: a label is missing on one side or both, the labels differ, they are the same.
const (
	Unknown Tri = iota
	No
	Yes
)

var triNames = [...]string{Unknown: "unknown", No: "no", Yes: "yes"}

// String returns unknown, no or yes.
func (t Tri) String() string { return triNames[t] }

// Match finds the records of the same truckload. The same records give the same result, whatever else is in
// the book. A record that is not a load among the loads, or not a deck ticket among those, is a panic.
func Match(in Input) *Result {
	if len(in.Loads) == 0 && len(in.Deck) == 0 {
		return new(Result)
	}
	m := newMatcher(in)
	a := &assembly{matcher: m, in: in, ofLoad: none(len(in.Loads)), ofDeck: none(len(in.Deck))}
	a.pairs()
	a.groups()
	a.alone()
	a.voids()
	a.result.Learned = m.learned(in.Loads)
	return &a.result
}
