package report

import (
	"time"

	"github.com/shopspring/decimal"
)

// Papers are the further papers of a month's close: what people did to the book, what weighed, and what auditors ask for.
type Papers struct {
	CutOff      *CutOff
	Screen      *Screen
	Sensitivity *Sensitivity
	Rolls       *Rolls
	Instruments []InstrumentLine
	Acts        []Act
	Log         []LogLine
}

// InstrumentLine is an instrument as it was registered for the month.
type InstrumentLine struct {
	Instrument  string
	Weighs      string // belt, loader, deck
	From        time.Time
	Until       time.Time // of its certificate; zero for none stated
	Certificate string
	Class       string
	Systematic  decimal.NullDecimal // relative standard uncertainty in per cent
	Random      decimal.NullDecimal
	Factor      decimal.NullDecimal // that its masses are multiplied by; of belts
	LastUse     time.Time           // in the month; zero where it did not weigh
	InDate      string              // yes, lapsed, no date stated
}

// Act is something that a person did to the book in the month, with who approved it.
type Act struct {
	Record     string
	What       string // waiver, decision, settlement, correction, reopening, belt factor, column map
	Pile       string // code; empty where it is about none
	Solids     Tonnes // that it moved into the pile; out of it negative
	Text       string
	Reason     string
	By         string
	Recorded   time.Time
	NeedsTwo   bool // a second person has to approve it
	ApprovedBy string
	Approved   time.Time
}

// TwoPeople reports whether the act has the second person that it needs.
func (a *Act) TwoPeople() bool { return !a.NeedsTwo || a.ApprovedBy != "" && a.ApprovedBy != a.By }

// LogLine is a record of the log that no machine made: a register, a test, a rule, a decision, a file, a close.
type LogLine struct {
	Seq      int64
	Record   string
	Recorded time.Time
	By       string
	Source   string // file:row, empty for what a person did
	Leaf     string // SHA-256 of its line in the tree, hex
}
