package workbook

import (
	"context"
	"errors"
	"fmt"

	"github.com/xuri/excelize/v2"
)

// chartSpec declares a chart of columns of one table.
type chartSpec struct {
	title  string
	xTitle string
	yTitle string // with the unit
	alt    string // what the chart shows, for those who cannot see it
	table  *table
	x      string   // key of the column of categories: days, piles
	y      []string // keys of the columns of figures, one series each, named by their heads
	signed bool     // figures may lie below zero: the axis of a column chart then begins where it must
}

type chartForm uint8

const (
	chartLines chartForm = iota + 1
	chartColumns
)

// chartBlock is a declared chart with the rows it covers.
type chartBlock struct {
	spec chartSpec
	form chartForm

	sheet *sheet
	row   int
}

// Size of a chart. The library takes a row without content to be 18 pixels high, and applications 20.
const (
	chartRows   = 21
	chartWidth  = 920
	chartHeight = (chartRows - 1) * 18
)

// How many series can be told apart: lines by tone, dash and marker, columns by tone alone.
const (
	maxLineSeries   = 24
	maxColumnSeries = len(seriesLooks)
)

// lineChart declares a line for each series along the categories, as for stock by pile over the days of
// a month.
func (s *sheet) lineChart(spec chartSpec) { s.chart(spec, chartLines) }

// columnChart declares a group of columns for each category, as for book against survey by pile.
func (s *sheet) columnChart(spec chartSpec) { s.chart(spec, chartColumns) }

func (s *sheet) chart(spec chartSpec, form chartForm) {
	most := maxLineSeries
	if form == chartColumns {
		most = maxColumnSeries
	}
	if err := spec.check(most); err != nil {
		s.book.fail(fmt.Errorf("sheet %q: chart %q: %w", s.name, spec.title, err))
		return
	}
	s.add(chartBlock{spec: spec, form: form, sheet: s, row: s.next})
	s.next += chartRows
}

// check holds the declaration to what a reader needs, with at most so many series.
func (c chartSpec) check(most int) error {
	switch {
	case c.title == "" || c.xTitle == "" || c.yTitle == "" || c.alt == "":
		return errors.New("want a title, the titles of both axes and a description")
	case len(c.y) == 0 || len(c.y) > most:
		return fmt.Errorf("%d series: want 1 to %d", len(c.y), most)
	case len(c.table.parts) > 1:
		return fmt.Errorf("table %q goes on in further sheets", c.table.spec.name)
	}
	for _, key := range append([]string{c.x}, c.y...) {
		if _, ok := c.table.lookUp(key); !ok {
			return fmt.Errorf("no column %q", key)
		}
	}
	return nil
}

func (c chartBlock) extent(int) (row, cols int) { return subtitleRow, 1 }

func (c chartBlock) emit(_ context.Context, w *sheetWriter, _ int) error {
	spec := c.spec
	font := chartFont(9)
	chart := &excelize.Chart{
		Type:         excelize.Line,
		Title:        chartTitle(spec.title, 12),
		XAxis:        excelize.ChartAxis{Title: chartTitle(spec.xTitle, 9), Font: font},
		YAxis:        excelize.ChartAxis{Title: chartTitle(spec.yTitle, 9), Font: font, MajorGridLines: true},
		Legend:       excelize.ChartLegend{Position: "bottom", Font: &font},
		Dimension:    excelize.ChartDimension{Width: chartWidth, Height: chartHeight},
		Format:       excelize.GraphicOptions{AltText: cleanLine(spec.alt), Name: cleanLine(spec.title), OffsetY: 5},
		Border:       excelize.LineOptions{Fill: solid(ruleHair)},
		VaryColors:   new(bool), // one series, one colour
		ShowBlanksAs: "gap",
	}
	chart.XAxis.NumFmt.CustomNumFmt = axisFormats[spec.table.kindOf(spec.x)]
	chart.YAxis.NumFmt.CustomNumFmt = axisFormats[spec.table.kindOf(spec.y[0])]
	if c.form == chartColumns {
		chart.Type = excelize.Col
		gap, overlap := uint(70), -5
		chart.GapWidth, chart.Overlap = &gap, &overlap
		if !spec.signed {
			chart.YAxis.Minimum = new(float64)
		}
	}
	for i, key := range spec.y {
		chart.Series = append(chart.Series, c.series(key, i))
	}
	corner := cellRef{col: 1, row: c.row}.local()
	if err := w.keepTogether(c.sheet, c.row, c.row+chartRows-1); err != nil {
		return err
	}
	return w.file.AddChart(w.sheet, corner, chart)
}

// axisFormats are the number formats of an axis by the kind of its column; a date is a day of the month.
// Other kinds go by the application's own choice.
var axisFormats = map[kind]string{kindTonnes: "#,##0", kindInteger: "#,##0", kindPercent: "0.0%", kindDate: "d"}

func (c chartBlock) series(key string, i int) excelize.ChartSeries {
	t := c.spec.table
	head := cellRef{t.parts[0].sheet, t.index[key] + 1, t.parts[0].header}
	look, dash := lookOf(i)
	s := excelize.ChartSeries{Name: head.String(), Categories: t.column(c.spec.x).areas[0].String(),
		Values: t.column(key).areas[0].String(), Fill: solid(look.colour)}
	if c.form == chartLines {
		s.Line = excelize.LineOptions{Width: 1.75, Dash: dash}
		s.Marker = excelize.ChartMarker{Symbol: look.marker, Size: 6, Fill: solid(look.colour)}
	}
	return s
}

// seriesLook is the tone and marker of a series. Neighbours differ in lightness as well as in hue, so
// that a grey print keeps them apart.
type seriesLook struct{ colour, marker string }

var seriesLooks = [...]seriesLook{
	{"1B3242", "circle"},
	{"D39A33", "square"},
	{"A23A2B", "triangle"},
	{"9CC4D4", "diamond"},
	{"5E8A4C", "x"},
	{"C9B3D1", "star"},
}

var dashes = [...]excelize.LineDashType{excelize.LineDashSolid, excelize.LineDashDash, excelize.LineDashSysDot, excelize.LineDashLgDashDot}

// lookOf returns the look and the dash of series i. They step together, and the dash once more after a
// dozen, so that maxLineSeries lines are all different.
func lookOf(i int) (seriesLook, excelize.LineDashType) {
	return seriesLooks[i%len(seriesLooks)], dashes[(i+i/12)%len(dashes)]
}

func chartTitle(words string, size float64) excelize.ChartTitle {
	font := chartFont(size)
	font.Bold = true
	return excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: cleanLine(words), Font: &font}}}
}

func chartFont(size float64) excelize.Font {
	return excelize.Font{Family: fontFamily, Size: size, Color: inkDark}
}
