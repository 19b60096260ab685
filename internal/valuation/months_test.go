package valuation_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/valuation"
	"repose/ledger"
)

// during sets the month of a cost or a price.
func during(t *testing.T, month string, c ledger.Cost) ledger.Cost {
	c.Period = monthOf(t, month)
	return c
}

// Three months, each going on from what the seal of the one before says.
func TestThreeMonths(t *testing.T) {
	y := newYard(t, append(stocked(), made("PA", "10-05", 100), cost(ledger.CostMaking, "A", "1400"), sold("PA", "10-10", 50),
		fed("PB", "11-05", 10), made("PA", "12-05", 10), during(t, "2026-12", cost(ledger.CostMaking, "A", "70")), sold("PA", "12-06", 160))...)
	for _, c := range []struct {
		month string
		want  []string
	}{
		{"2026-10", []string{openA, "A made 100.000 t 1400.00", "A sold -50.000 t -600.00", "A closing 150.000 t 1800.00", openB, restB}},
		{"2026-11", []string{"A opening 150.000 t 1800.00", "A closing 150.000 t 1800.00",
			"B opening 50.000 t 1500.00", "B fed -10.000 t -300.00", "B closing 40.000 t 1200.00"}}, // 300.00 stay in process
		{"2026-12", []string{"A opening 150.000 t 1800.00", "A made 10.000 t 70.00", "A made again 0.000 t 300.00", "A sold -160.000 t -2170.00",
			"B opening 40.000 t 1200.00", "B closing 40.000 t 1200.00"}},
	} {
		m := y.close(c.month)
		if diff := cmp.Diff(c.want, m.figures()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.month, diff)
		}
	}
}

// What comes after the close of its month lies on the first open one.
func TestLateRecords(t *testing.T) {
	start := append(stocked(), made("PC", "10-02", 10), cost(ledger.CostMaking, "C", "50"), sold("PA", "10-10", 20), fed("PA", "10-11", 30))
	const aNov, bNov, cNov = "A opening 50.000 t 500.00", "B opening 50.000 t 1500.00", "C opening 10.000 t 350.00"
	const aRest, cRest = "A closing 50.000 t 500.00", "C closing 10.000 t 350.00"
	void := sold("PA", "10-10", 20)
	void.Void = true
	for _, c := range []struct {
		name     string
		facts    []ledger.Fact
		replaces ledger.Fact
		want     []string
	}{
		{"load", []ledger.Fact{sold("PB", "10-20", 10)}, nil, []string{aNov, aRest, bNov, "B sold -10.000 t -300.00", "B closing 40.000 t 1200.00", cNov, cRest}},
		{"void", nil, void, []string{aNov, "A sold 20.000 t 200.00", "A closing 70.000 t 700.00", bNov, restB, cNov, cRest}},
		{"made less than was said", nil, made("PC", "10-02", 7), []string{aNov, aRest, bNov, restB, cNov, "C made -3.000 t 0.00", "C closing 7.000 t 350.00"}},
		{"in a pile that was built anew since", []ledger.Fact{sold("PB", "10-20", 10), ledger.Pile{Code: "PB", Product: "A", Opened: noon("11-10")}}, nil,
			[]string{aNov, "A transfer in 40.000 t 1200.00", "A closing 90.000 t 1700.00", bNov, "B sold -10.000 t -300.00", "B transfer out -40.000 t -1200.00", cNov, cRest}},
		{"cost", []ledger.Fact{of("late bill", cost(ledger.CostMaking, "C", "9")), of("late bill", cost(ledger.CostOpening, "B", "7"))}, nil,
			[]string{aNov, aRest, bNov, "B opened 0.000 t 7.00", "B closing 50.000 t 1507.00", cNov, "C made 0.000 t 9.00", "C closing 10.000 t 359.00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, start...)
			y.close("2026-10")
			y.add(c.facts...)
			if c.replaces != nil {
				y.replace(c.replaces)
			}
			m := y.value("2026-11")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			named := 0
			for _, n := range m.Notes {
				if strings.HasSuffix(n, "came after the close of its month and lies on this one") {
					named++
				}
			}
			if named != len(m.Late) || named != len(m.in.Costs) {
				t.Errorf("%d notes and %d late costs, want %d: %q", named, len(m.Late), len(m.in.Costs), m.Notes)
			}
		})
	}
}

// A closed month's feed was less than was said, and nothing is fed in the open one: stone comes back to the pile at its average.
func TestFeedTakenBack(t *testing.T) {
	y := newYard(t, append(stocked(), fed("PA", "10-11", 30))...)
	y.close("2026-10")
	y.replace(fed("PA", "10-11", 10))
	m := y.value("2026-11")
	want := "90.000 t 900.00"
	if got := m.Lines[0].Closing.Lot(); got.Quantity.String()+" "+m.Currency.Format(got.Cost) != want {
		t.Errorf("A closes at %v %s, want %s", got.Quantity, m.Currency.Format(got.Cost), want)
	}
}

