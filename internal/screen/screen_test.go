package screen_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/ledger"
)

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

// dataOf builds the data of October of a yard of facts.
func dataOf(t *testing.T, facts ...ledger.Fact) *screen.Data {
	t.Helper()
	facts = append([]ledger.Fact{ledger.Yard{Code: "Y", Name: "Test yard", Zone: "Europe/London", Unit: ledger.UnitTonne},
		ledger.Product{Code: "S20"}, ledger.Pile{Code: "P1", Product: "S20"}}, facts...)
	var records []ledger.Record
	for i, f := range facts {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			t.Fatal(err)
		}
		rec.Seq = int64(i)
		records = append(records, rec)
	}
	slices.SortFunc(records, func(a, b ledger.Record) int { return a.Compare(&b) })
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	october, err := ledger.ParsePeriod("2026-10")
	if err != nil {
		t.Fatal(err)
	}
	all := func(yield func(*ledger.Record, error) bool) {
		for i := range records {
			if !records[i].At.IsZero() && !yield(&records[i], nil) {
				return
			}
		}
	}
	m, err := ledger.Derive(ledger.Input{Register: reg, Yard: "Y", Period: october, Opening: ledger.NewState(), Records: all},
		func(*ledger.Entry) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	d, err := screen.NewData(screen.Input{Register: reg, Month: m, Records: all})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// every finds each load, with a setting that it shows.
type every struct{}

var shown = screen.Setting{Name: "rule every load mass", Holds: screen.Tonnage, Default: "5 t", Meaning: "What is shown."}

func (every) Info() screen.Info {
	return screen.Info{Name: "every load", Strength: screen.Certain, Settings: []screen.Setting{shown}}
}

func (every) Look(d *screen.Data, found func(screen.Finding)) {
	for _, l := range d.Loads {
		found(screen.Finding{Subject: l.Rec.ID(), Time: l.At(), Pile: l.Fact.Pile, Mass: d.Tonnage(shown),
			Effects: []screen.Effect{{Pile: "P1", Mass: 26 * ledger.Tonne}}})
	}
}

func load(ticket, clock string) ledger.Load {
	return ledger.Load{At: at(clock), Loader: "L1", Ticket: ticket, Pile: "P1", Net: 20 * ledger.Tonne, Purpose: ledger.PurposeSale}
}

func policy(name, value string) ledger.Fact {
	return ledger.Policy{Name: ledger.PolicyName(name), Value: value, From: at("2026-01-01 00:00")}
}

func run(t *testing.T, facts ...ledger.Fact) []screen.Exception {
	t.Helper()
	all, err := screen.Run(dataOf(t, facts...), []screen.Rule{every{}})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// Findings of other months are dropped; the rest have the same ID whatever a yard sets and whatever else is there, and
// their effects in solids at the pile's moisture.
func TestRun(t *testing.T) {
	moist := ledger.MoistureTest{Pile: "P1", Taken: at("2026-09-01 00:00"), Moisture: dry(t, "4")}
	plain := run(t, moist, load("1", "2026-09-30 22:30"), load("2", "2026-09-30 23:30"), load("3", "2026-11-01 00:30"))
	if len(plain) != 1 || plain[0].Subject != "load:Y:L1/2" { // half past midnight on the first, by the yard's clock
		t.Fatalf("found %+v, want load 2 alone", plain)
	}
	if diff := cmp.Diff([]screen.Effect{{Pile: "P1", Mass: 25 * ledger.Tonne}}, plain[0].Solids); diff != "" {
		t.Errorf("solids (-want +got):\n%s", diff)
	}
	set := run(t, moist, policy("rule every load mass", "7 t"), load("2", "2026-09-30 23:30"), load("9", "2026-10-04 10:00"))
	if set[0].ID != plain[0].ID || set[0].Mass != 7*ledger.Tonne || plain[0].Mass != 5*ledger.Tonne {
		t.Errorf("with a setting %s %v, without %s %v", set[0].ID, set[0].Mass, plain[0].ID, plain[0].Mass)
	}
	if p, err := screen.MonthOfID(plain[0].ID); err != nil || p.String() != "2026-10" {
		t.Errorf("month of %s: %v, %v", plain[0].ID, p, err)
	}
	if off := run(t, policy("rule every load", "off"), load("2", "2026-10-04 10:00")); len(off) != 0 {
		t.Errorf("switched off it found %+v", off)
	}
}

func dry(t *testing.T, pct string) ledger.DryBasis {
	t.Helper()
	d, err := ledger.ParseDecimal(pct)
	if err != nil {
		t.Fatal(err)
	}
	m, err := ledger.NewDryBasis(d)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A setting that goes nowhere is itself found, and the default is in force.
func TestSettingsThatGoNowhere(t *testing.T) {
	for name, value := range map[string]string{"rule every load mass": "many", "rule every lode mass": "7 t", "rule every load": "perhaps",
		"rule matching window minutes": "-1"} {
		all := run(t, policy(name, value), load("2", "2026-10-04 10:00"))
		if !slices.ContainsFunc(all, func(e screen.Exception) bool { return e.Rule == "setting not read" }) {
			t.Errorf("%s = %s went unseen: %+v", name, value, all)
		}
		if !slices.ContainsFunc(all, func(e screen.Exception) bool { return e.Rule == "every load" && e.Mass == 5*ledger.Tonne }) {
			t.Errorf("%s = %s: the default is not in force: %+v", name, value, all)
		}
	}
	good := run(t, policy("rule matching window minutes", "20"), policy("rule matching tolerance percent", "2 %"), policy("rule every load", "on"))
	if len(good) != 0 {
		t.Errorf("good settings: %+v", good)
	}
}

func TestMonthOfID(t *testing.T) {
	for _, id := range []string{"", "2610", "2613-AAAAAAAA", "261-AAAAAAAA", "2610-AAAA", "x610-AAAAAAAA"} {
		if p, err := screen.MonthOfID(id); err == nil {
			t.Errorf("%q is of %v", id, p)
		}
	}
}

// twice names one thing two times.
type twice struct{ every }

func (twice) Look(d *screen.Data, found func(screen.Finding)) {
	every{}.Look(d, found)
	every{}.Look(d, found)
}

func TestOneThingTwiceIsRefused(t *testing.T) {
	if _, err := screen.Run(dataOf(t, load("2", "2026-10-04 10:00")), []screen.Rule{twice{}}); err == nil {
		t.Error("a rule that names one thing twice was let through")
	}
}
