package workbook

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"repose/internal/report"
	"repose/ledger"
)

// maxCauses is how many explanations are shown: as many as the statistics rank.
const maxCauses = 12

// Words for a statistic held against its threshold.
const (
	alarmRaised = "raised"
	alarmQuiet  = "not raised"
)

// declareCauses declares what the last twelve months show together, and what could explain it.
func (d *closeBook) declareCauses(s *sheet) {
	c := cmp.Or(d.close.Causes, &report.Causes{})
	causes := c.Causes[:min(len(c.Causes), maxCauses)]
	s.heading(alarmWords(c))
	s.note(historyWords(c))
	s.note("A loss is never told from the density, or from a survey, of its pile by the balance alone: a density that falls looks like stone that left. " +
		"Records, piles and instruments are named here, never people.")
	s.gap()
	d.declareCauseTable(s, causes)
	alarm := d.declareAlarm(s, c)
	d.declareAssumed(s, c.Assumed)
	d.declareCauseWords(s, causes)
	d.declareHistory(s, c.History)
	d.declareMonthly(s)
	if len(c.History) > 0 {
		d.check(checkRow{"Causes: number of balances", inCounts, computed(d.history.column("residual").call("COUNT", ","), integer(int64(len(c.History)))),
			integer(int64(c.Balances)), 0, alarm.cell("balances", 0)})
	}
}

// declareAlarm declares whether anything is more than measurement error, in one row.
func (d *closeBook) declareAlarm(s *sheet, c *report.Causes) *table {
	p := d.params
	columns := []column{
		{key: "through", head: "Months through", kind: kindText, width: 17, note: "the last of the twelve months that are looked at together"},
		{key: "alarm", head: "Alarm", kind: kindText, width: 13, alarm: []string{alarmRaised},
			formula: "IF(ABS({statistic})>{threshold}," + p.ref(paramWordRaised) + "," + p.ref(paramWordQuiet) + ")",
			note:    "raised where the statistic, without its sign, is above its threshold; blank where there is nothing to test"},
		{key: "own", head: "Ledger's own alarm", kind: kindText, role: roleControl, width: 17, note: "control: what the statistics state"},
		{key: "since", head: "First raised in", kind: kindText, width: 14, note: "month at whose close an alarm was first raised, with what was known then; blank where none was"},
		{key: "statistic", head: "Statistic", kind: kindNumber, places: 4, role: roleControl, width: 12,
			note: "control: of the explanation that comes nearest to its threshold, its size in standard uncertainties; the formula takes it"},
		{key: "threshold", head: "Threshold", kind: kindNumber, places: 4, role: roleControl, width: 11, note: "control: passed by chance in 5 of 100 yards without a fault, over all explanations and months together"},
		{key: "balances", head: "Balances", kind: kindInteger, role: roleControl, width: 11, note: "control: from one survey of a pile to its next, in these months; listed below"},
		{key: "kappa", head: "Kappa", kind: kindNumber, places: 4, role: roleControl, width: d.massWidth,
			note: "how many times as much as the stated uncertainties the history before these months scattered; the uncertainties on this sheet are multiplied by it; blank where there is too little history, and then they stand as stated"},
		{key: "kappa_from", head: "Balances before", kind: kindInteger, role: roleControl, width: d.massWidth, note: "how many balances that history has; at least twelve are needed"},
	}
	row := cells{}
	if c.Through != "" {
		row["through"] = label(c.Through)
		row["since"], row["kappa"] = orBlank(c.Since), ratioFigure(c.Kappa)
		row["own"], row["balances"], row["kappa_from"] = text(alarmWord(c.Alarm)), integer(int64(c.Balances)), integer(int64(c.KappaFrom))
		row["statistic"], row["threshold"] = ratioFigure(c.Statistic), ratioFigure(c.Threshold)
	}
	statistic, threshold := row["statistic"], row["threshold"]
	tested := statistic.kind != 0 && threshold.kind != 0
	raised := math.Abs(statistic.f) > threshold.f
	if tested {
		row["alarm"] = text(alarmWord(raised))
	}
	t := s.table(tableSpec{name: "Alarm", title: "Is anything more than measurement error?", columns: columns, count: 1, rows: rowsOf(d.row(columns, row))})
	if tested {
		near := math.Abs(math.Abs(statistic.f)-threshold.f) <= 2*ratioRounding*roundingSlack
		d.check(checkRow{"Causes: alarm, where it is not the ledger's", inCounts,
			computed("--("+t.cell("alarm", 0).String()+"<>"+t.cell("own", 0).String()+")", integer(bit(raised != c.Alarm))), integer(0), bit(near), t.cell("alarm", 0)})
	}
	return t
}

func alarmWord(raised bool) string {
	if raised {
		return alarmRaised
	}
	return alarmQuiet
}

// alarmWords says what the months show together.
func alarmWords(c *report.Causes) string {
	switch {
	case c.Balances == 0:
		return "There is nothing yet: no balance from one survey of a pile to its next."
	case c.Statistic == nil || c.Threshold == nil:
		return "No explanation could be tested on these balances."
	}
	if c.Alarm {
		return "More than measurement error: the causes below could explain it."
	}
	return "Nothing beyond measurement error: the causes below are only what comes nearest."
}

