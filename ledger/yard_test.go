package ledger_test

import (
	"iter"
	"slices"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// testYard collects facts of yard Y and derives its months.
type testYard struct {
	t       testing.TB
	records []ledger.Record
}

func newYard(t testing.TB, facts ...ledger.Fact) *testYard {
	y := &testYard{t: t}
	y.add(ledger.Yard{Code: "Y", Name: "Test yard", Zone: "Europe/London", Unit: ledger.UnitTonne},
		ledger.Product{Code: "S20", Name: "20 mm", Reference: mustDry(t, "2")})
	y.add(facts...)
	return y
}

func mustDry(t testing.TB, pct string) ledger.DryBasis {
	t.Helper()
	m, err := ledger.NewDryBasis(decimal.RequireFromString(pct))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func (y *testYard) add(facts ...ledger.Fact) *ledger.Record {
	y.t.Helper()
	var last *ledger.Record
	for _, f := range facts {
		r, err := ledger.NewRecord("Y", f)
		if err != nil {
			y.t.Fatal(err)
		}
		r.Seq = int64(len(y.records))
		y.records = append(y.records, r)
		last = &y.records[len(y.records)-1]
	}
	return last
}

// replace adds a fact that takes the place of the record with the given key.
func (y *testYard) replace(key string, f ledger.Fact) {
	y.t.Helper()
	r := y.add(f)
	r.Replaces = key
	if key == f.Key() {
		r.Revision = 1
	}
}

func (y *testYard) register() *ledger.Register {
	y.t.Helper()
	reg, err := ledger.NewRegister(y.records)
	if err != nil {
		y.t.Fatal(err)
	}
	return reg
}

// input returns the input of a period: its own records and the deck tickets of the hours after it.
func (y *testYard) input(period string, opening ledger.State) ledger.Input {
	y.t.Helper()
	p, err := ledger.ParsePeriod(period)
	if err != nil {
		y.t.Fatal(err)
	}
	reg := y.register()
	zone, _ := reg.Zone("Y")
	from, until := p.Start(zone), p.End(zone).Add(2*time.Hour)
	return ledger.Input{Register: reg, Yard: "Y", Period: p, Opening: opening, Records: inOrder(y.records, from, until)}
}

func inOrder(records []ledger.Record, from, until time.Time) iter.Seq2[*ledger.Record, error] {
	var in []*ledger.Record
	for i := range records {
		if r := &records[i]; !r.At.IsZero() && !r.At.Before(from) && r.At.Before(until) {
			in = append(in, r)
		}
	}
	slices.SortFunc(in, (*ledger.Record).Compare)
	return func(yield func(*ledger.Record, error) bool) {
		for _, r := range in {
			if !yield(r, nil) {
				return
			}
		}
	}
}

func (y *testYard) month(period string, opening ledger.State) (*ledger.Month, []*ledger.Entry) {
	y.t.Helper()
	return derive(y.t, y.input(period, opening))
}

func derive(t testing.TB, in ledger.Input) (*ledger.Month, []*ledger.Entry) {
	t.Helper()
	var entries []*ledger.Entry
	m, err := ledger.Derive(in, func(e *ledger.Entry) error {
		entries = append(entries, e)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return m, entries
}

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

func tons(t float64) ledger.Mass { return ledger.Mass(t*1000) * ledger.Kilogram }

func pile(code string) ledger.Pile { return ledger.Pile{Code: code, Product: "S20"} }

func account(code string) ledger.Account { return ledger.PileID{Yard: "Y", Code: code}.Account() }

// dryAs is a moisture test of zero, so that an example in one mass can be entered as it stands.
func dryAs(code string) ledger.Fact {
	return ledger.MoistureTest{Pile: code, Taken: at("2025-01-01 00:00")}
}

func density(code, tPerM3 string) ledger.Fact {
	return ledger.DensityTest{Pile: code, Taken: at("2025-01-01 00:00"), MoistTPerM3: decimal.RequireFromString(tPerM3),
		Compaction: decimal.NewFromInt(1)}
}

func survey(code, end, m3 string) ledger.Survey {
	return ledger.Survey{Survey: "S-" + end, Pile: code, Start: at(end).Add(-time.Hour), End: at(end),
		VolumeM3: decimal.RequireFromString(m3)}
}

func policy(name ledger.PolicyName, value string) ledger.Fact {
	return ledger.Policy{Name: name, Value: value, From: at("2025-01-01 00:00")}
}

func load(ticket, when, code string, net float64) ledger.Load {
	return ledger.Load{At: at(when), Loader: "L1", Ticket: ticket, Pile: code, Truck: "T" + ticket, Net: tons(net), Purpose: ledger.PurposeSale}
}

func made(when, code string, net float64) ledger.Production {
	return ledger.Production{At: at(when), Belt: "B1", Pile: code, Net: tons(net)}
}
