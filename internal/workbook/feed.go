package workbook

import (
	"fmt"
	"iter"
	"strings"
)

// feed draws the rows of a table, one at a time, and holds them to what was declared.
type feed struct {
	next    func() ([]value, error, bool)
	stop    func()
	columns int
	count   int // rows declared
	drawn   int
	keys    keySet
}

// newFeed begins to draw. The stop function must be called in the end.
func newFeed(t *table) *feed {
	f := &feed{columns: len(t.spec.columns), count: t.spec.count, keys: make(keySet)}
	rows := t.spec.rows
	if rows == nil {
		rows = rowsOf()
	}
	if f.count == 0 {
		rows = blankFirst(rows, f.columns)
	}
	f.next, f.stop = iter.Pull2(rows)
	return f
}

// blankFirst puts a blank row before the rows: a table without any keeps one.
func blankFirst(rows iter.Seq2[[]value, error], columns int) iter.Seq2[[]value, error] {
	return func(yield func([]value, error) bool) {
		if yield(make([]value, columns), nil) {
			rows(yield)
		}
	}
}

// keySet holds every key of a table as first seen, by its lower case.
type keySet map[string]string

// check refuses a text that SUMIFS would not match as it stands, or would not tell from another:
// it knows no cases.
func (k keySet) check(s string) error {
	if err := checkKey(s); err != nil {
		return err
	}
	lower := strings.ToLower(s)
	if other, ok := k[lower]; !ok {
		k[lower] = s
	} else if other != s {
		return fmt.Errorf("keys %q and %q: want keys that differ by more than case", other, s)
	}
	return nil
}

// row returns the next row, which is valid until the one after it is asked for.
func (f *feed) row() ([]value, error) {
	values, err, ok := f.next()
	switch {
	case !ok:
		return nil, fmt.Errorf("%d rows given of %d declared", f.drawn, f.count)
	case err != nil:
		return nil, err
	case len(values) != f.columns:
		return nil, fmt.Errorf("row %d: %d values for %d columns", f.drawn, len(values), f.columns)
	}
	f.drawn++
	return values, nil
}

// end reports an error when rows are left over.
func (f *feed) end() error {
	if _, err, ok := f.next(); err != nil {
		return err
	} else if ok {
		return fmt.Errorf("more rows given than the %d declared", f.count)
	}
	return nil
}
