package valuation_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/valuation"
	"repose/internal/value"
	"repose/ledger"
)

// madeBoth is a yard that made 100 t of A and 300 t of B, and holds nothing else.
func madeBoth(more ...ledger.Fact) []ledger.Fact {
	return append(append(dryProducts(), made("PA", "10-05", 100), made("PB", "10-05", 300)), more...)
}

func of(centre string, c ledger.Cost) ledger.Cost {
	c.Centre = centre
	return c
}

func in(currency string, c ledger.Cost) ledger.Cost {
	c.Currency = currency
	return c
}

func TestCostsLieOnWhatWasMade(t *testing.T) {
	twice := price("A", "24")
	twice.Selling, twice.Completion = decimal.NewFromInt(3), decimal.NewFromInt(1)
	worthless := price("B", "2")
	worthless.Selling = decimal.NewFromInt(3)
	bySales := policy(ledger.ValueSharing, ledger.ShareBySalesValue)
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  [2]string // A and B made
	}{
		{"its own", []ledger.Fact{cost(ledger.CostMaking, "A", "500"), of("fuel", cost(ledger.CostMaking, "A", "50.25")), cost(ledger.CostMaking, "B", "900")},
			[2]string{"550.25", "900.00"}},
		{"a credit that is covered", []ledger.Fact{cost(ledger.CostMaking, "A", "500"), of("scrap", cost(ledger.CostMaking, "A", "-50"))}, [2]string{"450.00", "0.00"}},
		{"by tonnes", []ledger.Fact{cost(ledger.CostMaking, "", "1000.01")}, [2]string{"250.00", "750.01"}},
		{"by tonnes, less a credit", []ledger.Fact{cost(ledger.CostMaking, "", "1000"), of("scrap", cost(ledger.CostMaking, "", "-200"))}, [2]string{"200.00", "600.00"}},
		{"by sales value", []ledger.Fact{bySales, cost(ledger.CostMaking, "", "1000"), twice, price("B", "10")}, [2]string{"400.00", "600.00"}},
		{"by sales value, one worth nothing", []ledger.Fact{bySales, cost(ledger.CostMaking, "", "1000"), twice, worthless}, [2]string{"1000.00", "0.00"}},
		{"a by-product", []ledger.Fact{policy(ledger.ValueByProduct("B"), "yes"), price("B", "2"), cost(ledger.CostMaking, "", "1000")}, [2]string{"400.00", "600.00"}},
		{"no longer a by-product", []ledger.Fact{policy(ledger.ValueByProduct("B"), "no"), price("B", "2"), cost(ledger.CostMaking, "", "1000")}, [2]string{"250.00", "750.00"}},
		{"fixed, of all and of one", []ledger.Fact{cost(ledger.CostFixed, "", "800"), of("wash", cost(ledger.CostFixed, "A", "100"))}, [2]string{"300.00", "600.00"}},
		{"fixed, below normal", []ledger.Fact{policy(ledger.ValueNormal, "800 t"), cost(ledger.CostFixed, "", "800"), of("wash", cost(ledger.CostFixed, "A", "100"))},
			[2]string{"150.00", "300.00"}},
		{"fixed, above normal", []ledger.Fact{policy(ledger.ValueNormal, "100 t"), cost(ledger.CostFixed, "", "800")}, [2]string{"200.00", "600.00"}},
		{"of a product that is not made and lies there", []ledger.Fact{opening("PC", "10-01", 10), cost(ledger.CostMaking, "C", "70"), cost(ledger.CostMaking, "A", "1")},
			[2]string{"1.00", "0.00"}},
		{"of all kinds", []ledger.Fact{cost(ledger.CostFixed, "", "800"), cost(ledger.CostMaking, "", "400"), cost(ledger.CostMaking, "B", "10")}, [2]string{"300.00", "910.00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, madeBoth(c.facts...)...)
			m := y.value("2026-10")
			var got [2]string
			for i := range got {
				got[i] = m.Currency.Format(m.Lines[i].Moves[value.ColumnMade].Cost)
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("made at (-want +got):\n%s", diff)
			}
		})
	}
}

