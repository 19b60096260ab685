package ledger

import (
	"errors"
	"fmt"
	"time"
)

// Conflict states that a row came in with the natural key of a record that the book already holds, and
// with other content. The record that was held stays in force until a [Decision] says otherwise.
type Conflict struct {
	Held     string // ID of the record in the book
	Incoming Fact   // what the row said
	Replaces string // what the row said it replaces
	Tags     []Tag
}

// Decision states which side of a conflict stands, or other things that a person settled.
type Decision struct {
	Of     string // ID of the conflict record
	Take   bool   // the incoming content stands; else the held record does
	Reason string
}

// SourceFile states that a file was taken in. Its bytes are kept with the book.
type SourceFile struct {
	Name   string
	SHA256 string // lower-case hex
	Bytes  int64
	Map    string // SHA-256 of the column map it was read with; empty for none
}

// Close states that a period of a yard was sealed: what the seal holds and what it rests on.
type Close struct {
	Period     Period
	LogSize    int64  // records in the log before this one
	LogRoot    string // Merkle tree head over them, hex
	Entries    int    // sealed entries
	SealSHA256 string // hash over the sealed entries, balances and parameters, hex
	At         time.Time
}

func (Conflict) Kind() Kind   { return KindConflictRecord }
func (Decision) Kind() Kind   { return KindDecisionRecord }
func (SourceFile) Kind() Kind { return KindSourceRecord }
func (Close) Kind() Kind      { return KindCloseRecord }

// Key is the held record and the hash-like body of what came in, so that the same difference met again
// is the same conflict.
func (c Conflict) Key() string   { return c.Held + "=" + string(c.body()) }
func (d Decision) Key() string   { return d.Of }
func (s SourceFile) Key() string { return s.SHA256 }
func (c Close) Key() string      { return c.Period.String() }

func (Conflict) at() time.Time   { return time.Time{} }
func (Decision) at() time.Time   { return time.Time{} }
func (SourceFile) at() time.Time { return time.Time{} }
func (Close) at() time.Time      { return time.Time{} }

func (c Conflict) validate() error {
	if c.Held == "" {
		return errors.New("conflict without a held record")
	}
	return c.Incoming.validate()
}

func (d Decision) validate() error {
	if d.Of == "" || d.Reason == "" {
		return errors.New("decision: want what it is about and a reason")
	}
	return nil
}

func (s SourceFile) validate() error {
	if len(s.SHA256) != 64 {
		return fmt.Errorf("file %q: want its SHA-256", s.Name)
	}
	return nil
}

func (c Close) validate() error {
	if c.Period == (Period{}) || c.At.IsZero() {
		return errors.New("close: want a period and an instant")
	}
	return nil
}

// body is the canonical body of the incoming row.
func (c Conflict) body() []byte {
	r := Record{Fact: c.Incoming, Replaces: c.Replaces, Tags: c.Tags}
	return r.AppendBody(nil)
}

// Record returns the incoming row as a record of its own.
func (c Conflict) Record(yard string) (Record, error) {
	r, err := NewRecord(yard, c.Incoming)
	r.Replaces, r.Tags = c.Replaces, c.Tags
	return r, err
}

func (c Conflict) fields(w *fieldWriter) {
	w.text("held", c.Held)
	w.text("incoming_kind", c.Incoming.Kind().String())
	w.text("incoming", string(c.body()))
}

func (d Decision) fields(w *fieldWriter) {
	w.text("of", d.Of)
	stands := "held"
	if d.Take {
		stands = "incoming"
	}
	w.text("stands", stands)
	w.text("reason", d.Reason)
}

func (s SourceFile) fields(w *fieldWriter) {
	w.text("file", s.Name)
	w.text("sha256", s.SHA256)
	w.count("bytes", int(s.Bytes))
	w.text("map_sha256", s.Map)
}

func (c Close) fields(w *fieldWriter) {
	w.text("period", c.Period.String())
	w.count("log_size", int(c.LogSize))
	w.text("log_root", c.LogRoot)
	w.count("entries", c.Entries)
	w.text("seal_sha256", c.SealSHA256)
	w.time("closed", c.At)
}

func readConflict(d *fieldReader) Fact {
	k, err := ParseKind(d.text("incoming_kind"))
	if err != nil || k >= KindConflictRecord {
		d.fail("incoming_kind", ErrBody)
		return Conflict{}
	}
	var r Record
	if err := r.SetBody(k, []byte(d.text("incoming"))); err != nil {
		d.fail("incoming", err)
		return Conflict{}
	}
	return Conflict{Held: d.text("held"), Incoming: r.Fact, Replaces: r.Replaces, Tags: r.Tags}
}

func readDecision(d *fieldReader) Fact {
	return Decision{d.text("of"), d.text("stands") == "incoming", d.text("reason")}
}

func readSourceFile(d *fieldReader) Fact {
	return SourceFile{d.text("file"), d.text("sha256"), int64(d.count("bytes")), d.text("map_sha256")}
}

func readClose(d *fieldReader) Fact {
	return Close{Period: d.period("period"), LogSize: int64(d.count("log_size")), LogRoot: d.text("log_root"),
		Entries: d.count("entries"), SealSHA256: d.text("seal_sha256"), At: d.time("closed")}
}

// readFact reads the fact of a kind from the fields of a body.
func readFact(k Kind, d *fieldReader) (Fact, error) {
	var f Fact
	switch k {
	case KindYardRecord:
		f = readYard(d)
	case KindProductRecord:
		f = readProduct(d)
	case KindPileRecord:
		f = readPile(d)
	case KindInstrumentRecord:
		f = readInstrument(d)
	case KindHoursRecord:
		f = readHours(d)
	case KindPolicyRecord:
		f = readPolicy(d)
	case KindCostRecord:
		f = readCost(d)
	case KindPriceRecord:
		f = readPrice(d)
	case KindOpeningRecord:
		f = readOpening(d)
	case KindMoistureRecord:
		f = readMoistureTest(d)
	case KindDensityRecord:
		f = readDensityTest(d)
	case KindProductionRecord:
		f = readProduction(d)
	case KindReturnRecord:
		f = readReturn(d)
	case KindTransferRecord:
		f = readTransfer(d)
	case KindFeedRecord:
		f = readFeed(d)
	case KindLoadRecord:
		f = readLoad(d)
	case KindDeckRecord:
		f = readDeckTicket(d)
	case KindSurveyRecord:
		f = readSurvey(d)
	case KindConflictRecord:
		f = readConflict(d)
	case KindDecisionRecord:
		f = readDecision(d)
	case KindCorrectionRecord:
		f = readCorrection(d)
	case KindSettlementRecord:
		f = readSettlement(d)
	case KindWaiverRecord:
		f = readWaiver(d)
	case KindAdjustmentRecord:
		f = readAdjustment(d)
	case KindReopeningRecord:
		f = readReopening(d)
	case KindExportRecord:
		f = readExport(d)
	case KindApprovalRecord:
		f = readApproval(d)
	case KindSourceRecord:
		f = readSourceFile(d)
	case KindCloseRecord:
		f = readClose(d)
	default:
		return nil, fmt.Errorf("%v: %w", k, ErrBody)
	}
	return f, d.err
}