// historyWords says what the history before the months looked at says of the stated uncertainties.
func historyWords(c *report.Causes) string {
	if kappa := ratioFigure(c.Kappa); kappa.kind != 0 {
		return fmt.Sprintf("Before these months the differences scattered %.2f times as much as the stated uncertainties say (%d balances); the uncertainties on this sheet are multiplied by it.", kappa.f, c.KappaFrom)
	}
	return fmt.Sprintf("Balances of history before these months: %d. At least twelve are needed to judge the stated uncertainties by; until then they are taken as they stand.", c.KappaFrom)
}

// causeLine is a cause with what the sheet's formulas give for it.
type causeLine struct {
	*report.Cause
	low, high value
}

func newCauseLine(c *report.Cause) causeLine {
	at := func(factor float64) value {
		v := times(c.U.Mass(), factor)
		v.n += int64(c.Estimate.Mass())
		return v
	}
	return causeLine{c, at(-intervalFactor), at(intervalFactor)}
}

// intervalTolerance is how far, in t, a limit worked out from a rounded estimate and uncertainty may lie from the
// stated one.
const intervalTolerance = (2 + intervalFactor) * massRounding

func (l causeLine) agrees() bool {
	off := func(v value, own report.Tonnes) float64 {
		return math.Abs((float64(v.n-int64(own.Mass())) + v.f) / 1e6)
	}
	return max(off(l.low, l.Low), off(l.high, l.High)) <= intervalTolerance*roundingSlack
}

// causeColumns returns the columns of the causes' figures.
func (d *closeBook) causeColumns() []column {
	p := d.params
	name := func(key, head string, width float64, note string) column {
		return column{key: key, head: head, kind: kindText, wrap: true, width: width, note: note}
	}
	agrees := func(end string) string { return "ABS({" + end + "}-{own_" + end + "})<={tolerance}" }
	columns := []column{
		{key: "rank", head: "Rank", kind: kindInteger, width: 17, note: "likeliest first"},
		name("class", "Class", 13, "loss, swap, loader, belt, density or survey: what went wrong, not who"),
		name("pile", "Pile", 17, "the pile, by the name of its account in Entries; of a swap that which the records have the stone in"),
		name("other", "Other pile", 14, "of a swap the pile in which the stone lies"),
		name("instrument", "Instrument", 12, "code of the belt or scale"),
		name("from", "From", 11, "month in which it begins"),
		{key: "lasting", head: "Lasting", kind: kindBool, width: 11, note: "TRUE where it goes on from that month, FALSE where it happened once"},
		d.controlColumn("estimate", "Estimate", "control: how much it comes to in all, as the statistics state it to the kilogram; formulas take it"),
		d.controlColumn("u", "Uncertainty", "control: standard uncertainty of the estimate; formulas take it"),
		d.massColumn("low", "Low", "estimate, less the uncertainty x the factor in Policies: 95 % interval"),
		d.controlColumn("own_low", "Ledger's own low", "control: what the statistics state"),
		d.massColumn("high", "High", "estimate, and the uncertainty x the factor in Policies: 95 % interval"),
		d.controlColumn("own_high", "Ledger's own high", "control: what the statistics state"),
		{key: "tolerance", head: "Tolerance", unit: "t", kind: kindTonnes, width: 14,
			formula: "(" + p.ref(paramOne) + "+" + p.ref(paramOne) + "+" + p.ref(paramInterval) + ")*" + p.ref(paramMassRounding),
			note:    "what the rounding of estimate, uncertainty and limit can come to"},
		{key: "agrees", head: "Agrees", kind: kindCheck, width: 10, formula: "AND(" + agrees("low") + "," + agrees("high") + ")", note: "OK where both limits are the ledger's own, to the tolerance"},
		{key: "share", head: "Share", unit: "%", kind: kindPercent, width: 9, note: "of the belief, with what looks the same to these data"},
		{key: "truckloads", head: "Truckloads", kind: kindNumber, places: 1, width: 11, note: "roughly how many the estimate is, at the mean load; blank where nothing would have been loaded"},
	}
	return setFormulas(columns, map[string]string{
		"low":  "{estimate}-{u}*" + p.ref(paramInterval),
		"high": "{estimate}+{u}*" + p.ref(paramInterval),
	})
}