// A by-product takes its net realisable value, and sales value is what products sell for: both at reference moisture, which
// prices are for. 100 t of A are 105 t as they are sold.
func TestSharesAtReferenceMoisture(t *testing.T) {
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  string // of 1,000 on A
	}{
		{"by-product", []ledger.Fact{policy(ledger.ValueByProduct("A"), "yes"), price("A", "2")}, "210.00"},
		{"sales value", []ledger.Fact{policy(ledger.ValueSharing, ledger.ShareBySalesValue), price("A", "10"), price("B", "0.5")}, "875.00"}, // 1,050 and 150
		{"tonnes of solids", nil, "250.00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			moist, err := ledger.NewDryBasis(decimal.NewFromInt(5))
			if err != nil {
				t.Fatal(err)
			}
			y := newYard(t, madeBoth(append(c.facts, cost(ledger.CostMaking, "", "1000"))...)...)
			y.records[2].Fact = ledger.Product{Code: "A", Reference: moist}
			y.add(ledger.MoistureTest{Product: "A", Taken: at("2026-01-01 00:00")}) // it came dry
			m := y.value("2026-10")
			if got := m.Currency.Format(m.Lines[0].Moves[value.ColumnMade].Cost); got != c.want {
				t.Errorf("A bears %s, want %s", got, c.want)
			}
		})
	}
}

// V8: fixed costs of 300,000 at 75,000 t normal are 4.00 a tonne. 60,000 t take 240,000, and 60,000 are idle capacity; 90,000 t
// take them all (worked example of the close).
func TestNormalCapacity(t *testing.T) {
	for _, c := range []struct {
		name                 string
		a, b                 float64
		absorbed, idle, rate string
		journal              []string
	}{
		{"below", 20000, 40000, "240000.00", "60000.00", "4.0000",
			[]string{"inventory A < production cost 80000.00", "inventory B < production cost 160000.00", "idle capacity < production cost 60000.00"}},
		{"above", 30000, 60000, "300000.00", "0.00", "3.3333", []string{"inventory A < production cost 100000.00", "inventory B < production cost 200000.00"}},
		{"nothing made", 0, 0, "0.00", "300000.00", "4.0000", []string{"idle capacity < production cost 300000.00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, append(dryProducts(), made("PA", "10-05", c.a), made("PB", "10-06", c.b), policy(ledger.ValueNormal, "75000 t"),
				cost(ledger.CostFixed, "", "300000"))...)
			m := y.value("2026-10")
			rate, _ := m.Capacity.Rate.Per(ledger.UnitTonne, m.Currency, 4)
			want := []string{c.absorbed, c.idle, c.rate}
			got := []string{m.Currency.Format(m.Capacity.Absorbed), m.Currency.Format(m.Capacity.Unallocated), rate.StringFixed(4)}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("absorbed, idle, rate (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(c.journal, m.postings()); diff != "" {
				t.Errorf("journal (-want +got):\n%s", diff)
			}
		})
	}
}

// V6: 41,880 t at 8.00 are 335,040, and 894 t are lost. Abnormal, they are 7,152 of expense and 40,986 t at 8.00 are left; normal,
// the rest costs 8.174499 (worked example of the close). 894 t are 2.98 % of the 30,000 t that are made here.
func TestTwoLosses(t *testing.T) {
	for _, c := range []struct {
		name    string
		fact    ledger.Fact
		closing string
		average string
		journal []string
	}{
		{"abnormal", surveyed("PA", "10-30", "20493"), "327888.00", "8.000000", []string{"shrinkage, unexplained < inventory A 7152.00"}},
		{"normal", policy(ledger.ExpectedShrinkage("A"), "2.98 % of production"), "335040.00", "8.174499", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, append(dryProducts(), density("PA"), opening("PA", "10-01", 11880), made("PA", "10-10", 30000), c.fact,
				cost(ledger.CostOpening, "A", "95040"), cost(ledger.CostMaking, "A", "240000"))...)
			m := y.value("2026-10")
			closing := m.Lines[0].Closing.Lot()
			average, _ := closing.Per(ledger.UnitTonne, m.Currency, 6)
			want := []string{"40986.000 t", c.closing, c.average}
			if diff := cmp.Diff(want, []string{closing.Quantity.String(), m.Currency.Format(closing.Cost), average.StringFixed(6)}); diff != "" {
				t.Errorf("left (-want +got):\n%s", diff)
			}
			want = append([]string{"inventory A < opening stock 95040.00", "inventory A < production cost 240000.00"}, c.journal...)
			if diff := cmp.Diff(want, m.postings()); diff != "" {
				t.Errorf("journal (-want +got):\n%s", diff)
			}
		})
	}
}

