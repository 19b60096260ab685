package audit

import (
	"fmt"
	"testing"
	"time"

	"repose/ledger"
)

func population(n int) []Item {
	items := make([]Item, n)
	for i := range items {
		items[i] = Item{ID: fmt.Sprintf("load:Y:L1/%06d", i), Mass: 20*ledger.Tonne + ledger.Mass(i%7919)*ledger.Kilogram, Stratum: fmt.Sprint("P", i%12)}
	}
	return items
}

func BenchmarkSample(b *testing.B) {
	items := population(100_000)
	for _, m := range []string{"random", "stratified", "mass unit"} {
		b.Run(m, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := methods[m](seed, 60, items); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkScreen(b *testing.B) {
	j := quiet(b)
	for i := range 10_000 {
		m := j.Entries[i%24]
		m.ID, m.Recorded = fmt.Sprint("B", i), m.Recorded.Add(time.Duration(i)*time.Minute)
		j.Entries = append(j.Entries, m)
	}
	j.From = j.Until.AddDate(-1, 0, 0)
	j.Options.Approval = tons(100)
	b.ReportAllocs()
	for b.Loop() {
		j.Screen()
	}
}

func BenchmarkSensitivity(b *testing.B) {
	c := Closing{Pile: "P1", Reference: dry(b, "3"), Survey: measured(b, "20600", "600", "1.664", "4")}
	for i := range 5_000 {
		c.Weighings = append(c.Weighings, Weighing{Wet: -25 * ledger.Tonne, Moisture: dry(b, fmt.Sprint(3+i%3))})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Sensitivity(); err != nil {
			b.Fatal(err)
		}
	}
}
