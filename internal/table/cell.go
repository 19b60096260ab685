package table

import (
	"fmt"
	"strconv"
)

// cellType is the type attribute of a cell (ST_CellType, ECMA-376 part 1,
// 18.18.11).
type cellType uint8

const (
	numberCell cellType = iota + 1
	sharedCell
	textCell
	boolCell
	errorCell
	dateCell
)

// cellAttrs are the attributes of a cell as they are written, nil if missing.
type cellAttrs struct{ ref, style, kind []byte }

// cellHead is what the attributes of a cell say.
type cellHead struct {
	kind  cellType
	style int
}

// readCell reads the cell just opened into the row. It returns an error only
// if the sheet cannot be read on; what is wrong with the cell alone it notes.
func (s *sheetSource) readCell() error {
	var attrs cellAttrs
	for _, a := range s.xml.attrs {
		switch string(a.name) {
		case "r":
			attrs.ref = a.value
		case "s":
			attrs.style = a.value
		case "t":
			attrs.kind = a.value
		}
	}
	head, err := s.startCell(attrs)
	if err != nil {
		return err
	}
	start := len(s.text)
	formula, value := false, false
	err = s.xml.each(func(name string) (err error) {
		switch name {
		case "v":
			value = true
			s.text, err = s.xml.appendText(s.text)
			return err
		case "is":
			value, head.kind = true, textCell
			s.text, err = s.xml.appendRich(s.text)
			return err
		case "f":
			formula = true
		}
		return s.xml.skip()
	})
	if err != nil {
		return err
	}
	if formula && !value {
		s.reject("a formula without its result", "a workbook saved by a program that calculates it")
	}
	return s.setCell(head, start)
}

// readSimpleCell reads the next element into the row if it is a simple cell.
// It reports false, having read nothing, if it is not.
func (s *sheetSource) readSimpleCell() (bool, error) {
	attrs, value, ok := s.xml.simpleCell()
	if !ok {
		return false, nil
	}
	head, err := s.startCell(attrs)
	if err != nil {
		return true, err
	}
	start := len(s.text)
	s.text = append(s.text, value...)
	return true, s.setCell(head, start)
}

// startCell sets s.column. A cell without an address follows the last one.
func (s *sheetSource) startCell(attrs cellAttrs) (cellHead, error) {
	head := cellHead{kind: numberCell}
	s.column++
	if attrs.ref != nil {
		column, row, ok := parseAddress(attrs.ref)
		switch {
		case !ok || row != s.row:
			s.reject("the cell address "+quote(string(attrs.ref)), fmt.Sprintf("an address in row %d", s.row))
		case column < s.column:
			s.column = column
			s.reject("the cell "+quote(string(attrs.ref))+" after one to its right", "cells in order")
		default:
			s.column = column
		}
	}
	if attrs.style != nil {
		n, err := strconv.Atoi(string(attrs.style))
		if err != nil || n < 0 {
			s.reject("the cell style "+quote(string(attrs.style)), "a whole number")
		}
		head.style = max(n, 0)
	}
	if attrs.kind != nil {
		if head.kind = parseCellType(attrs.kind); head.kind == 0 {
			s.reject("the cell type "+quote(string(attrs.kind)), "n, s, str, inlineStr, b, e or d")
		}
	}
	if limit := s.book.archive.limits.Columns; s.column > limit {
		return head, s.xml.fail(fmt.Sprintf("column %d", s.column), "at most "+count(limit, "column"), nil)
	}
	return head, nil
}

// parseCellType returns the type of that name, or 0.
func parseCellType(name []byte) cellType {
	switch string(name) {
	case "n":
		return numberCell
	case "s":
		return sharedCell
	case "str", "inlineStr":
		return textCell
	case "b":
		return boolCell
	case "e":
		return errorCell
	case "d":
		return dateCell
	default:
		return 0
	}
}

// parseAddress returns the 1-based column and row of an address such as AB12.
func parseAddress(b []byte) (column, row int, ok bool) {
	const longest = len("XFD1048576")
	i := 0
	for ; i < len(b) && b[i] >= 'A' && b[i] <= 'Z'; i++ {
		if i == 3 {
			return 0, 0, false
		}
		column = column*26 + int(b[i]-'A') + 1
	}
	if i == 0 || i == len(b) || len(b) > longest {
		return 0, 0, false
	}
	for ; i < len(b); i++ {
		if b[i] < '0' || b[i] > '9' {
			return 0, 0, false
		}
		row = row*10 + int(b[i]-'0')
	}
	return column, row, true
}

