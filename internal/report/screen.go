package report

import (
	"fmt"
	"io"
	"time"

	"repose/internal/audit"
	"repose/ledger"
)

// Screen is what the rules of the journal-entry screen caught among the entries that people made.
type Screen struct {
	Schema  int        `json:"schema"`
	Yard    string     `json:"yard"`
	Period  string     `json:"period"`
	Entries int        `json:"manual_entries"`
	Rules   []string   `json:"rules"`
	Flags   []FlagLine `json:"flags"`
}

// FlagLine is one entry that a rule caught. It says what to look at, and of nobody that it is wrong.
type FlagLine struct {
	Rule     string    `json:"rule"`
	Record   string    `json:"record"`
	By       string    `json:"by"`
	Recorded time.Time `json:"recorded"`
	Mass     Tonnes    `json:"solids_t"`
	Text     string    `json:"text"`
	Reason   string    `json:"reason"`
}

// NewScreen reports flags. entries are all that were screened.
func NewScreen(yard string, p ledger.Period, entries []audit.Manual, flags []audit.Flag) *Screen {
	s := &Screen{Schema: Schema, Yard: yard, Period: p.String(), Entries: len(entries), Rules: audit.JournalRules(), Flags: []FlagLine{}}
	byID := map[string]audit.Manual{}
	for _, e := range entries {
		byID[e.ID] = e
	}
	for _, f := range flags {
		e := byID[f.ID]
		s.Flags = append(s.Flags, FlagLine{f.Rule, f.ID, e.By, e.Recorded, Tonnes(e.Mass), f.Text, e.Reason})
	}
	return s
}

// WriteText writes the screen in a unit of mass.
func (s *Screen) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Entries that people made, yard %s, %s: %d, and %d flags of %d rules. A flag says what to look at, and of nobody that it is wrong.\n", s.Yard, s.Period, s.Entries, len(s.Flags), len(s.Rules))
	if len(s.Flags) == 0 {
		return nil
	}
	fmt.Fprintln(w)
	t := NewTable("rule", "record", "by", ">solids "+u.Mass.String(), "why", "reason given")
	for _, f := range s.Flags {
		t.Row(f.Rule, f.Record, f.By, u.Format(f.Mass.Mass()), f.Text, f.Reason)
	}
	_, err := t.WriteTo(w)
	return err
}
