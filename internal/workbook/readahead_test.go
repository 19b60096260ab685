package workbook

import (
	"errors"
	"testing"

	"repose/ledger"

	"pgregory.net/rapid"
)

// Reading ahead changes nothing of what is read: neither entries nor their order, nor where it fails or stops; and when it
// returns nobody reads any more.
func TestReadAhead(t *testing.T) {
	lost := errors.New("the book is gone")
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 5*aheadEntries).Draw(rt, "entries")
		stop := rapid.IntRange(0, 6*aheadEntries).Draw(rt, "stop after")
		var fail error
		if rapid.Bool().Draw(rt, "fails") {
			fail = lost
		}
		all, reading := make([]ledger.Entry, n), false
		seq := func(yield func(*ledger.Entry, error) bool) {
			reading = true
			defer func() { reading = false }()
			for i := range all {
				if !yield(&all[i], nil) {
					return
				}
			}
			if fail != nil {
				yield(nil, fail)
			}
		}
		read := 0
		var failed error
		for e, err := range readAhead(seq) {
			if err != nil {
				failed = err
				break
			}
			if e != &all[read] {
				rt.Fatalf("entry %d is another", read)
			}
			if read++; read == stop {
				break
			}
		}
		if reading {
			rt.Fatal("is still being read")
		}
		want, wantErr := n, fail
		if stop > 0 && stop <= n {
			want, wantErr = stop, nil
		}
		if read != want || !errors.Is(failed, wantErr) || (failed == nil) != (wantErr == nil) {
			rt.Fatalf("%d entries and %v, want %d and %v", read, failed, want, wantErr)
		}
	})
}