// setCell turns the value that stands at the end of s.text, from start on,
// into the text of the cell.
func (s *sheetSource) setCell(head cellHead, start int) error {
	if limit := s.book.archive.limits.RowBytes; len(s.text) > limit {
		return s.xml.fail("a row too long", "at most "+byteSize(uint64(limit))+" of text", nil)
	}
	if len(s.text) == start {
		return nil
	}
	switch head.kind {
	case numberCell:
		s.setNumber(head.style, start)
	case sharedCell:
		s.setShared(start)
	case textCell:
		s.setText(start)
	case boolCell:
		s.setBool(start)
	case errorCell:
		s.setSpan(Failed, start)
	case dateCell:
		value := s.text[start:]
		text, ok := appendISO(s.text, value)
		if !ok {
			s.reject(quote(string(value))+" in a cell of type d", "a date such as 2006-01-02T15:04:05")
		}
		s.replaceSpan(Date, start, text)
	}
	return nil
}

// setShared takes the text of the cell from the shared strings.
func (s *sheetSource) setShared(start int) {
	value := s.text[start:]
	s.text = s.text[:start]
	i, err := strconv.Atoi(string(value))
	text, ok := s.book.strings.at(i)
	if err != nil || !ok {
		s.reject("the shared string "+quote(string(value)), fmt.Sprintf("an index below %d", len(s.book.strings.ends)))
		return
	}
	s.put(Text, text)
}

// setText undoes the escapes in text that stands in the cell.
func (s *sheetSource) setText(start int) {
	s.text = unescape(s.text, start)
	if limit := s.book.archive.limits.CellChars; tooLong(s.text[start:], limit) {
		s.reject("the text "+quote(string(s.text[start:]))+", too long for a cell", fmt.Sprintf("at most %d characters", limit))
	}
	s.setSpan(Text, start)
}

// setBool turns 0 and 1 into FALSE and TRUE.
func (s *sheetSource) setBool(start int) {
	value := string(s.text[start:])
	s.text = s.text[:start]
	switch value {
	case "0", "false":
		s.put(Bool, "FALSE")
	case "1", "true":
		s.put(Bool, "TRUE")
	default:
		s.reject(quote(value)+" in a cell of type b", "0 or 1")
	}
}

// setNumber turns a number into the text that its format calls for.
func (s *sheetSource) setNumber(style, start int) {
	format := plainNumber
	switch {
	case style < len(s.book.formats):
		format = s.book.formats[style]
	case style > 0:
		s.reject(fmt.Sprintf("the cell style %d", style), fmt.Sprintf("one of the workbook's %d", len(s.book.formats)))
	}
	value := s.text[start:]
	if format == plainNumber && isShort(value) {
		s.setSpan(Number, start)
		return
	}
	v, ok := parseNumber(value)
	if !ok {
		s.reject(quote(string(value))+" in a cell of type n", "a number")
		return
	}
	switch format {
	case plainNumber:
		s.replaceSpan(Number, start, appendNumber(s.text, v))
	case percentage:
		s.replaceSpan(Number, start, append(appendNumber(s.text, 100*v), '%'))
	default:
		text, ok := appendSerial(s.text, v, format, s.book.date1904)
		if !ok {
			s.reject("the date serial "+string(value), "a day that was or will be, up to 9999-12-31")
		}
		s.replaceSpan(Date, start, text)
	}
}

// setSpan makes s.text from start on the text of the cell being read.
func (s *sheetSource) setSpan(kind CellKind, start int) {
	s.put(kind, "")
	s.spans = append(s.spans, span{s.column, start, len(s.text)})
}

// replaceSpan makes what was appended to s.text the text of the cell being
// read, in place of the value that stood from start on.
func (s *sheetSource) replaceSpan(kind CellKind, start int, appended []byte) {
	n := copy(appended[start:], appended[len(s.text):])
	s.text = appended[:start+n]
	s.setSpan(kind, start)
}
