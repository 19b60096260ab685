package simyard_test

import (
	"slices"
	"testing"

	"repose/internal/simyard"
)

// The quick yard is that of Month, of about 1,000 loads a month, and of as many more or fewer as its traffic.
func TestQuickYards(t *testing.T) {
	fault, err := simyard.ParseFault("near-twin:L1:2:2")
	if err != nil {
		t.Fatal(err)
	}
	y, err := simyard.Month(7, fault)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := digest(t, y), digest(t, generate(t, with(simyard.Quick(7), "near-twin:L1:2:2"))); got != want {
		t.Errorf("digest %s, want that of the quick yard, %s", got, want)
	}
	if got := y.Truth.Findings(); len(got) != 2 || got[0].Rule != "near twin" || !slices.Equal(y.Truth.Periods, []string{"2026-03", "2026-04"}) {
		t.Errorf("%+v in %v, want two near twins in two months", got, y.Truth.Periods)
	}
	for traffic, want := range map[int][2]int{10: {200, 250}, 42: {900, 1_000}, 60: {1_300, 1_450}} {
		cfg := simyard.Quick(7)
		cfg.Traffic = traffic
		n := 0
		for _, r := range rows(t, generate(t, cfg), "loads.csv") {
			if r["time"] >= "2026-04" {
				n++
			}
		}
		if n < want[0] || n > want[1] {
			t.Errorf("%d loads at a traffic of %d %%, want %d to %d", n, traffic, want[0], want[1])
		}
	}
}

// A yard in detail has the stone and the errors of the same yard without, but for what is fed to the crusher.
func TestDetailLeavesTheYardAlone(t *testing.T) {
	plain := coarse(5, everyFault...)
	detailed := plain
	detailed.Detailed = true
	a, b := generate(t, plain).Truth, generate(t, detailed).Truth
	for i, p := range a.Piles {
		q := b.Piles[i]
		if !slices.Equal(p.Surveys, q.Surveys) {
			t.Errorf("pile %s: surveys differ", p.Pile)
		}
		for k, m := range p.Months {
			n := q.Months[k]
			if m.Sold != n.Sold || m.CarriedIn != n.CarriedIn || m.Made != n.Made-n.Fed || m.MoistureErrorPPB != n.MoistureErrorPPB || m.BeltRandomErrorPPB != n.BeltRandomErrorPPB {
				t.Errorf("%s %s: %+v, in detail %+v", p.Pile, m.Period, m, n)
			}
			if (n.Fed > 0) != (p.Pile == "F") {
				t.Errorf("%s %s: %d g fed, want some of F alone", p.Pile, m.Period, n.Fed)
			}
		}
	}
}

func BenchmarkMonth(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := simyard.Month(1); err != nil {
			b.Fatal(err)
		}
	}
}
