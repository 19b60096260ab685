package workbook

import (
	"math"

	"repose/internal/report"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// Words for a residual held against its measurement error, as the report has them.
const (
	verdictInside  = "inside"
	verdictOutside = "outside"
)

// balanceError is the measurement error of one pile's balance, as the report states it: sigma is not zero, and z
// is a number.
type balanceError struct {
	line  *report.ReconcileLine
	sigma float64 // t
	ownZ  float64 // as stated

	// What the sheet's formulas give.
	z      float64
	inside bool
}

// errorOf returns the measurement error of a survey's balance; ok is false where none is stated.
func (d *closeBook) errorOf(l surveyLine) (e balanceError, ok bool) {
	residual, ok := l.residual()
	r := d.reported(l)
	if !ok || r == nil || r.Sigma == nil || *r.Sigma <= 0 || r.Z == nil || r.MDL == nil || r.Verdict == nil {
		return e, false
	}
	e = balanceError{line: r, sigma: inTonnesFloat(r.Sigma.Mass())}
	e.ownZ, ok = stated(*r.Z)
	e.z = residual.Shift(-6).InexactFloat64() / e.sigma
	e.inside = math.Abs(e.z) <= insideLimit
	return e, ok
}

// reported returns the report's line of the pile that was surveyed, or nil.
func (d *closeBook) reported(l surveyLine) *report.ReconcileLine {
	if l.comparison == nil {
		return nil
	}
	for i := range d.close.Reconciliation.Piles {
		if r := &d.close.Reconciliation.Piles[i]; r.Pile == l.comparison.Pile.Code {
			return r
		}
	}
	return nil
}

// verdict is the word for a residual inside or outside measurement error.
func verdict(inside bool) string {
	if inside {
		return verdictInside
	}
	return verdictOutside
}

// errorColumns returns the columns of the measurement error of each balance.
func (d *closeBook) errorColumns() []column {
	p := d.params
	ratioColumn := func(key, head, note string, r role) column {
		return column{key: key, head: head, kind: kindNumber, places: 4, role: r, width: d.massWidth, note: note}
	}
	columns := append(surveyColumns()[:2],
		d.massColumn("residual", "Residual", "as worked out above, since the survey before; positive where stone is missing"),
		d.controlColumn("sigma", "Standard uncertainty", "control: of the residual, as the statistics state it to the kilogram from the uncertainties in the records; formulas take it"),
		d.massColumn("half", "95 % half width", "uncertainty x the factor in Policies: the residual is known to this much either way"),
		ratioColumn("z", "z", "residual / uncertainty", 0),
		ratioColumn("own_z", "Ledger's own z", "control: what the statistics state, to four places", roleControl),
		d.massColumn("mdl", "Smallest loss that would show", "uncertainty x the factor in Policies: shows in 95 of 100 cases, with one false alarm in 20"),
		d.controlColumn("own_mdl", "Ledger's own smallest loss", "control: what the statistics state, to the kilogram"),
		column{key: "verdict", head: "Verdict", kind: kindText, width: d.massWidth, alarm: []string{verdictOutside},
			note: "inside measurement error where z, without its sign, is at most the figure in Policies; else outside"},
		column{key: "own_verdict", head: "Ledger's own verdict", kind: kindText, role: roleControl, width: d.massWidth, note: "control: what the statistics state"},
		column{key: "beyond", head: "Beyond limit", kind: kindBool, width: 11, note: "from the yard's own limit, above: a rule for what must be explained"},
		column{key: "reading", head: "Limit and error together", kind: kindText, wrap: true, width: 34, note: "what to do: beyond the limit or not, inside measurement error or outside"})
	return setFormulas(columns, map[string]string{
		"half":    "{sigma}*" + p.ref(paramWidth),
		"z":       "{residual}/{sigma}",
		"mdl":     "{sigma}*" + p.ref(paramDetection),
		"verdict": "IF(ABS({z})<=" + p.ref(paramInside) + "," + p.ref(paramWordInside) + "," + p.ref(paramWordOutside) + ")",
	})
}

// declareErrors declares how much of each residual could be measurement error.
func (d *closeBook) declareErrors(s *sheet, lines []surveyLine) {
	columns := d.errorColumns()
	var rows [][]value
	for i, l := range lines {
		rows = append(rows, d.row(columns, d.errorCells(l, i)))
	}
	t := s.table(tableSpec{name: "Errors", title: "Measurement error", columns: columns, count: len(rows), rows: rowsOf(rows...),
		about: "Whether a residual could be nothing at all. The limit above is a rule of the yard's and says nothing of that. Blank where no survey before, or no uncertainty, is on record."})
	d.checkErrors(t, lines)
}

// errorCells returns the cells of survey line i.
func (d *closeBook) errorCells(l surveyLine, i int) cells {
	row := cells{"pile": text(l.key)}
	if l.comparison != nil {
		row["survey"] = label(l.comparison.Survey.Survey)
	}
	if residual, ok := l.residual(); ok {
		row["residual"] = computed(d.throughput.cell("residual", i).local(), tonnesOf(residual))
	}
	e, ok := d.errorOf(l)
	if !ok {
		return row
	}
	sigma := e.line.Sigma.Mass()
	row["sigma"], row["half"], row["mdl"] = mass(sigma), times(sigma, widthFactor), times(sigma, detectionFactor)
	row["z"], row["own_z"], row["own_mdl"] = float(e.z), float(e.ownZ), mass(e.line.MDL.Mass())
	row["verdict"], row["own_verdict"] = text(verdict(e.inside)), label(*e.line.Verdict)
	if l.comparison.HasLimit {
		limit, _ := limitOf(d.ruleOf(l), l)
		row["beyond"] = computed(d.limits.cell("beyond", i).local(), l.beyond(limit))
	}
	if e.line.Reading != "" {
		row["reading"] = text(clip(e.line.Reading, maxProse))
	}
	return row
}

// checkErrors holds each residual, z, smallest loss and verdict to the program's own. A verdict may be another
// where z lies as near to the limit as its rounding reaches.
func (d *closeBook) checkErrors(t *table, lines []surveyLine) {
	const about = "Book v survey: "
	var sigmas ledger.Mass
	judged, otherWords, near := false, int64(0), int64(0)
	for i, l := range lines {
		if residual, ok := l.residual(); ok {
			if r := d.reported(l); r != nil && r.Residual != nil {
				d.check(checkRow{about + "residual of " + l.key, inTonnes, computed(t.cell("residual", i).String(), tonnesOf(residual)), mass(r.Residual.Mass()), 1, t.cell("residual", i)})
			}
		}
		e, ok := d.errorOf(l)
		if !ok {
			continue
		}
		tolerance := zTolerance(e.ownZ, e.sigma, finalRounding)
		d.check(checkRow{about + "z of " + l.key, inFractions, computed(t.cell("z", i).String(), float(e.z)), float(e.ownZ),
			stepsUp(tolerance, inFractions), t.cell("z", i)})
		d.check(checkRow{about + "smallest loss that would show of " + l.key, inTonnes, computed(t.cell("mdl", i).String(), times(e.line.Sigma.Mass(), detectionFactor)),
			mass(e.line.MDL.Mass()), stepsUp((detectionFactor+1)*massRounding, inTonnes), t.cell("mdl", i)})
		judged, sigmas = true, sigmas+e.line.Sigma.Mass()
		otherWords += bit(verdict(e.inside) != *e.line.Verdict)
		near += bit(math.Abs(math.Abs(e.ownZ)-insideLimit) <= tolerance)
	}
	if !judged {
		return
	}
	differ := "SUMPRODUCT(--(" + t.column("verdict").areas[0].String() + "<>" + t.column("own_verdict").areas[0].String() + "))"
	d.check(checkRow{about + "piles whose verdict is not the ledger's", inCounts, computed(differ, integer(otherWords)), integer(0), near, t.cell("verdict", 0)})
	d.check(checkRow{about + "hash total of the uncertainties", inTonnes, computed(t.column("sigma").sum(), mass(sigmas)), mass(sigmas), 0, t.cell("sigma", 0)})
}

// densityEffect is what an error of the density by its standard uncertainty would do, as the report states it.
type densityEffect struct {
	line *report.ReconcileLine
	u    float64 // of the density, as a fraction
}

func (d *closeBook) densityEffectOf(l surveyLine) (e densityEffect, ok bool) {
	r := d.reported(l)
	if !l.hasDensity() || r == nil || r.DensityU == nil || r.DensityStock == nil || r.DensityResidual == nil {
		return e, false
	}
	// Not to the places that the report shows: of a large stock they would make some kilograms.
	e = densityEffect{r, float64(*r.DensityU) / 100}
	return e, isFinite(e.u)
}

// declareDensityEffects declares what an error of the density would do to the stock and to the difference.
func (d *closeBook) declareDensityEffects(s *sheet, lines []surveyLine) {
	columns := append(surveyColumns()[:2],
		d.massColumn("stock", "Stock", "survey solids, as above"),
		column{key: "u", head: "Density u", unit: "%", kind: kindPercent, role: roleControl, width: 12,
			note: "control: relative standard uncertainty of the bulk density, by its test or assumed; formulas take it"},
		d.massColumn("effect", "Effect on stock", "stock x density u: how much stone less, or more, would lie there"),
		d.controlColumn("own", "Ledger's own effect on stock", "control: what the statistics state, to the kilogram"),
		d.controlColumn("on_residual", "Effect on residual", "control: what the statistics state; where one test served both surveys only u of what the stock changed by, else the effect on the stock with the other sign"))
	setFormulas(columns, map[string]string{"effect": "{stock}*{u}"})
	var rows [][]value
	effects := make([]value, len(lines))
	for i, l := range lines {
		row := cells{"pile": text(l.key)}
		if l.comparison != nil {
			row["survey"] = label(l.comparison.Survey.Survey)
		}
		if e, ok := d.densityEffectOf(l); ok {
			stock := found(l.comparison)
			effects[i] = tonnesOf(stock.Mul(decimal.NewFromFloat(e.u)))
			row["stock"], row["u"] = computed(d.bookSurvey.cell("survey_solids", i).local(), tonnesOf(stock)), ratio(e.u)
			row["effect"], row["own"], row["on_residual"] = effects[i], mass(e.line.DensityStock.Mass()), mass(e.line.DensityResidual.Mass())
		}
		rows = append(rows, d.row(columns, row))
	}
	t := s.table(tableSpec{name: "DensityEffects", title: "If the density were wrong by its uncertainty", columns: columns, count: len(rows), rows: rowsOf(rows...),
		about: "An error of the density that two surveys share is in both of them: it hides from the difference. It does not hide from the balance sheet, whose stock is wrong by all of it."})
	d.checkDensityEffects(t, lines, effects)
}

// checkDensityEffects holds each effect on the stock to the program's own.
func (d *closeBook) checkDensityEffects(t *table, lines []surveyLine, effects []value) {
	us, known := 0.0, false
	for i, l := range lines {
		e, ok := d.densityEffectOf(l)
		if !ok {
			continue
		}
		us, known = us+e.u, true
		d.check(checkRow{"Book v survey: effect of the density on the stock of " + l.key, inTonnes, computed(t.cell("effect", i).String(), effects[i]),
			mass(e.line.DensityStock.Mass()), stepsUp(massRounding+finalRounding, inTonnes), t.cell("effect", i)})
	}
	if known {
		d.check(checkRow{"Book v survey: hash total of the densities' uncertainties", inFractions, computed(t.column("u").sum(), float(us)), float(us), 0, t.cell("u", 0)})
	}
}
