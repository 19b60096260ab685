package valuation

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"repose/internal/value"
	"repose/ledger"
)

// Input is what a month's value is made of, beside its entries.
type Input struct {
	Register *ledger.Register
	Yard     string
	Period   ledger.Period
	Zone     *time.Location
	Opening  ledger.Balances
	Closing  ledger.Balances

	Costs  []*ledger.Record // of the month, and of earlier ones whose close they missed
	Prices []ledger.Price   // of the yard, from whatever month
	Before *Closing         // what the month before left; nil where this is the first that is valued
}

// Valuation is a month in money.
type Valuation struct {
	Currency  value.Currency
	Lines     []Line // in order of product
	Transfers []value.Transfer
	Costs     []CostLine
	Capacity  value.Absorption // of fixed costs; zero where there are none
	Normal    ledger.Mass      // production that fixed costs are spread at
	Made      ledger.Mass
	Sharing   value.Method
	Standard  value.Standard
	InProcess value.Money
	Journal   []value.JournalLine
	Notes     []string // what a reader should know
	Late      []*ledger.Record
	Uncosted  bool // something was made, and no cost of making is on record
	closing   *Closing
}

// CostLine is a cost with where it went.
type CostLine struct {
	Record *ledger.Record
	Cost   ledger.Cost
	Amount value.Money
}

// Line is one product.
type Line struct {
	value.Line
	Product  string
	Price    *ledger.Price // in force; nil where none is known
	Adjusted ledger.Mass   // the closing stock at the product's reference moisture, which prices are for
	Worth    value.Money   // net realisable value of the closing stock
	Test     value.Lower   // of cost against it
	Earlier  value.Money   // written down before, on what is still there
	Supply   *decimal.Decimal
}

// Closing returns what the month leaves to the next.
func (v *Valuation) Closing() *Closing { return v.closing }

// ErrCurrency says that a yard's costs are in more than one currency.
var ErrCurrency = errors.New("costs in two currencies")

// Value puts a tallied month into money. It is nil where the yard has never given a cost.
func (t *Tally) Value(in Input) (*Valuation, error) {
	if len(in.Costs) == 0 && in.Before == nil {
		return nil, nil
	}
	v := &Valuation{}
	if err := v.currency(in); err != nil {
		return nil, err
	}
	t, before, after := t.settled(in.Opening, in.Closing, in.Period.End(in.Zone))
	if t.err != nil {
		return nil, t.err
	}
	month, err := v.month(t, in, before)
	if err != nil {
		return nil, err
	}
	done, err := month.Value()
	if err != nil {
		return nil, err
	}
	v.Transfers, v.InProcess = done.Transfers, done.InProcess
	v.Journal = done.Journal(v.Capacity.Unallocated)
	v.closing = &Closing{Currency: v.Currency, InProcess: done.InProcess}
	for _, l := range done.Lines {
		if want := after[l.Product]; l.Closing.Lot().Quantity != want {
			return nil, fmt.Errorf("product %s: %v valued and %v in the book", l.Product, l.Closing.Lot().Quantity, want)
		}
		if err := v.line(in, l); err != nil {
			return nil, fmt.Errorf("product %s: %w", l.Product, err)
		}
	}
	return v, nil
}

// currency finds the one currency of the month.
func (v *Valuation) currency(in Input) (err error) {
	code := ""
	if in.Before != nil {
		code = in.Before.Currency.String()
	}
	for _, rec := range in.Costs {
		c := rec.Fact.(ledger.Cost)
		if code == "" {
			code = c.Currency
		}
		if c.Currency != code {
			return fmt.Errorf("%w: %s of %s is in %s, and the yard is valued in %s", ErrCurrency, rec.ID(), c.Period, c.Currency, code)
		}
	}
	v.Currency, err = value.ParseCurrency(code)
	return err
}

// month lays every cost on what it is of.
func (v *Valuation) month(t *Tally, in Input, before map[string]ledger.Mass) (value.Month, error) {
	var m value.Month
	opening, err := v.openings(in, before)
	if err != nil {
		return m, err
	}
	moves := map[string]value.Moves{}
	for p, x := range t.moves {
		if back := x[value.ColumnFed].Quantity; back > 0 {
			x[value.ColumnFed].Quantity = 0
			x[value.ColumnReturned].Quantity += back
		}
		moves[p] = *x
	}
	for _, x := range t.moved {
		for _, p := range []string{x.from, x.to} {
			if _, ok := moves[p]; !ok {
				moves[p] = value.Moves{} // there, so that it has a flow
			}
		}
		m.Transfers = append(m.Transfers, value.Transfer{From: x.from, To: x.to, Lot: value.Lot{Quantity: x.solids}})
	}
	for p := range opening {
		if _, ok := moves[p]; !ok {
			moves[p] = value.Moves{}
		}
	}
	if err := v.lay(in, moves, opening); err != nil {
		return m, err
	}
	for _, p := range slices.Sorted(maps.Keys(opening)) {
		if lot := opening[p]; in.Before == nil && lot.Quantity > 0 && lot.Cost == 0 {
			v.Notes = append(v.Notes, fmt.Sprintf("%v of %s lay there at the beginning and no cost of the kind opening is on record, so that they cost nothing", lot.Quantity, p))
		}
	}
	for _, p := range slices.Sorted(maps.Keys(moves)) {
		stock, err := value.NewStock(opening[p])
		if err != nil {
			return m, fmt.Errorf("product %s at the beginning: %w", p, err)
		}
		m.Flows = append(m.Flows, value.Flow{Product: p, Opening: stock, Moves: moves[p]})
	}
	if in.Before != nil {
		m.InProcess = in.Before.InProcess
	}
	return m, nil
}

