package workbook

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"repose/internal/report"
	"repose/ledger"
)

// historyLine is one balance with what the sheet's formulas give for it.
type historyLine struct {
	*report.HistoryLine
	key     string // of the pile
	month   string // key of the month, with a number where the pile was surveyed before in it
	sigma   float64
	z, ownZ float64
	hasZ    bool        // sigma is not zero and z a number
	sum     ledger.Mass // of the pile's residuals up to here
	count   int         // how many they are
}

// historyLines works the balances out, which stand pile by pile and in order of time.
func (d *closeBook) historyLines(history []report.HistoryLine) []historyLine {
	lines := make([]historyLine, len(history))
	seen := make(map[string]int)
	for i := range history {
		h := &history[i]
		l := historyLine{HistoryLine: h, key: d.pileKey(h.Pile), sum: h.Residual.Mass(), count: 1, sigma: inTonnesFloat(h.Sigma.Mass())}
		if i > 0 && lines[i-1].key == l.key {
			l.sum, l.count = l.sum+lines[i-1].sum, l.count+lines[i-1].count
		}
		ownZ, ok := stated(h.Z)
		if l.hasZ = ok && l.sigma > 0; l.hasZ {
			l.z, l.ownZ = inTonnesFloat(h.Residual.Mass())/l.sigma, ownZ
		}
		slot := h.Period
		seen[l.key+"\n"+slot]++
		if n := seen[l.key+"\n"+slot]; n > 1 {
			slot = fmt.Sprintf("%s (%d)", slot, n)
		}
		l.month = d.names.key(wordMonth, slot)
		lines[i] = l
	}
	return lines
}

// agrees reports whether z and the sum are the program's own, to what the rounding of their parts comes to.
func (l historyLine) agrees() bool {
	return math.Abs(l.z-l.ownZ) <= roundingSlack*(ratioRounding+massRounding*(math.Abs(l.ownZ)+1)/l.sigma) &&
		inTonnesFloat((l.sum-l.Cumulative.Mass()).Abs()) <= roundingSlack*massRounding*float64(l.count+1)
}

// historyColumns returns the columns of the balances.
func (d *closeBook) historyColumns() []column {
	p := d.params
	ratioColumn := func(key, head, note string, r role) column {
		return column{key: key, head: head, kind: kindNumber, places: 4, role: r, width: 11, note: note}
	}
	columns := []column{
		{key: "pile", head: "Pile", kind: kindText, isKey: true, width: 17, note: "the pile, by the name of its account in Entries"},
		{key: "period", head: "Month", kind: kindText, width: 13, note: "in which the survey at the end of the balance falls"},
		{key: "survey", head: "Survey", kind: kindText, width: 17, note: "its number"},
		d.controlColumn("residual", "Residual", "control: previous survey, plus in, less out, less this survey, to the kilogram; positive where stone is missing; formulas take it"),
		d.controlColumn("sigma", "Uncertainty", "control: standard uncertainty of the residual, times kappa where there is one; formulas take it"),
		ratioColumn("z", "z", "residual / uncertainty", 0),
		ratioColumn("own_z", "Ledger's own z", "control: what the statistics state, to four places", roleControl),
		d.massColumn("cumulative", "Cumulative", "sum of the pile's residuals from the first that is listed to this one"),
		d.controlColumn("own_cumulative", "Ledger's own cumulative", "control: what the statistics state, to the kilogram"),
		d.controlColumn("cumulative_sigma", "Its uncertainty", "control: standard uncertainty of the sum, in which the error of a survey is taken back by the next; formulas take it"),
		d.massColumn("lower", "Lower edge", "cumulative, less its uncertainty x the factor in Policies: 95 % band"),
		d.massColumn("upper", "Upper edge", "cumulative, and its uncertainty x the factor in Policies: 95 % band"),
		{key: "month", head: "Key of month", kind: kindText, isKey: true, width: 16, note: "by which the table below finds it; numbered where a pile has several surveys in a month"},
		{key: "agrees", head: "Agrees", kind: kindCheck, width: 14, note: "OK where z and the sum are the ledger's own, to what the rounding of their parts comes to; see Policies"},
	}
	return setFormulas(columns, map[string]string{
		"z":          "{residual}/{sigma}",
		"cumulative": "SUMIFS({residual@first}:{residual},{pile@first}:{pile},{pile})",
		"lower":      "{cumulative}-{cumulative_sigma}*" + p.ref(paramWidth),
		"upper":      "{cumulative}+{cumulative_sigma}*" + p.ref(paramWidth),
		"agrees": "AND(ABS({z}-{own_z})<=" + p.ref(paramRatioRounding) + "+" + p.ref(paramMassRounding) + "*(ABS({own_z})+" + p.ref(paramOne) + ")/{sigma}," +
			"ABS({cumulative}-{own_cumulative})<=" + p.ref(paramMassRounding) + "*(COUNTIFS({pile@first}:{pile},{pile})+" + p.ref(paramOne) + "))",
	})
}

