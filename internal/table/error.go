package table

import (
	"fmt"
	"strconv"
	"strings"
)

// Error says what is wrong with a file, and where.
type Error struct {
	File   string // the [Reader]'s name, or the workbook's
	Row    int    // 1-based; 0 if the whole file is meant
	Column int    // 1-based; 0 if the whole row is meant
	Found  string // what stands there
	Wanted string // what should
	Err    error  // the cause, if another package reported one; else nil
}

// Error returns "file:row:column: found ..., wanted ...", without the row or
// the column where they are 0.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Row > 0 {
		b.WriteByte(':')
		b.WriteString(strconv.Itoa(e.Row))
		if e.Column > 0 {
			b.WriteByte(':')
			b.WriteString(strconv.Itoa(e.Column))
		}
	}
	fmt.Fprintf(&b, ": found %s, wanted %s", e.Found, e.Wanted)
	return b.String()
}

// Unwrap returns the cause, or nil.
func (e *Error) Unwrap() error { return e.Err }

// quote returns s in quotes for a message, shortened if it is long.
func quote(s string) string {
	const longest = 40 // characters
	n := 0
	for i := range s {
		if n == longest {
			return strconv.Quote(s[:i]) + "..."
		}
		n++
	}
	return strconv.Quote(s)
}

// count returns "1 cell" or "3 cells".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// byteSize returns a number of bytes in the largest unit that leaves at least 1:
// "640 bytes", "3.5 MiB".
func byteSize(bytes uint64) string {
	const unit = 1024
	if bytes < unit {
		return strconv.FormatUint(bytes, 10) + " bytes"
	}
	value, name := float64(bytes)/unit, "KiB"
	for _, larger := range []string{"MiB", "GiB", "TiB"} {
		if value < unit {
			break
		}
		value, name = value/unit, larger
	}
	return strings.TrimSuffix(strconv.FormatFloat(value, 'f', 1, 64), ".0") + " " + name
}
