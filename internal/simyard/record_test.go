package simyard_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/simyard"
)

// recordFaults are all kinds of faults of single records, and those of before that a single record shows, in
// sets that leave one another alone.
var recordFaults = [][]string{
	{"missing:L1:2:4", "repeated-number:L1:2:2", "out-of-order:L2:2:2", "void-after-exit:L1:2:2", "void-reissued:L2:2:2", "near-twin:L1:2:2",
		"no-deck-ticket:L1:2:2", "no-loader-load:L2:2:2", "bucket-pass:L1:2:2", "bucket-pass:L2:2:-2", "wrong-pile:C>B:2:2",
		"wrong-product:A>B:2:2", "wrong-truck:L1:2:2", "split-load:L1:2:2", "one-sided:C>D:2:2", "outside-hours:L2:2:2", "night-pickup:L1:2:2"},
	{"lumped:L1:2:2", "unit-slip:L1:2:30", "unit-slip:D1:2:-10", "old-tare:D1:2:1", "same-tare:D1:2:3", "round-weights:L2:2:20", "outage-pad:L1:2:4",
		"below-zero:D:2:1", "belt-idle:B1:2:40t", "belt-idle:B2:2:30t", "feed-as-new:B2:2:1", "totaliser-reset:B2:2:2"},
	{"swap:C>B:2:100t", "missed-transfer:C>D:2:60t", "stale-density:E:2:100d", "stale-moisture:C:2:100d", "stale-moisture:F:2:100d", "stale-base:B:2:900d",
		"survey-while-loading:E:2:2", "toe-jump:C:2:+25%", "wet-for-dry:A:2:1", "unit-slip:L2:2:-15"},
}

// id returns the name of the record that a row of a table becomes.
func (r row) id(table string) string {
	at := func(heading string) string {
		for _, layout := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05"} {
			if v, err := time.Parse(layout, r[heading]); err == nil {
				return v.Format("2006-01-02T15:04:05Z")
			}
		}
		return "?"
	}
	switch table {
	case "loads.csv":
		return "load:SIM:" + r["loader"] + "/" + r["ticket"]
	case "deck.csv":
		return "deck:SIM:" + r["deck"] + "/" + r["ticket"]
	case "transfers.csv":
		return "transfer:SIM:" + r["loader"] + "/" + r["ticket"]
	case "production.csv":
		return "production:SIM:" + r["belt"] + "/" + at("time")
	case "surveys.csv":
		return "survey:SIM:" + r["survey"] + "/" + r["pile"]
	case "moistures.csv":
		return "moisture:SIM:pile/" + r["pile"] + "/" + at("taken")
	case "densities.csv":
		return "density:SIM:pile/" + r["pile"] + "/" + at("taken")
	}
	return table
}

// difference returns the rows of a table that one yard has and the other has not, with or without their
// numbers.
func difference(t *testing.T, a, b *simyard.Yard, table string, numbers bool) []row {
	t.Helper()
	text := func(r row) string { return withoutTickets([]row{r})[0] }
	if numbers {
		text = func(r row) string { return withoutTickets([]row{r})[0] + r["ticket"] }
	}
	has := map[string]int{}
	for _, r := range rows(t, b, table) {
		has[text(r)]++
	}
	var only []row
	for _, r := range rows(t, a, table) {
		if has[text(r)]--; has[text(r)] < 0 {
			only = append(only, r)
		}
	}
	return only
}

// tables says how many rows of a table are gone and how many are new.
type tables map[string][2]int

