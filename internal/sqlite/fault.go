package sqlite

import (
	"fmt"
	"strings"

	"repose/ledger"
)

// Area is the part of a book in which a fault lies. The zero value is no part.
type Area uint8

// The areas, in the order in which Verify looks at them.
const (
	AreaStructure Area = iota + 1 // the database itself: pages, indexes, tables
	AreaLog                       // records and the heads over them
	AreaFiles                     // the bytes of the files that were taken in
	AreaSeals                     // sealed periods
)

var areaNames = [...]string{AreaStructure: "structure", AreaLog: "log", AreaFiles: "files", AreaSeals: "seals"}

// String returns structure, log, files or seals.
func (a Area) String() string {
	if a == 0 || int(a) >= len(areaNames) {
		return fmt.Sprintf("unknown(%d)", uint8(a))
	}
	return areaNames[a]
}

// Fault is one thing in a book that does not hold.
type Fault struct {
	Area   Area
	Seq    int64  // of the record, or -1 for what is about no single record
	ID     string // of the record, where it can be read
	File   string // name of the file that the record came from, or of the file at fault
	Source ledger.Source
	Text   string // what is wrong
}

// String returns the fault as one line.
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.Area.String())
	if f.Seq >= 0 {
		fmt.Fprintf(&b, ": record %d", f.Seq)
	}
	if f.ID != "" {
		fmt.Fprintf(&b, ": %s", f.ID)
	}
	if f.File != "" {
		fmt.Fprintf(&b, ": %s", f.File)
		if f.Source.Sheet != "" {
			fmt.Fprintf(&b, " sheet %s", f.Source.Sheet)
		}
		if f.Source.Row > 0 {
			fmt.Fprintf(&b, " row %d", f.Source.Row)
		}
	}
	return b.String() + ": " + f.Text
}

// maxFaults is how many faults are listed; the others are counted.
const maxFaults = 100

// Verification is what Verify found.
type Verification struct {
	Head    Head // as it was stored
	Records int64
	Files   int64
	Seals   int64
	Faults  []Fault // the first hundred, in order
	Found   int64   // how many faults there are in all
}

// OK reports whether the whole book holds.
func (v *Verification) OK() bool { return v.Found == 0 }

func (v *Verification) add(f Fault) {
	if v.Found++; len(v.Faults) < maxFaults {
		v.Faults = append(v.Faults, f)
	}
}
