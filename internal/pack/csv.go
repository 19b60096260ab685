package pack

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"

	"repose/ledger"
)

// CSV writes a table so that the same rows always give the same bytes, as RFC 4180 has it: UTF-8 without a mark,
// commas, every row ended by CR LF. Its first row holds the names of the columns.
type CSV struct {
	w       io.Writer
	row     []byte
	columns int
}

// NewCSV returns a writer of a table.
func NewCSV(w io.Writer) *CSV { return &CSV{w: w} }

// Cell is one field of a row.
type Cell struct{ text string }

// Text returns a field of text, made safe for spreadsheets. A text that one could take for a formula, because its first
// character is = + - @ or one of their full-width forms, gets an apostrophe in front, and so does a text that begins
// with an apostrophe: whoever takes one leading apostrophe off has the text again. Control characters, which would
// break rows, stand as JSON writes them, such as \u0009.
func Text(s string) Cell {
	if s == "" {
		return Cell{}
	}
	s = strings.ToValidUTF8(s, "\uFFFD")
	if strings.IndexFunc(s, unicode.IsControl) >= 0 {
		s = escapeControls(s)
	}
	if first := strings.TrimLeftFunc(s, unicode.IsSpace); first != "" && strings.ContainsRune("=+-@'＝＋－＠", []rune(first)[0]) {
		s = "'" + s
	}
	return Cell{s}
}

func escapeControls(s string) string {
	var b strings.Builder
	for _, r := range s {
		if unicode.IsControl(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// Int returns a field that is a whole number.
func Int(n int64) Cell { return Cell{strconv.FormatInt(n, 10)} }

// Grams returns a mass as a whole number of grams.
func Grams(m ledger.Mass) Cell { return Int(int64(m)) }

// Number returns a field that is a plain decimal number, such as -12.5. What is none becomes text.
func Number(s string) Cell {
	if _, err := ledger.ParseDecimal(s); err != nil || s[0] == '+' {
		return Text(s)
	}
	return Cell{s}
}

// Row writes a row. It must have as many cells as the first one.
func (c *CSV) Row(cells ...Cell) error {
	if c.columns == 0 {
		c.columns = len(cells)
	}
	if len(cells) == 0 || len(cells) != c.columns {
		return fmt.Errorf("row of %d cells: want %d", len(cells), max(c.columns, 1))
	}
	c.row = appendRow(c.row[:0], cells)
	_, err := c.w.Write(c.row)
	return err
}

// appendRow appends a row with its end.
func appendRow(b []byte, cells []Cell) []byte { return append(appendCells(b, cells), "\r\n"...) }

// appendCells appends cells with commas between them. A single empty cell is quoted, because a row of it would be no row.
func appendCells(b []byte, cells []Cell) []byte {
	for i, c := range cells {
		if i > 0 {
			b = append(b, ',')
		}
		if !strings.ContainsAny(c.text, `",; `) && (c.text != "" || len(cells) > 1) {
			b = append(b, c.text...)
			continue
		}
		b = append(b, '"')
		b = append(b, strings.ReplaceAll(c.text, `"`, `""`)...)
		b = append(b, '"')
	}
	return b
}

// texts makes cells of a header.
func texts(names ...string) []Cell {
	cells := make([]Cell, len(names))
	for i, n := range names {
		cells[i] = Text(n)
	}
	return cells
}
