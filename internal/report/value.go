package report

import (
	"fmt"
	"io"

	"github.com/shopspring/decimal"

	"repose/internal/valuation"
	"repose/internal/value"
	"repose/ledger"
)

// Value is a yard's month in money. Quantities are solids.
type Value struct {
	Schema   int    `json:"schema"`
	Yard     string `json:"yard"`
	Period   string `json:"period"`
	State    string `json:"state"` // open, closed
	Currency string `json:"currency"`
	Standard string `json:"standard"`
	Sharing  string `json:"common_costs_by"`

	Products  []ValueLine    `json:"products"`
	Costs     []ValueCost    `json:"costs"`
	Fixed     *Capacity      `json:"fixed_costs"`
	InProcess Amount         `json:"stone_in_process"`
	Journal   []ValuePosting `json:"journal"`
	Notes     []string       `json:"notes"`

	currency value.Currency
	sum      ValueLine
}

// Amount is an amount of money that JSON shows as a decimal string.
type Amount struct {
	value.Money
	currency value.Currency
}

// MarshalText returns the amount with the decimals of its currency.
func (a Amount) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// String returns the amount with the decimals of its currency.
func (a Amount) String() string { return a.currency.Format(a.Money) }

// Decimal returns the amount in the currency's unit.
func (a Amount) Decimal() decimal.Decimal { return a.currency.Decimal(a.Money) }

// ValueLine is one product: what it opened with, what came and went, what is left, and the test of its cost.
type ValueLine struct {
	Product       string           `json:"product"`
	OpeningSolids Tonnes           `json:"opening_solids_t"`
	Opening       Amount           `json:"opening_cost"`
	Moves         []ValueMove      `json:"moves"`
	Solids        Tonnes           `json:"closing_solids_t"`
	Adjusted      Tonnes           `json:"closing_adjusted_t"`
	Closing       Amount           `json:"closing_cost"`
	Average       *decimal.Decimal `json:"average_cost_per_t_solids"` // rounded, for showing alone
	Price         *decimal.Decimal `json:"price"`
	Worth         Amount           `json:"net_realisable_value"`
	Carrying      Amount           `json:"lower_of_both"`
	WriteDown     Amount           `json:"write_down"`
	Reversal      Amount           `json:"reversal"`
	Supply        *decimal.Decimal `json:"months_of_supply"`
}

// ValueMove is one way in or out, into the stock if positive.
type ValueMove struct {
	What   string `json:"what"`
	Solids Tonnes `json:"solids_t"`
	Cost   Amount `json:"cost"`
	column value.Column
}

// Column returns which way it is.
func (m ValueMove) Column() value.Column { return m.column }

// ValueCost is one cost on record.
type ValueCost struct {
	Record  string `json:"record"`
	Period  string `json:"period"`
	Product string `json:"product"`
	Kind    string `json:"kind"`
	Centre  string `json:"cost_centre"`
	Amount  Amount `json:"amount"`
	Late    bool   `json:"late"`
}

// Capacity is where fixed costs went.
type Capacity struct {
	Normal      Tonnes `json:"normal_production_t"`
	Made        Tonnes `json:"made_t"`
	Absorbed    Amount `json:"absorbed"`
	Unallocated Amount `json:"idle_capacity"`
}

// ValuePosting is a line of the journal.
type ValuePosting struct {
	Debit   string `json:"debit"`
	Credit  string `json:"credit"`
	Amount  Amount `json:"amount"`
	Solids  Tonnes `json:"solids_t"`
	Product string `json:"product"`
	Text    string `json:"text"`
}

// NewValue reports a month's value.
func NewValue(m *ledger.Month, v *valuation.Valuation, closed bool) *Value {
	r := &Value{Schema: Schema, Yard: m.Yard.Code, Period: m.Period.String(), State: "open", Currency: v.Currency.String(), Standard: v.Standard.String(),
		Sharing: v.Sharing.String(), Products: []ValueLine{}, Costs: []ValueCost{}, Journal: []ValuePosting{}, Notes: append([]string{}, v.Notes...), currency: v.Currency}
	if closed {
		r.State = "closed"
	}
	r.InProcess = r.amount(v.InProcess)
	for _, l := range v.Lines {
		r.Products = append(r.Products, r.line(l))
	}
	for _, c := range v.Costs {
		r.Costs = append(r.Costs, ValueCost{c.Record.ID(), c.Cost.Period.String(), c.Cost.Product, c.Cost.What.String(), c.Cost.Centre, r.amount(c.Amount), c.Cost.Period.Before(m.Period)})
	}
	if v.Capacity != (value.Absorption{}) {
		r.Fixed = &Capacity{Tonnes(v.Normal), Tonnes(v.Made), r.amount(v.Capacity.Absorbed), r.amount(v.Capacity.Unallocated)}
	}
	for _, j := range v.Journal {
		r.Journal = append(r.Journal, ValuePosting{j.Debit.String(), j.Credit.String(), r.amount(j.Amount), Tonnes(j.Quantity), j.Product, j.Text})
	}
	return r
}

