package report

import (
	"fmt"
	"io"

	"github.com/shopspring/decimal"

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

// Projection is what the errors that an auditor found in a sample mean for the population.
type Projection struct {
	Sample     *Sample       `json:"sample"`
	Findings   []FoundLine   `json:"findings"` // those with an error
	Known      Tonnes        `json:"known_t"`  // sum of the errors found; positive where the book holds too much
	Projected  Tonnes        `json:"projected_t"`
	Upper      *Tonnes       `json:"upper_t"` // at most, of a sample by mass; nil of others
	Confidence Percent       `json:"confidence_pct"`
	Unreached  []StratumLine `json:"unreached"` // strata of which nothing was drawn
}

// FoundLine is a drawn item whose mass is not what the book says.
type FoundLine struct {
	ID        string `json:"id"`
	Booked    Tonnes `json:"booked_t"`
	Found     Tonnes `json:"found_t"`
	Error     Tonnes `json:"error_t"`
	Projected Tonnes `json:"projected_t"`
}

// NewProjection reports a projection of a sample.
func NewProjection(s *Sample, p *audit.Projection, upper *ledger.Mass, confidence decimal.Decimal) *Projection {
	r := &Projection{Sample: s, Findings: []FoundLine{}, Known: Tonnes(p.Known), Projected: Tonnes(p.Error), Confidence: Percent(confidence), Unreached: []StratumLine{}}
	for _, f := range p.Findings {
		if f.Error != 0 {
			r.Findings = append(r.Findings, FoundLine{f.ID, Tonnes(f.Mass), Tonnes(f.Audited), Tonnes(f.Error), Tonnes(f.Projected)})
		}
	}
	if upper != nil {
		r.Upper = tonnes(*upper)
	}
	for _, x := range s.Strata {
		if p.Unreached.Count > 0 && x.Drawn == 0 {
			r.Unreached = append(r.Unreached, x)
		}
	}
	return r
}

// WriteText writes the projection in a unit of mass.
func (p *Projection) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Of %d drawn, %d differ; solids in %s, positive where the book holds too much\n\n", p.Sample.Drawn, len(p.Findings), u.Mass)
	t := NewTable("drawn", ">booked", ">found", ">error", ">stands for")
	for _, f := range p.Findings {
		t.Row(f.ID, u.Format(f.Booked.Mass()), u.Format(f.Found.Mass()), u.Format(f.Error.Mass()), u.Format(f.Projected.Mass()))
	}
	t.Total = true
	t.Row("all", "", "", u.Format(p.Known.Mass()), u.Format(p.Projected.Mass()))
	if _, err := t.WriteTo(w); err != nil {
		return err
	}
	for _, s := range p.Unreached {
		fmt.Fprintf(w, "Nothing was drawn of stratum %s (%s): nothing is said of it.\n", orDash(s.Name), u.Format(s.Mass.Mass()))
	}
	if p.Upper != nil {
		fmt.Fprintf(w, "At %s %% confidence the book holds at most %s too much (Poisson factors; errors the other way are not set off).\n", decimal.Decimal(p.Confidence), u.Format(p.Upper.Mass()))
	}
	return nil
}
