package ledger_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

// drawMeasured draws a yard of tests and surveys alone, some of which replace others, under the same key or another.
func drawMeasured(t *rapid.T, tb testing.TB) *testYard {
	y := newYard(tb, pile("P1"), pile("P2"))
	seen := map[string]bool{}
	var keys []string
	for n := range rapid.IntRange(0, 12).Draw(t, "facts") {
		taken, code := instants().Draw(t, "at"), rapid.SampledFrom([]string{"P1", "P2", ""}).Draw(t, "pile")
		product := ""
		if code == "" {
			product = "S20"
		}
		var f ledger.Fact
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0:
			f = ledger.MoistureTest{Pile: code, Product: product, Taken: taken, Moisture: mustDry(tb, fmt.Sprint(n))}
		case 1:
			f = ledger.DensityTest{Pile: code, Product: product, Taken: taken, MoistTPerM3: decimal.NewFromInt(int64(n + 1)), Compaction: decimal.NewFromInt(1)}
		default:
			f = ledger.Survey{Survey: fmt.Sprint(n), Pile: "P1", Start: taken, End: taken, VolumeM3: decimal.NewFromInt(int64(n))}
		}
		if seen[f.Kind().String()+f.Key()] {
			continue
		}
		seen[f.Kind().String()+f.Key()] = true
		y.add(f)
		switch rapid.IntRange(0, 3).Draw(t, "corrected") {
		case 0:
			y.replace(f.Key(), f)
		case 1:
			if len(keys) > 0 { // in vain where it is of another kind
				y.replace(rapid.SampledFrom(keys).Draw(t, "replaces"), f)
				y.records[len(y.records)-1].Revision = 1
			}
		}
		keys = append(keys, f.Key())
	}
	return y
}

// answers asks a register all that depends on tests and surveys.
func answers(y *testYard, reg *ledger.Register, from, until time.Time) (said []string) {
	for _, code := range []string{"P1", "P2", "P9"} {
		id := ledger.PileID{Yard: "Y", Code: code}
		moisture, flags := reg.Moisture(id, until)
		test, tested := reg.MoistureTest(id, until)
		dense, later, weighed := reg.Density(id, until)
		said = append(said, fmt.Sprint(code, moisture, flags, test, tested, dense, later, weighed))
		for _, s := range reg.Surveys(id, from, until) {
			said = append(said, s.ID())
		}
	}
	for i := range y.records {
		rec := &y.records[i]
		survey, surveyed := reg.Survey(rec.ID())
		dense, weighed := reg.DensityTest("Y", rec.Fact.Key())
		said = append(said, fmt.Sprint(rec.ID(), survey, surveyed, dense, weighed, reg.Superseded(rec)))
	}
	return said
}

// older answers for the records that were left out.
type older struct {
	left  []ledger.Record
	since time.Time
	all   *ledger.Register
	times int // that All was asked
}

func (o *older) Has(k ledger.Kind, yard, beginning string) bool {
	return slices.ContainsFunc(o.left, func(r ledger.Record) bool {
		return r.Fact.Kind() == k && r.Yard == yard && strings.HasPrefix(r.Fact.Key(), beginning) && r.At.Before(o.since)
	})
}

func (o *older) All() *ledger.Register {
	o.times++
	return o.all
}

// A register without the older tests and surveys answers as one of all of them does.
func TestRecentRegister(t *testing.T) {
	asked, spared := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		y := drawMeasured(rt, t)
		since, from, until := instants().Draw(rt, "since"), instants().Draw(rt, "from"), instants().Draw(rt, "until")
		whole := y.register()
		var recent []ledger.Record
		for _, rec := range y.records {
			if !ledger.LeavesOut(rec.Fact.Kind(), rec.At, since, rec.Replaces != "") {
				recent = append(recent, rec)
			}
		}
		older := &older{left: y.records, since: since, all: whole}
		reg, err := ledger.NewRecentRegister(recent, since, older)
		if err != nil {
			rt.Fatal(err)
		}
		id := ledger.PileID{Yard: "Y", Code: "P1"}
		if test, ok := reg.MoistureTest(id, until); ok && test.Pile != "" && !test.Taken.Before(since) && !until.Before(test.Taken) && older.times > 0 {
			rt.Fatal("an older test was asked for, and a newer one is in force")
		}
		if older.times == 0 {
			spared++
		}
		if d := cmp.Diff(answers(y, whole, from, until), answers(y, reg, from, until)); d != "" {
			rt.Fatalf("since %v (-whole +recent):\n%s", since, d)
		}
		if asked += older.times; older.times > 1 {
			rt.Fatalf("the whole register was asked for %d times", older.times)
		}
	})
	if asked == 0 || spared == 0 {
		t.Errorf("asked for %d times, spared %d times: want both", asked, spared)
	}
}

// Where the older ones cannot be had, the register answers from what it has, and asks no second time.
func TestRecentRegisterWithoutOlder(t *testing.T) {
	y := newYard(t, pile("P1"))
	older := &older{left: []ledger.Record{{Yard: "Y", Fact: ledger.MoistureTest{Pile: "P1"}}}, since: at("2026-10-01 00:00")}
	reg, err := ledger.NewRecentRegister(y.records, at("2026-10-01 00:00"), older)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if m, flags := reg.Moisture(ledger.PileID{Yard: "Y", Code: "P1"}, at("2026-10-05 00:00")); flags != ledger.FlagMoistureAssumed || !m.Equal(mustDry(t, "2")) {
			t.Errorf("%v %v", m, flags)
		}
	}
	if older.times != 1 {
		t.Errorf("asked %d times", older.times)
	}
}
