package simyard_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/simyard"
)

// allKinds is what a message says may be asked for.
const allKinds = "loss, swap, loader, belt, density, survey, missed-transfer, lumped, missing, repeated-number, out-of-order, " +
	"void-after-exit, void-reissued, near-twin, no-deck-ticket, no-loader-load, bucket-pass, unit-slip, wrong-pile, " +
	"wrong-product, wrong-truck, split-load, old-tare, same-tare, outside-hours, night-pickup, one-sided, below-zero, " +
	"belt-idle, feed-as-new, totaliser-reset, stale-density, stale-moisture, stale-base, survey-while-loading, toe-jump, " +
	"wet-for-dry, round-weights, outage-pad"

func TestParseFault(t *testing.T) {
	for text, want := range map[string]simyard.Fault{
		"loss:B:6:800t":               {Kind: simyard.Loss, Pile: "B", Month: 6, Months: 1, Size: 800},
		"loss:B:5-12:200.5t":          {Kind: simyard.Loss, Pile: "B", Month: 5, Months: 8, Size: 200.5},
		"swap:C>B:7:1000t":            {Kind: simyard.Swap, Pile: "C", Other: "B", Month: 7, Months: 1, Size: 1000},
		"loader:L1:4-:+3%":            {Kind: simyard.Loader, Instrument: "L1", Month: 4, Size: 0.03},
		"belt:B1:4-:-3%":              {Kind: simyard.Belt, Instrument: "B1", Month: 4, Size: -0.03},
		"density:E:8-:+6%":            {Kind: simyard.Density, Pile: "E", Month: 8, Size: 0.06},
		"survey:A:6:+5%":              {Kind: simyard.Survey, Pile: "A", Month: 6, Months: 1, Size: 0.05},
		"missed-transfer:F>E:9:2200t": {Kind: simyard.MissedTransfer, Pile: "F", Other: "E", Month: 9, Months: 1, Size: 2200},
		"lumped:L1:5:3":               {Kind: simyard.Lumped, Instrument: "L1", Month: 5, Months: 1, Size: 3},
		"missing:L1:7:4":              {Kind: simyard.Missing, Instrument: "L1", Month: 7, Months: 1, Size: 4},
		"bucket-pass:L1:7:-2":         {Kind: simyard.BucketPass, Instrument: "L1", Month: 7, Months: 1, Size: -2},
		"unit-slip:D1:7:30":           {Kind: simyard.UnitSlip, Instrument: "D1", Month: 7, Months: 1, Size: 30},
		"old-tare:D1:7-9:1":           {Kind: simyard.OldTare, Instrument: "D1", Month: 7, Months: 3, Size: 1},
		"wrong-pile:C>B:7:3":          {Kind: simyard.WrongPile, Pile: "C", Other: "B", Month: 7, Months: 1, Size: 3},
		"stale-density:E:7-:400d":     {Kind: simyard.StaleDensity, Pile: "E", Month: 7, Size: 400},
		"belt-idle:B1:7:40.5t":        {Kind: simyard.BeltIdle, Instrument: "B1", Month: 7, Months: 1, Size: 40.5},
	} {
		got, err := simyard.ParseFault(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", text, diff)
		}
		if got.String() != text {
			t.Errorf("%s is written %s", text, got)
		}
	}
}

// What a hand may write otherwise.
func TestParseFaultForgives(t *testing.T) {
	for text, want := range map[string]string{
		"Loss : b : 06 : 800 T":    "loss:B:6:800t",
		"loader:l2:1-1:3.50%":      "loader:L2:1:+3.5%",
		"survey:a:2-3:+0.000001%":  "survey:A:2-3:+0.000001%",
		"missing:L1:12-:0004":      "missing:L1:12-:4",
		"MISSED-TRANSFER:c>d:1:1t": "missed-transfer:C>D:1:1t",
	} {
		f, err := simyard.ParseFault(text)
		if err != nil || f.String() != want {
			t.Errorf("%s: got %s and %v, want %s", text, f, err, want)
		}
	}
}

