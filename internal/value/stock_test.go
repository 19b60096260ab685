package value_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/value"
	"repose/ledger"
)

func TestPortionsAreRoundedHalfEven(t *testing.T) {
	for _, c := range []struct {
		cost     value.Money
		has, out ledger.Mass
		want     value.Money
	}{
		{1, 2, 1, 0}, {3, 2, 1, 2}, {5, 2, 1, 2}, {7, 2, 1, 4}, // 0.5, 1.5, 2.5, 3.5
		{10, 3, 1, 3}, {10, 3, 2, 7},
		{10, 3, 3, 10}, // the last gram takes all
		{value.MaxMoney, ledger.MaxMass, ledger.MaxMass - 1, value.MaxMoney},
	} {
		s := stock(t, value.Lot{Quantity: c.has, Cost: c.cost})
		after, out, err := s.Issue(c.out)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(value.Lot{Quantity: c.out, Cost: c.want}, out); diff != "" {
			t.Errorf("%d of %d (-want +got):\n%s", c.out, c.has, diff)
		}
		if diff := cmp.Diff(value.Lot{Quantity: c.has - c.out, Cost: c.cost - c.want}, after.Lot()); diff != "" {
			t.Errorf("%d of %d, left (-want +got):\n%s", c.out, c.has, diff)
		}
	}
}

func TestReturnsComeAtTheAverage(t *testing.T) {
	after, back, err := stock(t, lot(t, 3, "10")).Return(6 * ledger.Tonne)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(lot(t, 6, "20"), back); diff != "" {
		t.Errorf("back (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(lot(t, 9, "30"), after.Lot()); diff != "" {
		t.Errorf("after (-want +got):\n%s", diff)
	}
}

func TestReceiptsChangeTheAverage(t *testing.T) {
	for _, c := range []struct {
		name     string
		in, want value.Lot
	}{
		{"quantity with cost", lot(t, 5, "100"), lot(t, 15, "200")},
		{"quantity without cost", lot(t, 10, "0"), lot(t, 20, "100")},
		{"cost without quantity", lot(t, 0, "25"), lot(t, 10, "125")},
		{"credit", lot(t, 0, "-25"), lot(t, 10, "75")},
		{"all goes back with its cost", lot(t, -10, "-100"), value.Lot{}},
	} {
		got, err := stock(t, lot(t, 10, "100")).Receive(c.in)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, got.Lot()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

func TestStockRefuses(t *testing.T) {
	s := stock(t, lot(t, 10, "100"))
	for _, c := range []struct {
		name string
		do   func() (value.Stock, error)
		want error
		says string
	}{
		{"issue of more", func() (value.Stock, error) { a, _, err := s.Issue(10*ledger.Tonne + 1); return a, err }, value.ErrShort, "10.000001 t of 10.000 t"},
		{"move out of more", func() (value.Stock, error) { a, _, err := s.Move(-11 * ledger.Tonne); return a, err }, value.ErrShort, "11.000 t of 10.000 t"},
		{"loss of more", func() (value.Stock, error) { return s.Receive(lot(t, -11, "0")) }, value.ErrShort, "11.000 t of 10.000 t"},
		{"normal loss of all", func() (value.Stock, error) { return s.Receive(lot(t, -10, "0")) }, value.ErrBareCost, "10000 minor units"},
		{"credit of more", func() (value.Stock, error) { return s.Receive(lot(t, 0, "-100.01")) }, value.ErrCredit, "-1 minor units"},
		{"too much stone", func() (value.Stock, error) { return s.Receive(value.Lot{Quantity: ledger.MaxMass}) }, ledger.ErrMassRange, ""},
		{"too much money", func() (value.Stock, error) { return s.Receive(value.Lot{Cost: value.MaxMoney}) }, value.ErrMoneyRange, ""},
		{"return that costs too much", func() (value.Stock, error) { a, _, err := s.Return(ledger.MaxMass - 10*ledger.Tonne); return a, err }, value.ErrMoneyRange, ""},
		{"negative issue", func() (value.Stock, error) { a, _, err := s.Issue(-1); return a, err }, nil, "want no negative"},
		{"negative return", func() (value.Stock, error) { a, _, err := s.Return(-1); return a, err }, nil, "want no negative"},
	} {
		after, err := c.do()
		if err == nil || c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %v with %q", c.name, err, c.want, c.says)
		}
		if diff := cmp.Diff(s.Lot(), after.Lot()); diff != "" {
			t.Errorf("%s changed the stock (-want +got):\n%s", c.name, diff)
		}
	}
	if _, _, err := (value.Stock{}).Return(1); !errors.Is(err, value.ErrNoAverage) {
		t.Errorf("return to an empty stock: %v", err)
	}
	if _, _, err := stock(t, value.Lot{Quantity: 1, Cost: value.MaxMoney}).Return(2); !errors.Is(err, value.ErrMoneyRange) {
		t.Errorf("return of twice the most: %v", err)
	}
	if _, err := value.NewStock(lot(t, 0, "1")); !errors.Is(err, value.ErrBareCost) {
		t.Errorf("stock of cost alone: %v", err)
	}
}

func TestMovementsAreHeldToTheirColumn(t *testing.T) {
	for _, m := range []value.Movement{
		{Column: value.ColumnSold, Lot: lot(t, -1, "-8")},
		{Column: value.ColumnExpected, Lot: lot(t, -1, "-8")},
		{Column: value.ColumnRemade, Lot: lot(t, 1, "8")},
		{Column: value.Columns, Lot: lot(t, 1, "8")},
	} {
		if steps, err := value.Perpetual(stock(t, lot(t, 10, "100")), []value.Movement{m}); err == nil {
			t.Errorf("%+v makes %+v", m, steps)
		}
		if m.Column == value.Columns {
			continue
		}
		var moves value.Moves
		moves[m.Column] = m.Lot
		if got, _, err := value.Periodic(stock(t, lot(t, 10, "100")), moves); err == nil || !strings.Contains(err.Error(), m.Column.String()) {
			t.Errorf("a month of %+v makes %+v, %v", m, got, err)
		}
	}
}

// What comes back can go out again in the same month, whatever the order of the columns.
func TestPeriodTakesInBeforeItLetsOut(t *testing.T) {
	var moves value.Moves
	moves[value.ColumnSold].Quantity = -12 * ledger.Tonne
	moves[value.ColumnUnexplained].Quantity = 2 * ledger.Tonne // found
	got, closing, err := value.Periodic(stock(t, lot(t, 10, "100")), moves)
	if err != nil {
		t.Fatal(err)
	}
	moves[value.ColumnSold], moves[value.ColumnUnexplained] = lot(t, -12, "-120"), lot(t, 2, "20")
	if diff := cmp.Diff(moves, got); diff != "" {
		t.Errorf("moves (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(value.Lot{}, closing.Lot()); diff != "" {
		t.Errorf("closing (-want +got):\n%s", diff)
	}
}
