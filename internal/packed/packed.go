// Package packed writes columns of numbers and short texts in few bytes, and reads them back.
//
// A column begins with a byte that says how it is written. Numbers are one constant, or zigzag varints of the
// differences from one to the next. Texts are one constant, a dictionary of up to 255 with a byte for each row, or each
// what it shares with the text before it and the rest. The number of rows stands nowhere: who reads a column knows it.
// A varint is that of encoding/binary.
package packed

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// ErrPacked says that bytes are no columns that this package wrote.
var ErrPacked = errors.New("not packed columns")

// How a column is written.
const (
	modeConstant   = 0
	modeDeltas     = 1
	modeDictionary = 2
	modeFront      = 3
)

// MaxRows is how many rows a column has at most.
const MaxRows = 1 << 16

// AppendInts appends a column of numbers. A column without rows takes no bytes.
func AppendInts(b []byte, column []int64) []byte {
	if len(column) == 0 {
		return b
	}
	constant := true
	for _, v := range column[1:] {
		constant = constant && v == column[0]
	}
	if constant {
		return binary.AppendVarint(append(b, modeConstant), column[0])
	}
	b = append(b, modeDeltas)
	last := int64(0)
	for _, v := range column {
		b = binary.AppendVarint(b, v-last) // wraps, and wraps back
		last = v
	}
	return b
}

// Reader reads columns in the order in which they were appended. The first error stays, and all that is read after it is
// zero.
type Reader struct {
	text string // what has not been read
	err  error
}

// NewReader returns a reader of bytes, of which it keeps a copy: the texts that it returns lie in it.
func NewReader(b []byte) *Reader { return &Reader{text: string(b)} }

// Err returns the first error, which wraps ErrPacked.
func (r *Reader) Err() error { return r.err }

// End returns an error unless everything has been read.
func (r *Reader) End() error {
	if r.err == nil && len(r.text) > 0 {
		r.fail("%d bytes too many", len(r.text))
	}
	return r.err
}

func (r *Reader) fail(format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf("%w: %s", ErrPacked, fmt.Sprintf(format, args...))
	}
	r.text = ""
}

func (r *Reader) uvarint() uint64 {
	var v uint64
	for shift := 0; shift < 70; shift += 7 {
		if len(r.text) == 0 {
			break
		}
		c := r.text[0]
		r.text = r.text[1:]
		if shift == 63 && c > 1 {
			break
		}
		v |= uint64(c&0x7f) << shift
		if c < 0x80 {
			return v
		}
	}
	r.fail("a number has no end")
	return 0
}

func (r *Reader) varint() int64 {
	u := r.uvarint()
	return int64(u>>1) ^ -int64(u&1)
}

// Count reads a number that AppendCount wrote and that is at most limit.
func (r *Reader) Count(limit int) int {
	n := r.uvarint()
	if n > uint64(limit) {
		r.fail("a count of %d, want %d at most", n, limit)
		return 0
	}
	return int(n)
}

// AppendCount appends a number that is not negative.
func AppendCount(b []byte, n int) []byte { return binary.AppendUvarint(b, uint64(n)) }

// Text reads a text of its length and bytes, as AppendText wrote it.
func (r *Reader) Text() string { return r.Bytes(r.Count(len(r.text))) }

// AppendText appends the length and the bytes of a text.
func AppendText(b []byte, s string) []byte { return append(AppendCount(b, len(s)), s...) }

// Bytes reads n bytes.
func (r *Reader) Bytes(n int) string {
	if n > len(r.text) {
		r.fail("%d bytes, want %d", len(r.text), n)
		return ""
	}
	s := r.text[:n]
	r.text = r.text[n:]
	return s
}

func (r *Reader) mode(n int) byte {
	if n > MaxRows {
		r.fail("%d rows, want %d at most", n, MaxRows)
	}
	if s := r.Bytes(1); s != "" {
		return s[0]
	}
	return 0
}

// Ints reads a column of n numbers.
func (r *Reader) Ints(n int) []int64 {
	if n == 0 || r.err != nil {
		return nil
	}
	switch mode := r.mode(n); mode {
	case modeConstant:
		v := r.varint()
		return repeat(r, v, n)
	case modeDeltas:
		if n > len(r.text) {
			r.fail("%d bytes for %d numbers", len(r.text), n)
			return nil
		}
		column := make([]int64, n)
		last := int64(0)
		for i := range column {
			last += r.varint()
			column[i] = last
		}
		return column
	default:
		r.fail("numbers are written in way %d", mode)
	}
	return nil
}

func repeat[T any](r *Reader, v T, n int) []T {
	if r.err != nil {
		return nil
	}
	column := make([]T, n)
	for i := range column {
		column[i] = v
	}
	return column
}