// declareHistory declares every balance of the months looked at, with the running sum of each pile.
func (d *closeBook) declareHistory(s *sheet, history []report.HistoryLine) {
	columns, lines := d.historyColumns(), d.historyLines(history)
	var rows [][]value
	var residuals, sigmas, sumSigmas ledger.Mass
	broken := 0
	for _, l := range lines {
		residual, sigma, sumSigma := l.Residual.Mass(), l.Sigma.Mass(), l.CumulativeSigma.Mass()
		residuals, sigmas, sumSigmas = residuals+residual, sigmas+sigma, sumSigmas+sumSigma
		row := cells{"pile": text(l.key), "period": label(l.Period), "survey": orBlank(l.Survey), "month": text(l.month), "residual": mass(residual), "sigma": mass(sigma),
			"own_z": ratioFigure(&l.Z), "cumulative": mass(l.sum), "own_cumulative": mass(l.Cumulative.Mass()), "cumulative_sigma": mass(sumSigma),
			"lower": mass(l.sum - widthFactor*sumSigma), "upper": mass(l.sum + widthFactor*sumSigma)}
		if l.hasZ {
			row["z"], row["agrees"] = float(l.z), check(l.agrees())
			broken += int(bit(!l.agrees()))
		}
		rows = append(rows, d.row(columns, row))
	}
	d.history = s.table(tableSpec{name: "Balances", title: "All balances, pile by pile", columns: columns, count: len(rows), rows: rowsOf(rows...),
		about: "From one survey of a pile to its next, without what earlier surveys corrected in the book. What one survey got wrong leaves the sum with the next, so that a sum is known better than its parts suggest."})
	d.balances = lines
	if len(lines) == 0 {
		return
	}
	d.checkSum("Causes: hash total of the residuals", d.history, "residual", residuals)
	d.checkSum("Causes: hash total of their uncertainties", d.history, "sigma", sigmas)
	d.checkSum("Causes: hash total of the sums' uncertainties", d.history, "cumulative_sigma", sumSigmas)
	d.checkAgree("Causes: balances whose z or sum is not the ledger's", d.history, broken)
	d.checkResiduals()
}

// checkResiduals holds the residuals of the month's deciding surveys, as the records give them, to those that
// the statistics worked with.
func (d *closeBook) checkResiduals() {
	piles, _ := d.surveyLines()
	for i, l := range piles {
		residual, ok := l.residual()
		if !ok {
			continue
		}
		row := -1
		for j, h := range d.balances {
			if h.key == l.key && h.Period == d.month.Period.String() && strings.HasPrefix(l.comparison.Survey.Survey, h.Survey) {
				row = j
			}
		}
		if row < 0 {
			continue
		}
		d.check(checkRow{"Causes: residual of " + l.key + " in this month, against Book v survey", inTonnes,
			computed(d.history.cell("residual", row).String(), mass(d.balances[row].Residual.Mass())),
			computed(d.throughput.cell("residual", i).String(), tonnesOf(residual)), stepsUp(massRounding+finalRounding, inTonnes), d.history.cell("residual", row)})
	}
}

// pileHistory is the rows of one pile among the balances.
type pileHistory struct {
	key         string
	from, count int
	farthest    float64 // sum of all its residuals in uncertainties, without sign
}

// maxErrorPiles is how many piles the charts of errors show.
const maxErrorPiles = maxColumnSeries

// drawnHistories returns the piles to draw in their order: all, or those whose sums lie farthest from nothing.
func (d *closeBook) drawnHistories() (drawn []pileHistory, all bool) {
	var piles []pileHistory
	for i, l := range d.balances {
		if n := len(piles); n == 0 || piles[n-1].key != l.key {
			piles = append(piles, pileHistory{key: l.key, from: i})
		}
		p := &piles[len(piles)-1]
		p.count++
		p.farthest = 0
		if sigma := l.CumulativeSigma.Mass(); sigma > 0 {
			p.farthest = math.Abs(float64(l.sum) / float64(sigma))
		}
	}
	order := slices.Clone(piles)
	slices.SortStableFunc(order, func(p, q pileHistory) int { return cmp.Compare(q.farthest, p.farthest) })
	drawn = order[:min(len(order), maxErrorPiles)]
	slices.SortFunc(drawn, func(p, q pileHistory) int { return cmp.Compare(p.from, q.from) })
	return drawn, len(drawn) == len(piles)
}

// Keys of the limits between which z is inside measurement error.
const (
	keyZHigh = "high"
	keyZLow  = "low"
)

// declareMonthly declares z by month and pile, which a chart is drawn from.
func (d *closeBook) declareMonthly(s *sheet) {
	p := d.params
	drawn, _ := d.drawnHistories()
	columns := []column{
		{key: "month", head: "Month", kind: kindText, width: 17, note: "as above; a further survey of a month stands in a row of its own"},
		{key: "key", head: "Key of month", kind: kindText, width: 13, note: "as above"},
	}
	byMonth := make(map[string]cells)
	for i, pile := range drawn {
		columns = append(columns, column{key: pileColumn(i), head: pile.key, kind: kindNumber, places: 2, width: 11, note: "z of the pile's balance, from above; blank where none ends in the month",
			formula: sumIfs(d.history.column("z"), where(d.history.column("pile"), d.history.cell("pile", pile.from).String()), where(d.history.column("month"), "{key}"))})
		for _, l := range d.balances[pile.from : pile.from+pile.count] {
			row, ok := byMonth[l.month]
			if !ok {
				row = cells{"month": text(strings.TrimPrefix(l.month, wordMonth+" ")), "key": text(l.month), keyZHigh: float(insideLimit), keyZLow: float(-insideLimit)}
				byMonth[l.month] = row
			}
			if l.hasZ {
				row[pileColumn(i)] = float(l.z)
			}
		}
	}
	columns = append(columns,
		column{key: keyZLow, head: "Inside error from", kind: kindNumber, places: 2, width: 11, formula: "-" + p.ref(paramInside), note: "the lowest z that is inside measurement error"},
		column{key: keyZHigh, head: "Inside error to", kind: kindNumber, places: 2, width: 11, formula: p.ref(paramInside), note: "the highest"})
	var rows [][]value
	for _, month := range slices.Sorted(maps.Keys(byMonth)) {
		rows = append(rows, d.row(columns, byMonth[month]))
	}
	d.monthly = s.table(tableSpec{name: "Monthly", title: "z by month", columns: columns, count: len(rows), rows: rowsOf(rows...)})
}
