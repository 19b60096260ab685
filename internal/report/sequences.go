package report

import (
	"fmt"
	"io"

	"repose/ledger"
)

// Sequences are the series of numbers of a month: from the first to the last every number is there, missing, or there
// again.
type Sequences struct {
	Schema int            `json:"schema"`
	Yard   string         `json:"yard"`
	Period string         `json:"period"`
	Series []SequenceLine `json:"series"`
}

// NewSequences reports series.
func NewSequences(yard string, p ledger.Period, lines []SequenceLine) *Sequences {
	return &Sequences{Schema: Schema, Yard: yard, Period: p.String(), Series: lines}
}

// Missing reports whether a number is missing.
func (s *Sequences) Missing() bool {
	for _, l := range s.Series {
		if l.Missing > 0 {
			return true
		}
	}
	return false
}

// WriteText writes the series for the screen in a unit of mass.
func (s *Sequences) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Numbers, yard %s, %s: there + missing - there again = expected; missing mass estimated, as weighed, in %s\n\n", s.Yard, s.Period, u.Mass)
	t := NewTable("instrument", "series", "first", "last", ">there", ">missing", ">there again", ">expected", "adds up", ">void", ">out of order", ">missing mass")
	for _, l := range s.Series {
		adds := "yes"
		if l.Count+l.Missing-l.Duplicates != l.Expected {
			adds = "NO"
		}
		t.Row(l.Instrument, l.Series, l.First, l.Last, fmt.Sprint(l.Count), fmt.Sprint(l.Missing), fmt.Sprint(l.Duplicates), fmt.Sprint(l.Expected), adds, fmt.Sprint(l.Voids),
			fmt.Sprint(l.OutOfOrder), u.Format(l.Mass.Mass()))
	}
	_, err := t.WriteTo(w)
	return err
}
