package simyard_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"repose/internal/simyard"
)

// found is a finding with the rows that it names: of loads, of deck tickets, and of others, and the rows of
// the same names in the yard without the fault.
type found struct {
	simyard.Finding
	loads, deck, other []row
	clean              map[string]row
}

// findRows returns the findings of a fault in the quick yard.
func findRows(t *testing.T, fault string) []found {
	t.Helper()
	clean, faulty := generate(t, simyard.Quick(11)), generate(t, with(simyard.Quick(11), fault))
	byID := func(y *simyard.Yard) map[string]row {
		all := map[string]row{}
		for _, f := range y.Files {
			for _, r := range rows(t, y, f.Name) {
				all[r.id(f.Name)] = r
			}
		}
		return all
	}
	now, before := byID(faulty), byID(clean)
	var all []found
	for _, g := range faulty.Truth.Findings() {
		f := found{Finding: g, clean: before}
		for _, id := range g.Records {
			switch {
			case strings.HasPrefix(id, "load:"):
				f.loads = append(f.loads, now[id])
			case strings.HasPrefix(id, "deck:"):
				f.deck = append(f.deck, now[id])
			default:
				f.other = append(f.other, now[id])
			}
		}
		all = append(all, f)
	}
	if len(all) == 0 {
		t.Fatalf("%s: nothing to find", fault)
	}
	return all
}

// was returns the row of a table in the yard without the fault.
func (f found) was(r row, table string) row { return f.clean[r.id(table)] }

// near holds a number to another.
func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.4f, want %.4f within %.4f", what, got, want, within)
	}
}

// missing holds what a finding makes of a pile's difference to tonnes as weighed, with up to 7 % of water.
func (f found) missing(t *testing.T, pile string, wet float64) {
	t.Helper()
	near(t, f.Rule+", pile "+pile, tonnes(f.Missing(pile)), 0.955*wet, 0.025*math.Abs(wet)+0.7)
}

func TestNumberFaults(t *testing.T) {
	for _, f := range findRows(t, "repeated-number:L1:2:2") {
		a, b := f.loads[0]["ticket"], f.loads[1]["ticket"]
		if len(f.loads) != 2 || a == b || strings.TrimLeft(a[3:], "0") != strings.TrimLeft(b[3:], "0") || f.Shares != nil {
			t.Errorf("%s and %s, want one number padded in two ways", a, b)
		}
	}
	for _, f := range findRows(t, "out-of-order:L1:2:2") {
		if a, b := f.loads[0], f.loads[1]; a["time"] >= b["time"] || a["ticket"] <= b["ticket"] || f.Shares != nil {
			t.Errorf("%v and %v, want the earlier with the later number", a, b)
		}
	}
	for _, f := range findRows(t, "missing:L1:2:4") {
		if len(f.Absent) == 0 || len(f.loads) < 1 || len(f.deck) != len(f.Absent) {
			t.Errorf("%+v, want neighbours, and deck tickets of what is missing", f.Finding)
		}
	}
	for _, f := range findRows(t, "outage-pad:L1:2:5") {
		for _, r := range f.loads {
			if !strings.HasPrefix(r["ticket"], "PAD-") || r["time"][:10] != f.loads[0]["time"][:10] {
				t.Errorf("%v, want a pad's number on one day", r)
			}
		}
		if len(f.loads) != 5 || len(f.deck) != 0 || f.Shares != nil {
			t.Errorf("%d loads and %d deck tickets, want 5 and none", len(f.loads), len(f.deck))
		}
	}
}

func TestVoidsAndTwins(t *testing.T) {
	for _, f := range findRows(t, "void-after-exit:L1:2:2") {
		r := f.loads[0]
		if r["status"] != "void" || len(f.loads) != 1 || f.deck[0]["truck"] != r["truck"] {
			t.Errorf("%v and %v, want a void load whose truck was weighed", r, f.deck)
		}
		f.missing(t, r["pile"], r.number(t, "net [t]"))
	}
	for fault, want := range map[string][2]string{"void-reissued:L2:2:2": {"void", "kept"}, "near-twin:L2:2:2": {"kept", "kept"}} {
		for _, f := range findRows(t, fault) {
			a, b := f.loads[0], f.loads[1]
			if a["status"] != want[0] || b["status"] != want[1] || a["net [t]"] != b["net [t]"] || a["truck"] != b["truck"] || a["pile"] != b["pile"] ||
				a["ticket"] >= b["ticket"] || since(t, a["time"], b["time"]) <= 0 || since(t, a["time"], b["time"]) > 3*time.Minute || len(f.deck) != 1 {
				t.Errorf("%s: %v and %v with %d deck tickets", fault, a, b, len(f.deck))
			}
			wet := 0.0
			if want[0] == "kept" {
				wet = -b.number(t, "net [t]")
			}
			f.missing(t, b["pile"], wet)
		}
	}
}

