package measure

import (
	"iter"
	"slices"
	"time"

	"repose/ledger"
)

// inOrder yields the records of a period as the ledger enters them.
func inOrder(records []ledger.Record, p ledger.Period) iter.Seq2[*ledger.Record, error] {
	var in []*ledger.Record
	for i := range records {
		if r := &records[i]; !r.At.IsZero() && ledger.PeriodOf(r.At, time.UTC) == p {
			in = append(in, r)
		}
	}
	slices.SortFunc(in, (*ledger.Record).Compare)
	return func(yield func(*ledger.Record, error) bool) {
		for _, r := range in {
			if !yield(r, nil) {
				return
			}
		}
	}
}