// touched is what each fault changes in the quick yard of seed 11: -1 is as many as chance has it. Where it
// adds or takes a number, it shifts those of other rows.
var touched = map[string]struct {
	shifts bool
	want   tables
}{
	"missing:L1:2:4":             {false, tables{"loads.csv": {4, 0}}},
	"repeated-number:L1:2:2":     {true, tables{"loads.csv": {0, 0}}},
	"out-of-order:L1:2:2":        {false, tables{"loads.csv": {4, 4}}},
	"void-after-exit:L1:2:2":     {false, tables{"loads.csv": {2, 2}}},
	"void-reissued:L2:2:2":       {true, tables{"loads.csv": {2, 4}}},
	"near-twin:L1:2:2":           {true, tables{"loads.csv": {0, 2}}},
	"no-deck-ticket:L1:2:2":      {true, tables{"deck.csv": {2, 0}}},
	"no-loader-load:L1:2:2":      {true, tables{"loads.csv": {2, 0}}},
	"bucket-pass:L1:2:2":         {false, tables{"loads.csv": {2, 2}}},
	"bucket-pass:L2:2:-2":        {false, tables{"loads.csv": {2, 2}}},
	"unit-slip:L1:2:30":          {false, tables{"loads.csv": {30, 30}}},
	"unit-slip:D1:2:-20":         {false, tables{"deck.csv": {20, 20}}},
	"wrong-pile:C>B:2:3":         {false, tables{"loads.csv": {3, 3}}},
	"wrong-product:C>B:2:3":      {false, tables{"loads.csv": {3, 3}}},
	"wrong-truck:L1:2:2":         {false, tables{"loads.csv": {2, 2}}},
	"lumped:L1:2:3":              {true, tables{"loads.csv": {3, 1}}},
	"split-load:L1:2:2":          {true, tables{"loads.csv": {2, 4}}},
	"old-tare:D1:2:2":            {false, tables{"deck.csv": {-1, -1}}},
	"same-tare:D1:2:4":           {false, tables{"deck.csv": {-1, -1}}},
	"outside-hours:L1:2:2":       {false, tables{"loads.csv": {2, 2}, "deck.csv": {2, 2}}},
	"night-pickup:L2:2:2":        {false, tables{"loads.csv": {2, 2}, "deck.csv": {2, 2}}},
	"one-sided:C>D:2:2":          {false, tables{"transfers.csv": {2, 2}}},
	"below-zero:D:2:1":           {false, tables{"loads.csv": {1, 1}}},
	"belt-idle:B1:2:40t":         {false, tables{"production.csv": {0, 1}}},
	"feed-as-new:B2:2:1":         {false, tables{"production.csv": {1, 1}}},
	"stale-density:E:2:100d":     {false, tables{"densities.csv": {3, 1}}},
	"stale-density:E:2:20d":      {false, tables{"densities.csv": {1, 0}}},
	"stale-moisture:A:2:60d":     {false, tables{"moistures.csv": {1, 0}}},
	"stale-moisture:A:2:100d":    {false, tables{"moistures.csv": {3, 1}}},
	"stale-base:A:2:900d":        {false, tables{"surveys.csv": {1, 1}}},
	"survey-while-loading:A:2:2": {false, tables{"surveys.csv": {1, 1}}},
	"toe-jump:C:2:+25%":          {false, tables{"surveys.csv": {1, 1}}},
	"wet-for-dry:A:2:1":          {false, tables{"moistures.csv": {1, 1}}},
	"round-weights:L2:2:40":      {false, tables{"loads.csv": {-1, -1}}},
	"outage-pad:L1:2:5":          {true, tables{"loads.csv": {0, 0}, "deck.csv": {5, 0}}},
	"swap:C>B:2:100t":            {false, tables{"loads.csv": {-1, -1}}},
	"missed-transfer:C>D:2:60t":  {true, tables{"transfers.csv": {3, 0}}},
}

// A fault of records changes its own records, and leaves all other rows as they were, but for the numbers of
// later ones where it adds or takes a number.
func TestRecordFaultsTouchTheirRecords(t *testing.T) {
	clean := generate(t, simyard.Quick(11))
	for fault, c := range touched {
		t.Run(fault, func(t *testing.T) {
			faulty := generate(t, with(simyard.Quick(11), fault))
			var names []string
			for _, f := range clean.Files {
				if _, ok := c.want[f.Name]; ok {
					names = append(names, f.Name)
				}
			}
			(pair{t, clean, faulty, faulty.Truth.Faults[0]}).changed(names...)
			named := map[string]bool{}
			for _, f := range faulty.Truth.Findings() {
				for _, id := range f.Records {
					named[id] = true
				}
			}
			for table, want := range c.want {
				gone, fresh := difference(t, clean, faulty, table, !c.shifts), difference(t, faulty, clean, table, !c.shifts)
				got := [2]int{len(gone), len(fresh)}
				if want[0] < 0 && got[0] == got[1] && got[0] > 0 {
					got = want // as many as chance has it
				}
				if got != want {
					t.Errorf("%s: %d rows gone and %d new, want %v", table, len(gone), len(fresh), want)
				}
				for _, r := range fresh {
					if id := r.id(table); !named[id] {
						t.Errorf("%s is new and no finding names it", id)
					}
				}
			}
		})
	}
}

