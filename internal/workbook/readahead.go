package workbook

import (
	"iter"

	"repose/ledger"
)

// aheadEntries is how many entries are handed over at once, so that the handing over costs little beside them.
const aheadEntries = 128

// readAhead yields the same as entries, which are read while those before are worked on. It returns when the reading has
// ended.
func readAhead(entries iter.Seq2[*ledger.Entry, error]) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		batches, stop := make(chan []*ledger.Entry, 2), make(chan struct{})
		var failed error
		go func() {
			defer close(batches)
			failed = handOver(entries, batches, stop)
		}()
		defer func() {
			for range batches {
			}
		}()
		defer close(stop)
		for batch := range batches {
			for _, e := range batch {
				if !yield(e, nil) {
					return
				}
			}
		}
		if failed != nil {
			yield(nil, failed)
		}
	}
}

// handOver sends entries in batches until they end, fail or nobody wants them any more.
func handOver(entries iter.Seq2[*ledger.Entry, error], to chan<- []*ledger.Entry, stop <-chan struct{}) error {
	var batch []*ledger.Entry
	send := func() bool {
		select {
		case to <- batch:
			batch = nil
			return true
		case <-stop:
			return false
		}
	}
	for e, err := range entries {
		if err != nil {
			send()
			return err
		}
		if batch == nil {
			batch = make([]*ledger.Entry, 0, aheadEntries)
		}
		if batch = append(batch, e); len(batch) == aheadEntries && !send() {
			return nil
		}
	}
	send()
	return nil
}
