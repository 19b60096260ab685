package workbook

import (
	"cmp"
	"slices"
	"strconv"

	"repose/ledger"

	"github.com/shopspring/decimal"
)

// declarePolicies declares the yard's rules and the tests that the month's figures rest on, below the
// parameters.
func (d *closeBook) declarePolicies(s *sheet) {
	p := d.month.Policies
	off := text("not set")
	limitMass, limitPercent := off, off
	if p.Limit.Mass.Valid {
		limitMass = tonnesOf(p.Limit.Mass.Decimal)
	}
	if p.Limit.Percent.Valid {
		limitPercent = percent(p.Limit.Percent.Decimal)
	}
	rows := [][]value{
		{text(string(ledger.PolicyAdjust)), text(p.Adjust.String()), text("when the book takes a survey's figure: never, always, or outside the limit")},
		{text(string(ledger.PolicyLimitMass)), limitMass, text("mass part of the limit, in tonnes of solids")},
		{text(string(ledger.PolicyLimitPercent)), limitPercent, text("per cent part of the limit")},
		{text(string(ledger.PolicyLimitOf)), text(p.Limit.Of.String()), text("what the per cent part is of: book, or throughput since the survey before")},
		{text(string(ledger.PolicyLimitJoin)), text(p.Limit.Join.String()), text("and: the larger part; or: the smaller; plus: their sum")},
		{text(string(ledger.PolicyCutOffHours)), number(decimal.NewFromFloat(p.CutOff.Hours())), text("how long a truck may be between loader and deck scale, in hours")},
		{text(string(ledger.PolicySurveyEvery)), integer(int64(p.SurveyEvery)), text("months that one survey of a pile serves; none asked for where zero")},
	}
	s.table(tableSpec{
		name: "Policies", title: "The yard's policies in force at the end of the month, stated or by default", count: len(rows), rows: rowsOf(rows...),
		columns: []column{
			{key: "policy", head: "Policy", kind: kindText, width: 34, note: "name of the rule; a limit uses those in force at its survey's end"},
			{key: "value", head: "Value", kind: kindAny, role: roleInput, width: 22, note: "as the yard set it, or what is taken where it set nothing"},
			{key: "meaning", head: "Meaning", kind: kindText, width: 70, note: "in words"},
		},
	})
	d.declareDensities(s)
	d.declareMoistures(s)
}

func (d *closeBook) declareDensities(s *sheet) {
	var rows [][]value
	seen := make(map[string]bool)
	for _, c := range d.month.Comparisons {
		t := c.Density
		if !c.HasDensity || seen[t.Key()] {
			continue
		}
		seen[t.Key()] = true
		rows = append(rows, []value{label(d.testName(t.Pile, t.Product, t.Taken)), instant(t.Taken), orBlank(t.Method), number(t.MoistTPerM3), percent(t.Moisture.Percent()),
			number(t.Compaction), integer(int64(t.Tests)), optionalPercent(t.U), label(t.Key())})
	}
	s.table(tableSpec{
		name: "Densities", title: "Density tests that surveys of the month rest on", count: len(rows), rows: rowsOf(rows...),
		columns: []column{
			{key: "test", head: "Test", kind: kindText, width: 34, wrap: true, note: "of which pile or product, and when it was taken"},
			{key: "taken", head: "Taken", kind: kindInstant, width: 22, note: "on the yard's clock"},
			{key: "method", head: "Method", kind: kindText, width: 70, wrap: true, note: "as stated"},
			{key: "moist", head: "Moist density", unit: "t/m³", kind: kindNumber, places: 4, width: 12, note: "bulk density as tested; dry where the moisture is zero"},
			{key: "moisture", head: "Moisture", unit: "% dry", kind: kindPercent, width: 11, note: "of the stone as it was tested"},
			{key: "compaction", head: "Compaction", unit: "1", kind: kindNumber, places: 4, width: 12, note: "factor from the tested state to the pile's"},
			{key: "tests", head: "Tests", kind: kindInteger, width: 9, note: "how many it is the mean of; none where not stated"},
			{key: "u", head: "u", unit: "%", kind: kindPercent, width: 9, note: "relative standard uncertainty; blank where not stated"},
			testKeyColumn(),
		},
	})
}

// declareMoistures declares the moisture tests that re-marked water in the month, that were in force at
// its surveys, or that are at its end.
func (d *closeBook) declareMoistures(s *sheet) {
	tests := slices.Clone(d.tally.tests)
	reg := d.close.Register
	for _, c := range d.month.Comparisons {
		if t, ok := reg.MoistureTest(c.Pile, c.Survey.End); ok {
			tests = append(tests, t)
		}
	}
	for _, p := range d.piles {
		if t, ok := reg.MoistureTest(p.Pile, d.month.End().Add(-1)); ok {
			tests = append(tests, t)
		}
	}
	slices.SortStableFunc(tests, func(a, b ledger.MoistureTest) int {
		return cmp.Or(a.Taken.Compare(b.Taken), cmp.Compare(a.Key(), b.Key()))
	})
	var rows [][]value
	last := ""
	for _, t := range tests {
		if t.Key() == last {
			continue
		}
		last = t.Key()
		rows = append(rows, []value{label(d.testName(t.Pile, t.Product, t.Taken)), instant(t.Taken), text(testCount(t.Tests)), percent(t.Moisture.Percent()), optionalPercent(t.U), label(t.Key())})
	}
	s.table(tableSpec{
		name: "Moistures", title: "Moisture tests that marked water in the month, or were in force at a survey or at its end", count: len(rows), rows: rowsOf(rows...),
		columns: []column{
			{key: "test", head: "Test", kind: kindText, width: 34, wrap: true, note: "of which pile or product, and when it was taken"},
			{key: "taken", head: "Taken", kind: kindInstant, width: 22, note: "on the yard's clock"},
			{key: "tests", head: "Of how many", kind: kindText, width: 70, note: "how many tests it is the mean of"},
			{key: "moisture", head: "Moisture", unit: "% dry", kind: kindPercent, width: 12, note: "water in per cent of dry mass"},
			{key: "u", head: "u", unit: "points", kind: kindPercent, width: 11, note: "standard uncertainty in percentage points; blank where not stated"},
			testKeyColumn(),
		},
	})
}

func testKeyColumn() column {
	return column{key: "key", head: "Key", kind: kindText, width: 12, note: "natural key of the test's record: pile or product, the code, the instant in UTC"}
}

func testCount(n int) string {
	switch n {
	case 0:
		return "not stated"
	case 1:
		return "a single test"
	}
	return "mean of " + strconv.Itoa(n) + " tests"
}

func optionalPercent(p decimal.NullDecimal) value {
	if !p.Valid {
		return value{}
	}
	return percent(p.Decimal)
}