// openings returns the stock with which every product begins. Where the month before was valued its figures hold, and
// its quantities must be those of the book.
func (v *Valuation) openings(in Input, before map[string]ledger.Mass) (map[string]value.Lot, error) {
	opening := map[string]value.Lot{}
	for p, q := range before {
		if q < 0 {
			return nil, fmt.Errorf("product %s: the book says %v at the beginning: stock below zero has no cost", p, q)
		}
		opening[p] = value.Lot{Quantity: q}
	}
	if in.Before == nil {
		return opening, nil
	}
	for _, h := range in.Before.Products {
		lot := h.Stock.Lot()
		if have := opening[h.Product]; have.Quantity != lot.Quantity {
			return nil, fmt.Errorf("product %s: the month before left %v in money and %v in the book", h.Product, lot.Quantity, have.Quantity)
		}
		opening[h.Product] = lot
	}
	return opening, nil
}

// lay puts the month's costs on the products.
func (v *Valuation) lay(in Input, moves map[string]value.Moves, opening map[string]value.Lot) error {
	var common, fixed value.Money
	fixedOf := map[string]value.Money{}
	for _, rec := range in.Costs {
		c := rec.Fact.(ledger.Cost)
		amount, err := v.Currency.Parse(c.Amount.String())
		if err != nil {
			return fmt.Errorf("%s: %w", rec.ID(), err)
		}
		v.Costs = append(v.Costs, CostLine{rec, c, amount})
		if c.Period.Before(in.Period) {
			v.Late = append(v.Late, rec)
		}
		m := moves[c.Product]
		switch {
		case c.What == ledger.CostFixed:
			fixedOf[c.Product] += amount
			fixed += amount
			continue
		case c.Product == "":
			common += amount
			continue
		case c.What == ledger.CostOpening && in.Before == nil && m[value.ColumnOpened].Quantity == 0:
			lot := opening[c.Product]
			lot.Cost += amount
			opening[c.Product] = lot
		case c.What == ledger.CostOpening:
			m[value.ColumnOpened].Cost += amount
		case c.What == ledger.CostPurchase:
			m[value.ColumnBought].Cost += amount
		default:
			m[value.ColumnMade].Cost += amount
		}
		moves[c.Product] = m
	}
	return v.shareOut(in, moves, common, fixed, fixedOf)
}

// shareOut absorbs fixed costs at normal production, and shares what products have in common.
func (v *Valuation) shareOut(in Input, moves map[string]value.Moves, common, fixed value.Money, fixedOf map[string]value.Money) error {
	end := in.Period.End(in.Zone).Add(-1)
	made := []string{}
	for _, p := range slices.Sorted(maps.Keys(moves)) {
		if q := moves[p][value.ColumnMade].Quantity; q > 0 {
			made = append(made, p)
			v.Made += q
		}
	}
	v.settings(in, end)
	if len(fixedOf) > 0 {
		var err error
		if v.Capacity, err = (value.Overhead{Fixed: fixed, Normal: max(v.Normal, 1), Actual: v.Made}).Absorb(); err != nil {
			return fmt.Errorf("fixed costs: %w", err)
		}
		codes := slices.Sorted(maps.Keys(fixedOf))
		weights := make([]value.Money, len(codes))
		for i, c := range codes {
			weights[i] = fixedOf[c]
		}
		parts, err := value.Allocate(v.Capacity.Absorbed, weights)
		if err != nil {
			return fmt.Errorf("fixed costs: %w", err)
		}
		for i, c := range codes {
			if c == "" {
				common += parts[i]
				continue
			}
			m := moves[c]
			m[value.ColumnMade].Cost += parts[i]
			moves[c] = m
		}
	}
	if common == 0 {
		return nil
	}
	if len(made) == 0 {
		return fmt.Errorf("costs of %s %s that products have in common, and nothing was made", v.Currency.Format(common), v.Currency)
	}
	joint := make([]value.Joint, len(made))
	for i, p := range made {
		role := value.MainProduct
		if yes, ok := in.Register.Setting(in.Yard, ledger.ValueByProduct(p), end); ok && yes == "yes" {
			role = value.ByProduct
		}
		joint[i] = value.Joint{Name: p, Role: role, Made: moves[p][value.ColumnMade].Quantity}
		if role == value.ByProduct || v.Sharing == value.BySalesValue {
			product, _ := in.Register.Product(p)
			var err error
			if joint[i].Made, err = product.Reference.Adjusted(joint[i].Made); err != nil {
				return err
			}
		}
		if price := in.price(p); price != nil && price.Currency == v.Currency.String() {
			joint[i].Price = value.Price{Amount: decimal.Max(price.Amount.Sub(price.Selling).Sub(price.Completion), decimal.Zero), Per: price.Per}
		}
	}
	shares, err := value.ShareJoint(common, v.Sharing, v.Currency, joint)
	if err != nil {
		return fmt.Errorf("common costs: %w", err)
	}
	for i, p := range made {
		m := moves[p]
		m[value.ColumnMade].Cost += shares[i]
		moves[p] = m
	}
	return nil
}

