package valuation

import (
	"encoding/json"
	"fmt"
	"strconv"

	"repose/internal/value"
	"repose/ledger"
)

// SealKind is the kind of the lines by which a close seals a month's value.
const SealKind = "value"

// Closing is what a month leaves to the next.
type Closing struct {
	Currency  value.Currency
	InProcess value.Money // cost of stone that was fed and not made again yet
	Products  []Held      // in order
}

// Held is a product at the end of a month.
type Held struct {
	Product     string
	Stock       value.Stock
	WrittenDown value.Money // what the tests so far asked for on the stock that is still there
}

// sealedProduct is a line of the seal. A line without a product holds what is in process.
type sealedProduct struct {
	Product     string `json:"product,omitempty"`
	Currency    string `json:"currency"`
	Solids      string `json:"solids_g,omitempty"`
	Cost        string `json:"cost"`
	WrittenDown string `json:"written_down,omitempty"`
}

// SealLines returns the value as lines of a seal, in canonical form: masses in whole grams, money in the currency's unit.
func (c *Closing) SealLines() []string {
	lines := []string{c.line(sealedProduct{Currency: c.Currency.String(), Cost: c.Currency.Format(c.InProcess)})}
	for _, h := range c.Products {
		lot := h.Stock.Lot()
		lines = append(lines, c.line(sealedProduct{h.Product, c.Currency.String(), strconv.FormatInt(int64(lot.Quantity), 10),
			c.Currency.Format(lot.Cost), c.Currency.Format(h.WrittenDown)}))
	}
	return lines
}

func (c *Closing) line(p sealedProduct) string {
	b, _ := json.Marshal(p) // strings always marshal
	return string(b)
}

// ParseClosing reads what SealLines returns; nil for no lines, of a month that was not valued.
func ParseClosing(lines []string) (*Closing, error) {
	if len(lines) == 0 {
		return nil, nil
	}
	c := &Closing{}
	for i, line := range lines {
		var p sealedProduct
		err := json.Unmarshal([]byte(line), &p)
		if err == nil {
			err = c.add(p, i == 0)
		}
		if err != nil {
			return nil, fmt.Errorf("sealed value %q: %w", line, err)
		}
	}
	return c, nil
}

func (c *Closing) add(p sealedProduct, first bool) (err error) {
	if first {
		if c.Currency, err = value.ParseCurrency(p.Currency); err != nil {
			return err
		}
		c.InProcess, err = c.Currency.Parse(p.Cost)
		return err
	}
	grams, err := strconv.ParseInt(p.Solids, 10, 64)
	if err != nil {
		return err
	}
	h := Held{Product: p.Product}
	cost, err := c.Currency.Parse(p.Cost)
	if err != nil {
		return err
	}
	if h.WrittenDown, err = c.Currency.Parse(p.WrittenDown); err != nil {
		return err
	}
	if h.Stock, err = value.NewStock(value.Lot{Quantity: ledger.Mass(grams), Cost: cost}); err != nil {
		return err
	}
	c.Products = append(c.Products, h)
	return nil
}
