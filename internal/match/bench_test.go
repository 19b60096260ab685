package match

import (
	"fmt"
	"testing"
)

// BenchmarkMatch matches up to a month of 100,000 loads: twelve loaders and five deck scales, day and night. It is linear
// where the two sizes differ by their days alone.
func BenchmarkMatch(b *testing.B) {
	for _, days := range []int{3, 31} {
		for _, labels := range []string{"labelled", "unlabelled"} {
			y := base(1)
			y.days, y.hours, y.loaders, y.decks, y.peak, y.trucks = days, 23, 12, 5, 352, 500
			y.noLabels = labels == "unlabelled"
			in, w := y.build()
			b.Run(fmt.Sprintf("%s/%d", labels, len(in.Loads)), func(b *testing.B) {
				b.ReportAllocs()
				var s score
				for b.Loop() {
					s = score{}
					s.add(in, w, Match(in))
				}
				b.ReportMetric(100*float64(s.found)/float64(s.pairs), "%found")
				b.ReportMetric(100*float64(s.false)/float64(s.claimed), "%false")
			})
		}
	}
}
