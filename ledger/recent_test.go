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

// measured gives what a recent register is made without.
type measured struct {
	since         time.Time
	recent, older []ledger.Record
	asked, times  int // that Recent and Older were asked
}

// measuredOf parts the records of a yard into those of a recent register, and the others.
func measuredOf(y *testYard, since time.Time) (bare []ledger.Record, m *measured) {
	m = &measured{since: since}
	for _, rec := range y.records {
		switch {
		case !ledger.IsMeasured(rec.Fact.Kind()) || rec.Replaces != "":
			bare = append(bare, rec)
		case rec.At.Before(since):
			m.older = append(m.older, rec)
		default:
			m.recent = append(m.recent, rec)
		}
	}
	return bare, m
}

func (m *measured) Recent(yard string) (time.Time, []ledger.Record) {
	if yard != "Y" {
		return m.since, nil
	}
	m.asked++
	return m.since, m.recent
}

func (m *measured) Older(yard string, _ time.Time) []ledger.Record {
	if yard != "Y" {
		return nil
	}
	m.times++
	return m.older
}

func (m *measured) HasOlder(k ledger.Kind, yard, beginning string, _ time.Time) bool {
	return slices.ContainsFunc(m.older, func(r ledger.Record) bool {
		return r.Fact.Kind() == k && r.Yard == yard && strings.HasPrefix(r.Fact.Key(), beginning)
	})
}

// A register that asks for tests and surveys when they are needed answers as one of all of them does.
func TestRecentRegister(t *testing.T) {
	asked, spared := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		y := drawMeasured(rt, t)
		since, from, until := instants().Draw(rt, "since"), instants().Draw(rt, "from"), instants().Draw(rt, "until")
		bare, m := measuredOf(y, since)
		reg, err := ledger.NewRecentRegister(bare, m)
		if err != nil {
			rt.Fatal(err)
		}
		id := ledger.PileID{Yard: "Y", Code: "P1"}
		if test, ok := reg.MoistureTest(id, until); ok && test.Pile != "" && !test.Taken.Before(since) && !until.Before(test.Taken) && m.times > 0 {
			rt.Fatal("an older test was asked for, and a newer one is in force")
		}
		if m.times == 0 {
			spared++
		}
		if d := cmp.Diff(answers(y, y.register(), from, until), answers(y, reg, from, until)); d != "" {
			rt.Fatalf("since %v (-whole +recent):\n%s", since, d)
		}
		if asked += m.times; m.times > 1 || m.asked > 1 {
			rt.Fatalf("asked for recent ones %d times, for older ones %d times", m.asked, m.times)
		}
	})
	if asked == 0 || spared == 0 {
		t.Errorf("asked for %d times, spared %d times: want both", asked, spared)
	}
}

// nothing gives nothing, as where the book cannot be read, though it has an older test.
type nothing struct{ asked int }

func (n *nothing) Recent(string) (time.Time, []ledger.Record) {
	n.asked++
	return at("2026-10-01 00:00"), nil
}
func (n *nothing) Older(string, time.Time) []ledger.Record { n.asked++; return nil }

func (n *nothing) HasOlder(ledger.Kind, string, string, time.Time) bool { return true }

// Where tests cannot be had, the register answers from what it has, and asks no second time.
func TestRecentRegisterWithoutTests(t *testing.T) {
	y, n := newYard(t, pile("P1")), new(nothing)
	reg, err := ledger.NewRecentRegister(y.records, n)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if m, flags := reg.Moisture(ledger.PileID{Yard: "Y", Code: "P1"}, at("2026-10-05 00:00")); flags != ledger.FlagMoistureAssumed || !m.Equal(mustDry(t, "2")) {
			t.Errorf("%v %v", m, flags)
		}
	}
	if n.asked != 2 {
		t.Errorf("asked %d times", n.asked)
	}
}