func (v *Valuation) settings(in Input, end time.Time) {
	v.Sharing, v.Standard, v.Normal = value.ByTonnes, value.IAS2, v.Made
	if s, ok := in.Register.Setting(in.Yard, ledger.ValueSharing, end); ok && s == ledger.ShareBySalesValue {
		v.Sharing = value.BySalesValue
	}
	if s, ok := in.Register.Setting(in.Yard, ledger.ValueStandard, end); ok && s == ledger.StandardASC330 {
		v.Standard = value.ASC330
	}
	if normal, ok := in.Register.NormalProduction(in.Yard, end); ok {
		v.Normal = normal
	} else if slices.ContainsFunc(v.Costs, func(c CostLine) bool { return c.Cost.What == ledger.CostFixed }) {
		v.Notes = append(v.Notes, "no normal production is set, so that all fixed costs lie on what was made")
	}
	if v.Made > 0 && !slices.ContainsFunc(v.Costs, func(c CostLine) bool { return c.Cost.What != ledger.CostOpening }) {
		v.Uncosted = true
		v.Notes = append(v.Notes, fmt.Sprintf("%v were made, and no cost of making is on record", v.Made))
	}
	for _, rec := range v.Late {
		v.Notes = append(v.Notes, fmt.Sprintf("%s came after the close of its month and lies on this one", rec.ID()))
	}
}

// price returns the price of a product in force in the month; nil where none is known.
func (in *Input) price(product string) *ledger.Price {
	var last *ledger.Price
	for i, p := range in.Prices {
		if p.Product == product && !in.Period.Before(p.From) && (last == nil || last.From.Before(p.From)) {
			last = &in.Prices[i]
		}
	}
	return last
}

// line adds a product with its test.
func (v *Valuation) line(in Input, l value.Line) error {
	x := Line{Line: l, Product: l.Product, Price: in.price(l.Product)}
	closing := l.Closing.Lot()
	product, _ := in.Register.Product(l.Product)
	var err error
	if x.Adjusted, err = product.Reference.Adjusted(closing.Quantity); err != nil {
		return err
	}
	if x.Earlier, err = v.stillThere(in, l); err != nil {
		return err
	}
	held := Held{Product: l.Product, Stock: l.Closing, WrittenDown: x.Earlier}
	if x.Price != nil && x.Price.Currency == v.Currency.String() {
		realisable := value.Realisable{Price: x.Price.Amount, Completion: x.Price.Completion, Sale: x.Price.Selling, Per: x.Price.Per}
		if x.Worth, err = realisable.Of(x.Adjusted, v.Currency); err != nil {
			return err
		}
		if x.Test, err = v.Standard.Test(value.Held{Stock: l.Closing, Earlier: x.Earlier, Value: x.Worth}); err != nil {
			return err
		}
		held.WrittenDown = closing.Cost - x.Test.Carrying
	} else {
		x.Price = nil
		x.Test.Carrying = closing.Cost - x.Earlier
		if closing.Quantity > 0 {
			v.Notes = append(v.Notes, fmt.Sprintf("%s has no price in %s, so that its cost is tested against nothing", l.Product, v.Currency))
		}
	}
	var left ledger.Mass
	for _, c := range []value.Column{value.ColumnSold, value.ColumnInternal, value.ColumnFree, value.ColumnTransferOut} {
		left -= l.Moves[c].Quantity
	}
	if months, ok := value.MonthsOfSupply(closing.Quantity, left, 1); ok {
		x.Supply = &months
	}
	v.Lines = append(v.Lines, x)
	v.closing.Products = append(v.closing.Products, held)
	return nil
}

// stillThere returns how much of what tests wrote down before lies on stock that has not left: it leaves in proportion.
func (v *Valuation) stillThere(in Input, l value.Line) (value.Money, error) {
	if in.Before == nil {
		return 0, nil
	}
	i, ok := slices.BinarySearchFunc(in.Before.Products, l.Product, func(h Held, p string) int { return cmp.Compare(h.Product, p) })
	if !ok || in.Before.Products[i].WrittenDown == 0 {
		return 0, nil
	}
	all, err := l.Average()
	if err != nil {
		return 0, err
	}
	closing := l.Closing.Lot()
	if closing.Quantity == 0 {
		return 0, nil
	}
	written, err := value.NewStock(value.Lot{Quantity: max(all.Quantity, closing.Quantity), Cost: in.Before.Products[i].WrittenDown})
	if err != nil {
		return 0, err
	}
	_, part, err := written.Issue(closing.Quantity)
	return min(part.Cost, closing.Cost), err
}
