package tickets

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

// anyRows draws records of two loaders and a deck scale, from the month before on, a third of them in the last hours
// around its end: void and kept ones, transfers, parts, pads, corrections and late ones, of three trucks.
func anyRows(rt *rapid.T) []screentest.Row {
	var rows []screentest.Row
	keys := map[string]bool{}
	for range rapid.IntRange(0, 60).Draw(rt, "records") {
		clock := at("2026-09-05 00:00").Add(time.Duration(rapid.IntRange(0, 50*24*12).Draw(rt, "five minutes")) * 5 * time.Minute)
		if rapid.IntRange(0, 2).Draw(rt, "when") == 0 {
			clock = at("2026-09-30 20:00").Add(time.Duration(rapid.IntRange(0, 96).Draw(rt, "at the end")) * 5 * time.Minute)
		}
		ticket := fmt.Sprintf(rapid.SampledFrom([]string{"%d", "%03d", "A-%d", "PAD-%d", "A-%d part 1", "9000%d"}).Draw(rt, "ticket"), rapid.IntRange(1, 40).Draw(rt, "number"))
		truck, net := rapid.SampledFrom([]string{"V1", "V2", "V3", ""}).Draw(rt, "truck"), ledger.Mass(rapid.IntRange(990, 1010).Draw(rt, "net"))*20*ledger.Kilogram
		isVoid := rapid.IntRange(0, 5).Draw(rt, "void") == 0
		var f ledger.Fact
		switch rapid.IntRange(0, 5).Draw(rt, "kind") {
		case 0:
			f = ledger.Transfer{At: clock, Loader: "L1", Ticket: ticket, From: "P1", To: "P2", Truck: truck, Net: net}
		case 1, 2:
			f = ledger.DeckTicket{At: clock, Deck: "D1", Ticket: ticket, Truck: truck, Product: "G1", Customer: "C1", Net: net, Tare: 14 * ledger.Tonne, Gross: net + 14*ledger.Tonne, Void: isVoid}
		default:
			f = ledger.Load{At: clock, Loader: rapid.SampledFrom([]string{"L1", "L2"}).Draw(rt, "loader"), Ticket: ticket, Pile: rapid.SampledFrom([]string{"P1", "P2"}).Draw(rt, "pile"),
				Truck: truck, Customer: "C1", Net: net, Purpose: ledger.PurposeSale, Void: isVoid}
		}
		if key := f.Kind().String() + f.Key(); !keys[key] {
			keys[key] = true
			rows = append(rows, screentest.Row{Fact: f, Recorded: clock.Add(time.Duration(rapid.IntRange(0, 9).Draw(rt, "days")) * 24 * time.Hour),
				Replaces: rapid.SampledFrom([]string{"", "", "", "", "L1/7", "L2/A-12", "L1/A-9"}).Draw(rt, "replaces")})
		}
	}
	return rows
}

func register(t testing.TB, rt *rapid.T, rows []screentest.Row) []screen.Exception {
	all, err := screen.Run(screentest.Month(t, "2026-10", append(screentest.Rows(screentest.Place()...), rows...)...), Rules())
	if err != nil {
		rt.Fatal(err) // a thing that was named twice, among others
	}
	return all
}

// Whatever a book holds, nothing is named twice, every mass is one and lies within its bounds, every finding names its
// record; and the order in which records came changes nothing.
func TestRegisterOfAnyRecords(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rows := anyRows(rt)
		want := register(t, rt, rows)
		for _, e := range want {
			if e.Mass < 0 || e.Estimated && (e.Low > e.Mass || e.High < e.Mass) || len(e.Records) == 0 || e.Seen == "" {
				rt.Errorf("%s: %+v", e.Rule, e)
			}
		}
		if diff := cmp.Diff(want, register(t, rt, rapid.Permutation(rows).Draw(rt, "order"))); diff != "" {
			rt.Errorf("in another order (-want +got):\n%s", diff)
		}
	})
}

// A gap is in the register of one month only: that of the record after it.
func TestGapsAreSeenOnce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		lost := rapid.SliceOfNDistinct(rapid.IntRange(2, 199), 1, 30, rapid.ID).Draw(rt, "lost")
		var facts []ledger.Fact
		for i, f := range hourly("L1", "A-", 1, 200, "2026-09-26 00:00") { // eight days, with the month's end after the 119th
			if !slices.Contains(lost, i+1) {
				facts = append(facts, f)
			}
		}
		var numbers int64
		for _, month := range []string{"2026-09", "2026-10"} {
			d := screentest.Month(t, month, screentest.Rows(append(screentest.Place(), facts...)...)...)
			for _, f := range screentest.Found(d, missing{}) {
				var first, last int64
				if _, err := fmt.Sscanf(f.Subject, "L1 A-/%d-%d", &first, &last); err != nil {
					rt.Fatal(err)
				}
				numbers += last - first + 1
			}
		}
		if numbers != int64(len(lost)) {
			rt.Errorf("%d numbers missing, want %d", numbers, len(lost))
		}
	})
}

// Two records of one number and instant stand in the order of their keys, however many others there are: the finding is
// the same.
func TestLevelRecords(t *testing.T) {
	var facts []ledger.Fact
	var want []string
	for n := 10; n < 50; n++ {
		for _, ticket := range []string{"A-%d", "A-0%d"} {
			facts = append(facts, load(fmt.Sprintf(ticket, n), "2026-10-05 08:00", "P1", "V1"))
		}
		want = append(want, fmt.Sprintf("load:Y:L1/A-%d/load:Y:L1/A-0%d", n, n))
	}
	wants(t, october(t, facts...), repeated{}, want...)
	wants(t, october(t, facts[:2]...), repeated{}, want[:1]...)
}
