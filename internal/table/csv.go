package table

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"unicode/utf8"
)

// csvBufferBytes is the size of each read from a CSV file.
const csvBufferBytes = 64 << 10

// OpenCSV reads the header of a CSV file: RFC 4180 with any delimiter, where
// quoted cells may hold line breaks, and lines end in LF or CRLF. name stands
// in positions. A workbook under a CSV file's name is an error.
//
// A cell that is not text in the file's encoding is an error of its row: no
// character is replaced. So is a cell beyond the header's columns. A row may
// be shorter than the header; the cells it leaves out are empty.
func (l Limits) OpenCSV(name string, r io.Reader, lay Layout) (*Reader, error) {
	delimiter := lay.Delimiter
	if delimiter == 0 {
		delimiter = ','
	}
	if !validDelimiter(delimiter) {
		return nil, fmt.Errorf("%s: delimiter %q: want one character other than a quote or a line end", name, delimiter)
	}
	headerRow, err := lay.headerRow()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}

	enc, raw, err := textOf(name, r, lay)
	if err != nil {
		return nil, err
	}
	s := &csvSource{name: name, encoding: enc, above: headerRow - 1}
	s.text = &textReader{src: enc.toUTF8(raw), max: l.RowBytes}
	lines := bufio.NewReaderSize(s.text, csvBufferBytes)
	if err := s.skipLines(lines); err != nil {
		return nil, err
	}
	if err := s.checkHeader(lines, delimiter); err != nil {
		return nil, err
	}
	s.csv = csv.NewReader(lines)
	s.csv.Comma = delimiter
	s.csv.FieldsPerRecord = -1
	s.csv.ReuseRecord = true
	return newReader(name, s, headerRow)
}

// Decode returns the text of a CSV file as UTF-8, as OpenCSV reads it, without a byte-order mark. What its encoding does not
// allow comes out as bytes that are not UTF-8.
func Decode(name string, r io.Reader, lay Layout) (io.Reader, error) {
	enc, raw, err := textOf(name, r, lay)
	if err != nil {
		return nil, err
	}
	return enc.toUTF8(raw), nil
}

// textOf returns the encoding of a CSV file, and its bytes after a byte-order mark.
func textOf(name string, r io.Reader, lay Layout) (encoding, io.Reader, error) {
	raw := bufio.NewReaderSize(r, csvBufferBytes)
	head, err := raw.Peek(512)
	if err != nil && err != io.EOF {
		return 0, nil, fmt.Errorf("%s: %w", name, err)
	}
	if found := container(head); found != "" {
		return 0, nil, &Error{File: name, Found: found, Wanted: "CSV text, as this name promises"}
	}
	enc, err := chooseEncoding(name, lay.Encoding, head)
	if err != nil {
		return 0, nil, err
	}
	if _, err := raw.Discard(enc.markBytes(head)); err != nil {
		return 0, nil, fmt.Errorf("%s: %w", name, err)
	}
	return enc, raw, nil
}

// validDelimiter reports whether encoding/csv takes r as its Comma.
func validDelimiter(r rune) bool {
	return r != '"' && r != '\r' && r != '\n' && r != utf8.RuneError && utf8.ValidRune(r)
}

// csvSource yields the rows of a CSV file.
type csvSource struct {
	name     string
	encoding encoding
	text     *textReader
	csv      *csv.Reader
	above    int // lines skipped above the header
	last     int // line, counted from the header, where the last row starts
	done     bool
}

// skipLines passes over the lines above the header, whatever they hold.
func (s *csvSource) skipLines(lines *bufio.Reader) error {
	for n := 0; n < s.above; {
		_, err := lines.ReadSlice('\n')
		switch {
		case err == nil:
			n++
			s.text.passed = 0
		case errors.Is(err, errLongRow):
			return s.longRow(n + 1)
		case err == io.EOF:
			return nil // newReader will miss the header
		case err != bufio.ErrBufferFull:
			return fmt.Errorf("%s:%d: %w", s.name, n+1, err)
		}
	}
	return nil
}

