package intake

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"repose/internal/table"
)

const (
	// shownErrors is how many bad rows RowErrors.Error lists.
	shownErrors = 20
	// keptErrors is how many bad rows are kept with their positions.
	keptErrors = 10_000
)

// RowErrors is everything that one call found wrong: cells, rows, headers and names of files. Nothing may
// be taken into the book then.
type RowErrors struct {
	Errors []*table.Error // in the order of tables, files and rows; at most 10,000
	Total  int            // how many there are
}

// Error lists the first 20, one a line, and says how many more there are.
func (e *RowErrors) Error() string {
	var b strings.Builder
	for i, bad := range e.Errors[:min(len(e.Errors), shownErrors)] {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(bad.Error())
	}
	if more := e.Total - shownErrors; more > 0 {
		fmt.Fprintf(&b, "\nand %d more", more)
	}
	return b.String()
}

// Unwrap returns the errors, so that errors.As finds a *table.Error.
func (e *RowErrors) Unwrap() []error {
	errs := make([]error, len(e.Errors))
	for i, bad := range e.Errors {
		errs[i] = bad
	}
	return errs
}

func (e *RowErrors) add(bad ...*table.Error) {
	e.Total += len(bad)
	e.Errors = append(e.Errors, bad[:min(len(bad), keptErrors-len(e.Errors))]...)
}

// sort puts the errors from one on in order of row and column; they must be of one file.
func (e *RowErrors) sort(from int) {
	from = min(from, len(e.Errors))
	slices.SortStableFunc(e.Errors[from:], func(a, b *table.Error) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column))
	})
}

// err returns e, or nil if nothing was found wrong.
func (e *RowErrors) err() error {
	if e.Total == 0 {
		return nil
	}
	return e
}

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

// quoteAll lists strings in quotes.
func quoteAll(list []string) string {
	quoted := make([]string, len(list))
	for i, s := range list {
		quoted[i] = quote(s)
	}
	return strings.Join(quoted, ", ")
}

// nearest returns the name closest to s, whatever the case and blanks, or "" if none is close: at most a
// third of its characters differ.
func nearest(s string, names []string) string {
	const longest = 64 // bytes; no name of ours is as long, and the search takes their product
	if len(s) > longest {
		return ""
	}
	s = fold(s)
	best, least := "", len(s)/3+1
	for _, n := range names {
		if d := distance(s, fold(n)); d < least {
			best, least = n, d
		}
	}
	return best
}

// didYouMean says which name is the nearest, if one is near.
func didYouMean(s string, names []string) string {
	if n := nearest(s, names); n != "" {
		return " (did you mean " + strconv.Quote(n) + "?)"
	}
	return ""
}

// distance is the least number of bytes to insert, delete or replace that makes a into b (Levenshtein
// 1966), by the usual table of one row at a time.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}
