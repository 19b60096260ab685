package valuation_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

// stocked is a yard in October with 100 t of A at 10.00, 50 t of B at 30.00, and 40 t of A that are not its own.
func stocked() []ledger.Fact {
	return append(dryProducts(), opening("PA", "10-01", 100), opening("PB", "10-01", 50), opening("PX", "10-01", 40),
		cost(ledger.CostOpening, "A", "1000"), cost(ledger.CostOpening, "B", "1500"))
}

func rebuilt(pile, product, day string) ledger.Fact {
	return ledger.Pile{Code: pile, Product: product, Opened: noon(day)}
}

const (
	openA  = "A opened 100.000 t 1000.00"
	openB  = "B opened 50.000 t 1500.00"
	restA  = "A closing 100.000 t 1000.00"
	restB  = "B closing 50.000 t 1500.00"
	soldA  = "A sold -20.000 t -200.00"
	lessA  = "A closing 80.000 t 800.00"
	within = "A transfer in 50.000 t 1500.00" // B that became A
	become = "B transfer out -50.000 t -1500.00"
)

func TestWaysOfStone(t *testing.T) {
	load := sold("PA", "10-10", 20)
	voided := load
	voided.Void = true
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []string
	}{
		{"nothing", nil, []string{openA, restA, openB, restB}},
		{"sold", []ledger.Fact{load}, []string{openA, soldA, lessA, openB, restB}},
		{"used", []ledger.Fact{purposed(load, ledger.PurposeInternal)}, []string{openA, "A internal use -20.000 t -200.00", lessA, openB, restB}},
		{"given away", []ledger.Fact{purposed(load, ledger.PurposeFree)}, []string{openA, "A free issue -20.000 t -200.00", lessA, openB, restB}},
		{"void", []ledger.Fact{voided}, []string{openA, restA, openB, restB}},
		{"brought back", []ledger.Fact{ledger.Return{At: noon("10-11"), Pile: "PA", Net: tons(10)}},
			[]string{openA, "A returned 10.000 t 100.00", "A closing 110.000 t 1100.00", openB, restB}},
		{"sold and brought back", []ledger.Fact{load, ledger.Return{At: noon("10-11"), Pile: "PA", Net: tons(20)}},
			[]string{openA, "A returned 20.000 t 200.00", soldA, restA, openB, restB}},
		{"within a product", []ledger.Fact{ledger.Pile{Code: "PA2", Product: "A"}, transfer("PA", "PA2", "10-10", 20)}, []string{openA, restA, openB, restB}},
		{"between products", []ledger.Fact{transfer("PA", "PB", "10-10", 20)},
			[]string{openA, "A transfer out -20.000 t -200.00", lessA, openB, "B transfer in 20.000 t 200.00", "B closing 70.000 t 1700.00"}},
		{"and back again", []ledger.Fact{transfer("PA", "PB", "10-10", 50), transfer("PB", "PA", "10-12", 100)},
			// A costs 1,000 and all of B, and B costs 1,500 and a quarter of A: A 3,333.33, B 2,333.33.
			[]string{openA, "A transfer in 100.000 t 2333.33", "A transfer out -50.000 t -833.33", "A closing 150.000 t 2500.00",
				openB, "B transfer in 50.000 t 833.33", "B transfer out -100.000 t -2333.33"}},
		{"to somebody else's pile", []ledger.Fact{transfer("PA", "PX", "10-10", 20)}, []string{openA, soldA, lessA, openB, restB}},
		{"from somebody else's pile", []ledger.Fact{transfer("PX", "PA", "10-10", 10)},
			[]string{openA, "A returned 10.000 t 100.00", "A closing 110.000 t 1100.00", openB, restB}},
		{"among others", []ledger.Fact{made("PX", "10-10", 30), sold("PX", "10-11", 60), fed("PX", "10-12", 5), density("PX"), surveyed("PX", "10-13", "1")},
			[]string{openA, restA, openB, restB}},
		{"from nobody knows where", []ledger.Fact{transfer("P9", "PA", "10-10", 10), sold("P9", "10-11", 30)},
			[]string{openA, "A unexplained shrinkage 10.000 t 100.00", "A closing 110.000 t 1100.00", openB, restB}},
		{"fed, and nothing made", []ledger.Fact{fed("PA", "10-10", 20)}, []string{openA, "A fed -20.000 t -200.00", lessA, openB, restB}},
		{"fed and made", []ledger.Fact{fed("PA", "10-10", 20), made("PB", "10-11", 50), cost(ledger.CostMaking, "B", "800")},
			[]string{openA, "A fed -20.000 t -200.00", lessA, openB, "B made 50.000 t 800.00", "B made again 0.000 t 200.00", "B closing 100.000 t 2500.00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, stocked()...)
			y.add(c.facts...)
			m := y.value("2026-10")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// A pile that is built anew with another product hands on what lies in it, at the time of the first record after.
func TestPileBuiltAnew(t *testing.T) {
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []string
	}{
		{"with nothing after", []ledger.Fact{rebuilt("PB", "A", "10-15")}, []string{openA, within, "A closing 150.000 t 2500.00", openB, become}},
		{"after a load of each", []ledger.Fact{sold("PB", "10-14", 20), rebuilt("PB", "A", "10-15"), sold("PB", "10-16", 26)},
			[]string{openA, "A transfer in 30.000 t 900.00", "A sold -26.000 t -380.00", "A closing 104.000 t 1520.00",
				openB, "B sold -20.000 t -600.00", "B transfer out -30.000 t -900.00"}},
		{"when it was empty", []ledger.Fact{sold("PB", "10-14", 50), rebuilt("PB", "A", "10-15"), transfer("PA", "PB", "10-16", 20)},
			[]string{openA, restA, openB, "B sold -50.000 t -1500.00"}},
		{"twice", []ledger.Fact{rebuilt("PB", "C", "10-15"), sold("PB", "10-16", 10), rebuilt("PB", "A", "10-20"), sold("PB", "10-21", 14)},
			[]string{openA, "A transfer in 40.000 t 1200.00", "A sold -14.000 t -220.00", "A closing 126.000 t 1980.00", openB, become,
				"C transfer in 50.000 t 1500.00", "C sold -10.000 t -300.00", "C transfer out -40.000 t -1200.00"}},
		{"twice, with nothing between", []ledger.Fact{rebuilt("PB", "C", "10-15"), rebuilt("PB", "A", "10-20")},
			[]string{openA, within, "A closing 150.000 t 2500.00", openB, become}},
		{"when more had gone than lay there", []ledger.Fact{ledger.Pile{Code: "PB2", Product: "B"}, opening("PB2", "10-01", 30), sold("PB", "10-14", 60), rebuilt("PB", "A", "10-15")},
			// A's pile begins 10 t short, which B's other pile has too much.
			[]string{openA, "A transfer out -10.000 t -100.00", "A closing 90.000 t 900.00",
				"B opened 80.000 t 1500.00", "B transfer in 10.000 t 100.00", "B sold -60.000 t -1066.67", "B closing 30.000 t 533.33"}},
		{"and emptied", []ledger.Fact{rebuilt("PB", "A", "10-15"), sold("PB", "10-16", 50)},
			[]string{openA, within, "A sold -50.000 t -833.33", "A closing 100.000 t 1666.67", openB, become}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, stocked()...)
			y.add(c.facts...)
			m := y.value("2026-10")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// What surveys find and what is corrected is lost, or gained, at the average; what is expected to be lost takes no cost.
func TestShrinkage(t *testing.T) {
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []string
	}{
		{"loss", []ledger.Fact{surveyed("PA", "10-20", "40")}, []string{openA, "A unexplained shrinkage -20.000 t -200.00", lessA, openB, restB}},
		{"gain", []ledger.Fact{surveyed("PA", "10-20", "55")},
			[]string{openA, "A unexplained shrinkage 10.000 t 100.00", "A closing 110.000 t 1100.00", openB, restB}},
		{"explained", []ledger.Fact{ledger.Correction{Exception: "E-1", Number: 1, At: noon("10-20"), From: ledger.End{Kind: ledger.KindPile, Name: "PA"},
			To: ledger.ExplainedBy("spillage"), Pile: "PA", Net: tons(20), Reason: "counted"}},
			[]string{openA, "A explained shrinkage -20.000 t -200.00", lessA, openB, restB}},
		{"expected of what is loaded out", []ledger.Fact{policy(ledger.ExpectedShrinkage("A"), "10 % of load-out"), sold("PA", "10-20", 50)},
			[]string{openA, "A expected shrinkage -5.000 t 0.00", "A sold -50.000 t -526.32", "A closing 45.000 t 473.68", openB, restB}},
		{"all three", []ledger.Fact{policy(ledger.ExpectedShrinkage("A"), "20 % of production"), made("PA", "10-05", 100), cost(ledger.CostMaking, "A", "800"),
			ledger.Correction{Exception: "E-1", Number: 1, At: noon("10-06"), From: ledger.End{Kind: ledger.KindPile, Name: "PA"},
				To: ledger.ExplainedBy("spillage"), Pile: "PA", Net: tons(30), Reason: "counted"}, surveyed("PA", "10-20", "70")},
			[]string{openA, "A made 100.000 t 800.00", "A expected shrinkage -20.000 t 0.00", "A explained shrinkage -30.000 t -300.00",
				"A unexplained shrinkage -10.000 t -100.00", "A closing 140.000 t 1400.00", openB, restB}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, stocked()...)
			y.add(density("PA"))
			y.add(c.facts...)
			m := y.value("2026-10")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// Stone that changes hands where it lies has left as if it were sold, or come as if it were brought back.
func TestPileChangesHands(t *testing.T) {
	owned := func(pile, product, owner, day string) ledger.Fact {
		return ledger.Pile{Code: pile, Product: product, Owner: owner, Opened: noon(day)}
	}
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []string
	}{
		{"sold as it lies", []ledger.Fact{owned("PB", "B", "C1", "10-15"), sold("PB", "10-16", 10)}, []string{openA, restA, openB, "B sold -50.000 t -1500.00"}},
		{"bought as it lies", []ledger.Fact{owned("PX", "A", "", "10-15"), sold("PX", "10-16", 10)},
			[]string{openA, "A returned 40.000 t 400.00", "A sold -10.000 t -100.00", "A closing 130.000 t 1300.00", openB, restB}},
		{"when it was empty", []ledger.Fact{sold("PB", "10-14", 50), owned("PB", "B", "C1", "10-15"), made("PB", "10-16", 10)},
			[]string{openA, restA, openB, "B sold -50.000 t -1500.00"}},
		{"for some days", []ledger.Fact{owned("PB", "B", "C1", "10-15"), transfer("PX", "PB", "10-16", 10), owned("PB", "A", "", "10-17")},
			[]string{openA, "A returned 60.000 t 600.00", "A closing 160.000 t 1600.00", openB, "B sold -50.000 t -1500.00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, stocked()...)
			y.add(c.facts...)
			m := y.value("2026-10")
			if diff := cmp.Diff(c.want, m.figures()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// A product of which the yard owns nothing is in no figure, and nobody is told that it lacks a price.
func TestProductOfOthersAlone(t *testing.T) {
	y := newYard(t, append(stocked(), price("A", "20"), price("B", "40"), ledger.Product{Code: "D"}, ledger.Pile{Code: "PD", Product: "D", Owner: "C1"},
		opening("PD", "10-01", 10), sold("PD", "10-10", 5))...)
	m := y.value("2026-10")
	var got []string
	for _, l := range m.Lines {
		got = append(got, l.Product)
	}
	if diff := cmp.Diff([]string{"A", "B"}, got); diff != "" {
		t.Errorf("products (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string(nil), m.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
}

// A tally can be asked twice: its value is what the entries and the costs say, not what was asked before.
func TestValueLeavesTheTally(t *testing.T) {
	y := newYard(t, append(stocked(), rebuilt("PB", "A", "10-15"), sold("PB", "10-16", 15))...)
	m := y.value("2026-10")
	tally := m.tally()
	for n := range 2 {
		again, err := tally.Value(m.in)
		if err != nil {
			t.Fatalf("asked %d times: %v", n+1, err)
		}
		same := m
		same.Valuation = again
		if diff := cmp.Diff(m.figures(), same.figures()); diff != "" {
			t.Errorf("asked %d times (-want +got):\n%s", n+1, diff)
		}
	}
}