// checkHeader refuses a header line that shows the file to be other than the
// layout says. It looks at the line before it is parsed, because with the
// wrong delimiter a quoted header would be reported as badly quoted.
func (s *csvSource) checkHeader(lines *bufio.Reader, delimiter rune) error {
	bad := &Error{File: s.name, Row: s.above + 1}
	head, err := lines.Peek(csvBufferBytes)
	if err != nil && err != io.EOF && !errors.Is(err, errLongRow) {
		return fmt.Errorf("%s:%d: %w", s.name, bad.Row, err)
	}
	line, _, _ := bytes.Cut(head, []byte("\n"))
	line = bytes.TrimSuffix(line, []byte("\r"))
	switch {
	case bytes.IndexByte(line, 0) >= 0:
		bad.Found = "a NUL byte"
		bad.Wanted = `text (if the file is UTF-16 without a byte-order mark, a column map can say encoding = "utf-16le" or "utf-16be")`
		return bad
	case bytes.IndexByte(line, '\r') >= 0:
		bad.Found = "a carriage return within the header"
		bad.Wanted = "lines that end in LF or CRLF"
		return bad
	case bytes.ContainsRune(line, delimiter):
		return nil
	}
	for _, d := range []struct{ mark, name string }{
		{";", "semicolon"}, {"\t", "tab"}, {"|", "bar"}, {",", "comma"},
	} {
		if bytes.Contains(line, []byte(d.mark)) {
			bad.Found = "the single column " + quote(string(line))
			bad.Wanted = fmt.Sprintf("columns with %q between them (the file looks %s-separated: a column map can say delimiter = %q)",
				delimiter, d.name, d.mark)
			return bad
		}
	}
	return nil
}

// next implements source.
func (s *csvSource) next() (Row, error) {
	if s.done {
		return Row{}, io.EOF
	}
	s.text.passed = 0
	record, err := s.csv.Read()
	if err != nil {
		s.done = true
		return Row{}, s.fatal(err, len(record))
	}
	s.last, _ = s.csv.FieldPos(0)
	row := Row{Number: s.above + s.last, Cells: record}
	if s.text.suspect {
		if err := s.checkText(row); err != nil {
			return Row{}, err
		}
	}
	return row, nil
}

// fatal turns an error of encoding/csv, which had read so many cells of the
// row, into one with this package's position.
func (s *csvSource) fatal(err error, cells int) error {
	var parse *csv.ParseError
	switch {
	case err == io.EOF:
		return err
	case errors.Is(err, errLongRow):
		return s.longRow(s.above + s.last + 1)
	case !errors.As(err, &parse):
		return fmt.Errorf("%s:%d: %w", s.name, s.above+s.last+1, err)
	}
	bad := &Error{File: s.name, Row: s.above + parse.StartLine, Column: cells + 1, Err: parse.Err}
	if errors.Is(err, csv.ErrBareQuote) {
		bad.Found = "a quote in a cell that does not begin with one"
		bad.Wanted = `the whole cell in quotes and its own quotes doubled, as in "3/4"" crushed"`
	} else {
		bad.Found = "a quoted cell that does not end in a quote"
		if parse.Line > parse.StartLine {
			bad.Found += " by line " + strconv.Itoa(s.above+parse.Line)
		}
		bad.Wanted = "a closing quote before the next delimiter, quotes inside doubled"
	}
	bad.Wanted += "; the rest of the file was not read"
	return bad
}

func (s *csvSource) longRow(line int) error {
	return &Error{
		File: s.name, Row: line,
		Found:  "a row that does not end",
		Wanted: fmt.Sprintf("rows of at most %s (a quote may be missing); the rest of the file was not read", byteSize(uint64(s.text.max))),
	}
}

// checkText returns an error if a cell holds what its encoding does not allow.
func (s *csvSource) checkText(row Row) error {
	for i, c := range row.Cells {
		if found := s.encoding.badText(c); found != "" {
			return &Error{
				File: s.name, Row: row.Number, Column: i + 1,
				Found:  found,
				Wanted: s.encoding.wanted(),
			}
		}
	}
	return nil
}
