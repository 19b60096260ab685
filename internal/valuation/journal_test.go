package valuation_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/value"
	"repose/ledger"
)

// Every way of stone and every kind of cost has its accounts; those that turn round are debited where the others are credited.
func TestJournal(t *testing.T) {
	free, internal := purposed(sold("PA", "10-12", 10), ledger.PurposeFree), purposed(sold("PA", "10-13", 10), ledger.PurposeInternal)
	y := newYard(t, append(stocked(), density("PB"), made("PC", "10-05", 30), cost(ledger.CostMaking, "C", "60"), cost(ledger.CostPurchase, "C", "40"),
		cost(ledger.CostFixed, "", "200"), policy(ledger.ValueNormal, "60 t"), sold("PA", "10-10", 20), free, internal, fed("PA", "10-14", 10),
		transfer("PA", "PC", "10-15", 5), ledger.Correction{Exception: "E-1", Number: 1, At: noon("10-16"), From: ledger.End{Kind: ledger.KindPile, Name: "PA"},
			To: ledger.ExplainedBy("spillage"), Pile: "PA", Net: tons(2), Reason: "counted"}, surveyed("PB", "10-20", "26"))...)
	m := y.value("2026-10")
	want := []string{
		"inventory A < opening stock 1000.00",
		"cost of sales < inventory A 200.00",
		"internal use < inventory A 100.00",
		"free issue < inventory A 100.00",
		"stone in process < inventory A 100.00",
		"shrinkage, explained < inventory A 20.00",
		"inventory B < opening stock 1500.00",
		"inventory B < shrinkage, unexplained 60.00",
		"inventory C < production cost 160.00",
		"inventory C < purchases 40.00",
		"inventory C < stone in process 100.00",
		"inventory C < inventory A 50.00",
		"idle capacity < production cost 100.00",
	}
	if diff := cmp.Diff(want, m.postings()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// What a survey left unexplained is explained, in the same month or after its close. The two shrinkage accounts follow the
// tonnes, and the stock stays.
func TestShrinkageThatIsExplainedLater(t *testing.T) {
	explained := func(day string) ledger.Fact {
		return ledger.Correction{Exception: "E-1", Number: 1, At: noon(day), From: ledger.End{Kind: ledger.KindShrinkage, Name: ledger.ShrinkageUnexplained},
			To: ledger.ExplainedBy("spillage"), Pile: "PA", Net: tons(15), Reason: "counted"}
	}
	for _, day := range []string{"10-25", "11-05"} {
		t.Run(day, func(t *testing.T) {
			y := newYard(t, append(stocked(), density("PA"), surveyed("PA", "10-20", "40"), explained(day))...)
			lost := map[value.AccountKind]string{}
			sums := map[value.AccountKind]value.Money{}
			for _, p := range []string{"2026-10", "2026-11"} {
				m := y.close(p)
				for _, j := range m.Journal {
					sums[j.Debit.Kind] += j.Amount
					sums[j.Credit.Kind] -= j.Amount
				}
				for _, k := range []value.AccountKind{value.AccountShrinkageExplained, value.AccountShrinkageUnexplained, value.AccountInventory} {
					lost[k] = m.Currency.Format(sums[k])
				}
			}
			want := map[value.AccountKind]string{value.AccountShrinkageExplained: "150.00", value.AccountShrinkageUnexplained: "50.00", value.AccountInventory: "2300.00"}
			if diff := cmp.Diff(want, lost); diff != "" {
				t.Errorf("sums of the accounts (-want +got):\n%s", diff)
			}
		})
	}
}
