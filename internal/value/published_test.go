package value_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/value"
	"repose/ledger"
)

// The checks in this file hold the package to figures that others published, or that were recomputed by hand from published
// inputs with exact fractions. V1 to V3 are textbook exercises in moving averages, read on pages of solved exercises; their
// units are entered as tonnes and dollars. V6 and V8 are our own arithmetic for IAS 2.16 and IAS 2.13.

func usd(t *testing.T) value.Currency {
	t.Helper()
	c, err := value.ParseCurrency("USD")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func lot(t *testing.T, tonnes ledger.Mass, dollars string) value.Lot {
	t.Helper()
	cost, err := usd(t).Parse(dollars)
	if err != nil {
		t.Fatal(err)
	}
	return value.Lot{Quantity: tonnes * ledger.Tonne, Cost: cost}
}

func stock(t *testing.T, l value.Lot) value.Stock {
	t.Helper()
	s, err := value.NewStock(l)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func per(t *testing.T, l value.Lot, places int32) string {
	t.Helper()
	d, ok := l.Per(ledger.UnitTonne, usd(t), places)
	if !ok {
		t.Fatalf("no cost per tonne of %+v", l)
	}
	return d.StringFixed(places)
}

func bought(l value.Lot) value.Movement { return value.Movement{Column: value.ColumnBought, Lot: l} }

func sold(tonnes ledger.Mass) value.Movement {
	return value.Movement{Column: value.ColumnSold, Lot: value.Lot{Quantity: -tonnes * ledger.Tonne}}
}

// What an exercise says of each movement: what it cost, and the stock and its average after it.
type after struct{ Cost, Stock, Average string }

func TestMovingAverageExercises(t *testing.T) {
	for _, c := range []struct {
		name    string
		opening value.Lot
		moves   []value.Movement
		places  int32
		want    []after
	}{
		{"V1", lot(t, 4000, "160000"), []value.Movement{sold(2500), bought(lot(t, 4500, "198000")), sold(5000), bought(lot(t, 2000, "92000"))}, 2,
			[]after{{"-100000.00", "60000.00", "40.00"}, {"198000.00", "258000.00", "43.00"}, {"-215000.00", "43000.00", "43.00"}, {"92000.00", "135000.00", "45.00"}}},
		{"V2", lot(t, 30_000, "900000"), []value.Movement{sold(24_000), bought(lot(t, 54_000, "1674000")), sold(45_000), bought(lot(t, 21_000, "674100"))}, 2,
			[]after{{"-720000.00", "180000.00", "30.00"}, {"1674000.00", "1854000.00", "30.90"}, {"-1390500.00", "463500.00", "30.90"}, {"674100.00", "1137600.00", "31.60"}}},
		// The page carries a rounded average on: 7,400 at 9.921 are 73,415.40. Exactly it is 73,418.0258.
		{"V3", lot(t, 9200, "89332"), []value.Movement{bought(lot(t, 6300, "64449")), sold(7400), bought(lot(t, 8200, "87658")), sold(11_100)}, 6,
			[]after{{"64449.00", "153781.00", "9.921355"}, {"-73418.03", "80362.97", "9.921354"}, {"87658.00", "168020.97", "10.308035"}, {"-114419.19", "53601.78", "10.308035"}}},
	} {
		steps, err := value.Perpetual(stock(t, c.opening), c.moves)
		if err != nil {
			t.Fatal(err)
		}
		var got []after
		for _, s := range steps {
			got = append(got, after{usd(t).Format(s.Moved.Cost), usd(t).Format(s.After.Lot().Cost), per(t, s.After.Lot(), c.places)})
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// The second line of V1: the same figures at one average for the period, 450,000 / 10,500.
func TestPeriodicAverageExercise(t *testing.T) {
	var moves value.Moves
	moves[value.ColumnBought] = lot(t, 6500, "290000")
	moves[value.ColumnSold].Quantity = -7500 * ledger.Tonne
	opening := stock(t, lot(t, 4000, "160000"))
	got, closing, err := value.Periodic(opening, moves)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(lot(t, -7500, "-321428.57"), got[value.ColumnSold]); diff != "" {
		t.Errorf("sold (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(lot(t, 3000, "128571.43"), closing.Lot()); diff != "" {
		t.Errorf("closing (-want +got):\n%s", diff)
	}
	average, err := value.Line{Opening: opening, Moves: got}.Average()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff("42.857", per(t, average, 3)); diff != "" {
		t.Errorf("average (-want +got):\n%s", diff)
	}
}

// V6: 894 t of 41,880 t at 8.00 are lost. Abnormal they cost 7,152; normal they make the rest dearer.
func TestTwoTreatmentsOfALoss(t *testing.T) {
	for _, c := range []struct {
		column        value.Column
		moved, closes value.Lot
		average       string
	}{
		{value.ColumnUnexplained, lot(t, -894, "-7152"), lot(t, 40_986, "327888"), "8.000000"},
		{value.ColumnExplained, lot(t, -894, "-7152"), lot(t, 40_986, "327888"), "8.000000"},
		{value.ColumnExpected, lot(t, -894, "0"), lot(t, 40_986, "335040"), "8.174499"},
	} {
		steps, err := value.Perpetual(stock(t, lot(t, 41_880, "335040")),
			[]value.Movement{{Column: c.column, Lot: value.Lot{Quantity: -894 * ledger.Tonne}}})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.moved, steps[0].Moved.Lot); diff != "" {
			t.Errorf("%s, moved (-want +got):\n%s", c.column, diff)
		}
		if diff := cmp.Diff(c.closes, steps[0].After.Lot()); diff != "" {
			t.Errorf("%s, stock (-want +got):\n%s", c.column, diff)
		}
		if diff := cmp.Diff(c.average, per(t, steps[0].After.Lot(), 6)); diff != "" {
			t.Errorf("%s, average (-want +got):\n%s", c.column, diff)
		}
	}
}

// V8: fixed overhead of 300,000, normal output 75,000 t.
func TestNormalCapacity(t *testing.T) {
	for _, c := range []struct {
		actual             ledger.Mass
		absorbed, idle, at string
	}{
		{60_000, "240000.00", "60000.00", "4.0000"},
		{75_000, "300000.00", "0.00", "4.0000"},
		{90_000, "300000.00", "0.00", "3.3333"},
		{0, "0.00", "300000.00", "4.0000"},
	} {
		got, err := value.Overhead{Fixed: lot(t, 0, "300000").Cost, Normal: 75_000 * ledger.Tonne, Actual: c.actual * ledger.Tonne}.Absorb()
		if err != nil {
			t.Fatal(err)
		}
		want := []string{c.absorbed, c.idle, c.at}
		if diff := cmp.Diff(want, []string{usd(t).Format(got.Absorbed), usd(t).Format(got.Unallocated), per(t, got.Rate, 4)}); diff != "" {
			t.Errorf("%d t made (-want +got):\n%s", c.actual, diff)
		}
	}
	for _, bad := range []value.Overhead{{Fixed: 1}, {Fixed: -1, Normal: 1}, {Fixed: 1, Normal: 1, Actual: -1}} {
		if got, err := bad.Absorb(); err == nil {
			t.Errorf("%+v is absorbed as %+v", bad, got)
		}
	}
}
