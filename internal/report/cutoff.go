package report

import (
	"fmt"
	"io"
	"time"

	"repose/internal/audit"
	"repose/ledger"
)

// CutOff is what instruments weighed last before the end of a month and of its surveys, and first after it.
type CutOff struct {
	Schema int       `json:"schema"`
	Yard   string    `json:"yard"`
	Period string    `json:"period"`
	Cuts   []CutLine `json:"cuts"`
	zone   *time.Location
}

// CutLine is one cut.
type CutLine struct {
	What        string          `json:"what"` // month's end, or the survey and its pile
	At          time.Time       `json:"at"`
	Instruments []CutInstrument `json:"instruments"`
	Straddling  []Straddler     `json:"straddling"`
	Mass        Tonnes          `json:"straddling_t"` // solids, as loaded
}

// CutInstrument is one instrument around a cut.
type CutInstrument struct {
	Instrument string        `json:"instrument"`
	Before     []CutMovement `json:"before"`
	After      []CutMovement `json:"after"`
}

// CutMovement is one weighing beside a cut.
type CutMovement struct {
	Record  string    `json:"record"`
	Ticket  string    `json:"ticket"`
	At      time.Time `json:"at"`
	Pile    string    `json:"pile"`
	Solids  Tonnes    `json:"solids_t"`
	Entered string    `json:"entered_in"` // period; empty where it is not entered
	Belongs string    `json:"belongs_to"`
	Wrong   bool      `json:"wrong"` // entered in another period than it belongs to
}

// Straddler is a truck that was loaded before a cut and weighed out after it.
type Straddler struct {
	Load    string    `json:"load"`
	Loaded  time.Time `json:"loaded"`
	Deck    string    `json:"deck"`
	Weighed time.Time `json:"weighed_out"`
	Pile    string    `json:"pile"`
	Solids  Tonnes    `json:"solids_t"`
}

// NewCutOff returns an empty cut-off of a month.
func NewCutOff(yard string, p ledger.Period, zone *time.Location) *CutOff {
	return &CutOff{Schema: Schema, Yard: yard, Period: p.String(), Cuts: []CutLine{}, zone: zone}
}

// Add adds a cut.
func (c *CutOff) Add(what string, cut audit.Cut, instruments []audit.InstrumentCut, straddling []audit.Pair, mass ledger.Mass) {
	l := CutLine{What: what, At: cut.At, Instruments: []CutInstrument{}, Straddling: []Straddler{}, Mass: Tonnes(mass)}
	for _, i := range instruments {
		l.Instruments = append(l.Instruments, CutInstrument{i.Instrument, cutMovements(i.Before), cutMovements(i.After)})
	}
	for _, p := range straddling {
		l.Straddling = append(l.Straddling, Straddler{p.Loader.ID, p.Loader.At, p.Deck.ID, p.Deck.At, p.Loader.Pile, Tonnes(p.Loader.Mass)})
	}
	c.Cuts = append(c.Cuts, l)
}

func cutMovements(lines []audit.CutLine) []CutMovement {
	list := []CutMovement{}
	for _, l := range lines {
		list = append(list, CutMovement{l.ID, l.Ticket, l.At, l.Pile, Tonnes(l.Mass), l.Period.String(), l.Belongs.String(), l.Wrong})
	}
	return list
}

// Wrong reports whether anything was entered in another period than it belongs to.
func (c *CutOff) Wrong() bool {
	for _, l := range c.Cuts {
		for _, i := range l.Instruments {
			for _, m := range append(append([]CutMovement{}, i.Before...), i.After...) {
				if m.Wrong {
					return true
				}
			}
		}
	}
	return false
}

// WriteText writes the cut-off for the screen in a unit of mass.
func (c *CutOff) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Cut-off, yard %s, %s; solids in %s\n", c.Yard, c.Period, u.Mass)
	for _, l := range c.Cuts {
		fmt.Fprintf(w, "\n%s, %s\n", l.What, l.At.In(c.zone).Format("2006-01-02 15:04:05 -07:00"))
		t := NewTable("instrument", "side", "time", "ticket", "pile", ">solids", "entered in", "belongs to", "record")
		for _, i := range l.Instruments {
			for side, list := range [][]CutMovement{i.Before, i.After} {
				for _, m := range list {
					entered := m.Entered
					if m.Wrong {
						entered = orDash(entered) + " (!)"
					}
					t.Row(i.Instrument, [2]string{"before", "after"}[side], m.At.In(c.zone).Format(time.DateTime), m.Ticket, m.Pile, u.Format(m.Solids.Mass()), entered, m.Belongs, m.Record)
				}
			}
		}
		if _, err := t.WriteTo(w); err != nil {
			return err
		}
		for _, s := range l.Straddling {
			fmt.Fprintf(w, "Loaded before and weighed out after: %s at %s, %s at %s, pile %s, %s\n", s.Load, s.Loaded.In(c.zone).Format(time.DateTime), s.Deck,
				s.Weighed.In(c.zone).Format(time.DateTime), s.Pile, u.Format(s.Solids.Mass()))
		}
	}
	return nil
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
