package valuation_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/value"
	"repose/ledger"
)

// TestMonthsTie draws three months that go on from each other, and holds each to what any month must be.
func TestMonthsTie(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := drawYard(t)
		for _, p := range []string{"2026-10", "2026-11", "2026-12"} {
			y.drawMonth(p)
			m := y.close(p)
			if diff := cmp.Diff(m.Closing(), y.before, sealable); diff != "" {
				t.Fatalf("%s read back from its seal (-closed +read):\n%s", p, diff)
			}
			m.foots(t)
			m.tiesToThePiles(t)
			m.losesNoMoney(t)
			if !y.change.Opened.Before(m.book.End()) || y.change.Opened.Before(m.book.Start()) {
				m.tiesToTheFlows(t)
			}
		}
	})
}

// foots holds every product to opening and moves, and begins with what the month before left.
func (m *month) foots(t *rapid.T) {
	opening := map[string]value.Lot{}
	if m.in.Before != nil {
		for _, h := range m.in.Before.Products {
			opening[h.Product] = h.Stock.Lot()
		}
	}
	for i, l := range m.Lines {
		if got := l.Opening.Lot(); got != opening[l.Product] {
			t.Fatalf("%s opens with %+v, want %+v", l.Product, got, opening[l.Product])
		}
		delete(opening, l.Product)
		net, err := l.Moves.Net()
		if err != nil {
			t.Fatal(err)
		}
		closing := l.Closing.Lot()
		if sum, err := l.Opening.Lot().Add(net); err != nil || sum != closing {
			t.Fatalf("%s: opening and moves are %+v (%v), closing %+v", l.Product, sum, err, closing)
		}
		if down := m.Closing().Products[i].WrittenDown; down < 0 || down > closing.Cost || l.Price != nil && down != closing.Cost-l.Test.Carrying {
			t.Fatalf("%s: %d written down of %+v, with a test of %+v", l.Product, down, closing, l.Test)
		}
	}
	if len(opening) > 0 {
		t.Fatalf("gone without a line: %+v", opening)
	}
}

// ownBalances sums the balances of the yard's own piles by the product that each holds as the month ends.
func (m *month) ownBalances() map[string]ledger.Mass {
	sums := map[string]ledger.Mass{}
	for a, amount := range m.in.Closing {
		if a.Kind != ledger.KindPile || amount.Solids == 0 {
			continue
		}
		if p := m.reg.Pile(ledger.PileID{Yard: a.Yard, Code: a.Name}, m.book.End().Add(-1)); p.Owner == "" {
			sums[p.Product] += amount.Solids
		}
	}
	return sums
}

func (m *month) tiesToThePiles(t *rapid.T) {
	got := map[string]ledger.Mass{}
	for _, l := range m.Lines {
		if q := l.Closing.Lot().Quantity; q != 0 {
			got[l.Product] = q
		}
	}
	if diff := cmp.Diff(m.ownBalances(), got); diff != "" {
		t.Fatalf("closing (-piles +valued):\n%s", diff)
	}
}

// asInTonnes are the ways that are the same in tonnes and in money. Sales and returns are not: they hold what went to other
// people's piles too.
var asInTonnes = map[ledger.Column]value.Column{ledger.ColumnOpening: value.ColumnOpened, ledger.ColumnProduction: value.ColumnMade,
	ledger.ColumnInternal: value.ColumnInternal, ledger.ColumnFree: value.ColumnFree, ledger.ColumnFeed: value.ColumnFed,
	ledger.ColumnExpected: value.ColumnExpected, ledger.ColumnExplained: value.ColumnExplained,
	ledger.ColumnShrinkage: value.ColumnUnexplained, ledger.ColumnSuspense: value.ColumnUnexplained}

// tiesToTheFlows holds the quantities of every way to the roll-forward in tonnes, in a month in which no pile changes.
func (m *month) tiesToTheFlows(t *rapid.T) {
	want, got := map[string]ledger.Mass{}, map[string]ledger.Mass{}
	for id, f := range m.book.Flows {
		p := m.reg.Pile(id, m.book.Start())
		for from, to := range asInTonnes {
			if q := f[from].Solids; p.Owner == "" && q != 0 {
				want[p.Product+" "+to.String()] += q
			}
		}
	}
	for _, l := range m.Lines {
		for _, c := range asInTonnes {
			got[l.Product+" "+c.String()] = l.Moves[c].Quantity
		}
	}
	for way, q := range got {
		if want[way] != q {
			t.Fatalf("%s: %v valued, %v in tonnes", way, q, want[way])
		}
		delete(want, way)
	}
	if len(want) > 0 {
		t.Fatalf("in tonnes and in no figure of money: %v", want)
	}
}

// losesNoMoney holds what every cost on record went to against the journal, and all that came in to what is left and what is
// expense, to the cent.
func (m *month) losesNoMoney(t *rapid.T) {
	spent := map[value.AccountKind]value.Money{}
	for _, c := range m.Costs {
		switch c.Cost.What {
		case ledger.CostOpening:
			spent[value.AccountOpening] += c.Amount
		case ledger.CostPurchase:
			spent[value.AccountPurchases] += c.Amount
		default:
			spent[value.AccountProductionCost] += c.Amount
		}
	}
	debits, expense := map[value.AccountKind]value.Money{}, value.Money(0)
	for _, j := range m.Journal {
		debits[j.Debit.Kind] += j.Amount
		debits[j.Credit.Kind] -= j.Amount
	}
	in, out := value.Money(0), m.InProcess
	for kind, amount := range debits {
		switch kind {
		case value.AccountOpening, value.AccountPurchases, value.AccountProductionCost:
			if spent[kind] != -amount {
				t.Fatalf("%v: %d on record, %d in the journal", kind, spent[kind], -amount)
			}
		case value.AccountInventory, value.AccountInProcess:
		default:
			expense += amount
		}
	}
	for _, amount := range spent {
		in += amount
	}
	if m.in.Before != nil {
		in += m.in.Before.InProcess
	}
	for _, l := range m.Lines {
		in += l.Opening.Lot().Cost
		out += l.Closing.Lot().Cost
	}
	if in != out+expense {
		t.Fatalf("%d came in, %d are left and %d expense", in, out, expense)
	}
}

// said is all that a month says of money.
func (m *month) said() []string {
	all := slices.Concat(m.figures(), m.postings(), m.Closing().SealLines(), []string{fmt.Sprint(m.Capacity, m.Normal, m.Made, m.Uncosted)})
	for _, l := range m.Lines {
		all = append(all, m.tested(l.Product))
	}
	return all
}

// TestMonthsHaveNoOrder derives every month twice, and shuffles its costs and prices.
func TestMonthsHaveNoOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := drawYard(t)
		for _, p := range []string{"2026-10", "2026-11"} {
			y.drawMonth(p)
			m := y.value(p)
			again := y.value(p)
			if diff := cmp.Diff(append(m.said(), m.Notes...), append(again.said(), again.Notes...)); diff != "" {
				t.Fatalf("%s derived again (-want +got):\n%s", p, diff)
			}
			other := m
			other.in.Costs = rapid.Permutation(m.in.Costs).Draw(t, "costs")
			other.in.Prices = rapid.Permutation(m.in.Prices).Draw(t, "prices")
			var err error
			if other.Valuation, err = m.tally().Value(other.in); err != nil {
				t.Fatalf("%s in another order: %v", p, err)
			}
			if diff := cmp.Diff(m.said(), other.said()); diff != "" {
				t.Fatalf("%s in another order (-want +got):\n%s", p, diff)
			}
			y.close(p)
		}
	})
}
