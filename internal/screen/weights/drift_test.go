package weights_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/ledger"
)

// since changes what comes from a day of April on.
func since(day int, change func(x *truckload)) func(all []truckload) {
	return func(all []truckload) {
		for i := april(day, 0); i < len(all); i++ {
			change(&all[i])
		}
	}
}

func heavierLoader(loader string, percent float64) func(x *truckload) {
	return func(x *truckload) {
		if x.load.Loader == loader {
			x.load.Net = tonnes(float64(x.load.Net)/1e6*(1+percent/100), 10)
		}
	}
}

func heavierEmpties(by ledger.Mass) func(x *truckload) {
	return func(x *truckload) {
		x.deck.Tare += by
		x.deck.Gross += by
	}
}

func TestDriftingScale(t *testing.T) {
	from := time.Date(2026, 4, 20, 0, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		change func(all []truckload)
		facts  []ledger.Fact
		want   []about
	}{
		"a loader that reads 2 % high":     {since(15, heavierLoader("L1", 2)), nil, []about{{"drifting scale", "L1", "2026-04-15"}}},
		"one that reads 1.5 % low":         {since(10, heavierLoader("L2", -1.5)), nil, []about{{"drifting scale", "L2", "2026-04-10"}}},
		"one that reads 0.3 % high":        {since(15, heavierLoader("L1", 0.3)), nil, nil},
		"2 % where 3 % are let pass":       {since(15, heavierLoader("L1", 2)), []ledger.Fact{setting("rule drifting scale percent", "3")}, nil},
		"with a new certificate":           {since(20, heavierLoader("L1", 2)), []ledger.Fact{ledger.Instrument{Code: "L1", Weighs: ledger.InstrumentLoader, From: from}}, nil},
		"high from the month before on":    {func(all []truckload) { since(-30, heavierLoader("L1", 2))(all) }, nil, nil},
		"from the first day":               {since(1, heavierLoader("L1", 2)), nil, []about{{"drifting scale", "L1", "2026-04-01"}}},
		"a deck that shows 200 kg empty":   {since(12, heavierEmpties(200*kg)), nil, []about{{"drifting scale", "D", "2026-04-12"}}},
		"20 kg empty":                      {since(12, heavierEmpties(20*kg)), nil, nil},
		"200 kg where 300 kg are let pass": {since(12, heavierEmpties(200*kg)), []ledger.Fact{setting("rule drifting scale empty", "300 kg")}, nil},
	} {
		all := plain(3)
		c.change(all)
		got := abouts(t, yardOf(t, all, c.facts...))
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// The day and the size of a shift are right within what is said of them.
func TestDriftIsMeasured(t *testing.T) {
	inside, days := 0, 0
	const seeds = 20
	for seed := range uint64(seeds) {
		all := plain(seed)
		since(15, heavierLoader("L1", 1.5))(all)
		var affected ledger.Mass
		for i := april(15, 0); i < len(all); i++ {
			if all[i].load.Loader == "L1" {
				affected += all[i].load.Net
			}
		}
		got := found(t, yardOf(t, all))
		if len(got) != 1 || got[0].Rule != "drifting scale" || !got[0].Estimated {
			t.Fatalf("seed %d: %v, want one drift", seed, got)
		}
		if d := got[0].Time.Day(); d >= 14 && d <= 16 {
			days++
		}
		off := float64(affected) * 0.015 / 1.015
		if float64(got[0].Low) <= off && off <= float64(got[0].High) {
			inside++
		}
	}
	if days < seeds-3 || inside < seeds-4 {
		t.Errorf("of %d shifts %d on the day or the one beside, %d within the limits", seeds, days, inside)
	}
}
