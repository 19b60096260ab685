package weights_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/ledger"
)

// about is what tests compare of a finding about an instrument.
type about struct{ Rule, Instrument, Day string }

func abouts(t *testing.T, d *screen.Data) []about {
	t.Helper()
	var all []about
	for _, e := range found(t, d) {
		all = append(all, about{e.Rule, e.Instrument, e.Time.Format(time.DateOnly)})
	}
	return all
}

func TestRoundWeights(t *testing.T) {
	whole := func(x *truckload) { x.load.Net = tonnes(x.mass, 1000) }
	half := func(x *truckload) { x.load.Net = tonnes(x.mass, 500) }
	// inRow changes n records of L1, from the noon of April 10 on.
	inRow := func(n int, change func(x *truckload)) func(all []truckload) {
		return func(all []truckload) {
			for i := range n {
				change(&all[april(10, 20)+2*i])
			}
		}
	}
	for name, c := range map[string]struct {
		change func(all []truckload)
		want   []about
	}{
		"five of whole tonnes in a row": {inRow(5, whole), []about{{"round weights", "L1", "2026-04-10"}}},
		"six of half tonnes in a row":   {inRow(6, half), []about{{"round weights", "L1", "2026-04-10"}}},
		"two in a row":                  {inRow(2, whole), nil},
		"one in eight": {func(all []truckload) {
			for i := april(1, 0); i < len(all); i += 16 {
				whole(&all[i])
			}
		}, []about{{"round weights", "L1", "2026-04-01"}}},
		"a display of whole tonnes": {func(all []truckload) {
			for i := range all {
				whole(&all[i])
			}
		}, nil},
		"a display of 100 kg": {func(all []truckload) {
			for i := range all {
				all[i].load.Net = tonnes(all[i].mass, 100)
			}
		}, nil},
		"loads filled to 21 t": {func(all []truckload) {
			r := rand.New(rand.NewPCG(5, 5))
			for i := range all {
				all[i].mass = 21 + 0.1*r.NormFloat64()
				all[i].load.Net, all[i].deck.Net = tonnes(all[i].mass, 10), tonnes(all[i].mass, 20)
			}
		}, nil},
	} {
		all := plain(4)
		c.change(all)
		if diff := cmp.Diff(c.want, abouts(t, yardOf(t, all))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// Displays in short tons are told from their figures: whole tons are round, whole tonnes are not.
func TestRoundShortTons(t *testing.T) {
	inTons := func(all []truckload, step float64, from, n int) {
		for i := range n {
			x := &all[from+2*i]
			tons := math.Round(x.mass/0.90718474/step) * step
			x.load.Net = ledger.Mass(math.RoundToEven(tons * 907_184.74))
		}
	}
	all := plain(5)
	inTons(all, 0.01, 0, len(all)/2)
	if got := abouts(t, yardOf(t, all)); got != nil {
		t.Errorf("hundredths of short tons: %v, want nothing", got)
	}
	inTons(all, 1, april(10, 20), 5)
	if got, want := abouts(t, yardOf(t, all)), []about{{"round weights", "L1", "2026-04-10"}}; !cmp.Equal(want, got) {
		t.Errorf("five of whole short tons: %v, want %v", got, want)
	}
}

func TestDigitPattern(t *testing.T) {
	for name, c := range map[string]struct {
		change func(all []truckload)
		facts  []ledger.Fact
		want   []about
	}{
		"one in three ends in 5": {func(all []truckload) {
			for i := april(1, 0); i < len(all); i += 6 {
				all[i].load.Net = all[i].load.Net/(100*kg)*(100*kg) + 50*kg
			}
		}, nil, []about{{"digit pattern", "L1", "2026-04-01"}}},
		"one in thirty ends in 5": {func(all []truckload) {
			for i := april(1, 0); i < len(all); i += 60 {
				all[i].load.Net = all[i].load.Net/(100*kg)*(100*kg) + 50*kg
			}
		}, nil, nil},
		"at the limit":                     {atLimit, []ledger.Fact{setting("rule digit pattern limit", "34 t")}, []about{{"digit pattern", "D", "2026-04-01"}}},
		"at a limit that nobody looks for": {atLimit, nil, nil},
		"a limit in the midst of trucks":   {func([]truckload) {}, []ledger.Fact{setting("rule digit pattern limit", "34 t")}, nil},
	} {
		all := plain(4)
		c.change(all)
		if diff := cmp.Diff(c.want, abouts(t, yardOf(t, all, c.facts...))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// atLimit has the trucks that are over 34 t by up to 800 kg take so little that they are under it by up to 100 kg.
func atLimit(all []truckload) {
	r := rand.New(rand.NewPCG(6, 6))
	for i := range all {
		c := &all[i].deck
		if over := c.Gross - 34_000*kg; over > 0 && over < 800*kg {
			less := over + ledger.Mass(r.IntN(6))*20*kg
			c.Gross -= less
			c.Net -= less
			all[i].load.Net -= less
		}
	}
}

func TestClockOffset(t *testing.T) {
	shift := func(by time.Duration) func(x *truckload) {
		return func(x *truckload) { x.deck.At = x.deck.At.Add(by) }
	}
	for name, c := range map[string]struct {
		change func(all []truckload)
		facts  []ledger.Fact
		want   []string // the parts of what is said
	}{
		"a deck twenty minutes behind":         {since(-30, shift(-20*time.Minute)), nil, []string{"12 min before they are loaded"}},
		"one forty minutes ahead":              {since(-30, shift(40*time.Minute)), nil, []string{"48 min after they are loaded"}},
		"one ten minutes ahead":                {since(-30, shift(10*time.Minute)), nil, nil},
		"a clock set forward by fifteen":       {since(16, shift(15*time.Minute)), nil, []string{"from 2026-04-16 on", "cross D 23 min after"}},
		"by five":                              {since(16, shift(5*time.Minute)), nil, nil},
		"by fifteen where twenty are let pass": {since(16, shift(15*time.Minute)), []ledger.Fact{setting("rule clock offset jump minutes", "20")}, nil},
		"forty where an hour is let pass":      {since(-30, shift(40*time.Minute)), []ledger.Fact{setting("rule clock offset minutes", "60")}, nil},
	} {
		all := plain(5)
		c.change(all)
		got := found(t, yardOf(t, all, c.facts...))
		want := 2 // loaders
		if c.want == nil {
			want = 0
		}
		if len(got) != want {
			t.Errorf("%s: %d findings, want %d: %s", name, len(got), want, fmt.Sprint(got))
		}
		for _, e := range got {
			for _, part := range c.want {
				if e.Rule != "clock offset" || !strings.Contains(e.Seen, part) {
					t.Errorf("%s: %s: %s, want %q", name, e.Rule, e.Seen, part)
				}
			}
		}
	}
}