func (r *Value) amount(m value.Money) Amount { return Amount{m, r.currency} }

// unitPlaces is how many decimals a unit cost shows beyond those of its currency.
const unitPlaces = 2

func (r *Value) line(l valuation.Line) ValueLine {
	opening, closing := l.Opening.Lot(), l.Closing.Lot()
	x := ValueLine{Product: l.Product, OpeningSolids: Tonnes(opening.Quantity), Opening: r.amount(opening.Cost), Moves: []ValueMove{},
		Solids: Tonnes(closing.Quantity), Adjusted: Tonnes(l.Adjusted), Closing: r.amount(closing.Cost), Worth: r.amount(l.Worth),
		Carrying: r.amount(l.Test.Carrying), WriteDown: r.amount(l.Test.WriteDown), Reversal: r.amount(l.Test.Reversal), Supply: l.Supply}
	for c, lot := range l.Moves {
		if lot != (value.Lot{}) {
			x.Moves = append(x.Moves, ValueMove{value.Column(c).String(), Tonnes(lot.Quantity), r.amount(lot.Cost), value.Column(c)})
		}
	}
	if avg, ok := closing.Per(ledger.UnitTonne, r.currency, r.currency.Decimals()+unitPlaces); ok {
		x.Average = &avg
	}
	if l.Price != nil {
		x.Price = &l.Price.Amount
	}
	r.sum.Opening.Money += opening.Cost
	r.sum.Closing.Money += closing.Cost
	r.sum.Worth.Money += l.Worth
	r.sum.Carrying.Money += l.Test.Carrying
	r.sum.WriteDown.Money += l.Test.WriteDown
	return x
}

// money writes an amount with thousands parted.
func (r *Value) money(m value.Money) string {
	return thousands(r.currency.Decimal(m), r.currency.Decimals())
}

// moved returns the cost of some ways in or out, into the stock positive.
func (l ValueLine) moved(columns ...value.Column) (m value.Money) {
	for _, x := range l.Moves {
		for _, c := range columns {
			if x.column == c {
				m += x.Cost.Money
			}
		}
	}
	return m
}

// WriteText writes the value for the screen. Quantities are in a unit of mass.
func (r *Value) WriteText(w io.Writer, u Unit) error {
	fmt.Fprintf(w, "Stock in money, yard %s, %s (%s), in %s; solids in %s; tested under %s, common costs by %s\n\n", r.Yard, r.Period, r.State, r.Currency, u.Mass, r.Standard, r.Sharing)
	t := NewTable("product", ">opening", ">made, bought", ">transfers", ">sold", ">other use", ">shrinkage", ">closing", ">solids", ">a tonne", ">realisable", ">write-down", ">months left")
	for _, l := range r.Products {
		average, supply, worth := "-", "-", "-"
		if l.Average != nil {
			average = l.Average.StringFixed(r.currency.Decimals() + unitPlaces)
		}
		if l.Supply != nil {
			supply = l.Supply.StringFixed(1)
		}
		if l.Price != nil {
			worth = r.money(l.Worth.Money)
		}
		t.Row(l.Product, r.money(l.Opening.Money), r.money(l.moved(value.ColumnOpened, value.ColumnMade, value.ColumnBought, value.ColumnRemade)),
			r.money(l.moved(value.ColumnTransferIn, value.ColumnTransferOut)), r.money(l.moved(value.ColumnSold, value.ColumnReturned)),
			r.money(l.moved(value.ColumnInternal, value.ColumnFree, value.ColumnFed)), r.money(l.moved(value.ColumnExplained, value.ColumnUnexplained)),
			r.money(l.Closing.Money), u.Format(l.Solids.Mass()), average, worth, r.money(l.WriteDown.Money-l.Reversal.Money), supply)
	}
	t.Total = true
	t.Row("total", r.money(r.sum.Opening.Money), "", "", "", "", "", r.money(r.sum.Closing.Money), "", "", "", r.money(r.sum.WriteDown.Money), "")
	if _, err := t.WriteTo(w); err != nil {
		return err
	}
	if f := r.Fixed; f != nil {
		fmt.Fprintf(w, "\nFixed costs: %s lie on %s made, %s is the cost of idle capacity (normal production %s).\n", r.money(f.Absorbed.Money), u.Format(f.Made.Mass()),
			r.money(f.Unallocated.Money), u.Format(f.Normal.Mass()))
	}
	for _, n := range r.Notes {
		fmt.Fprintf(w, "Note: %s.\n", n)
	}
	_, err := fmt.Fprintln(w, "The write-down is the outcome of a test. Nothing of it is posted: that is for the accounts and who answers for them.")
	return err
}
