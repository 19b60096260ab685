package value_test

import (
	"math/big"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/value"
	"repose/ledger"
)

// TestMonthKeepsMassAndMoney draws months that could be, and holds them to what any month must be.
func TestMonthKeepsMassAndMoney(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMonth(t)
		v, err := m.Value()
		if err != nil {
			t.Fatalf("%+v: %v", m, err)
		}
		before, after := m.InProcess, v.InProcess
		for _, l := range v.Lines {
			net, err := l.Moves.Net()
			if err != nil {
				t.Fatal(err)
			}
			foot, err := l.Opening.Lot().Add(net)
			if err != nil {
				t.Fatal(err)
			}
			closing := l.Closing.Lot()
			if diff := cmp.Diff(closing, foot); diff != "" {
				t.Fatalf("%s does not foot (-closing +sum):\n%s", l.Product, diff)
			}
			if closing.Quantity < 0 || closing.Cost < 0 || closing.Quantity == 0 && closing.Cost != 0 {
				t.Fatalf("%s closes at %+v", l.Product, closing)
			}
			before += l.Opening.Lot().Cost
			after += closing.Cost
			for c, moved := range l.Moves {
				switch {
				case moved.Quantity < 0 && moved.Cost > 0 || moved.Quantity > 0 && moved.Cost < 0:
					t.Fatalf("%s, %s: %+v", l.Product, value.Column(c), moved)
				case outside(value.Column(c)) && moved.Cost > 0:
					before += moved.Cost
				case outside(value.Column(c)):
					after -= moved.Cost
				}
			}
		}
		if before != after {
			t.Fatalf("cost in %d, cost out and stock %d", before, after)
		}
		journalTies(t, v, m.InProcess)
	})
}

// outside reports whether a column's cost comes from outside the yard's stock and process, or goes there.
func outside(c value.Column) bool {
	switch c {
	case value.ColumnRemade, value.ColumnFed, value.ColumnTransferIn, value.ColumnTransferOut:
		return false
	}
	return true
}

// journalTies checks that the journal alone leads from every opening cost to the closing one.
func journalTies(t *rapid.T, v value.Valued, inProcess value.Money) {
	moved := map[value.Account]value.Money{}
	for _, l := range v.Journal(0) {
		if l.Amount <= 0 || l.Debit == l.Credit || l.Debit.Kind == 0 || l.Credit.Kind == 0 {
			t.Fatalf("journal line %+v", l)
		}
		moved[l.Debit] += l.Amount
		moved[l.Credit] -= l.Amount
	}
	for _, l := range v.Lines {
		account := value.Account{Kind: value.AccountInventory, Product: l.Product}
		if want := l.Closing.Lot().Cost - l.Opening.Lot().Cost; moved[account] != want {
			t.Fatalf("%s moves by %d, want %d", account, moved[account], want)
		}
	}
	if got := moved[value.Account{Kind: value.AccountInProcess}]; got != v.InProcess-inProcess {
		t.Fatalf("stone in process moves by %d, want %d", got, v.InProcess-inProcess)
	}
}

// TestMonthHasNoOrder shuffles flows and transfers, and cuts transfers in two.
func TestMonthHasNoOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMonth(t)
		want, err := m.Value()
		if err != nil {
			t.Fatal(err)
		}
		other := m
		if len(m.Transfers) > 0 && m.Transfers[0].Quantity > 1 {
			cut := m.Transfers[0]
			cut.Quantity /= 2
			other.Transfers = append([]value.Transfer{cut}, m.Transfers...)
			other.Transfers[1].Quantity -= cut.Quantity
		}
		other.Flows = rapid.Permutation(other.Flows).Draw(t, "flows")
		if len(other.Transfers) > 0 {
			other.Transfers = rapid.Permutation(other.Transfers).Draw(t, "transfers")
		}
		got, err := other.Value()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got, stocks); diff != "" {
			t.Fatalf("in another order (-want +got):\n%s", diff)
		}
	})
}

