package bench

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"repose/internal/table"
)

// Peer does what its arguments name, in a process of its own, and writes how many rows it read:
//
//	cells FILE ROWS      write ROWS rows of cells such as a workbook's entries have, with excelize's stream writer
//	sheet CSV FILE ROWS  write the first ROWS loads of a file as a workbook
//	rows FILE            read a workbook's first sheet with excelize's row iterator, numbers as stored
//	shown FILE           the same, numbers and dates as they are shown
//	table FILE           read it with internal/table
func Peer(out io.Writer, args []string) error {
	rows, err := 0, error(nil)
	switch {
	case len(args) == 3 && args[0] == "cells":
		if rows, err = strconv.Atoi(args[2]); err == nil {
			err = writeCells(args[1], rows)
		}
	case len(args) == 4 && args[0] == "sheet":
		if rows, err = strconv.Atoi(args[3]); err == nil {
			err = writeSheet(args[1], args[2], rows)
		}
	case len(args) == 2 && args[0] == "rows":
		rows, err = readRows(args[1], excelize.Options{RawCellValue: true})
	case len(args) == 2 && args[0] == "shown":
		rows, err = readRows(args[1], excelize.Options{})
	case len(args) == 2 && args[0] == "table":
		rows, err = readTable(args[1])
	default:
		return fmt.Errorf("peer %q: want cells, sheet, rows, shown or table with their files", args)
	}
	if err == nil {
		_, err = fmt.Fprintln(out, rows)
	}
	return err
}

// readRows reads the cells of all rows of a workbook's first sheet and counts the rows below the header.
func readRows(path string, o excelize.Options) (n int, err error) {
	f, err := excelize.OpenFile(path, o)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	rows, err := f.Rows(f.GetSheetName(0))
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if _, err := rows.Columns(); err != nil {
			return 0, err
		}
		n++
	}
	return n - 1, rows.Error()
}

// readTable does the same with internal/table.
func readTable(path string) (n int, err error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	w, err := table.OpenWorkbook(path, f, info.Size())
	if err != nil {
		return 0, err
	}
	r, err := w.Open(w.Sheets()[0], table.Layout{})
	if err != nil {
		return 0, err
	}
	for {
		if _, err := r.Next(); errors.Is(err, io.EOF) {
			return n, nil
		} else if err != nil {
			return n, err
		}
		n++
	}
}

// serial returns a time as a spreadsheet counts it: days since 1899-12-30.
func serial(at time.Time) float64 {
	return at.Sub(time.Date(1899, time.December, 30, 0, 0, 0, 0, time.UTC)).Hours() / 24
}
