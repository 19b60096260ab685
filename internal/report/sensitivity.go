package report

import (
	"fmt"
	"io"

	"repose/internal/audit"
	"repose/ledger"
)

// Sensitivity is what one step of each measured quantity does to the closing figures of a month.
type Sensitivity struct {
	Schema int               `json:"schema"`
	Yard   string            `json:"yard"`
	Period string            `json:"period"`
	Piles  []SensitivityPile `json:"piles"`
}

// SensitivityPile is one pile.
type SensitivityPile struct {
	Pile     string            `json:"pile"`
	Product  string            `json:"product"`
	Rests    string            `json:"rests_on"` // survey, book
	Solids   Tonnes            `json:"closing_solids_t"`
	Adjusted Tonnes            `json:"closing_adjusted_t"`
	Lines    []SensitivityLine `json:"lines"`
}

// SensitivityLine is one quantity and its step.
type SensitivityLine struct {
	Quantity     string  `json:"quantity"`
	Up           Tonnes  `json:"up_solids_t"`
	Down         *Tonnes `json:"down_solids_t"`
	Slope        Tonnes  `json:"slope_solids_t"` // by the derivative, as a second route
	UpAdjusted   Tonnes  `json:"up_adjusted_t"`
	DownAdjusted *Tonnes `json:"down_adjusted_t"`
}

// NewSensitivity returns an empty table.
func NewSensitivity(yard string, p ledger.Period) *Sensitivity {
	return &Sensitivity{Schema: Schema, Yard: yard, Period: p.String(), Piles: []SensitivityPile{}}
}

// Add adds a pile.
func (s *Sensitivity) Add(x *audit.Sensitivity, bySurvey *audit.Measured) {
	p := SensitivityPile{Pile: x.Pile, Product: x.Product, Rests: "book", Solids: Tonnes(x.Solids), Adjusted: Tonnes(x.Adjusted), Lines: []SensitivityLine{}}
	if bySurvey != nil {
		p.Rests = "survey " + bySurvey.Survey.Survey
	}
	for _, l := range x.Lines {
		line := SensitivityLine{Quantity: l.Quantity.String(), Up: Tonnes(l.Up.Solids), Slope: Tonnes(l.Slope.Solids), UpAdjusted: Tonnes(l.Up.Adjusted)}
		if l.Down != nil {
			line.Down, line.DownAdjusted = tonnes(l.Down.Solids), tonnes(l.Down.Adjusted)
		}
		p.Lines = append(p.Lines, line)
	}
	s.Piles = append(s.Piles, p)
}

// WriteText writes the table in a unit of mass.
func (s *Sensitivity) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "What one step of each quantity does to the closing solids, yard %s, %s, in %s\n\n", s.Yard, s.Period, u.Mass)
	t := NewTable("pile", "product", "rests on", ">closing", "step", ">more", ">less", ">by the derivative")
	for _, p := range s.Piles {
		for i, l := range p.Lines {
			pile, product, rests, closing := p.Pile, p.Product, p.Rests, u.Format(p.Solids.Mass())
			if i > 0 {
				pile, product, rests, closing = "", "", "", ""
			}
			t.Row(pile, product, rests, closing, l.Quantity, u.Format(l.Up.Mass()), u.optional(l.Down), u.Format(l.Slope.Mass()))
		}
	}
	_, err := t.WriteTo(w)
	return err
}