// TestMonthSolvesTheEquations holds the month against the solution of its linear equations in fractions. The same equations
// with the roundings of each product on the right say how far it may be off.
func TestMonthSolvesTheEquations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMonth(t)
		v, err := m.Value()
		if err != nil {
			t.Fatal(err)
		}
		exact, room := costsOf(m, v)
		for i, l := range v.Lines {
			got, err := l.Average()
			if err != nil {
				t.Fatal(err)
			}
			off := new(big.Rat).Sub(new(big.Rat).SetInt64(int64(got.Cost)), exact[i])
			if off.Abs(off).Cmp(room[i]) > 0 {
				t.Fatalf("%s costs %d minor units, want %s give or take %s", l.Product, got.Cost, exact[i].FloatString(3), room[i].FloatString(3))
			}
		}
	})
}

// costsOf solves x = own + T x, where x is each product's cost before anything goes out at the average and T the parts of
// it that go to each product, by transfer or by way of the plant; and the same for what rounding can do.
func costsOf(m value.Month, v value.Valued) (exact, room []*big.Rat) {
	const roundings = 20 // at most so many half minor units in what one product gets: transfers, its part of what was fed
	n := len(v.Lines)
	rows := make([][]*big.Rat, n) // of I - T, then own, then roundings
	at := map[string]int{}
	var made ledger.Mass
	quantity := make([]ledger.Mass, n)
	for i, l := range v.Lines {
		at[l.Product] = i
		made += max(l.Moves[value.ColumnMade].Quantity, 0)
		quantity[i] = l.Opening.Lot().Quantity
		for c := range value.ColumnExpected + 1 {
			quantity[i] += l.Moves[c].Quantity
		}
	}
	fraction := func(part, whole ledger.Mass) *big.Rat { return big.NewRat(int64(part), int64(max(whole, 1))) }
	for i, l := range v.Lines {
		rows[i] = make([]*big.Rat, n+2)
		own := l.Opening.Lot().Cost
		for c := range value.ColumnExpected + 1 {
			if c != value.ColumnRemade && c != value.ColumnTransferIn {
				own += l.Moves[c].Cost
			}
		}
		ofMade := fraction(max(l.Moves[value.ColumnMade].Quantity, 0), made)
		for j, from := range v.Lines {
			rows[i][j] = fraction(from.Moves[value.ColumnFed].Quantity, quantity[j])
			rows[i][j].Mul(rows[i][j], ofMade) // negative, as what was fed is
			if i == j {
				rows[i][j].Add(rows[i][j], big.NewRat(1, 1))
			}
		}
		rows[i][n] = new(big.Rat).SetInt64(int64(m.InProcess))
		rows[i][n].Mul(rows[i][n], ofMade).Add(rows[i][n], new(big.Rat).SetInt64(int64(own)))
		rows[i][n+1] = big.NewRat(roundings, 2)
	}
	for _, x := range v.Transfers {
		i, j := at[x.To], at[x.From]
		rows[i][j].Sub(rows[i][j], fraction(x.Quantity, quantity[j]))
	}
	solve(rows)
	for _, row := range rows {
		exact, room = append(exact, row[n]), append(room, row[n+1])
	}
	return exact, room
}

// solve turns the square part of rows into the unit matrix. Its diagonal is the largest of each column, so no row need be
// exchanged.
func solve(rows [][]*big.Rat) {
	for k := range rows {
		inverse := new(big.Rat).Inv(rows[k][k])
		for c := range rows[k] {
			rows[k][c].Mul(rows[k][c], inverse)
		}
		for i := range rows {
			if i == k {
				continue
			}
			factor := new(big.Rat).Set(rows[i][k])
			for c := range rows[i] {
				rows[i][c].Sub(rows[i][c], new(big.Rat).Mul(factor, rows[k][c]))
			}
		}
	}
}
