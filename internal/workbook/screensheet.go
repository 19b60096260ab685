package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// declareScreen declares what the rules of the screen caught among entries that people made, and how often each did.
func (d *closeBook) declareScreen(s *sheet, x *report.Screen) {
	// The counts stand above the list, and look into it.
	var list *table
	columns := []column{
		{key: "rule", head: "Rule", kind: kindText, width: 26, note: "rule of the screen, also one that caught nothing"},
		{key: "count", head: "Flags", kind: kindInteger, width: 26, note: "rows of the list with that rule"},
		{key: "own", head: "Register's own", kind: kindInteger, role: roleControl, width: 14, note: "control: how many the screen raised"},
	}
	counts := make(map[string]int)
	for _, f := range x.Flags {
		counts[f.Rule]++
	}
	listed := 0
	for _, rule := range x.Rules {
		listed += counts[rule]
	}
	total := integer(int64(listed))
	t := s.table(tableSpec{name: "ScreenRules", title: "By rule", columns: columns, count: len(x.Rules), main: true, frozen: 1, total: []value{text("All"), total, total},
		about: "Entries that people wrote, and no machine, since the close before. A flag says what to look at, and of nobody that it is wrong (ISA 240 and AS 2401 ask for such a look; the rules are the program's own).",
		rows: func(yield func([]value, error) bool) {
			for _, rule := range x.Rules {
				n := integer(int64(counts[rule]))
				if !yield([]value{text(d.ruleKey(rule)), computed(countIfs(where(list.column("rule"), "{rule}")), n), n}, nil) {
					return
				}
			}
		}})
	list = d.declareFlagged(s, x.Flags)
	d.check(checkRow{"Journal screen: flags of all rules, against the screen", inCounts, computed(t.totalCell("count").String(), total), integer(int64(len(x.Flags))), 0, t.totalCell("count")})
	differ := "SUMPRODUCT(ABS(" + t.column("count").areas[0].String() + "-" + t.column("own").areas[0].String() + "))"
	d.check(checkRow{"Journal screen: flags under another rule than theirs", inCounts, computed(differ, integer(0)), integer(0), 0, t.cell("count", 0)})
}

// declareFlagged declares the list of flags.
func (d *closeBook) declareFlagged(s *sheet, flags []report.FlagLine) *table {
	columns := append([]column{
		{key: "rule", head: "Rule", kind: kindText, isKey: true, wrap: true, width: 26, note: "that caught it"},
		wordColumn("record", "Record", 26, "ID of the entry's record"),
		wordColumn("by", "By", 14, "who wrote it"),
		{key: "recorded", head: "Written", kind: kindInstant, width: 18, note: "on the yard's clock"},
		d.massColumn("solids", "Solids", "that it moved; never negative"),
		wordColumn("why", "Why", 48, "what the rule saw"),
		wordColumn("reason", "Reason given", 32, "by the one who wrote it"),
	}, auditorColumns()...)
	var rows [][]value
	var sum ledger.Mass
	for i := range flags {
		f := &flags[i]
		sum += f.Mass.Mass()
		rows = append(rows, d.row(columns, cells{"rule": text(d.ruleKey(f.Rule)), "record": label(f.Record), "by": orBlank(f.By), "recorded": instantOrBlank(f.Recorded), "solids": mass(f.Mass.Mass()),
			"why": prose(f.Text), "reason": prose(f.Reason)}))
	}
	t := s.table(tableSpec{name: "ScreenFlags", title: "Flags", columns: columns, count: len(rows), rows: rowsOf(rows...), filter: true})
	d.counted("Journal screen: number of flags", t, "record", len(flags))
	return t
}
