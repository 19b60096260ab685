package workbook

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"repose/internal/report"
	"repose/ledger"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// lineOf returns the report's line of a pile.
func lineOf(c *report.Close, pile string) *report.ReconcileLine {
	for i := range c.Reconciliation.Piles {
		if l := &c.Reconciliation.Piles[i]; l.Pile == pile {
			return l
		}
	}
	return nil
}

// cellsOf returns a row of a table as a reader shows it, by the keys of its columns.
func cellsOf(t *testing.T, f *excelize.File, tb *table, row int) map[string]string {
	t.Helper()
	shown := make(map[string]string)
	for _, c := range tb.spec.columns {
		at := tb.cell(c.key, row)
		s, err := f.GetCellValue(at.sheet, at.local())
		if err != nil {
			t.Fatal(err)
		}
		shown[c.key] = strings.TrimSpace(s)
	}
	return shown
}

// The block of errors as a reader sees it: the residual is the one worked out above it.
func TestErrorsAreShown(t *testing.T) {
	c := hostileClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	f := open(t, written(t, b))
	errors, throughput := tableOf(t, b, "Errors"), tableOf(t, b, "Throughput")
	row := slices.IndexFunc(c.Month.Piles, func(id ledger.PileID) bool { return id.Code == "P1" })
	at := errors.cell("residual", row)
	if formula, err := f.GetCellFormula(at.sheet, at.local()); err != nil || formula != throughput.cell("residual", row).local() {
		t.Errorf("residual =%s, %v; want the cell %s", formula, err, throughput.cell("residual", row).local())
	}
	// (8,444.125 - 37.5) m3 x 1.62 / 1.04 t/m3 is 13,094.935 t; sigma is 3.333 333 + 0.0123 x that, as the test has it.
	got := cellsOf(t, f, errors, row)
	want := map[string]string{"pile": "pile P1", "survey": "S2", "residual": "109.919", "sigma": "164.401", "half": "328.802", "z": "0.6686", "own_z": "0.6686",
		"mdl": "540.831", "own_mdl": "540.831", "verdict": "inside", "own_verdict": "inside", "beyond": "FALSE", "reading": "nothing to explain: keep the evidence"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	got = cellsOf(t, f, tableOf(t, b, "DensityEffects"), row)
	want = map[string]string{"pile": "pile P1", "survey": "S2", "stock": "13,094.935", "u": "1.23%", "effect": "161.666", "own": "161.666", "on_residual": "(161.666)"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// The figures of the statistics that formulas take are held by control totals to the kilogram, and the program's
// own results by checks of their own.
func TestStatisticsBreakChecks(t *testing.T) {
	t.Parallel()
	office := findOffice(t)
	b, err := declareClose(t.Context(), hostileClose(t), maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	data := written(t, b)
	in := func(table, column string, row int, step float64) change {
		return change{tableOf(t, b, table).cell(column, row), add(step)}
	}
	const kilogram = 0.001
	p1 := slices.IndexFunc(slices.Collect(firstCells(tableOf(t, b, "Errors"))), func(s string) bool { return s == "pile P1" })
	books := map[string][]byte{
		"small": mutated(t, data, in("Errors", "sigma", p1, kilogram), in("DensityEffects", "u", p1, 1e-6), in("Throughput", "base", p1, 2e-6),
			in("Causes", "estimate", 1, kilogram), in("Causes", "u", 2, kilogram), in("Balances", "residual", 0, kilogram), in("Balances", "sigma", 1, kilogram),
			in("Balances", "cumulative_sigma", 2, kilogram), in("Alarm", "threshold", 0, 1)),
		"large": mutated(t, data, in("Errors", "sigma", p1, -164), in("DensityEffects", "u", p1, 0.01), in("Causes", "estimate", 1, 1), in("Balances", "residual", 0, 1)),
	}
	want := map[string][]string{
		"small": {"Book v survey: residual of pile P1", "Book v survey: smallest loss that would show of pile P1", "Book v survey: hash total of the uncertainties",
			"Book v survey: effect of the density on the stock of pile P1", "Book v survey: hash total of the densities' uncertainties",
			"Causes: hash total of the estimates", "Causes: hash total of the causes' uncertainties", "Causes: alarm, where it is not the ledger's",
			"Causes: hash total of the residuals", "Causes: hash total of their uncertainties", "Causes: hash total of the sums' uncertainties", "Causes: balances whose z or sum is not the ledger's",
			"Book v survey, Since the survey before: hash total of the column It found", "Causes, Is anything more than measurement error?: hash total of the column Threshold"},
		"large": {"Book v survey: z of pile P1", "Book v survey: smallest loss that would show of pile P1", "Book v survey: piles whose verdict is not the ledger's",
			"Book v survey: hash total of the uncertainties", "Book v survey: effect of the density on the stock of pile P1", "Book v survey: hash total of the densities' uncertainties",
			"Causes: hash total of the estimates", "Causes: causes whose interval is not the ledger's", "Causes: hash total of the residuals", "Causes: balances whose z or sum is not the ledger's"},
	}
	for name, f := range recomputed(t, office, books) {
		if diff := cmp.Diff(want[name], brokenChecks(t, f)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// firstCells yields the texts of a table's first column.
func firstCells(tb *table) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for row := range tb.spec.rows {
			if !yield(row[0].text) {
				return
			}
		}
	}
}

// Without causes the sheet says so; with or without, it says what no balance can tell.
func TestCausesInWords(t *testing.T) {
	none, quiet := hostileClose(t), hostileClose(t)
	none.Causes = nil
	quiet.Causes.Alarm, *quiet.Causes.Statistic, quiet.Causes.Kappa = false, 1.5, nil
	for name, c := range map[string]struct {
		close *report.Close
		want  []string
	}{
		"none":  {none, []string{"There is nothing yet", "Balances of history before these months: 0."}},
		"empty": {emptyClose(t), []string{"There is nothing yet"}},
		"odd":   {oddClose(t), []string{"No explanation could be tested"}},
		"quiet": {quiet, []string{"Nothing beyond measurement error", "Balances of history before these months: 14."}},
		"alarm": {hostileClose(t), []string{"More than measurement error", "scattered 1.23 times as much", "=what may have happened to P1, roughly 22 truckloads",
			"=what may have happened to =P2", "@measure =L1 again", "density of pile P1 (5.8 % of the belief)", "swap of piles P1 and p1", "@3 %"}},
	} {
		rows, err := open(t, writtenClose(t, c.close, maxSheetRows)).GetRows("Causes")
		if err != nil {
			t.Fatal(err)
		}
		var all []string
		for _, r := range rows {
			all = append(all, strings.Join(r, " "))
		}
		sheet := strings.Join(all, " ")
		for _, want := range append(c.want, "A loss is never told from the density, or from a survey, of its pile by the balance alone", "never people") {
			if !strings.Contains(sheet, want) {
				t.Errorf("%s: no %q in %s", name, want, sheet)
			}
		}
	}
}

func TestCausesAreCapped(t *testing.T) {
	c := oddClose(t)
	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	if n := tableOf(t, b, "Causes").spec.count; len(c.Causes.Causes) != maxCauses+1 || n != maxCauses {
		t.Errorf("of %d causes %d are shown, want %d", len(c.Causes.Causes), n, maxCauses)
	}
}

// A verdict is given by a rounded uncertainty: where z lies on the limit it may be another than the program's,
// and only there.
func TestVerdictOnTheLimit(t *testing.T) {
	for _, test := range []struct {
		ownZ report.Ratio
		want string
	}{{2.000_03, wordOK}, {2.01, wordBroken}} {
		c := hostileClose(t)
		l := lineOf(c, "P1")
		// The formula comes to just below two: the residual is 109.919 t.
		sigma := math.Ceil(inTonnesFloat(l.Residual.Mass())/2*1000) / 1000 // to the kilogram, upwards
		*l.Sigma, *l.MDL, *l.Z = report.Mass(sigma), report.Mass(detectionFactor*sigma), test.ownZ
		*l.Verdict = verdictOutside
		broken := brokenChecks(t, open(t, writtenClose(t, c, maxSheetRows)))
		said := wordOK
		if slices.Contains(broken, "Book v survey: piles whose verdict is not the ledger's") {
			said = wordBroken
		}
		if said != test.want {
			t.Errorf("own z of %v: the check says %s, want %s", test.ownZ, said, test.want)
		}
	}
}

// What the report rounds never breaks a check: whatever the exact figures, the formulas over the rounded ones stay
// within the tolerances.
func TestRoundingsStayWithinTolerances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mass := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		residual, sigma := mass("residual", -5000, 5000), mass("sigma", 0.0006, 3000)
		z := residual / sigma
		own, _ := stated(report.Ratio(z))
		statedSigma := inTonnesFloat(report.Mass(sigma).Mass())
		if found := residual / statedSigma; math.Abs(found-own) > zTolerance(own, statedSigma, finalRounding) {
			t.Fatalf("z of %v / %v: %v by formula, %v stated", residual, sigma, found, own)
		}
		if found, own := detectionFactor*statedSigma, inTonnesFloat(report.Mass(detectionFactor*sigma).Mass()); math.Abs(found-own) > (detectionFactor+1)*massRounding+1e-9 {
			t.Fatalf("smallest loss of %v: %v by formula, %v stated", sigma, found, own)
		}
		cause := report.Cause{Estimate: report.Mass(residual), U: report.Mass(sigma), Low: report.Mass(residual - intervalFactor*sigma), High: report.Mass(residual + intervalFactor*sigma)}
		if l := newCauseLine(&cause); !l.agrees() {
			t.Fatalf("interval of %v +/- %v: %v to %v by formula, %v to %v stated", residual, sigma, l.low, l.high, l.Low, l.High)
		}
		var balances []testBalance
		for i := range rapid.IntRange(1, 24).Draw(t, "balances") {
			balances = append(balances, testBalance{"P", fmt.Sprint(i), "", mass("residual", -5000, 5000), mass("sigma", 0.0006, 3000)})
		}
		d := closeBook{names: newNames(), month: &ledger.Month{}}
		for i, l := range d.historyLines(testHistory(balances)) {
			if !l.agrees() {
				t.Fatalf("balance %d of %+v: %+v", i, balances, l)
			}
		}
	})
}

// Each pile's chart is drawn from its own rows, and the piles farthest from nothing are drawn where not all can be.
func TestErrorCharts(t *testing.T) {
	c := oddClose(t)
	d := closeBook{names: newNames(), month: c.Month}
	d.balances = d.historyLines(c.Causes.History)
	drawn, all := d.drawnHistories()
	if all || len(drawn) != maxErrorPiles {
		t.Fatalf("%d piles are drawn, all: %t", len(drawn), all)
	}
	var want []string
	for _, pile := range farthestPiles(c.Causes.History)[:maxErrorPiles] {
		want = append(want, d.pileKey(pile))
	}
	got := drawnKeys(drawn)
	slices.Sort(want)
	if diff := cmp.Diff(want, slices.Sorted(slices.Values(got))); diff != "" {
		t.Error(diff)
	}

	b, err := declareClose(t.Context(), c, maxSheetRows)
	if err != nil {
		t.Fatal(err)
	}
	p := unzip(t, written(t, b))
	charts := 0
	for name, content := range p {
		if !strings.HasPrefix(name, "xl/charts/chart") {
			continue
		}
		chart := strings.ReplaceAll(string(content), "c:", "")
		for _, pile := range drawn {
			if !strings.Contains(chart, "Cumulative shrinkage, "+strings.NewReplacer("<", "&lt;").Replace(pile.key)+", one of the 6 farthest from nothing<") {
				continue
			}
			charts++
			for _, key := range []string{"period", "cumulative", "lower", "upper"} {
				first, last := tableOf(t, b, "Balances").cell(key, pile.from), tableOf(t, b, "Balances").cell(key, pile.from+pile.count-1)
				area := areaRef{first.sheet, first.col, first.row, last.row}.String()
				if !strings.Contains(chart, area) {
					t.Errorf("chart of %s: no %s", pile.key, area)
				}
			}
		}
		if strings.Contains(chart, "Residual in standard uncertainties, by month, the 6 piles farthest from nothing") {
			charts++
			if !strings.Contains(chart, "<barChart>") || !strings.Contains(chart, "<lineChart>") || strings.Count(chart, "<ser>") != maxErrorPiles+2 {
				t.Errorf("z by month is not drawn as %d columns between two lines", maxErrorPiles)
			}
		}
	}
	if charts != maxErrorPiles+1 {
		t.Errorf("%d charts of errors, want %d", charts, maxErrorPiles+1)
	}
}

// The charts are printed at a scale of their own, two large or six small ones on a page.
func TestChartsArePrinted(t *testing.T) {
	f := open(t, writtenClose(t, hostileClose(t), maxSheetRows))
	props, err := f.GetSheetProps("Charts")
	if err != nil || *props.FitToPage {
		t.Errorf("fits the page: %v, %v", *props.FitToPage, err)
	}
	page, err := f.GetPageLayout("Charts")
	if err != nil || *page.AdjustTo != chartScale {
		t.Errorf("page %+v, %v", page, err)
	}
	var sheet struct {
		Breaks []struct {
			ID int `xml:"id,attr"`
		} `xml:"rowBreaks>brk"`
	}
	unzip(t, writtenClose(t, hostileClose(t), maxSheetRows)).decode(t, "xl/worksheets/sheet4.xml", &sheet)
	var got []int
	for _, b := range sheet.Breaks {
		got = append(got, b.ID)
	}
	large, small := largeChart().rows, smallChart().rows
	first := firstBlockRow - 1 + 2*large
	if diff := cmp.Diff([]int{first, first + 3*small}, got); diff != "" {
		t.Error(diff)
	}
}
