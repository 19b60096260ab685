package ledger

import (
	"errors"
	"time"
)

// Export states that the journal of a close was given out to the accounts, once. A further copy is no export.
type Export struct {
	Of      string // the close's ID
	SHA256  string // of the file, lower-case hex
	Lines   int
	Decided time.Time
}

func (Export) Kind() Kind { return KindExportRecord }

// Key is the close.
func (e Export) Key() string { return e.Of }

func (Export) at() time.Time { return time.Time{} }

func (e Export) validate() error {
	if e.Of == "" || len(e.SHA256) != 64 || e.Decided.IsZero() {
		return errors.New("export: want the close, the SHA-256 of the file and when it was given out")
	}
	return nil
}

func (e Export) fields(f *fieldWriter) {
	f.text("of", e.Of)
	f.text("sha256", e.SHA256)
	f.count("lines", e.Lines)
	f.time("decided", e.Decided)
}

func readExport(d *fieldReader) Fact {
	return Export{Of: d.text("of"), SHA256: d.text("sha256"), Lines: d.count("lines"), Decided: d.time("decided")}
}
