package workbook

import (
	"repose/internal/report"
	"repose/ledger"
)

// statusCounts counts exceptions by status. The zero status is any word that is none.
type statusCounts struct {
	number [ledger.ExceptionWaived + 1]int
	open   ledger.Mass // as weighed
}

// countOf counts the exceptions of the list, as formulas over it do.
func countOf(lines []report.ExceptionLine, want func(l *report.ExceptionLine) bool) (c statusCounts) {
	for i := range lines {
		l := &lines[i]
		if !want(l) {
			continue
		}
		status, err := ledger.ParseExceptionStatus(l.Status)
		if err != nil {
			status = 0
		}
		c.number[status]++
		if status == ledger.ExceptionOpen {
			c.open += l.Mass.Mass()
		}
	}
	return c
}

// registered is what the register itself counts in a group.
func registered(g report.ExceptionGroup) (c statusCounts) {
	c.number = [...]int{0, g.Open, g.Explained, g.Settled, g.Waived}
	c.open = g.Mass.Mass()
	return c
}

// all is the number of exceptions whose status is one.
func (c statusCounts) all() (n int) {
	for _, s := range exceptionStatuses() {
		n += c.number[s]
	}
	return n
}

func (c statusCounts) add(o statusCounts) statusCounts {
	for s := range c.number {
		c.number[s] += o.number[s]
	}
	c.open += o.open
	return c
}

// declareByStatus declares how many exceptions there are of each status.
func (d *closeBook) declareByStatus(s *sheet, groups []report.ExceptionGroup) {
	list, lines := d.screening.list, d.screening.lines
	same := where(list.column("status"), "{status}")
	columns := []column{
		{key: "status", head: "Status", kind: kindText, width: 28, note: "how exceptions stand; see Definitions"},
		{key: "count", head: "Exceptions", kind: kindInteger, width: 12, formula: countIfs(same), note: "rows of the list with that status"},
		{key: "own", head: "Register's own", kind: kindInteger, role: roleControl, width: 12, note: "control: how many the register counts"},
		d.massColumn("mass", "Mass as weighed", "of those that have one, estimates included"),
	}
	columns[3].formula = sumIfs(list.column("mass"), same)
	found := countOf(lines, func(*report.ExceptionLine) bool { return true })
	var own statusCounts
	for _, g := range groups {
		own = own.add(registered(g))
	}
	var rows [][]value
	var total ledger.Mass
	for _, status := range exceptionStatuses() {
		var m ledger.Mass
		for _, l := range lines {
			if l.Status == status.String() {
				m += l.Mass.Mass()
			}
		}
		total += m
		rows = append(rows, []value{text(status.String()), integer(int64(found.number[status])), integer(int64(own.number[status])), mass(m)})
	}
	all := integer(int64(found.all()))
	t := s.table(tableSpec{name: "ByStatus", title: "By status", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true,
		about: "Counted over the list in the sheet Exceptions. An exception that was settled stays in the register.",
		total: []value{text("All"), all, integer(int64(own.all())), mass(total)}})
	d.screening.status = t
	for i, status := range exceptionStatuses() {
		d.check(checkRow{"Exceptions: number that are " + status.String(), inCounts, computed(t.cell("count", i).String(), rows[i][1]),
			computed(t.cell("own", i).String(), rows[i][2]), 0, t.cell("count", i)})
	}
	d.check(checkRow{"Exceptions: number of all statuses, against the register", inCounts, computed(t.totalCell("count").String(), all),
		integer(int64(len(lines))), 0, t.totalCell("count")})
	d.check(checkRow{"Exceptions: mass of all statuses, against the list", inTonnes, computed(t.totalCell("mass").String(), mass(total)),
		computed(list.totalCell("mass").String(), mass(d.screening.mass)), 2 * d.screening.rounding, t.totalCell("mass")})
}

// ruleLine is a rule with the counts of its exceptions: by the list, and by the register.
type ruleLine struct {
	report.ExceptionGroup
	key        string
	found, own statusCounts
}

func (l ruleLine) agrees(tolerance int64) bool {
	return l.found.all() == l.own.all() && l.found.number[ledger.ExceptionOpen] == l.own.number[ledger.ExceptionOpen] &&
		(l.found.open-l.own.open).Abs() <= ledger.Mass(tolerance)
}

