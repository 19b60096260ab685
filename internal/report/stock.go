package report

import (
	"fmt"
	"io"
	"time"

	"repose/ledger"
)

// Stock is what lies in the piles at an instant.
type Stock struct {
	Schema int         `json:"schema"`
	At     time.Time   `json:"at"`
	Known  *time.Time  `json:"known,omitempty"`
	Piles  []StockLine `json:"piles"`
	Total  StockTotal  `json:"total"`
}

// StockLine is one pile.
type StockLine struct {
	Yard     string  `json:"yard"`
	Pile     string  `json:"pile"`
	Product  string  `json:"product"`
	Owner    string  `json:"owner,omitempty"`
	Solids   Tonnes  `json:"solids_t"`
	Water    Tonnes  `json:"water_t"`
	AsIs     Tonnes  `json:"as_is_t"`
	Adjusted Tonnes  `json:"adjusted_t"`
	Moisture Percent `json:"moisture_pct_dry"` // the test or reference in force
	Assumed  bool    `json:"moisture_assumed"`
}

// StockTotal is the sum over the piles.
type StockTotal struct {
	Solids   Tonnes `json:"solids_t"`
	Water    Tonnes `json:"water_t"`
	AsIs     Tonnes `json:"as_is_t"`
	Adjusted Tonnes `json:"adjusted_t"`
}

func (t *StockTotal) add(l StockLine) {
	t.Solids += l.Solids
	t.Water += l.Water
	t.AsIs += l.AsIs
	t.Adjusted += l.Adjusted
}

// PileStock is what a pile holds, for NewStock.
type PileStock struct {
	Pile ledger.PileID
	Held ledger.Amount
}

// NewStock reports piles at an instant.
func NewStock(reg *ledger.Register, at time.Time, known *time.Time, piles []PileStock) (*Stock, error) {
	s := &Stock{Schema: Schema, At: at.UTC(), Known: known, Piles: []StockLine{}}
	for _, p := range piles {
		l, err := stockLine(reg, at, p)
		if err != nil {
			return nil, fmt.Errorf("pile %s: %w", p.Pile.Code, err)
		}
		s.Piles = append(s.Piles, l)
		s.Total.add(l)
	}
	return s, nil
}

func stockLine(reg *ledger.Register, at time.Time, p PileStock) (StockLine, error) {
	info := reg.Pile(p.Pile, at)
	product, _ := reg.Product(info.Product)
	adjusted, err := product.Reference.Adjusted(p.Held.Solids)
	m, flags := reg.Moisture(p.Pile, at)
	return StockLine{Yard: p.Pile.Yard, Pile: p.Pile.Code, Product: info.Product, Owner: info.Owner,
		Solids: Tonnes(p.Held.Solids), Water: Tonnes(p.Held.Water), AsIs: Tonnes(p.Held.AsIs()),
		Adjusted: Tonnes(adjusted), Moisture: Percent(m.Percent()), Assumed: flags&ledger.FlagMoistureAssumed != 0}, err
}

// WriteText writes the stock for the screen in a unit of mass.
func (s *Stock) WriteText(w io.Writer, u Unit) error {
	t := NewTable("yard", "pile", "product", ">solids", ">water", ">as is", ">moisture-adjusted", ">moisture % dry")
	for _, l := range s.Piles {
		m := formatPercent(&l.Moisture, 2)
		if l.Assumed {
			m = "assumed " + m
		}
		t.Row(l.Yard, l.Pile, l.Product, u.Format(l.Solids.Mass()), u.Format(l.Water.Mass()), u.Format(l.AsIs.Mass()), u.Format(l.Adjusted.Mass()), m)
	}
	t.Total = true
	t.Row("total", "", "", u.Format(s.Total.Solids.Mass()), u.Format(s.Total.Water.Mass()), u.Format(s.Total.AsIs.Mass()), u.Format(s.Total.Adjusted.Mass()), "")
	if _, err := fmt.Fprintf(w, "Stock at %s, in %s\n\n", s.At.Format("2006-01-02 15:04:05Z"), u.Mass); err != nil {
		return err
	}
	_, err := t.WriteTo(w)
	return err
}