func TestUnmatched(t *testing.T) {
	for _, f := range findRows(t, "no-deck-ticket:L1:2:2") {
		if len(f.loads) != 1 || len(f.deck) != 0 || f.Shares != nil || f.Solids < 18e6 {
			t.Errorf("%+v, want a load alone", f.Finding)
		}
	}
	for _, f := range findRows(t, "no-loader-load:L1:2:2") {
		if len(f.loads) != 0 || len(f.deck) != 1 || len(f.Shares) != 1 || len(f.Absent) != 0 {
			t.Fatalf("%+v, want a deck ticket alone", f.Finding)
		}
		f.missing(t, f.Shares[0].Pile, f.deck[0].number(t, "net [t]"))
	}
	for _, f := range findRows(t, "wrong-truck:L1:2:20") {
		if f.loads[0]["truck"] == f.deck[0]["truck"] || f.was(f.loads[0], "loads.csv")["truck"] != f.deck[0]["truck"] || f.Shares != nil {
			t.Errorf("%v crosses as %v", f.loads[0], f.deck[0])
		}
		for id, r := range f.clean {
			if strings.HasPrefix(id, "load:") && r["truck"] == f.loads[0]["truck"] && since(t, r["time"], f.loads[0]["time"]).Abs() < 3*time.Hour {
				t.Errorf("%v names the truck of %v", f.loads[0], r)
			}
		}
	}
	for _, f := range findRows(t, "wrong-product:C>B:2:2") {
		if r := f.loads[0]; r["pile"] != "C" || r["product"] != "20mm" || f.deck[0]["product"] != "10mm" || f.Shares != nil {
			t.Errorf("%v crosses as %v", r, f.deck[0])
		}
	}
	for _, f := range findRows(t, "wrong-pile:C>B:2:2") {
		r := f.loads[0]
		if r["pile"] != "B" || r["product"] != "20mm" || f.deck[0]["product"] != "10mm" || f.was(r, "loads.csv")["pile"] != "C" {
			t.Errorf("%v crosses as %v", r, f.deck[0])
		}
		f.missing(t, "C", r.number(t, "net [t]"))
		f.missing(t, "B", -r.number(t, "net [t]"))
	}
}

func TestSeveralToOne(t *testing.T) {
	for _, f := range findRows(t, "split-load:L1:2:2") {
		a, b := f.loads[0], f.loads[1]
		near(t, "two parts", a.number(t, "net [t]")+b.number(t, "net [t]"), f.deck[0].number(t, "net [t]"), 1.2)
		if a["truck"] != b["truck"] || a.number(t, "passes")+b.number(t, "passes") != 4 || len(f.deck) != 1 || f.Shares != nil {
			t.Errorf("%v and %v, want two parts of a load", a, b)
		}
	}
	for _, f := range findRows(t, "lumped:L1:2:2") {
		r := f.loads[0]
		near(t, "a record of two", r.number(t, "net [t]"), f.deck[0].number(t, "net [t]")+f.deck[1].number(t, "net [t]"), 1.7)
		if len(f.loads) != 1 || len(f.deck) != 2 || r["passes"] != "8" || f.Shares != nil {
			t.Errorf("%v of %v, want two trucks", r, f.deck)
		}
	}
}

func TestWrongWeights(t *testing.T) {
	for fault, sign := range map[string]float64{"bucket-pass:L1:2:3": 1, "bucket-pass:L1:2:-3": -1} {
		for _, f := range findRows(t, fault) {
			r := f.loads[0]
			was := f.was(r, "loads.csv")
			bucket := was.number(t, "net [t]") / was.number(t, "passes")
			near(t, fault, r.number(t, "net [t]")-was.number(t, "net [t]"), sign*bucket, 0.2*bucket)
			near(t, fault, r.number(t, "passes")-was.number(t, "passes"), sign, 0)
			f.missing(t, r["pile"], was.number(t, "net [t]")-r.number(t, "net [t]"))
		}
	}
	for _, f := range findRows(t, "below-zero:D:2:1") {
		r := f.loads[0]
		factor := r.number(t, "net [t]") / f.was(r, "loads.csv").number(t, "net [t]")
		near(t, "powers of ten", math.Log10(factor), math.Round(math.Log10(factor)), 1e-9)
		if r.number(t, "net [t]") < 6_000 || r["pile"] != "D" {
			t.Errorf("%v, want more than lies in D", r)
		}
		f.missing(t, "D", -r.number(t, "net [t]"))
	}
}

