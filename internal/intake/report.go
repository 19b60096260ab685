package intake

import (
	"io"

	"repose/ledger"
)

// Sink takes records into a book. It is the caller's transaction: what it has taken in is undone by the
// caller where Run returns an error.
type Sink interface {
	// AddFile keeps a file's bytes and returns their SHA-256 in lower-case hex, and whether they are new
	// to the book. mapSHA is the hash of the column map that the file is read with, or "".
	AddFile(name string, r io.Reader, mapSHA string) (sha string, isNew bool, err error)

	// Append takes in a record, which has its Yard, At, Fact, Tags, Replaces and Source; the other fields
	// are the sink's. held is the record of the same natural key that the book has, for Held and
	// Conflicting. rec is used again after the call; its Fact and Tags are not.
	Append(rec *ledger.Record) (outcome Outcome, held *ledger.Record, err error)
}

// Drafter is a Sink that can make records ready while those before them are taken in.
type Drafter interface {
	Sink

	// Draft makes records ready, and returns what takes in the first n of them as Append does: up to the first that is not
	// New, which Append is then asked about, as about those after it. Draft is called by one goroutine in the order of the
	// records, beside the other methods; enter is called as those are. The records are used again after enter; their Facts
	// and Tags are not.
	Draft(recs []ledger.Record) (enter func() (n int, err error))
}

// Outcome is what became of a record.
type Outcome uint8

// The outcomes.
const (
	New         Outcome = iota + 1 // it is in the book now
	Held                           // the book has had it, with the same content
	Conflicting                    // the book has one of the same key with other content, and keeps that
)

// Progress says how far a call has come.
type Progress struct {
	File string // the table being read, as positions name it
	Rows int    // read of it so far
	Done int    // tables read before it
	Of   int    // tables to read
}

// Report is what a call has done, or with an error would have done.
type Report struct {
	Tables     []TableReport // in the order of reading
	PassedOver []Passed
}

// Passed is a sheet that holds no table.
type Passed struct{ File, Sheet string }

// TableReport is what became of the rows of one table: a CSV file, or a sheet.
type TableReport struct {
	File, Sheet string // base name of the file
	Path        string // as the user named it
	SHA256      string // of the file, lower-case hex
	NewFile     bool   // the book did not have the file
	Map         string // name of the column map; empty for none
	Table       string

	Rows      int // with records in them: New + Held + Conflicting + Rejected
	New       int
	Held      int
	Rejected  int // rows with errors
	Conflicts []Conflict

	// Mass is what the rows state as-weighed: net, or what an opening states. Void rows and totaliser
	// readings are left out. NewMass is that of new rows.
	Mass, NewMass ledger.Mass

	Void          int      // loads and deck tickets that are void
	Suspense      int      // rows of an unknown pile
	WetMoistures  int      // moistures converted from wet basis
	RepeatedHours int      // rows of an hour that the clock showed twice, settled by their order
	Ignored       []string // columns of the file that the map does not name
}

// Conflict is a row whose natural key the book has with other content. The row is not entered; that it
// came is.
type Conflict struct {
	Row         int
	Held        string        // ID of the record in the book
	HeldSource  ledger.Source // the row that it came from
	Differences []ledger.Difference
	Known       bool // the same conflict was on record before
}

// statedMass returns the as-weighed mass that a record states, and whether the record is void.
func statedMass(f ledger.Fact) (m ledger.Mass, void bool) {
	switch f := f.(type) {
	case ledger.Opening:
		return f.Solids + f.Mass, false // one of them is zero
	case ledger.Production:
		return f.Net, false
	case ledger.Load:
		m, void = f.Net, f.Void
	case ledger.DeckTicket:
		m, void = f.Net, f.Void
	case ledger.Transfer:
		return f.Net, false
	case ledger.Feed:
		return f.Net, false
	case ledger.Return:
		return f.Net, false
	}
	if void {
		m = 0
	}
	return m, void
}
