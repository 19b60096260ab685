package report

import (
	"fmt"
	"io"
	"time"

	"repose/internal/audit"
	"repose/ledger"
)

// Depletion lists the times at which piles were taken to nothing, against the book.
type Depletion struct {
	Schema  int             `json:"schema"`
	Yard    string          `json:"yard"`
	Through string          `json:"through"`
	Lines   []DepletionLine `json:"lines"`
	zone    *time.Location
}

// DepletionLine is one time.
type DepletionLine struct {
	Pile     string    `json:"pile"`
	Record   string    `json:"record"`
	At       time.Time `json:"at"`
	Evidence string    `json:"evidence"` // survey, book
	Leftover Tonnes    `json:"leftover_t"`
	Carried  Tonnes    `json:"carried_t"` // of it, from the time before
	In       Tonnes    `json:"in_t"`
	Out      Tonnes    `json:"out_t"`
	Since    time.Time `json:"since"`
	Percent  *Percent  `json:"pct_throughput"`
}

// NewDepletion returns an empty list.
func NewDepletion(yard string, through ledger.Period, zone *time.Location) *Depletion {
	return &Depletion{Schema: Schema, Yard: yard, Through: through.String(), Lines: []DepletionLine{}, zone: zone}
}

// Add adds the times of a pile.
func (d *Depletion) Add(pile string, times []audit.Depletion) {
	for _, x := range times {
		l := DepletionLine{Pile: pile, Record: x.Record, At: x.At, Evidence: x.Evidence.String(), Leftover: Tonnes(x.Leftover), Carried: Tonnes(x.Carried),
			In: Tonnes(x.In), Out: Tonnes(x.Out), Since: x.Since}
		if x.Percent != nil {
			l.Percent = new(Percent(*x.Percent))
		}
		d.Lines = append(d.Lines, l)
	}
}

// WriteText writes the list in a unit of mass.
func (d *Depletion) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Piles that were taken to nothing, yard %s, through %s; solids in %s, left over = missing\n", d.Yard, d.Through, u.Mass)
	if len(d.Lines) == 0 {
		_, err := fmt.Fprintln(w, "None was.")
		return err
	}
	fmt.Fprintln(w)
	t := NewTable("pile", "empty at", "known by", ">in since", ">out since", ">left in the book", ">of that before", ">% of throughput", "record")
	for _, l := range d.Lines {
		t.Row(l.Pile, l.At.In(d.zone).Format(time.DateTime), l.Evidence, u.Format(l.In.Mass()), u.Format(l.Out.Mass()), u.Format(l.Leftover.Mass()), u.Format(l.Carried.Mass()),
			formatPercent(l.Percent, 2), l.Record)
	}
	_, err := t.WriteTo(w)
	return err
}