// declareCauseTable declares the figures of each cause.
func (d *closeBook) declareCauseTable(s *sheet, causes []report.Cause) {
	columns := d.causeColumns()
	var rows [][]value
	var estimates, us ledger.Mass
	broken := 0
	for i := range causes {
		l := newCauseLine(&causes[i])
		estimates, us = estimates+l.Estimate.Mass(), us+l.U.Mass()
		if !l.agrees() {
			broken++
		}
		row := cells{"rank": integer(int64(l.Rank)), "class": label(l.Class), "from": label(l.From), "lasting": boolean(l.Lasting),
			"instrument": orBlank(l.Instrument), "pile": d.pileOrBlank(l.Pile), "other": d.pileOrBlank(l.OtherPile),
			"estimate": mass(l.Estimate.Mass()), "u": mass(l.U.Mass()), "low": l.low, "own_low": mass(l.Low.Mass()), "high": l.high, "own_high": mass(l.High.Mass()),
			"tolerance": tonnes(int64(math.Round(intervalTolerance * roundingSlack * 1e6))), "agrees": check(l.agrees()), "share": shareFigure(l.Share), "truckloads": ratioFigure(l.Truckloads)}
		rows = append(rows, d.row(columns, row))
	}
	t := s.table(tableSpec{name: "Causes", title: "Causes", about: "Likeliest first; none of them is proved. What would tell them apart stands below.", main: true, frozen: 1,
		columns: columns, count: len(rows), rows: rowsOf(rows...)})
	if len(rows) == 0 {
		return
	}
	d.checkSum("Causes: hash total of the estimates", t, "estimate", estimates)
	d.checkSum("Causes: hash total of the causes' uncertainties", t, "u", us)
	d.checkAgree("Causes: causes whose interval is not the ledger's", t, broken)
}

// checkSum holds the sum of a column to what the figures in it came to when they were written.
func (d *closeBook) checkSum(what string, t *table, key string, sum ledger.Mass) {
	d.check(checkRow{what, inTonnes, computed(t.column(key).sum(), mass(sum)), mass(sum), 0, t.cell(key, 0)})
}

// checkAgree counts the rows of a table whose column agrees does not say OK.
func (d *closeBook) checkAgree(what string, t *table, broken int) {
	agrees := t.column("agrees")
	d.check(checkRow{what, inCounts, computed(agrees.call("COUNTA", ",")+"-COUNTIF("+agrees.areas[0].String()+","+quoted(wordOK)+")", integer(int64(broken))),
		integer(0), 0, t.cell("agrees", 0)})
}

// pileOrBlank returns the key of a pile of this yard by its code, and a blank cell for none.
func (d *closeBook) pileOrBlank(code string) value {
	if code == "" {
		return value{}
	}
	return text(d.pileKey(code))
}

func (d *closeBook) pileKey(code string) string {
	yard := d.month.Yard.Code
	return d.names.account(ledger.PileID{Yard: yard, Code: code}.Account(), yard)
}

// declareCauseWords declares each cause in words, a row for each thing that is said of it.
func (d *closeBook) declareCauseWords(s *sheet, causes []report.Cause) {
	var rows [][]value
	for i := range causes {
		c := &causes[i]
		for _, said := range []struct{ what, words string }{
			{"in words", causeWords(c)}, {"to tell", c.Tell}, {"looks the same", lookalikes(c)},
		} {
			if said.words != "" {
				rows = append(rows, []value{integer(int64(c.Rank)), text(said.what), text(clip(said.words, maxProse))})
			}
		}
	}
	s.table(tableSpec{name: "CauseWords", title: "The causes in words", count: len(rows), rows: rowsOf(rows...), columns: []column{
		{key: "rank", head: "Rank", kind: kindInteger, width: 17, note: "of the cause, as above"},
		{key: "what", head: "What", kind: kindText, width: 13, note: "in words: what may have happened; to tell: the one measurement that would tell it from the others; looks the same: what these data cannot tell from it"},
		{key: "words", head: "Words", kind: kindText, width: 17, note: "as the program states them"},
	}})
}

// causeWords says what may have happened, and how many truckloads that is where it is more than a part of one.
func causeWords(c *report.Cause) string {
	if loads := math.Round(math.Abs(ratioFigure(c.Truckloads).f)); loads > 1 {
		return fmt.Sprintf("%s, roughly %.0f truckloads", c.Words, loads)
	}
	return c.Words
}

// lookalikes names the explanations that the balances cannot tell from a cause.
func lookalikes(c *report.Cause) string {
	var names []string
	for _, a := range c.Also {
		name := a.Class + " of "
		switch {
		case a.Instrument != "":
			name += a.Instrument
		case a.OtherPile != "":
			name += "piles " + a.Pile + " and " + a.OtherPile
		default:
			name += "pile " + a.Pile
		}
		if f, ok := stated(a.Share); ok && f > 0 {
			name += fmt.Sprintf(" (%.1f %% of the belief)", 100*f)
		}
		names = append(names, name)
	}
	return strings.Join(names, "; ")
}

// declareAssumed declares the uncertainties that no record states.
func (d *closeBook) declareAssumed(s *sheet, assumed []report.AssumedLine) {
	var rows [][]value
	for _, a := range assumed {
		rows = append(rows, []value{label(a.What), integer(int64(a.Uses)), label(a.Value)})
	}
	s.table(tableSpec{name: "Assumed", title: "Assumed, because no record says", count: len(rows), rows: rowsOf(rows...), columns: []column{
		{key: "what", head: "Uncertainty of", kind: kindText, wrap: true, width: 17, note: "what has no stated uncertainty"},
		{key: "uses", head: "Uses", kind: kindInteger, width: 13, note: "how often it was needed"},
		{key: "value", head: "Taken to be", kind: kindText, width: 17, note: "standard uncertainty, or a tolerance, with its unit"},
	}})
}