func TestParseFaultErrors(t *testing.T) {
	for _, c := range [][2]string{
		{"", `fault "": 1 parts: want KIND:WHERE:MONTHS:SIZE, such as loss:B:6:800t`},
		{"loss:B:6", `fault "loss:B:6": 3 parts: want KIND:WHERE:MONTHS:SIZE, such as loss:B:6:800t`},
		{"theft:B:6:8t", `fault "theft:B:6:8t": kind "theft": want one of ` + allKinds},
		{"loss:G:6:8t", `fault "loss:G:6:8t": "G": want one of A, B, C, D, E, F`},
		{"swap:C:6:8t", `fault "swap:C:6:8t": "C": want two piles, such as C>B`},
		{"swap:C>C:6:8t", `fault "swap:C>C:6:8t": "C" twice: want two piles`},
		{"swap:C>:6:8t", `fault "swap:C>:6:8t": "": want one of A, B, C, D, E, F`},
		{"loader:B1:6:3%", `fault "loader:B1:6:3%": "B1": want one of L1, L2`},
		{"belt:L1:6:3%", `fault "belt:L1:6:3%": "L1": want one of B1, B2`},
		{"missing:D1:6:3", `fault "missing:D1:6:3": "D1": want one of L1, L2`},
		{"loss:B:0:8t", `fault "loss:B:0:8t": month 0, lasting 1: want 1 to 999, lasting as many at most, or 0 for all from it on`},
		{"loss:B:June:8t", `fault "loss:B:June:8t": months "JUNE": want one such as 6, a range such as 5-12, or 8- for all from 8 on`},
		{"loss:B:7-5:8t", `fault "loss:B:7-5:8t": months "7-5": want the last not before the first`},
		{"loss:B:6:800", `fault "loss:B:6:800": size "800": want tonnes such as 800t`},
		{"loss:B:6:8%", `fault "loss:B:6:8%": size "8%": want tonnes such as 800t`},
		{"loss:B:6:-8t", `fault "loss:B:6:-8t": size -8t: want 1t to 100000t`},
		{"loader:L1:6:0.03", `fault "loader:L1:6:0.03": size "0.03": want per cent such as +3%`},
		{"loader:L1:6:60%", `fault "loader:L1:6:60%": size +60%: want -50% to +50%`},
		{"loader:L1:6:0%", `fault "loader:L1:6:0%": size 0%: want one that is not zero`},
		{"lumped:L1:6:3t", `fault "lumped:L1:6:3t": size "3t": want a whole number such as 4`},
		{"lumped:L1:6:1", `fault "lumped:L1:6:1": size 1: want 2 to 6`},
		{"missing:L1:6:2.5", `fault "missing:L1:6:2.5": size 2.5: want a whole number`},
		{"bucket-pass:L1:6:0", `fault "bucket-pass:L1:6:0": size 0: want one that is not zero`},
		{"bucket-pass:L1:6:-101", `fault "bucket-pass:L1:6:-101": size -101: want -100 to 100`},
		{"unit-slip:B1:6:3", `fault "unit-slip:B1:6:3": "B1": want one of L1, L2, D1`},
		{"same-tare:L1:6:3", `fault "same-tare:L1:6:3": "L1": want one of D1`},
		{"stale-base:A:6:90", `fault "stale-base:A:6:90": size "90": want days such as 90d`},
		{"stale-base:A:6:1.5d", `fault "stale-base:A:6:1.5d": size 1.5d: want a whole number`},
		{"survey:A:6:1e3%", `fault "survey:A:6:1e3%": size "1e3%": want per cent such as +3%`},
	} {
		if _, err := simyard.ParseFault(c[0]); err == nil || err.Error() != c[1] {
			t.Errorf("%s: got\n%v, want\n%s", c[0], err, c[1])
		}
	}
}