// cells are those of the counts; of the total row too.
func (l ruleLine) cells() cells {
	row := cells{"rule": text(l.key), "all": integer(int64(l.found.all())), "own": integer(int64(l.own.all())),
		"own_open": integer(int64(l.own.number[ledger.ExceptionOpen])), "mass": mass(l.found.open), "own_mass": mass(l.own.open)}
	for _, s := range exceptionStatuses() {
		row[s.String()] = integer(int64(l.found.number[s]))
	}
	return row
}

// declareByRule declares how many exceptions each rule found, and what became of them.
func (d *closeBook) declareByRule(s *sheet, groups []report.ExceptionGroup) {
	columns := d.ruleColumns()
	var rows [][]value
	total, broken := ruleLine{key: "All"}, int64(0)
	for _, g := range groups {
		l := ruleLine{ExceptionGroup: g, key: d.ruleKey(g.Name), own: registered(g)}
		l.found = countOf(d.screening.lines, func(x *report.ExceptionLine) bool { return d.ruleKey(x.Rule) == l.key })
		good := l.agrees(d.sumTolerance())
		broken += bit(!good)
		row := l.cells()
		row["strength"], row["agrees"] = orBlank(g.Strength), check(good)
		rows = append(rows, d.row(columns, row))
		total.found, total.own = total.found.add(l.found), total.own.add(l.own)
	}
	t := s.table(tableSpec{name: "ByRule", title: "By rule", columns: columns, count: len(rows), rows: rowsOf(rows...), total: d.row(columns, total.cells())})
	d.check(checkRow{"Exceptions: rules whose counts are not the register's", inCounts, computed(notOK(t, "rule", "agrees"), integer(broken)), integer(0), 0, t.cell("agrees", 0)})
	d.check(checkRow{"Exceptions: number of all rules, against the register", inCounts, computed(t.totalCell("all").String(), integer(int64(total.found.all()))),
		integer(int64(len(d.screening.lines))), 0, t.totalCell("all")})
}

// notOK is the formula that counts the rows of a table on one sheet whose check does not say so.
func notOK(t *table, named, checked string) string {
	return t.column(named).call("COUNTA", ",") + "-COUNTIF(" + t.column(checked).areas[0].String() + "," + quoted(wordOK) + ")"
}

func (d *closeBook) ruleColumns() []column {
	list := d.screening.list
	rule := where(list.column("rule"), "{rule}")
	status := func(s ledger.ExceptionStatus) condition { return where(list.column("status"), d.params.status(s)) }
	columns := []column{
		{key: "rule", head: "Rule", kind: kindText, width: 28, note: "the rule that found them, as in the list"},
		{key: "strength", head: "Strength", kind: kindText, width: 12, note: "certain, likely or pattern; blank where its exceptions are not of one"},
	}
	for _, s := range exceptionStatuses() {
		columns = append(columns, column{key: s.String(), head: headline(s.String()), kind: kindInteger, width: 11, formula: countIfs(rule, status(s)), note: "rows of the list with that rule and status"})
	}
	open := d.massColumn("mass", "Mass of the open", "as weighed, of those that have one")
	open.formula = sumIfs(list.column("mass"), rule, status(ledger.ExceptionOpen))
	return append(columns,
		column{key: "all", head: "All", kind: kindInteger, width: 11, formula: "SUM({open}:{waived})", note: "of the four statuses"},
		column{key: "own", head: "Register's own", kind: kindInteger, role: roleControl, width: 12, note: "control: how many the register counts"},
		column{key: "own_open", head: "Register's own open", kind: kindInteger, role: roleControl, width: 12, note: "control: how many of them the register has open"},
		open, d.controlColumn("own_mass", "Register's own mass", "control: of the open ones, what the register states"),
		column{key: "agrees", head: "Agrees", kind: kindCheck, width: 10, formula: "AND({all}={own},{open}={own_open},ABS({mass}-{own_mass})<=" + d.params.ref(paramTolerance) + ")",
			note: "OK where the counts and the mass are the register's own"})
}