func TestRowsOfWrongWeights(t *testing.T) {
	for fault, ratio := range map[string]float64{"unit-slip:L1:2:30": 1.10231, "unit-slip:L1:2:-30": 0.90718, "unit-slip:D1:2:30": 1.10231} {
		for _, f := range findRows(t, fault) {
			table, list := "loads.csv", f.loads
			if strings.Contains(fault, "D1") {
				table, list = "deck.csv", f.deck
			}
			sum := map[string]float64{}
			for _, r := range list {
				was := f.was(r, table).number(t, "net [t]")
				near(t, fault, r.number(t, "net [t]")/was, ratio, 0.001)
				if table == "loads.csv" { // the deck moves nothing
					sum[r["pile"]] += was - r.number(t, "net [t]")
				}
			}
			if len(list) != 30 || table == "deck.csv" && (f.Shares != nil || len(f.loads) != 0) {
				t.Errorf("%s: %d rows, %d loads, shares %v", fault, len(list), len(f.loads), f.Shares)
			}
			for pile, wet := range sum {
				f.missing(t, pile, wet)
			}
		}
	}
	for _, f := range findRows(t, "round-weights:L2:2:20") {
		for _, r := range f.loads {
			if was := f.was(r, "loads.csv").number(t, "net [t]"); r.number(t, "net [t]") != math.Round(was) {
				t.Errorf("%v, want %.2f t in whole t", r, was)
			}
		}
	}
}

func TestTares(t *testing.T) {
	trucks := map[string]bool{}
	for _, f := range findRows(t, "old-tare:D1:2:2") {
		for _, r := range f.deck {
			was := f.was(r, "deck.csv")
			near(t, "net", r.number(t, "net [t]"), was.number(t, "gross [t]")-f.deck[0].number(t, "tare [t]"), 1e-9)
			if r["tare [t]"] != f.deck[0]["tare [t]"] || r["truck"] != f.deck[0]["truck"] || r["gross [t]"] != was["gross [t]"] {
				t.Errorf("%v, want the tare of %v", r, f.deck[0])
			}
		}
		if trucks[f.deck[0]["truck"]] = true; len(f.deck) < 5 || len(f.loads) != 0 || f.Shares != nil {
			t.Errorf("%+v, want five visits or more", f.Finding)
		}
	}
	shared := map[string]bool{}
	for _, f := range findRows(t, "same-tare:D1:2:4") {
		for _, r := range f.deck {
			shared[r["truck"]] = true
			if r["tare [t]"] != f.deck[0]["tare [t]"] {
				t.Errorf("%v, want the tare of %v", r, f.deck[0])
			}
		}
	}
	if len(trucks) != 2 || len(shared) != 4 {
		t.Errorf("%d trucks with old tares and %d with the same, want 2 and 4", len(trucks), len(shared))
	}
}

func TestHours(t *testing.T) {
	for fault, from := range map[string]string{"outside-hours:L1:2:3": "18:40", "night-pickup:L2:2:3": "22:10"} {
		all := findRows(t, fault)
		if len(all) != 3 {
			t.Errorf("%s: %d findings, want 3", fault, len(all))
		}
		for _, f := range all {
			for _, r := range slices.Concat(f.loads, f.deck) {
				if r["time"][11:16] < from || r["customer"] == "" || len(f.loads) != 1 || len(f.deck) != 1 {
					t.Errorf("%s: %v, want a customer's after %s", fault, r, from)
				}
			}
		}
	}
}

