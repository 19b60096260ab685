package workbook

import (
	"context"
	"errors"
	"fmt"
	"slices"

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
	band   []string // keys of the edges of a band around them: thin broken lines, all alike
	signed bool     // figures may lie below zero: the axis of a column chart then begins where it must

	from, count int // data rows that are drawn; a count of 0 draws them all
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
	size chartSize

	sheet    *sheet
	row, col int
}

// chartSize is the size of a chart in pixels, and the rows it covers. The library takes a row without content
// to be 18 pixels high, and applications 20.
type chartSize struct{ width, rows int }

func (s chartSize) height() int { return (s.rows - 1) * 18 }

// Two small charts stand side by side, the second in column B, and are together as wide as a large one.
const (
	smallChartColumn = 78 // width of column A, in characters
	smallChartWidth  = 610
	chartGap         = smallChartColumn*8 - smallChartWidth // the library counts 8 pixels a character
)

func largeChart() chartSize { return chartSize{2*smallChartWidth + chartGap, 21} }
func smallChart() chartSize { return chartSize{smallChartWidth, 15} }

// How many series can be told apart: lines by tone, dash and marker, columns by tone alone.
const (
	maxLineSeries   = 24
	maxColumnSeries = len(seriesLooks)
)

// lineChart declares a line for each series along the categories, as for stock by pile over the days of
// a month.
func (s *sheet) lineChart(spec chartSpec) {
	s.chart(chartBlock{spec: spec, form: chartLines, size: largeChart(), col: 1})
}

// smallLineCharts declares line charts that are to be compared, two in a row.
func (s *sheet) smallLineCharts(specs []chartSpec) {
	for i, spec := range specs {
		if i%2 == 1 {
			s.next -= smallChart().rows
		}
		s.chart(chartBlock{spec: spec, form: chartLines, size: smallChart(), col: 1 + i%2})
	}
}

// columnChart declares a group of columns for each category, as for book against survey by pile.
func (s *sheet) columnChart(spec chartSpec) {
	s.chart(chartBlock{spec: spec, form: chartColumns, size: largeChart(), col: 1})
}

// chart takes the rows of a chart. A chart that is refused leaves them free.
func (s *sheet) chart(c chartBlock) {
	c.sheet, c.row = s, s.next
	s.next += c.size.rows
	most := maxLineSeries
	if c.form == chartColumns {
		most = maxColumnSeries
	}
	if err := c.spec.check(most); err != nil {
		s.book.fail(fmt.Errorf("sheet %q: chart %q: %w", s.name, c.spec.title, err))
		return
	}
	s.add(c)
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
	case c.from < 0 || c.count < 0 || c.from+c.count > max(c.table.spec.count, 1):
		return fmt.Errorf("rows %d to %d of %d", c.from, c.from+c.count, c.table.spec.count)
	}
	for _, key := range slices.Concat([]string{c.x}, c.y, c.band) {
		if _, ok := c.table.lookUp(key); !ok {
			return fmt.Errorf("no column %q", key)
		}
	}
	return nil
}

func (c chartBlock) extent(int) (row, cols int) { return subtitleRow, 1 }

func (c chartBlock) emit(_ context.Context, w *sheetWriter, _ int) error {
	if err := w.keepTogether(c.sheet, c.row, c.row+c.size.rows-1); err != nil {
		return err
	}
	chart, combined := c.draw(), []*excelize.Chart(nil)
	band := make([]excelize.ChartSeries, len(c.spec.band))
	for i, key := range c.spec.band {
		band[i] = c.edge(key)
	}
	if c.form == chartLines {
		chart.Series = append(chart.Series, band...)
	} else if len(band) > 0 {
		// The axes of what is drawn last are the ones that show.
		combined = append(combined, &excelize.Chart{Type: excelize.Line, Series: band, XAxis: chart.XAxis, YAxis: chart.YAxis, VaryColors: chart.VaryColors})
	}
	return w.file.AddChart(w.sheet, cellRef{col: c.col, row: c.row}.local(), chart, combined...)
}

// draw returns the chart without the band.
func (c chartBlock) draw() *excelize.Chart {
	spec := c.spec
	font := chartFont(9)
	chart := &excelize.Chart{
		Type:         excelize.Line,
		Title:        chartTitle(spec.title, 12),
		XAxis:        excelize.ChartAxis{Title: chartTitle(spec.xTitle, 9), Font: font},
		YAxis:        excelize.ChartAxis{Title: chartTitle(spec.yTitle, 9), Font: font, MajorGridLines: true},
		Legend:       excelize.ChartLegend{Position: "bottom", Font: &font},
		Dimension:    excelize.ChartDimension{Width: uint(c.size.width), Height: uint(c.size.height())},
		Format:       excelize.GraphicOptions{AltText: cleanLine(spec.alt), Name: cleanLine(spec.title), OffsetY: 5},
		Border:       excelize.LineOptions{Fill: solid(ruleHair)},
		VaryColors:   new(bool), // one series, one colour
		ShowBlanksAs: "gap",
	}
	chart.XAxis.NumFmt.CustomNumFmt = axisFormats[spec.table.kindOf(spec.x)]
	chart.YAxis.NumFmt.CustomNumFmt = axisFormats[spec.table.kindOf(spec.y[0])]
	if spec.signed {
		chart.XAxis.TickLabelPosition = excelize.ChartTickLabelLow // below the figures, not among them
	}
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
	return chart
}

// axisFormats are the number formats of an axis by the kind of its column; a date is a day of the month.
// Other kinds go by the application's own choice.
var axisFormats = map[kind]string{kindTonnes: "#,##0", kindInteger: "#,##0", kindPercent: "0.0%", kindDate: "d"}

// area returns the cells that a column's series is drawn from.
func (c chartBlock) area(key string) string {
	area := c.spec.table.column(key).areas[0]
	if c.spec.count > 0 {
		area.first += c.spec.from
		area.last = area.first + c.spec.count - 1
	}
	return area.String()
}

// data returns a series of a column without a look.
func (c chartBlock) data(key string) excelize.ChartSeries {
	t := c.spec.table
	head := cellRef{t.parts[0].sheet, t.index[key] + 1, t.parts[0].header}
	return excelize.ChartSeries{Name: head.String(), Categories: c.area(c.spec.x), Values: c.area(key)}
}

// edge returns the series of a band's edge. Its markers show the band where there is but one point.
func (c chartBlock) edge(key string) excelize.ChartSeries {
	s := c.data(key)
	s.Fill = solid(inkSoft)
	s.Line = excelize.LineOptions{Width: 1, Dash: excelize.LineDashSysDash}
	s.Marker = excelize.ChartMarker{Symbol: "dash", Size: 7, Fill: solid(inkSoft)}
	return s
}

func (c chartBlock) series(key string, i int) excelize.ChartSeries {
	look, dash := lookOf(i)
	s := c.data(key)
	s.Fill = solid(look.colour)
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
