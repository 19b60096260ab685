package report

import (
	"iter"
	"time"

	"repose/ledger"
)

// Close is everything that the workbook of one month of one yard shows.
type Close struct {
	Month    *ledger.Month
	Register *ledger.Register
	Closed   bool
	At       time.Time // where only what happened by then is in it; else zero
	Head     Head      // of the log that the month rests on
	Seal     string    // SHA-256 over the sealed month, hex; empty while it is open
	ClosedBy string
	ClosedAt time.Time
	Number   int    // 1 for the first close of the month, 2 for that after it was opened again; 0 while it is open
	Restates string // why and by whom the month was opened again; empty for a first close

	Reconciliation *Reconciliation
	Causes         *Causes // of the twelve months through this one
	RollForward    []RollForwardLine
	Screening      *Screening // nil where the register was not looked through
	Value          *Value     // nil where the yard gives no costs, or these give no value
	Papers         *Papers    // nil where nobody asked for them
	Files          []SourceFile

	// Entries yields every entry of the month in order. It may be called more than once.
	Entries iter.Seq2[*ledger.Entry, error]
}

// Head is the size of the log of records and the root of the Merkle tree over them (RFC 6962), hex.
type Head struct {
	Size int64
	Root string
}

// SourceFile is one file that was taken in, with the control totals of what the book read from it.
type SourceFile struct {
	Name    string
	SHA256  string
	Bytes   int64
	TakenIn time.Time
	By      string
	Map     string // SHA-256 of the column map, or empty
	Records []KindTotal
}

// KindTotal counts the records of one kind that came from a file.
type KindTotal struct {
	Kind        ledger.Kind
	Records     int
	Net         ledger.Mass // as weighed, of kinds that state a net mass
	First, Last string      // keys of the first and the last in the log
}
