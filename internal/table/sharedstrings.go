package table

import (
	"fmt"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// sharedStrings is the table of texts that cells refer to by index: one text
// with the index where each string ends, which costs 4 bytes a string.
type sharedStrings struct {
	text string
	ends []uint32
}

// at returns string i.
func (s *sharedStrings) at(i int) (string, bool) {
	if i < 0 || i >= len(s.ends) {
		return "", false
	}
	start := uint32(0)
	if i > 0 {
		start = s.ends[i-1]
	}
	return s.text[start:s.ends[i]], true
}

// readStrings reads the shared strings, of which a workbook may have none.
func (w *Workbook) readStrings() (*sharedStrings, error) {
	s := new(sharedStrings)
	if w.texts == "" {
		return s, nil
	}
	x, err := w.archive.open(w.texts, w.name)
	if err != nil {
		return nil, err
	}
	if err := x.root("sst"); err != nil {
		return nil, err
	}
	limits := w.archive.limits
	var text strings.Builder
	var item []byte
	err = x.each(func(name string) error {
		if name != "si" {
			return x.skip()
		}
		item, err = x.appendRich(item[:0])
		item = unescape(item, 0)
		switch {
		case err != nil:
			return err
		case !utf8.Valid(item):
			return x.fail(fmt.Sprintf("a text that is not UTF-8 (string %d)", len(s.ends)), "UTF-8", nil)
		case tooLong(item, limits.CellChars):
			return x.fail(fmt.Sprintf("a text too long for a cell (string %d)", len(s.ends)),
				fmt.Sprintf("at most %d characters", limits.CellChars), nil)
		case text.Len()+len(item)+4*(len(s.ends)+1) > limits.SharedStringsBytes:
			return x.fail("too much text", "at most "+byteSize(uint64(limits.SharedStringsBytes)), nil)
		}
		text.Write(item)
		s.ends = append(s.ends, uint32(text.Len()))
		return nil
	})
	if err != nil {
		return nil, err
	}
	s.text = text.String()
	return s, x.rest()
}

// tooLong reports whether text has more than limit UTF-16 code units, which is
// how a spreadsheet counts characters.
func tooLong(text []byte, limit int) bool {
	if len(text) <= limit {
		return false // no code unit takes less than a byte
	}
	n := 0
	for _, r := range string(text) {
		n += utf16.RuneLen(r)
	}
	return n > limit
}
