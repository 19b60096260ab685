package rules_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"repose/internal/screen"
	"repose/internal/screen/rules"
	"repose/internal/simyard"
	"repose/internal/stat"
)

// cleanMonths is how many yard-months without a fault the rules are held to.
func cleanMonths() int {
	if testing.Short() {
		return 40
	}
	return 200
}

// On clean yards a rule that is certain finds nothing, and every other no more than it says.
func TestCleanMonths(t *testing.T) {
	found := map[string]int{}
	first := map[string]string{}
	for seed := range cleanMonths() {
		y, err := simyard.Month(uint64(1000 + seed))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range simulated(t, y) {
			found[e.Rule]++
			if first[e.Rule] == "" {
				first[e.Rule] = fmt.Sprintf("seed %d: %s", 1000+seed, e.Seen)
			}
		}
	}
	for _, r := range rules.All() {
		i := r.Info()
		n := found[i.Name]
		low, _ := stat.PoissonInterval(n, 0.99)
		if allowed := i.FalseAlarms * float64(cleanMonths()); low > allowed || i.FalseAlarms == 0 && n > 0 {
			t.Errorf("%s: %d findings in %d clean months, want at most %g a month in the mean; the first is %s", i.Name, n, cleanMonths(), i.FalseAlarms, first[i.Name])
		}
		delete(found, i.Name)
	}
	if len(found) > 0 {
		t.Errorf("findings of rules that are not in the list: %v", found)
	}
}

// seeded is a kind of fault, what it takes to have one in the second month, and how much of it has to be found.
type seeded struct {
	fault  string
	recall float64 // at least this share, but for the chance of small numbers, of the findings that the truth has; 1 for rules that are certain
}

// everyKind seeds each kind of fault that single records show. The recall of those that are not certain is what was
// measured, with room for chance.
var everyKind = []seeded{
	{fault: "missing:L1:2:3", recall: 1},
	{fault: "repeated-number:L1:2:2", recall: 1},
	{fault: "out-of-order:L1:2:2", recall: 1},
	{fault: "void-after-exit:L1:2:3", recall: 0.95},
	{fault: "void-reissued:L1:2:3", recall: 1},
	{fault: "near-twin:L1:2:3", recall: 1},
	{fault: "no-deck-ticket:L1:2:3", recall: 0.95},
	{fault: "no-loader-load:L1:2:3", recall: 0.95},
	{fault: "bucket-pass:L1:2:3", recall: 0.9},
	{fault: "unit-slip:L1:2:20", recall: 1},
	{fault: "unit-slip:D1:2:-20", recall: 1},
	{fault: "wrong-pile:A>B:2:3", recall: 0.9},
	{fault: "wrong-product:A>B:2:3", recall: 0.9},
	{fault: "wrong-truck:L1:2:3", recall: 0.9},
	{fault: "lumped:L1:2:4", recall: 0.95},
	{fault: "split-load:L1:2:2", recall: 0.8},
	{fault: "old-tare:D1:2:3", recall: 0.85},
	{fault: "same-tare:D1:2:4", recall: 0.95},
	{fault: "outside-hours:L1:2:3", recall: 1},
	{fault: "night-pickup:L1:2:3", recall: 1},
	{fault: "one-sided:C>D:2:2", recall: 1},
	{fault: "below-zero:A:2:1", recall: 1},
	{fault: "belt-idle:B1:2:30t", recall: 1},
	{fault: "feed-as-new:B2:2:1", recall: 0.9},
	{fault: "totaliser-reset:B2:2:1", recall: 1},
	{fault: "stale-density:A:2:400d", recall: 1},
	{fault: "stale-moisture:A:2:200d", recall: 1},
	{fault: "stale-base:A:2:600d", recall: 1},
	{fault: "survey-while-loading:A:2:3", recall: 1},
	{fault: "toe-jump:A:2:+25%", recall: 0.9},
	{fault: "round-weights:L1:2:60", recall: 0.9},
	{fault: "swap:F>D:2:1200t", recall: 0.8},
	{fault: "outage-pad:L1:2:5", recall: 1},
}

func faultMonths() int {
	if testing.Short() {
		return 4
	}
	return 20
}

// Every kind of fault is found, by the rule that is meant for it, at the stated rate; and what the rules that are
// certain say beside it is true of it.
func TestSeededFaults(t *testing.T) {
	for _, k := range everyKind {
		t.Run(k.fault, func(t *testing.T) {
			f, err := simyard.ParseFault(k.fault)
			if err != nil {
				t.Fatal(err)
			}
			var truths, hits, falsely, yards int
			var example, wrong string
			for seed := range faultMonths() {
				y, err := simyard.Month(uint64(5000+seed), f)
				if err != nil {
					continue // too little of what the fault needs; counted below
				}
				yards++
				exceptions := simulated(t, y)
				for _, want := range y.Truth.Findings() {
					truths++
					if slices.ContainsFunc(exceptions, func(e screen.Exception) bool { return e.Rule == want.Rule && shows(e, want) }) {
						hits++
					} else if example == "" {
						example = fmt.Sprintf("seed %d: %v", 5000+seed, want)
					}
				}
				for _, e := range exceptions {
					if e.Strength == screen.Certain && !spokenOf(e, y.Truth.Findings()) {
						falsely++
						wrong = fmt.Sprintf("seed %d: %s: %s %v", 5000+seed, e.Rule, e.Seen, e.Records)
					}
				}
			}
			switch {
			case yards < faultMonths()/2 || truths == 0:
				t.Fatalf("%d findings seeded in %d yards of %d", truths, yards, faultMonths())
			case float64(hits) < k.recall*float64(truths)-2*math.Sqrt(float64(truths)*k.recall*(1-k.recall)):
				t.Errorf("%d of %d found, want %g of them; the first that is not is %s", hits, truths, k.recall, example)
			}
			if falsely > 0 {
				t.Errorf("%d findings of certain rules that are not of the fault, such as %s", falsely, wrong)
			}
			t.Logf("%d of %d found in %d yards", hits, truths, yards)
		})
	}
}

// shows reports whether an exception is about the records of a finding of the truth.
func shows(e screen.Exception, want simyard.Finding) bool {
	if len(want.Records) == 0 && len(want.Absent) == 0 || e.Rule == "mirrored difference" { // which is about piles
		return slices.ContainsFunc(want.Shares, func(s simyard.PileShare) bool { return s.Pile == e.Pile || e.Pile == "" })
	}
	if slices.ContainsFunc(want.Records, func(id string) bool { return slices.Contains(e.Records, id) }) {
		return true
	}
	return slices.ContainsFunc(want.Absent, func(id string) bool { return mentions(e, id) })
}

// mentions reports whether an exception is about a number that no record has.
func mentions(e screen.Exception, id string) bool {
	var number, first, last int
	if i := strings.LastIndexByte(id, '-'); i < 0 {
		return false
	} else if _, err := fmt.Sscanf(id[i+1:], "%d", &number); err != nil {
		return false
	}
	if i := strings.LastIndexByte(e.Subject, '/'); i < 0 {
		return false
	} else if _, err := fmt.Sscanf(e.Subject[i+1:], "%d-%d", &first, &last); err != nil {
		return false
	}
	return first <= number && number <= last
}

// spokenOf reports whether a finding of the truth accounts for an exception.
func spokenOf(e screen.Exception, truth []simyard.Finding) bool {
	return slices.ContainsFunc(truth, func(f simyard.Finding) bool {
		return (f.Rule == e.Rule || slices.Contains(f.Also, e.Rule)) && shows(e, f)
	})
}
