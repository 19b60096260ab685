package workbook

import (
	"strings"
	"testing"
)

func TestLooksDiffer(t *testing.T) {
	seen := make(map[string]int)
	for i := range maxLineSeries {
		look, dash := lookOf(i)
		key := look.colour + look.marker + string('a'+rune(dash))
		if other, ok := seen[key]; ok {
			t.Errorf("series %d looks like series %d", i, other)
		}
		seen[key] = i
	}
}

// Neighbouring tones stay apart when hue is taken away: by an eighth of the scale at least, weighed as the
// eye does (ITU-R BT.601 luma).
func TestTonesDifferInGrey(t *testing.T) {
	var luma []float64
	for _, l := range seriesLooks {
		var c [3]float64
		for i := range c {
			for _, digit := range l.colour[2*i : 2*i+2] {
				c[i] = c[i]*16 + float64(strings.IndexRune("0123456789ABCDEF", digit))
			}
		}
		luma = append(luma, 0.299*c[0]+0.587*c[1]+0.114*c[2])
	}
	for i := range luma {
		next := luma[(i+1)%len(luma)]
		if diff := max(luma[i], next) - min(luma[i], next); diff < 32 {
			t.Errorf("tones %d and the next differ by %.0f of 255", i, diff)
		}
	}
}

func TestChartParts(t *testing.T) {
	p := unzip(t, written(t, sampleBook(t, movements(3), maxSheetRows)))
	columns, lines := string(p["xl/charts/chart1.xml"]), string(p["xl/charts/chart2.xml"])
	tests := map[string]struct {
		in   string
		want []string
	}{
		"columns": {columns, []string{"<barChart>", `<min val="0">`, "Book against survey", "Dry solids [t]", ">Pile<",
			"&#39;02 Lead&#39;!$F$5:$F$8", "&#39;02 Lead&#39;!$G$4", `varyColors val="0"`}},
		"lines":       {lines, []string{"<lineChart>", "Stock over the month", "Day of October", "Days!$A$5:$A$35", "Days!$E$5:$E$35", "prstDash", "circle"}},
		"description": {string(p["xl/drawings/drawing1.xml"]), []string{"Columns of book and survey mass for each pile"}},
	}
	for name, test := range tests {
		for _, want := range test.want {
			if !strings.Contains(strings.ReplaceAll(test.in, "c:", ""), want) {
				t.Errorf("%s: no %q in\n%s", name, want, test.in)
			}
		}
	}
}

func TestSignedColumns(t *testing.T) {
	b := newBook(sampleProps(t))
	s := b.sheet("S", "S")
	tab := numbered(s, 3, tableSpec{})
	s.columnChart(chartSpec{title: "t", xTitle: "x", yTitle: "y", alt: "a", table: tab, x: "name", y: []string{"n"}, signed: true})
	chart := strings.ReplaceAll(string(unzip(t, written(t, b))["xl/charts/chart1.xml"]), "c:", "")
	if !strings.Contains(chart, "<barChart>") || strings.Contains(chart, "<min val") {
		t.Error("the axis of figures below zero is held at zero")
	}
}

func TestRefusesChart(t *testing.T) {
	good := chartSpec{title: "t", xTitle: "x", yTitle: "y", alt: "a", x: "name", y: []string{"n"}}
	tests := map[string]struct {
		change func(*chartSpec)
		want   string
	}{
		"no title":        {func(c *chartSpec) { c.title = "" }, "want a title"},
		"no description":  {func(c *chartSpec) { c.alt = "" }, "description"},
		"no series":       {func(c *chartSpec) { c.y = nil }, "0 series"},
		"too many series": {func(c *chartSpec) { c.y = make([]string, maxLineSeries+1) }, "25 series"},
		"unknown column":  {func(c *chartSpec) { c.y = []string{"m"} }, `no column "m"`},
		"unknown edge":    {func(c *chartSpec) { c.band = []string{"m"} }, `no column "m"`},
		"rows beyond":     {func(c *chartSpec) { c.from, c.count = 2, 2 }, "rows 2 to 4 of 3"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			b := newBook(sampleProps(t))
			s := b.sheet("S", "S")
			spec := good
			spec.table = numbered(s, 3, tableSpec{})
			test.change(&spec)
			s.lineChart(spec)
			if b.err == nil || !strings.Contains(b.err.Error(), test.want) {
				t.Errorf("err = %v, want one with %q", b.err, test.want)
			}
		})
	}
	t.Run("too many columns", func(t *testing.T) {
		b := newBook(sampleProps(t))
		s := b.sheet("S", "S")
		spec := good
		spec.table, spec.y = numbered(s, 3, tableSpec{}), make([]string, maxColumnSeries+1)
		if s.columnChart(spec); b.err == nil || !strings.Contains(b.err.Error(), "7 series: want 1 to 6") {
			t.Errorf("err = %v", b.err)
		}
	})
	t.Run("split table", func(t *testing.T) {
		b := newBook(sampleProps(t))
		b.sheetRows = 10
		spec := good
		spec.table = numbered(b.sheet("S", "S"), 9, tableSpec{long: true})
		b.sheet("C", "C").lineChart(spec)
		if b.err == nil || !strings.Contains(b.err.Error(), "goes on in further sheets") {
			t.Errorf("err = %v", b.err)
		}
	})
}
