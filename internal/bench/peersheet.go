package bench

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"
)

// stream is a workbook of one sheet that is being written.
type stream struct {
	file               *excelize.File
	writer             *excelize.StreamWriter
	instant, two, fine int // styles: a time, two places, six places
}

func newStream(name string) (*stream, error) {
	s := &stream{file: excelize.NewFile()}
	if err := s.file.SetSheetName("Sheet1", name); err != nil {
		return nil, err
	}
	for _, style := range []struct {
		id     *int
		format string
	}{{&s.instant, "yyyy-mm-dd hh:mm:ss"}, {&s.two, "#,##0.00"}, {&s.fine, "#,##0.000000"}} {
		id, err := s.file.NewStyle(&excelize.Style{CustomNumFmt: &style.format})
		if err != nil {
			return nil, err
		}
		*style.id = id
	}
	w, err := s.file.NewStreamWriter(name)
	s.writer = w
	return s, err
}

// row writes a row; rows are counted from 1.
func (s *stream) row(n int, cells []any) error { return s.writer.SetRow("A"+strconv.Itoa(n), cells) }

// save ends the sheet and writes the workbook.
func (s *stream) save(path string) error {
	if err := s.writer.Flush(); err != nil {
		return err
	}
	return errors.Join(s.file.SaveAs(path), s.file.Close())
}

// writeCells writes rows of as many cells, of the same kinds, as the sheet of entries of a workbook has for a load:
// two whole numbers, a time, four masses and moistures, eleven texts. Nothing else is written.
func writeCells(path string, rows int) error {
	s, err := newStream("Entries")
	if err != nil {
		return err
	}
	start := serial(time.Date(2025, time.January, 1, 6, 0, 0, 0, time.UTC))
	cells := make([]any, 18)
	for i := range rows {
		wet := float64(12_000_000+i*7919%20_000_000) / 1e6
		cells[0], cells[1] = i+1, fmt.Sprintf("load:Y01:Y01-L%d/Y01-L%d-%06d", i%2+1, i%2+1, i/2)
		cells[2], cells[3] = excelize.Cell{StyleID: s.instant, Value: start + float64(i)/86400}, "+00:00"
		cells[4], cells[5], cells[6], cells[7] = fmt.Sprintf("P%03d", i%20+1), "sale", "sale", fmt.Sprintf("S%02d", i%12+1)
		cells[8] = excelize.Cell{StyleID: s.fine, Value: wet}
		cells[9] = excelize.Cell{StyleID: s.two, Value: 2.25}
		cells[10] = excelize.Cell{StyleID: s.fine, Value: wet / 1.0225}
		cells[11] = excelize.Cell{StyleID: s.fine, Value: wet - wet/1.0225}
		cells[12], cells[13] = fmt.Sprintf("Y01-L%d-%06d", i%2+1, i/2), fmt.Sprintf("Y01-T%02d", i%40+1)
		cells[14], cells[15], cells[16], cells[17] = fmt.Sprintf("C%03d", i%240+1), "file 1", "loads.csv", i+2
		if err := s.row(i+1, cells); err != nil {
			return err
		}
	}
	return s.save(path)
}

// writeSheet writes the first loads of a file as a person's spreadsheet has them: times and masses as numbers with
// a format, all else as text.
func writeSheet(from, path string, rows int) error {
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer f.Close()
	r := csv.NewReader(f)
	header, err := r.Read()
	if err != nil {
		return err
	}
	s, err := newStream("loads")
	if err != nil {
		return err
	}
	cells := make([]any, len(header))
	for i, h := range header {
		cells[i] = h
	}
	if err := s.row(1, cells); err != nil {
		return err
	}
	for n := range rows {
		row, err := r.Read()
		if err != nil {
			return err
		}
		if err := s.load(cells, header, row); err != nil {
			return err
		}
		if err := s.row(n+2, cells); err != nil {
			return err
		}
	}
	return s.save(path)
}

// load makes the cells of a row of loads.
func (s *stream) load(cells []any, header, row []string) error {
	for i, text := range row {
		switch header[i] {
		case "time":
			at, err := time.Parse(clock, text)
			if err != nil {
				return err
			}
			cells[i] = excelize.Cell{StyleID: s.instant, Value: serial(at)}
		case "passes", "net [t]":
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return err
			}
			cells[i] = excelize.Cell{StyleID: s.two, Value: v}
		default:
			cells[i] = text
		}
	}
	return nil
}