// A pile is built anew, or goes to somebody else, in the very instant in which a month begins.
func TestPileChangesAtTheMonthsBeginning(t *testing.T) {
	becomes := func(pile, product, owner string) ledger.Fact {
		return ledger.Pile{Code: pile, Product: product, Owner: owner, Opened: at("2026-11-01 00:00")}
	}
	const aNov, bNov = "A opening 100.000 t 1000.00", "B opening 50.000 t 1500.00"
	for _, c := range []struct {
		name string
		fact ledger.Fact
		want []string
	}{
		{"another product", becomes("PB", "A", ""), []string{aNov, within, "A closing 150.000 t 2500.00", bNov, become}},
		{"another owner", becomes("PB", "B", "C1"), []string{aNov, restA, bNov, "B sold -50.000 t -1500.00"}},
		{"nobody else's any more", becomes("PX", "A", ""), []string{aNov, "A returned 40.000 t 400.00", "A closing 140.000 t 1400.00", bNov, restB}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, append(stocked(), c.fact)...)
			october := y.close("2026-10")
			if diff := cmp.Diff([]string{openA, restA, openB, restB}, october.figures()); diff != "" {
				t.Errorf("October (-want +got):\n%s", diff)
			}
			m := y.value("2026-11")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("November (-want +got):\n%s", diff)
			}
		})
	}
}

// What a pile's stone cost is known of the product that it was closed as. A book that learns of another too late has no value.
func TestPileThatWasAnotherProductAllAlong(t *testing.T) {
	y := newYard(t, stocked()...)
	y.close("2026-10")
	y.add(rebuilt("PB", "A", "10-15"))
	m, err := y.try("2026-11")
	if err == nil || !strings.Contains(err.Error(), "the month before left") {
		t.Errorf("error %v, value %v; want one that names what the month before left", err, m.Valuation)
	}
}

// A yard begins to be valued while stone lies there; rows of the kind opening say what it cost.
func TestFirstValuedMonth(t *testing.T) {
	tonnes := append(dryProducts(), opening("PA", "10-01", 100), sold("PA", "10-10", 20))
	november := func(what ledger.CostKind, product, amount string) ledger.Fact {
		return during(t, "2026-11", cost(what, product, amount))
	}
	for _, c := range []struct {
		name    string
		facts   []ledger.Fact
		want    []string
		journal []string
	}{
		{"with its cost", []ledger.Fact{november(ledger.CostOpening, "A", "800"), sold("PA", "11-10", 20)},
			[]string{"A opening 80.000 t 800.00", "A sold -20.000 t -200.00", "A closing 60.000 t 600.00"}, []string{"cost of sales < inventory A 200.00"}},
		{"without", []ledger.Fact{made("PA", "11-01", 80), november(ledger.CostMaking, "A", "800")},
			[]string{"A opening 80.000 t 0.00", "A made 80.000 t 800.00", "A closing 160.000 t 800.00"}, []string{"inventory A < production cost 800.00"}},
		{"and a pile that is opened in it", []ledger.Fact{ledger.Pile{Code: "PA2", Product: "A"}, opening("PA2", "11-02", 20), november(ledger.CostOpening, "A", "1000")},
			[]string{"A opening 80.000 t 0.00", "A opened 20.000 t 1000.00", "A closing 100.000 t 1000.00"}, []string{"inventory A < opening stock 1000.00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, append(tonnes, c.facts...)...)
			if october := y.close("2026-10"); october.Valuation != nil {
				t.Fatalf("October is valued: %v", october.figures())
			}
			m := y.value("2026-11")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(c.journal, m.postings()); diff != "" {
				t.Errorf("journal (-want +got):\n%s", diff)
			}
		})
	}
}

// Stock below zero has no cost at the beginning, and a later month keeps the currency of the one before.
func TestMonthsThatDoNotGoOn(t *testing.T) {
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		says  string
	}{
		{"below zero", []ledger.Fact{sold("PC", "10-10", 20), during(t, "2026-11", cost(ledger.CostMaking, "A", "10"))},
			"product C: the book says -20.000 t at the beginning: stock below zero has no cost"},
		{"another currency", []ledger.Fact{cost(ledger.CostOpening, "A", "1000"), during(t, "2026-11", in("USD", cost(ledger.CostMaking, "A", "10")))},
			valuation.ErrCurrency.Error() + ": cost:Y:2026-11/A/making/ of 2026-11 is in USD, and the yard is valued in EUR"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, append(dryProducts(), opening("PA", "10-01", 100))...)
			y.add(c.facts...)
			y.close("2026-10")
			m, err := y.try("2026-11")
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("error %v, value %v; want %q", err, m.Valuation, c.says)
			}
		})
	}
}
