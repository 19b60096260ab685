package value_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/value"
	"repose/ledger"
)

var stocks = cmp.AllowUnexported(value.Stock{})

func transfer(from, to string, tonnes ledger.Mass) value.Transfer {
	return value.Transfer{From: from, To: to, Lot: value.Lot{Quantity: tonnes * ledger.Tonne}}
}

// coarseAndFine is two products that pass stone to each other, while some of the coarse one goes back to the plant.
//
// With a and b for their averages and F = 20 a for what was fed, of which the 100 and 50 t that were made bear two and one
// thirds:
//
//	210 a = 1,000 + 1,200 + 2 F/3 + 10 b
//	100 b = 300 + F/3 + 50 a
//
// so 191 a = 2,230: a is 11.675393 and b 9.616056. (Our own figures.)
func coarseAndFine(t *testing.T) value.Month {
	coarse := value.Flow{Product: "coarse", Opening: stock(t, lot(t, 100, "1000"))}
	coarse.Moves[value.ColumnMade] = lot(t, 100, "1200")
	coarse.Moves[value.ColumnFed].Quantity = -20 * ledger.Tonne
	coarse.Moves[value.ColumnSold].Quantity = -80 * ledger.Tonne
	fine := value.Flow{Product: "fine"}
	fine.Moves[value.ColumnMade] = lot(t, 50, "300")
	return value.Month{Flows: []value.Flow{coarse, fine}, Transfers: []value.Transfer{transfer("coarse", "fine", 50), transfer("fine", "coarse", 10)}}
}

func TestMonthInACircle(t *testing.T) {
	m := coarseAndFine(t)
	m.Transfers[0], m.Transfers[1] = m.Transfers[1], m.Transfers[0]
	m.Flows[0], m.Flows[1] = m.Flows[1], m.Flows[0]
	got, err := m.Value()
	if err != nil {
		t.Fatal(err)
	}
	if m.Transfers[0] != transfer("fine", "coarse", 10) || m.Flows[0].Product != "fine" {
		t.Errorf("the month that was given is changed: %+v", m)
	}
	var coarse, fine value.Moves
	coarse[value.ColumnMade] = lot(t, 100, "1200")
	coarse[value.ColumnRemade] = lot(t, 0, "155.67")
	coarse[value.ColumnTransferIn] = lot(t, 10, "96.16")
	coarse[value.ColumnSold] = lot(t, -80, "-934.03")
	coarse[value.ColumnTransferOut] = lot(t, -50, "-583.77")
	coarse[value.ColumnFed] = lot(t, -20, "-233.51")
	fine[value.ColumnMade] = lot(t, 50, "300")
	fine[value.ColumnRemade] = lot(t, 0, "77.84")
	fine[value.ColumnTransferIn] = lot(t, 50, "583.77")
	fine[value.ColumnTransferOut] = lot(t, -10, "-96.16")
	want := value.Valued{
		Lines: []value.Line{
			{Product: "coarse", Opening: stock(t, lot(t, 100, "1000")), Moves: coarse, Closing: stock(t, lot(t, 60, "700.52"))},
			{Product: "fine", Moves: fine, Closing: stock(t, lot(t, 90, "865.45"))},
		},
		Transfers: []value.Transfer{{From: "coarse", To: "fine", Lot: lot(t, 50, "583.77")}, {From: "fine", To: "coarse", Lot: lot(t, 10, "96.16")}},
	}
	if diff := cmp.Diff(want, got, stocks); diff != "" {
		t.Errorf("month (-want +got):\n%s", diff)
	}
	for i, average := range []string{"11.6754", "9.6161"} {
		l, err := got.Lines[i].Average()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(average, per(t, l, 4)); diff != "" {
			t.Errorf("average of %s (-want +got):\n%s", got.Lines[i].Product, diff)
		}
	}
}

// What was fed in a month without making waits, and lies on what the next month makes.
func TestFedStoneWaitsInProcess(t *testing.T) {
	flow := value.Flow{Product: "coarse", Opening: stock(t, lot(t, 100, "1000"))}
	flow.Moves[value.ColumnFed].Quantity = -25 * ledger.Tonne
	first, err := value.Month{Flows: []value.Flow{flow}, InProcess: 7_00}.Value()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(value.Money(257_00), first.InProcess); diff != "" {
		t.Errorf("in process (-want +got):\n%s", diff)
	}
	next := value.Flow{Product: "coarse", Opening: first.Lines[0].Closing}
	next.Moves[value.ColumnMade] = lot(t, 25, "100")
	second, err := value.Month{Flows: []value.Flow{next}, InProcess: first.InProcess}.Value()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(lot(t, 100, "1107"), second.Lines[0].Closing.Lot()); diff != "" {
		t.Errorf("closing (-want +got):\n%s", diff)
	}
	if second.InProcess != 0 {
		t.Errorf("%d stays in process, though stone was made", second.InProcess)
	}
}

