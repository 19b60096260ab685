package match

import (
	"cmp"
	"slices"

	"repose/ledger"
)

// bucketsOf returns the median mass of a bucket pass of each loader whose kept records count passes.
func bucketsOf(records []*ledger.Record) map[string]ledger.Mass {
	passes := map[string][]ledger.Mass{}
	for _, rec := range records {
		if f := rec.Fact.(ledger.Load); f.Passes > 0 && f.Net > 0 && !f.Void {
			passes[f.Loader] = append(passes[f.Loader], f.Net/ledger.Mass(f.Passes))
		}
	}
	buckets := map[string]ledger.Mass{}
	for loader, list := range passes {
		slices.Sort(list)
		buckets[loader] = list[len(list)/2]
	}
	return buckets
}

func (x Learned) compare(y Learned) int {
	return cmp.Or(cmp.Compare(x.Loader, y.Loader), cmp.Compare(x.Deck, y.Deck))
}