// Every fault that can be made is written as it is read.
func TestFaultRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := simyard.Fault{Kind: rapid.SampledFrom(simyard.FaultKinds()).Draw(t, "kind"),
			Month: rapid.IntRange(1, 60).Draw(t, "month"), Months: rapid.IntRange(0, 60).Draw(t, "months")}
		place(t, &f)
		size(t, &f)
		got, err := simyard.ParseFault(f.String())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(f, got, approximately); diff != "" {
			t.Errorf("%s (-made +read):\n%s", f, diff)
		}
		if got.String() != f.String() {
			t.Errorf("%s is read and written as %s", f, got)
		}
	})
}

// place draws where a fault of its kind may happen.
func place(t *rapid.T, f *simyard.Fault) {
	piles := rapid.Permutation([]string{"A", "B", "C", "D", "E", "F"}).Draw(t, "piles")
	switch f.Kind {
	case simyard.Loss, simyard.Density, simyard.Survey, simyard.BelowZero, simyard.StaleDensity, simyard.StaleMoisture,
		simyard.StaleBase, simyard.SurveyWhileLoading, simyard.ToeJump, simyard.WetForDry:
		f.Pile = piles[0]
	case simyard.Swap, simyard.MissedTransfer, simyard.WrongPile, simyard.WrongProduct, simyard.OneSided:
		f.Pile, f.Other = piles[0], piles[1]
	case simyard.Belt, simyard.BeltIdle, simyard.FeedAsNew, simyard.TotaliserReset:
		f.Instrument = "B2"
	case simyard.OldTare, simyard.SameTare:
		f.Instrument = "D1"
	default:
		f.Instrument = "L1"
	}
}

// size draws how large a fault of its kind may be.
func size(t *rapid.T, f *simyard.Fault) {
	whole := func(least, most int) float64 { return float64(rapid.IntRange(least, most).Draw(t, "size")) }
	switch f.Kind {
	case simyard.Loss, simyard.Swap, simyard.MissedTransfer:
		f.Size = float64(int64(rapid.Float64Range(1, 100_000).Draw(t, "size")*1e6)) / 1e6
	case simyard.Density, simyard.Survey, simyard.Loader, simyard.ToeJump:
		f.Size = whole(1, 50_000_000) / 100_000_000
	case simyard.Belt:
		f.Size = -whole(1, 50_000_000) / 100_000_000
	case simyard.BucketPass, simyard.UnitSlip:
		f.Size = whole(1, 100) * float64(rapid.SampledFrom([]int{-1, 1}).Draw(t, "sign"))
	case simyard.BeltIdle, simyard.StaleDensity, simyard.StaleMoisture, simyard.StaleBase:
		f.Size = whole(1, 1_000)
	case simyard.FeedAsNew, simyard.WetForDry:
		f.Size = 1
	case simyard.Lumped, simyard.SameTare, simyard.RoundWeights, simyard.BelowZero, simyard.TotaliserReset:
		f.Size = whole(2, 5)
	default:
		f.Size = whole(1, 20)
	}
}

// approximately lets fractions differ in the last place: they are written in per cent.
var approximately = cmp.Comparer(func(a, b float64) bool { return a-b < 1e-12 && b-a < 1e-12 })

// A text is refused, or read into a fault that is written as it would be read again.
func FuzzParseFault(f *testing.F) {
	for _, s := range everyFault {
		f.Add(s)
	}
	for _, s := range []string{"", ":::", "loss:B:6:", "swap:C>B>A:1:1t", "loader:L1:1-:+00.1%", "missing:L1:999:1000", "loss:Б:1:1t"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		fault, err := simyard.ParseFault(s)
		if err != nil {
			if fault != (simyard.Fault{}) {
				t.Errorf("%q: refused, and read as %s", s, fault)
			}
			return
		}
		again, err := simyard.ParseFault(fault.String())
		if err != nil || again != fault {
			t.Errorf("%q: read as %+v, written as %s, read again as %+v, %v", s, fault, fault, again, err)
		}
	})
}
