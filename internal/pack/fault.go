package pack

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"repose/ledger"
)

// Fault is one thing in a pack that does not hold.
type Fault struct {
	Path string // of the file, with slashes; quoted as in Go where it is no plain name
	Line int    // 1-based; 0 where it is about the whole file
	Text string // what is wrong
}

// String returns the fault as one line.
func (f Fault) String() string {
	if f.Line > 0 {
		return fmt.Sprintf("%s:%d: %s", f.Path, f.Line, f.Text)
	}
	return f.Path + ": " + f.Text
}

// So many faults are listed; the others are counted. One file that is out of step with all of its lines must not hide
// the faults of others.
const (
	maxFaults     = 100
	maxFileFaults = 20
)

// Result is what a pack holds and what is wrong with it.
type Result struct {
	Yard   string
	Period ledger.Period
	Close  int // 1 for the first close of the month, 2 for the one after it was reopened

	Files   int   // in the folder, with SHA256SUMS
	Bytes   int64 // of them
	Records int64 // of the log, with the close
	Entries int   // sealed

	LogRoot    string // Merkle tree head over the records before the close, as computed
	SealSHA256 string // of seal.txt, as computed
	SumsSHA256 string // of SHA256SUMS: stands for the whole pack and is to be kept outside

	Faults []Fault // the first hundred, at most twenty of one file, by path and line
	Found  int64   // how many faults there are in all
}

// OK reports whether the whole pack holds.
func (r *Result) OK() bool { return r.Found == 0 }

// add lists a fault or counts it.
func (r *Result) add(p place, text string) {
	if r.Found++; len(r.Faults) == maxFaults {
		return
	}
	path := p.path
	if !isPlainText(strings.ReplaceAll(path, "/", "")) {
		path = strconv.Quote(path)
	}
	ofFile := 0
	for _, f := range r.Faults {
		if f.Path == path {
			ofFile++
		}
	}
	if ofFile < maxFileFaults {
		r.Faults = append(r.Faults, Fault{path, p.line, text})
	}
}

func (r *Result) sort() {
	slices.SortStableFunc(r.Faults, func(a, b Fault) int {
		return cmp.Or(strings.Compare(a.Path, b.Path), cmp.Compare(a.Line, b.Line))
	})
}

// place is a line of a file, or a whole file where line is 0.
type place struct {
	path string
	line int
}

func at(path string, line int) place { return place{path, line} }

// fault reports what one file is to blame for. From then on it is the first suspect.
func (c *checker) fault(p place, format string, args ...any) {
	c.changed[p.path] = true
	c.found.add(p, fmt.Sprintf(format, args...))
}

// dispute reports that places of a pack contradict each other. The fault is laid on those whose file was found to be
// wrong already; where there is none, on the first, which rests on the others.
func (c *checker) dispute(places []place, format string, args ...any) {
	suspects := slices.DeleteFunc(slices.Clone(places), func(p place) bool { return !c.changed[p.path] })
	if len(suspects) == 0 {
		suspects = places[:1]
	}
	for _, p := range suspects {
		c.fault(p, format, args...)
	}
}
