package ledger

import (
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// CostKind says what a cost is of. The zero value is none.
type CostKind uint8

// The kinds.
const (
	CostMaking   CostKind = iota + 1 // of making stone: all that grows with what is made
	CostFixed                        // of the plant whether it runs or not; spread at normal production
	CostPurchase                     // of stone that was bought
	CostOpening                      // of what lay in the piles when the book began
)

var costKindNames = [...]string{CostMaking: "making", CostFixed: "fixed", CostPurchase: "purchase", CostOpening: "opening"}

// String returns making, fixed, purchase or opening.
func (k CostKind) String() string { return nameOf(costKindNames[:], int(k)) }

// ParseCostKind reads what String writes.
func ParseCostKind(s string) (CostKind, error) {
	if i := indexFold(costKindNames[:], s); i > 0 {
		return CostKind(i), nil
	}
	return 0, fmt.Errorf("%q is not a kind of cost; want one of %s", s, listNames(costKindNames[:]))
}

// CostKinds returns the names of all kinds.
func CostKinds() []string { return costKindNames[1:] }

// Cost states what a month's stone cost.
type Cost struct {
	Period   Period
	Product  string // code; empty for a cost that all products made in the month have in common
	What     CostKind
	Centre   string // the yard's own name of what it was spent on; empty for none
	Amount   decimal.Decimal
	Currency string // three letters, ISO 4217
	Note     string
}

// Price states what a product sells for from a month on, for the test against its cost.
type Price struct {
	From       Period
	Product    string
	Amount     decimal.Decimal // of one unit, at the product's reference moisture
	Selling    decimal.Decimal // what it takes to sell one unit
	Completion decimal.Decimal // what it takes to make one unit ready for sale
	Per        MassUnit
	Currency   string
}

func (Cost) Kind() Kind  { return KindCostRecord }
func (Price) Kind() Kind { return KindPriceRecord }

// Key is the period, product, kind and cost centre.
func (c Cost) Key() string { return joinKey(c.Period.String(), c.Product, c.What.String(), c.Centre) }

// Key is the month from which it holds, and the product.
func (p Price) Key() string { return joinKey(p.From.String(), p.Product) }

func (Cost) at() time.Time  { return time.Time{} }
func (Price) at() time.Time { return time.Time{} }

func (c Cost) validate() error {
	if c.Period == (Period{}) || c.What == 0 {
		return fmt.Errorf("cost: want a period, and what it is of: %s", listNames(costKindNames[:]))
	}
	if c.Product != "" {
		if err := checkCode("product", c.Product); err != nil {
			return err
		}
	}
	if c.Product == "" && (c.What == CostPurchase || c.What == CostOpening) {
		return fmt.Errorf("cost of %v: want a product", c.What)
	}
	return checkCurrency(c.Currency)
}

func (p Price) validate() error {
	switch {
	case p.From == (Period{}) || p.Per == 0:
		return fmt.Errorf("price: want a month from which it holds and the unit that it is for")
	case p.Amount.IsNegative() || p.Selling.IsNegative() || p.Completion.IsNegative():
		return fmt.Errorf("price of %s: want nothing negative", p.Product)
	}
	if err := checkCode("product", p.Product); err != nil {
		return err
	}
	return checkCurrency(p.Currency)
}

func checkCurrency(code string) error {
	if len(code) != 3 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return fmt.Errorf("currency %q: want the three capital letters of ISO 4217, such as EUR", code)
	}
	return nil
}

func (c Cost) fields(w *fieldWriter) {
	w.text("period", c.Period.String())
	w.text("product", c.Product)
	w.text("kind", c.What.String())
	w.text("cost_centre", c.Centre)
	w.decimal("amount", c.Amount)
	w.text("currency", c.Currency)
	w.text("note", c.Note)
}

func (p Price) fields(w *fieldWriter) {
	w.text("from", p.From.String())
	w.text("product", p.Product)
	w.decimal("price", p.Amount)
	w.decimal("selling_cost", p.Selling)
	w.decimal("completion_cost", p.Completion)
	w.text("per", p.Per.String())
	w.text("currency", p.Currency)
}

func readCost(d *fieldReader) Fact {
	what, err := ParseCostKind(d.text("kind"))
	if err != nil {
		d.fail("kind", err)
	}
	return Cost{Period: d.period("period"), Product: d.text("product"), What: what, Centre: d.text("cost_centre"), Amount: d.decimal("amount"),
		Currency: d.text("currency"), Note: d.text("note")}
}

func readPrice(d *fieldReader) Fact {
	per, err := ParseMassUnit(d.text("per"))
	if err != nil {
		d.fail("per", err)
	}
	return Price{From: d.period("from"), Product: d.text("product"), Amount: d.decimal("price"), Selling: d.decimal("selling_cost"),
		Completion: d.decimal("completion_cost"), Per: per, Currency: d.text("currency")}
}

func (d *fieldReader) period(name string) Period {
	p, err := ParsePeriod(d.text(name))
	if err != nil {
		d.fail(name, err)
	}
	return p
}

// valuePrefix begins the name of a policy of how stock is valued.
const valuePrefix = "value "

// The policies of how stock is valued.
const (
	ValueSharing  PolicyName = valuePrefix + "common costs by"   // tonnes or sales value
	ValueNormal   PolicyName = valuePrefix + "normal production" // a mass with its unit: what the plant makes in a usual month
	ValueStandard PolicyName = valuePrefix + "standard"          // IAS 2 or ASC 330
	byProduct                = valuePrefix + "by-product "       // and a product's code: yes
)

// Ways of sharing common costs, and the standards.
const (
	ShareByTonnes     = "tonnes"
	ShareBySalesValue = "sales value"
	StandardIAS2      = "IAS 2"
	StandardASC330    = "ASC 330"
)

// ValueByProduct returns the name of the policy that makes a product a by-product.
func ValueByProduct(product string) PolicyName { return PolicyName(byProduct + product) }

// IsValuation reports whether the policy says how stock is valued.
func (n PolicyName) IsValuation() bool {
	product, ok := strings.CutPrefix(string(n), byProduct)
	return n == ValueSharing || n == ValueNormal || n == ValueStandard || ok && IsCode(product)
}

// checkValuation tries the value of a policy of how stock is valued.
func (p Policy) checkValuation() error {
	var ok bool
	want := ""
	switch p.Name {
	case ValueSharing:
		ok, want = p.Value == ShareByTonnes || p.Value == ShareBySalesValue, ShareByTonnes+" or "+ShareBySalesValue
	case ValueStandard:
		ok, want = p.Value == StandardIAS2 || p.Value == StandardASC330, StandardIAS2+" or "+StandardASC330
	case ValueNormal:
		m, err := p.mass()
		ok, want = err == nil && m > 0, "a mass with its unit, such as 75000 t"
	default:
		ok, want = p.Value == "yes" || p.Value == "no", "yes or no"
	}
	if !ok {
		return fmt.Errorf("policy %s: value %q: want %s", p.Name, p.Value, want)
	}
	return nil
}

// NormalProduction returns what a yard's plant makes in a usual month; ok is false where it has not said.
func (r *Register) NormalProduction(yard string, at time.Time) (m Mass, ok bool) {
	value, ok := r.Setting(yard, ValueNormal, at)
	if !ok {
		return 0, false
	}
	m, err := Policy{Name: ValueNormal, Value: value}.mass()
	return m, err == nil
}