// Every record that a finding names is in the tables, every absent one is not, and each kind has the rule
// that should find it.
func TestFindingsNameRecords(t *testing.T) {
	kinds := map[string]bool{}
	for _, faults := range recordFaults {
		y := generate(t, with(simyard.Quick(3), faults...))
		held := map[string]bool{}
		for _, r := range takeIn(t, y) {
			held[r.ID()] = true
		}
		for _, f := range y.Truth.Faults {
			fault, err := simyard.ParseFault(f.Fault)
			if err != nil {
				t.Fatal(err)
			}
			kinds[fault.Kind.String()] = true
			findings := f.Months[0].Findings
			if len(findings) == 0 {
				t.Errorf("%s has no findings", f.Fault)
			}
			for _, g := range findings {
				if g.Rule != fault.Kind.Rule() || len(g.Records) == 0 && fault.Kind != simyard.MissedTransfer {
					t.Errorf("%s: %+v, want records and the rule %q", f.Fault, g, fault.Kind.Rule())
				}
				for _, id := range g.Records {
					if !held[id] {
						t.Errorf("%s: %s is not in the tables", f.Fault, id)
					}
				}
				for _, id := range g.Absent {
					if held[id] {
						t.Errorf("%s: %s is in the tables", f.Fault, id)
					}
				}
			}
		}
	}
	for _, k := range simyard.FaultKinds() {
		if k.Rule() != "" && !kinds[k.String()] {
			t.Errorf("no yard has the fault %s", k)
		}
	}
}

// A yard is clean but for its faults: no number is missing or twice, nothing is outside hours, every net is
// gross less tare, every sold load crosses the deck within minutes, and no truck comes twice within the hour.
func TestCleanYardIsClean(t *testing.T) {
	for seed := range uint64(5) {
		cfg := simyard.Quick(seed)
		cfg.Traffic = []int{0, 10, 42, 60, 100}[seed]
		y := generate(t, cfg)
		if n := len(y.Truth.Findings()); n != 0 {
			t.Errorf("seed %d: %d findings", seed, n)
		}
		for _, table := range []string{"loads.csv", "deck.csv", "transfers.csv"} {
			for name, s := range seriesOf(t, y, table) {
				if diff := cmp.Diff(series{count: s.last, last: s.last}, s, cmp.AllowUnexported(series{})); diff != "" {
					t.Errorf("seed %d: %s (-want +got):\n%s", seed, name, diff)
				}
			}
		}
		onDeck := map[string][]row{}
		for _, r := range rows(t, y, "deck.csv") {
			if got := r.number(t, "gross [t]") - r.number(t, "tare [t]") - r.number(t, "net [t]"); got > 1e-9 || got < -1e-9 {
				t.Errorf("seed %d: %v: gross less tare is %.3f off the net", seed, r, got)
			}
			onDeck[r["truck"]] = append(onDeck[r["truck"]], r)
			staffed(t, r["time"])
		}
		last := map[string]string{}
		for _, r := range slices.SortedFunc(slices.Values(rows(t, y, "loads.csv")), func(a, b row) int { return strings.Compare(a["time"], b["time"]) }) {
			staffed(t, r["time"])
			if r["purpose"] == "internal" {
				if r["customer"] != "" || len(onDeck[r["truck"]]) != 0 {
					t.Errorf("seed %d: %v, want no customer and no deck ticket", seed, r)
				}
				continue
			}
			next := onDeck[r["truck"]][0]
			onDeck[r["truck"]] = onDeck[r["truck"]][1:]
			if lag := since(t, r["time"], next["time"]); lag < 3*time.Minute || lag > 15*time.Minute || next["product"] != r["product"] || next["customer"] != r["customer"] {
				t.Errorf("seed %d: %v crosses as %v", seed, r, next)
			}
			if before := last[r["truck"]]; before != "" && since(t, before, r["time"]) < time.Hour {
				t.Errorf("seed %d: %s comes at %s and %s", seed, r["truck"], before, r["time"])
			}
			last[r["truck"]] = r["time"]
		}
		for truck, left := range onDeck {
			if len(left) != 0 {
				t.Errorf("seed %d: %s has %d deck tickets too many", seed, truck, len(left))
			}
		}
	}
}

func since(t *testing.T, from, to string) time.Duration {
	t.Helper()
	a, err := time.Parse(time.DateTime, from)
	if err != nil {
		t.Fatal(err)
	}
	b, err := time.Parse(time.DateTime, to)
	if err != nil {
		t.Fatal(err)
	}
	return b.Sub(a)
}

func staffed(t *testing.T, at string) {
	t.Helper()
	if day, err := time.Parse(time.DateTime, at); err != nil || day.Weekday() == time.Sunday || day.Hour() < 6 || day.Hour() >= 18 {
		t.Errorf("%s is outside staffed hours", at)
	}
}
