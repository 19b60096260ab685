package report

import (
	"fmt"
	"io"

	"repose/internal/audit"
	"repose/ledger"
)

// Sample is what was drawn for an auditor, and what it was drawn from.
type Sample struct {
	Schema   int           `json:"schema"`
	Yard     string        `json:"yard"`
	Period   string        `json:"period"`
	From     string        `json:"from"`   // entries, files
	Method   string        `json:"method"` // random, stratified, mass unit
	Seed     string        `json:"seed"`
	Asked    int           `json:"asked"`
	Count    int           `json:"population"`
	Mass     Tonnes        `json:"population_t"`
	Drawn    int           `json:"drawn"`
	Sum      Tonnes        `json:"drawn_t"`
	Interval *Tonnes       `json:"interval_t,omitempty"`
	Start    *Tonnes       `json:"start_t,omitempty"`
	Strata   []StratumLine `json:"strata"`
	Items    []SampleItem  `json:"items"`
}

// StratumLine is a part of the population.
type StratumLine struct {
	Name  string `json:"name"`
	Count int    `json:"population"`
	Mass  Tonnes `json:"population_t"`
	Drawn int    `json:"drawn"`
	Sum   Tonnes `json:"drawn_t"`
}

// SampleItem is a drawn item with where its evidence is.
type SampleItem struct {
	ID      string `json:"id"`
	Stratum string `json:"stratum"`
	Mass    Tonnes `json:"solids_t"`
	Hits    int    `json:"hits"`
	Digest  string `json:"sha256,omitempty"`
	Leads   string `json:"leads_to"` // of an entry the row of its file; of a row the records that it became
	Text    string `json:"text"`     // what it says
}

// NewSample reports a sample. leads says of a drawn item where it leads to and what it says.
func NewSample(yard string, p ledger.Period, from string, s *audit.Sample, leads func(id string) (to, text string, err error)) (*Sample, error) {
	r := &Sample{Schema: Schema, Yard: yard, Period: p.String(), From: from, Method: s.Method.String(), Seed: s.Seed, Asked: s.Asked, Count: s.Population.Count,
		Mass: Tonnes(s.Population.Mass), Drawn: s.Drawn.Count, Sum: Tonnes(s.Drawn.Mass), Strata: []StratumLine{}, Items: []SampleItem{}}
	if s.Interval > 0 {
		r.Interval, r.Start = tonnes(s.Interval), tonnes(s.Start)
	}
	for _, x := range s.Strata {
		r.Strata = append(r.Strata, StratumLine{x.Name, x.Population.Count, Tonnes(x.Population.Mass), x.Drawn.Count, Tonnes(x.Drawn.Mass)})
	}
	for _, x := range s.Selected {
		to, text, err := leads(x.ID)
		if err != nil {
			return nil, err
		}
		r.Items = append(r.Items, SampleItem{x.ID, x.Stratum, Tonnes(x.Mass), x.Hits, x.Digest, to, text})
	}
	return r, nil
}

// WriteText writes the sample in a unit of mass.
func (s *Sample) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Sample from the %s of %s, yard %s: %s, seed %q, %d asked\n", s.From, s.Period, s.Yard, s.Method, s.Seed, s.Asked)
	fmt.Fprintf(w, "Population %d, solids %s %s; drawn %d, %s %s\n", s.Count, u.Format(s.Mass.Mass()), u.Mass, s.Drawn, u.Format(s.Sum.Mass()), u.Mass)
	if s.Interval != nil {
		fmt.Fprintf(w, "One gram in every %s t, the first at %s t, items in order of their names\n", s.Interval.Mass().Tonnes(), s.Start.Mass().Tonnes())
	}
	fmt.Fprintln(w)
	t := NewTable("stratum", ">population", ">solids", ">drawn", ">solids drawn")
	for _, x := range s.Strata {
		t.Row(orDash(x.Name), fmt.Sprint(x.Count), u.Format(x.Mass.Mass()), fmt.Sprint(x.Drawn), u.Format(x.Sum.Mass()))
	}
	if _, err := t.WriteTo(w); err != nil {
		return err
	}
	fmt.Fprintln(w)
	t = NewTable("drawn", ">solids", ">hits", "leads to", "says")
	for _, x := range s.Items {
		t.Row(x.ID, u.Format(x.Mass.Mass()), fmt.Sprint(x.Hits), x.Leads, x.Text)
	}
	_, err := t.WriteTo(w)
	return err
}
