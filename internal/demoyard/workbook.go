package demoyard

import (
	"fmt"
	"time"

	"github.com/xuri/excelize/v2"
)

// form is how a cell of a worksheet holds its value.
type form uint8

const (
	asText form = iota + 1
	asNumber
	asDate
	asDateTime
	asClock
)

// formats are the number formats of the forms that need one.
var formats = [...]string{asDate: "yyyy-mm-dd", asDateTime: "yyyy-mm-dd hh:mm", asClock: "hh:mm"}

// cell is one value of a worksheet.
type cell struct {
	form form
	text string    // of text and numbers
	at   time.Time // of dates and instants: the reading of the local clock, as UTC

	sinceMidnight time.Duration // of a time of day
}

func text(s string) cell         { return cell{form: asText, text: s} }
func number(s string) cell       { return cell{form: asNumber, text: s} }
func date(at time.Time) cell     { return cell{form: asDate, at: at} }
func dateTime(at time.Time) cell { return cell{form: asDateTime, at: at} }
func clockHour(hour int) cell {
	return cell{form: asClock, sinceMidnight: time.Duration(hour) * time.Hour}
}

// sheet is one table of a workbook.
type sheet struct {
	name   string
	header []string
	rows   [][]cell
}

// workbook writes sheets as an .xlsx file: dates as dates, numbers as numbers.
func workbook(name string, sheets []sheet) (file File, err error) {
	f := excelize.NewFile()
	defer func() {
		if cerr := f.Close(); err == nil && cerr != nil {
			err = fmt.Errorf("%s: %w", name, cerr)
		}
	}()
	w := sheetWriter{file: f}
	if err := w.addStyles(); err != nil {
		return File{}, fmt.Errorf("%s: %w", name, err)
	}
	for i, sh := range sheets {
		if err := w.write(i, sh); err != nil {
			return File{}, fmt.Errorf("%s: sheet %s: %w", name, sh.name, err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return File{}, fmt.Errorf("%s: %w", name, err)
	}
	return File{Name: name, Content: b.Bytes()}, nil
}

// sheetWriter puts sheets into a workbook.
type sheetWriter struct {
	file   *excelize.File
	styles [len(formats)]int // by form
	bold   int
}

func (w *sheetWriter) addStyles() (err error) {
	for form, format := range formats {
		if format == "" {
			continue
		}
		if w.styles[form], err = w.file.NewStyle(&excelize.Style{CustomNumFmt: &format}); err != nil {
			return err
		}
	}
	w.bold, err = w.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	return err
}

func (w *sheetWriter) write(index int, sh sheet) error {
	if index == 0 {
		if err := w.file.SetSheetName(w.file.GetSheetName(0), sh.name); err != nil {
			return err
		}
	} else if _, err := w.file.NewSheet(sh.name); err != nil {
		return err
	}
	for column, heading := range sh.header {
		if err := w.put(sh.name, column+1, 1, text(heading)); err != nil {
			return err
		}
	}
	if err := w.file.SetRowStyle(sh.name, 1, 1, w.bold); err != nil {
		return err
	}
	for i, row := range sh.rows {
		for column, c := range row {
			if err := w.put(sh.name, column+1, i+2, c); err != nil {
				return err
			}
		}
	}
	last, err := excelize.ColumnNumberToName(len(sh.header))
	if err != nil {
		return err
	}
	return w.file.SetColWidth(sh.name, "A", last, 18)
}

// put writes one cell. A text or number that is empty leaves the cell empty.
func (w *sheetWriter) put(sheet string, column, row int, c cell) error {
	ref, err := excelize.CoordinatesToCellName(column, row)
	if err != nil {
		return err
	}
	switch c.form {
	case asText:
		if c.text == "" {
			return nil
		}
		return w.file.SetCellStr(sheet, ref, c.text)
	case asNumber:
		if c.text == "" {
			return nil
		}
		return w.file.SetCellDefault(sheet, ref, c.text)
	case asClock:
		if err := w.file.SetCellValue(sheet, ref, c.sinceMidnight); err != nil {
			return err
		}
	case asDate, asDateTime:
		if err := w.file.SetCellValue(sheet, ref, c.at); err != nil {
			return err
		}
	}
	return w.file.SetCellStyle(sheet, ref, ref, w.styles[c.form])
}
