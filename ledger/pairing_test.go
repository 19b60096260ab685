package ledger_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/ledger"
)

// A deck ticket meets the last load of its truck that no ticket before it has met, where that is no longer ago than the policy
// lets a truck be under way, to the minute: whatever else was loaded and forgotten in between.
func TestTicketsMeetTheLastLoad(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		wait := time.Duration(rapid.IntRange(0, 3).Draw(rt, "cut-off")) * time.Hour
		y := newYard(t, pile("P1"), policy(ledger.PolicyCutOffHours, fmt.Sprint(wait.Hours())))
		now := at("2026-10-05 06:00")
		for n := range rapid.IntRange(1, 60).Draw(rt, "records") {
			now = now.Add(time.Duration(rapid.SampledFrom([]int{0, 1, 30, 60, 119, 120, 121, 1000}).Draw(rt, "minutes")) * time.Minute)
			truck := rapid.SampledFrom([]string{"T1", "T2", "T3"}).Draw(rt, "truck")
			if rapid.Bool().Draw(rt, "load") {
				y.add(ledger.Load{At: now, Loader: "L1", Ticket: fmt.Sprint(n), Pile: "P1", Truck: truck, Net: tons(20), Purpose: ledger.PurposeSale})
			} else {
				y.add(ledger.DeckTicket{At: now, Deck: "D1", Ticket: fmt.Sprint(n), Truck: truck, Net: tons(20)})
			}
		}
		in := y.input("2026-10", ledger.NewState())
		waiting := map[string]time.Time{} // when trucks were loaded
		want := 0
		for rec := range in.Records {
			switch f := rec.Fact.(type) {
			case ledger.Load:
				waiting[f.Truck] = f.At
			case ledger.DeckTicket:
				if loaded, ok := waiting[f.Truck]; ok && f.At.Sub(loaded) <= wait {
					want++
				}
				delete(waiting, f.Truck)
			}
		}
		m, _ := derive(t, in)
		if diff := cmp.Diff(want, m.Pairs[ledger.Pairing{Loader: "L1", Deck: "D1"}].Count); diff != "" {
			rt.Errorf("pairs (-want +got):\n%s", diff)
		}
	})
}
