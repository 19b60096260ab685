package table

import (
	"bytes"
	"errors"
	"io"
	"unicode/utf8"
)

// errLongRow is returned by a textReader once a row has passed its limit.
var errLongRow = errors.New("row too long")

// textReader passes on a file's bytes and watches them, a buffer at a time,
// because that costs a tenth of looking at every cell.
type textReader struct {
	src io.Reader

	// suspect is set, for good, once a NUL or something that is not UTF-8 has
	// passed: from then on the cells must be looked at.
	suspect bool

	// passed counts the bytes since the owner last set it to 0, after each
	// row; beyond max, Read returns errLongRow.
	passed, max int

	cut []byte // the beginning of a character that a buffer's end cut in two
}

// Read implements [io.Reader].
func (t *textReader) Read(p []byte) (int, error) {
	if t.passed > t.max {
		return 0, errLongRow
	}
	n, err := t.src.Read(p)
	t.passed += n
	if !t.suspect {
		t.suspect = !t.isText(p[:n]) || err == io.EOF && len(t.cut) > 0
	}
	return n, err
}

// isText reports whether b, after the bytes kept in t.cut, is UTF-8 without
// NUL. It keeps a character that b's end cuts in two in t.cut.
func (t *textReader) isText(b []byte) bool {
	for len(t.cut) > 0 && len(b) > 0 && !utf8.FullRune(t.cut) {
		t.cut, b = append(t.cut, b[0]), b[1:]
	}
	if len(t.cut) > 0 {
		if !utf8.FullRune(t.cut) {
			return true
		}
		if !utf8.Valid(t.cut) {
			return false
		}
		t.cut = t.cut[:0]
	}
	for i := len(b) - 1; i >= 0 && i >= len(b)-utf8.UTFMax; i-- {
		if utf8.RuneStart(b[i]) {
			if !utf8.FullRune(b[i:]) {
				t.cut = append(t.cut, b[i:]...)
				b = b[:i]
			}
			break
		}
	}
	return utf8.Valid(b) && bytes.IndexByte(b, 0) < 0
}