// What the costs of a month do not give a value for is refused, with what stands in the way.
func TestCostsThatGiveNoValue(t *testing.T) {
	bySales := policy(ledger.ValueSharing, ledger.ShareBySalesValue)
	dear := cost(ledger.CostMaking, "A", "10")
	dear.Amount = decimal.RequireFromString("10.005")
	dollars := price("B", "10")
	dollars.Currency = "USD"
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		is    error
		says  string
	}{
		{"two currencies", madeBoth(dear, in("USD", cost(ledger.CostMaking, "B", "1"))), valuation.ErrCurrency, "is in USD, and the yard is valued in EUR"},
		{"a tenth of a cent", madeBoth(dear), nil, "cost:Y:2026-10/A/making/: \"10.005\" EUR: finer"},
		{"making of no product", madeBoth(cost(ledger.CostMaking, "Z", "10")), value.ErrBareCost, `product "Z"`},
		{"making of an idle product", madeBoth(cost(ledger.CostMaking, "C", "10")), value.ErrBareCost, `product "C"`},
		{"purchase of no product", madeBoth(cost(ledger.CostPurchase, "Z", "10")), value.ErrBareCost, `product "Z"`},
		{"fixed, of no product", madeBoth(cost(ledger.CostFixed, "Z", "10")), value.ErrBareCost, `product "Z"`},
		{"opening of a product that is not there", madeBoth(cost(ledger.CostMaking, "", "1"), cost(ledger.CostOpening, "C", "10")), value.ErrBareCost, "product C"},
		{"opening of no product", madeBoth(cost(ledger.CostMaking, "", "1"), cost(ledger.CostOpening, "Z", "10")), value.ErrBareCost, "product Z"},
		{"common, and nothing made", append(stocked(), cost(ledger.CostMaking, "", "10")), nil, "costs of 10.00 EUR that products have in common, and nothing was made"},
		{"credit alone", madeBoth(cost(ledger.CostMaking, "A", "-10")), value.ErrCredit, `product "A"`},
		{"common credit alone", madeBoth(cost(ledger.CostMaking, "", "-10")), nil, "common costs"},
		{"fixed, one's cost and another's credit", madeBoth(cost(ledger.CostFixed, "A", "10"), cost(ledger.CostFixed, "B", "-10")), nil, "fixed costs"},
		{"fixed credit alone", madeBoth(cost(ledger.CostFixed, "", "-10")), nil, "fixed costs"},
		{"by sales value without a price", madeBoth(bySales, price("A", "10"), cost(ledger.CostMaking, "", "10")), nil, "common costs: product B"},
		{"by sales value with a price in another currency", madeBoth(bySales, price("A", "10"), dollars, cost(ledger.CostMaking, "", "10")), nil, "common costs: product B"},
		{"dear by-products", madeBoth(policy(ledger.ValueByProduct("B"), "yes"), price("B", "10"), cost(ledger.CostMaking, "", "10")), value.ErrByProduct, "common costs"},
		{"by-products alone", append(dryProducts(), made("PB", "10-05", 300), policy(ledger.ValueByProduct("B"), "yes"), price("B", "0.01"), cost(ledger.CostMaking, "", "10")),
			nil, "common costs"},
		{"sold more than there is", append(stocked(), sold("PA", "10-05", 101)), value.ErrShort, `product "A"`},
		{"found where nothing lay", append(stocked(), density("PC"), surveyed("PC", "10-05", "5")), value.ErrNoAverage, `product "C"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, c.facts...)
			m, err := y.try("2026-10")
			if err == nil {
				t.Fatalf("valued: %v", m.figures())
			}
			if c.is != nil && !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("error %q, want %v and %q", err, c.is, c.says)
			}
		})
	}
}

func TestYardWithoutCosts(t *testing.T) {
	y := newYard(t, append(dryProducts(), made("PA", "10-05", 100), price("A", "10"))...)
	if m := y.value("2026-10"); m.Valuation != nil {
		t.Errorf("valued without a cost: %v", m.figures())
	}
}

func TestWhatIsSaidOfCosts(t *testing.T) {
	for _, c := range []struct {
		name     string
		facts    []ledger.Fact
		notes    []string
		uncosted bool
	}{
		{"priced and costed", madeBoth(cost(ledger.CostMaking, "A", "1"), price("A", "1"), price("B", "1")), nil, false},
		{"fixed alone", madeBoth(cost(ledger.CostFixed, "", "1"), price("A", "1"), price("B", "1")),
			[]string{"no normal production is set, so that all fixed costs lie on what was made"}, false},
		{"nothing of making", append(stocked(), made("PA", "10-05", 100), price("A", "1"), price("B", "1")),
			[]string{"100.000 t were made, and no cost of making is on record"}, true},
		{"bought", append(dryProducts(), made("PA", "10-05", 100), cost(ledger.CostPurchase, "A", "700"), price("A", "1")), nil, false},
		{"no price", madeBoth(cost(ledger.CostMaking, "A", "1"), price("A", "1")), []string{"B has no price in EUR, so that its cost is tested against nothing"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, c.facts...)
			m := y.value("2026-10")
			if diff := cmp.Diff(c.notes, m.Notes); diff != "" {
				t.Errorf("notes (-want +got):\n%s", diff)
			}
			if m.Uncosted != c.uncosted {
				t.Errorf("uncosted is %v, want %v", m.Uncosted, c.uncosted)
			}
		})
	}
}