func TestSiteFaults(t *testing.T) {
	for _, f := range findRows(t, "one-sided:C>D:2:2") {
		r := f.other[0]
		if r["from pile"] != "C" || r["to pile"] != "" || f.Missing("C") != 0 {
			t.Errorf("%v, want no pile that it came to", r)
		}
		f.missing(t, "D", -r.number(t, "net [t]"))
	}
	for _, f := range findRows(t, "belt-idle:B1:2:40t") {
		r := f.other[0]
		if !strings.Contains(r["time"], " 02:") || len(f.Shares) != 1 || f.Shares[0].Pile != r["pile"] {
			t.Errorf("%v, want a run in the night", r)
		}
		near(t, "idle", tonnes(f.Missing(r["pile"])), 40, 0.02)
	}
	for _, f := range findRows(t, "feed-as-new:B2:2:1") {
		run, feeds := f.other[0], f.Records[1:]
		if len(feeds) != 4 || run["time"] != "2026-04-25 17:15" || f.Shares != nil || f.Solids == 0 {
			t.Errorf("%v with %v, want a run while four loads are fed", run, feeds)
		}
	}
}

func TestSurveyFaults(t *testing.T) {
	for _, f := range findRows(t, "survey-while-loading:A:2:2") {
		survey := f.other[0]
		for _, r := range f.loads {
			if r["time"] < survey["start"] || r["time"] > survey["end"] || r["pile"] != "A" {
				t.Errorf("%v is not within %v", r, survey)
			}
		}
		if len(f.loads) != 2 || f.was(survey, "surveys.csv")["end"] != survey["end"] {
			t.Errorf("%v with %d loads, want two", survey, len(f.loads))
		}
	}
	for _, f := range findRows(t, "toe-jump:C:2:+25%") {
		r := f.other[0]
		near(t, "toe", r.number(t, "toe area [m2]")/f.was(r, "surveys.csv").number(t, "toe area [m2]"), 1.25, 0.01)
		if r["survey"] != "S02" || r["pile"] != "C" {
			t.Errorf("%v, want that of C", r)
		}
	}
	for _, f := range findRows(t, "stale-base:B:2:900d") {
		if got := f.other[0]["base"]; got != "ground 2023-11-12" {
			t.Errorf("base %q, want one of 900 days before", got)
		}
	}
}

func TestTestFaults(t *testing.T) {
	for fault, want := range map[string]string{"stale-density:E:2:100d": "2026-01-20 20:45", "stale-density:E:2:20d": "2026-03-31 05:00"} {
		for _, f := range findRows(t, fault) {
			if got := f.other[1]["taken"]; got != want || f.other[0]["pile"] != "E" || f.Shares != nil {
				t.Errorf("%s: density of %s in force, want %s", fault, got, want)
			}
		}
	}
	for fault, want := range map[string]string{"stale-moisture:A:2:60d": "2026-03-01 05:30", "stale-moisture:A:2:100d": "2026-01-21 00:00"} {
		for _, f := range findRows(t, fault) {
			if got := f.other[0]["taken"]; got != want || len(f.Shares) == 0 {
				t.Errorf("%s: moisture of %s in force with shares %v, want %s", fault, got, f.Shares, want)
			}
		}
	}
	for _, f := range findRows(t, "wet-for-dry:A:2:1") {
		r := f.other[0]
		dry := f.was(r, "moistures.csv").number(t, "moisture [% dry]")
		near(t, "wet basis", r.number(t, "moisture [% dry]"), 100*dry/(100+dry), 0.0002)
	}
}

// A totaliser that was set back shows the run after it, counts on from there, and without it all readings
// rise by the nets of the clean yard.
func TestTotaliser(t *testing.T) {
	nets := func(faults ...string) (rises []float64, falls []string) {
		before := math.NaN()
		for _, r := range rows(t, generate(t, with(simyard.Quick(11), faults...)), "production.csv") {
			if r["belt"] != "B2" {
				continue
			}
			now := r.number(t, "reading [t]")
			if now < before {
				falls = append(falls, r.id("production.csv"))
				before = 0
			}
			if !math.IsNaN(before) {
				rises = append(rises, math.Round(1000*(now-before)))
			}
			before = now
		}
		return rises, falls
	}
	clean, none := nets()
	reset, falls := nets("totaliser-reset:B2:2:2")
	if !slices.Equal(clean, reset) || len(none) != 0 || len(clean) == 0 {
		t.Errorf("nets differ, or the clean yard falls at %v", none)
	}
	var want []string
	for _, f := range findRows(t, "totaliser-reset:B2:2:2") {
		want = append(want, f.Records...)
		if f.Missing("D") >= 0 {
			t.Errorf("%+v, want stone that no record has come", f.Finding)
		}
	}
	if !slices.Equal(falls, want) || len(want) != 2 {
		t.Errorf("falls at %v, want %v", falls, want)
	}
}