// A correction may make less than nothing of a product. It bears nothing of what was fed, and its cost lies on fewer tonnes.
func TestNegativeProductionBearsNothingFed(t *testing.T) {
	m := coarseAndFine(t)
	m.Transfers = nil
	m.Flows[1].Opening = stock(t, lot(t, 50, "300"))
	m.Flows[1].Moves[value.ColumnMade] = lot(t, -10, "0")
	got, err := m.Value()
	if err != nil {
		t.Fatal(err)
	}
	// 200 a = 2,200 + 20 a
	if diff := cmp.Diff(lot(t, 0, "244.44"), got.Lines[0].Moves[value.ColumnRemade]); diff != "" {
		t.Errorf("made again (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(lot(t, 40, "300"), got.Lines[1].Closing.Lot()); diff != "" {
		t.Errorf("fine (-want +got):\n%s", diff)
	}
}

func TestMonthRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*value.Month)
		want   error
		says   string
	}{
		{"product twice", func(m *value.Month) { m.Flows[1].Product = "coarse" }, nil, `"coarse" is there twice`},
		{"derived column", func(m *value.Month) { m.Flows[0].Moves[value.ColumnTransferIn].Quantity = 1 }, nil, "it is derived"},
		{"cost of what was made again", func(m *value.Month) { m.Flows[0].Moves[value.ColumnRemade].Cost = 1 }, nil, "it is derived"},
		{"fed into the stock", func(m *value.Month) { m.Flows[0].Moves[value.ColumnFed].Quantity = 1 }, nil, "want it out of the stock"},
		{"unknown product", func(m *value.Month) { m.Transfers[0].To = "dust" }, nil, `to "dust"`},
		{"transfer to itself", func(m *value.Month) { m.Transfers[0].To = "coarse" }, nil, `from "coarse" to "coarse"`},
		{"transfer with cost", func(m *value.Month) { m.Transfers[0].Cost = 1 }, nil, "want a quantity without cost"},
		{"negative transfer", func(m *value.Month) { m.Transfers[0].Quantity = -1 }, nil, "want a quantity"},
		{"negative in process", func(m *value.Month) { m.InProcess = -1 }, nil, "in process"},
		{"more sold than there is", func(m *value.Month) { m.Flows[1].Moves[value.ColumnSold].Quantity = -91 * ledger.Tonne }, value.ErrShort, `product "fine"`},
		{"all lost", func(m *value.Month) {
			m.Transfers, m.Flows[1].Moves[value.ColumnExpected].Quantity = nil, -50*ledger.Tonne
		}, value.ErrBareCost, `product "fine"`},
		{"more fed than was made", func(m *value.Month) {
			m.Flows, m.Transfers = m.Flows[:1], nil
			m.Flows[0].Opening = value.Stock{}
			m.Flows[0].Moves[value.ColumnReturned].Quantity = 100 * ledger.Tonne
			m.Flows[0].Moves[value.ColumnFed].Quantity = -110 * ledger.Tonne
		}, value.ErrCircle, ""},
		{"a circle without end", func(m *value.Month) {
			m.Flows[1].Moves[value.ColumnMade], m.Flows[0].Opening = value.Lot{}, value.Stock{}
			m.Flows[0].Moves = value.Moves{value.ColumnMade: value.Lot{Quantity: 1, Cost: 1e9}}
			m.Transfers[0].Quantity, m.Transfers[1].Quantity = 1e11, 1e11
		}, value.ErrCircle, ""},
	} {
		m := coarseAndFine(t)
		c.change(&m)
		got, err := m.Value()
		if err == nil || c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %+v, %v, want %v with %q", c.name, got, err, c.want, c.says)
		}
	}
}

// With 5 t of the fine product lost, 95 b = 300 + F/3 + 50 a: a is 11.701930 and b 10.137993. The loss itself has no line.
func TestJournalOfAMonth(t *testing.T) {
	m := coarseAndFine(t)
	m.Flows[0].Moves[value.ColumnReturned].Quantity = 2 * ledger.Tonne
	m.Flows[1].Moves[value.ColumnExpected].Quantity = -5 * ledger.Tonne
	m.Flows[1].Moves[value.ColumnUnexplained].Quantity = 3 * ledger.Tonne // found
	m.Flows[0].Moves[value.ColumnUnexplained].Quantity = -3 * ledger.Tonne
	v, err := m.Value()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, l := range v.Journal(60_00) {
		got = append(got, strings.Join([]string{l.Debit.String(), l.Credit.String(), usd(t).Format(l.Amount), l.Quantity.Tonnes(), l.Product, l.Text}, " | "))
	}
	want := []string{
		"inventory coarse | production cost | 1200.00 | 100.000 | coarse | made",
		"inventory coarse | stone in process | 156.03 | 0.000 | coarse | made again",
		"inventory coarse | cost of sales | 23.40 | 2.000 | coarse | returned",
		"cost of sales | inventory coarse | 936.15 | 80.000 | coarse | sold",
		"stone in process | inventory coarse | 234.04 | 20.000 | coarse | fed",
		"shrinkage, unexplained | inventory coarse | 35.11 | 3.000 | coarse | unexplained shrinkage",
		"inventory fine | production cost | 300.00 | 50.000 | fine | made",
		"inventory fine | stone in process | 78.01 | 0.000 | fine | made again",
		"inventory fine | shrinkage, unexplained | 30.41 | 3.000 | fine | unexplained shrinkage",
		"inventory fine | inventory coarse | 585.10 | 50.000 | fine | transfer from coarse",
		"inventory coarse | inventory fine | 101.38 | 10.000 | coarse | transfer from fine",
		"idle capacity | production cost | 60.00 | 0.000 |  | fixed overhead not absorbed",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("journal (-want +got):\n%s", diff)
	}
}
