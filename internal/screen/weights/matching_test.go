package weights_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/internal/screen/weights"
	"repose/internal/simyard"
	"repose/ledger"
)

func TestMatching(t *testing.T) {
	all := plain(1)
	all[april(10, 12)].noTicket = true
	all[april(10, 14)].noTicket, all[april(10, 14)].load.Purpose = true, ledger.PurposeInternal
	all[april(11, 13)].noLoad = true
	all[april(12, 13)].load.Void = true
	all[april(13, 13)].deck.Void = true
	lump(all, april(14, 20), 3)
	rows := weights.Matching(yardOf(t, all))
	type counts struct {
		Loader, Deck                                             string
		Loads, Tickets, Matched, Merged, Split, Void, NotForSale int
	}
	var got []counts
	for _, r := range rows {
		got = append(got, counts{r.Loader, r.Deck, r.Loads, r.Tickets, r.Matched, r.Merged, r.Split, r.Void, r.NotForSale})
	}
	want := []counts{
		{Loader: "L1", Loads: 2, NotForSale: 1},
		{Loader: "L1", Deck: "D", Loads: 600 - 4, Tickets: 600 - 2, Matched: 600 - 5, Merged: 1},
		{Loader: "L2", Loads: 1, Void: 1},
		{Loader: "L2", Deck: "D", Loads: 600 - 3, Tickets: 600 - 3, Matched: 600 - 3},
		{Deck: "D", Tickets: 2, Void: 1},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("counts (-want +got):\n%s", diff)
	}
	for _, r := range rows {
		if !r.Alone() && (math.Abs(r.Percent()) > 0.3 || r.Lag < 7*time.Minute || r.Lag > 9*time.Minute || r.SD < 0.006 || r.SD > 0.01 ||
			r.Bucket < 5*ledger.Tonne || r.Bucket > 6*ledger.Tonne) {
			t.Errorf("%+v, want what the yard was made of", r)
		}
	}
}

// Every kept load of the month is in one row, and every kept ticket of a load of the month or of none.
func TestMatchingLeavesNothingOut(t *testing.T) {
	faults := []string{"missing:L1:2:8", "lumped:L2:2:3", "void-after-exit:L1:2:3", "split-load:L2:2:3", "no-deck-ticket:L2:2:4", "near-twin:L1:2:3"}
	rapid.Check(t, func(rt *rapid.T) {
		cfg := simyard.Quick(rapid.Uint64().Draw(rt, "seed"))
		cfg.Traffic = rapid.IntRange(20, 45).Draw(rt, "traffic")
		d, _ := month(t, cfg, rapid.SliceOfDistinct(rapid.SampledFrom(faults), rapid.ID[string]).Draw(rt, "faults")...)
		var loads, tickets int
		var loaded ledger.Mass
		for _, r := range weights.Matching(d) {
			loads += r.Loads
			loaded += r.LoaderMass
			tickets += r.Tickets
			if r.Alone() && r.Matched+r.Merged+r.Split > 0 || r.NotForSale > r.Loads {
				rt.Errorf("%+v", r)
			}
		}
		wantLoads, wantTickets := 0, 0
		var wantLoaded ledger.Mass
		for _, r := range d.Loads {
			if !r.Fact.Void && d.In(r.At()) {
				wantLoads++
				wantLoaded += r.Fact.Net
			}
		}
		for _, r := range d.Deck {
			if !r.Fact.Void && d.In(r.At()) {
				wantTickets++
			}
		}
		if loads != wantLoads || loaded != wantLoaded || tickets != wantTickets { // no truck of this yard is under way at a month's end
			rt.Errorf("%d loads of %s and %d tickets, want %d of %s and %d", loads, loaded, tickets, wantLoads, wantLoaded, wantTickets)
		}
	})
}

// The matching finds the true pairs of invented months: with about 2 % of the loads and of the tickets missing, 1 % of the
// loader records of two or three trucks, a deck whose clock is 3 min off, and trucks that overtake each other on the way to
// it.
func TestTruePairs(t *testing.T) {
	seeds := 20
	if testing.Short() {
		seeds = 5
	}
	var pairs, right, wrong, lumped, resolved int
	for seed := range seeds {
		cfg := simyard.Quick(uint64(300 + seed))
		faults := []string{"missing:L1:2:10", "missing:L2:2:6", "no-deck-ticket:L1:2:10", "no-deck-ticket:L2:2:6"}
		for range 3 {
			faults = append(faults, "lumped:L1:2:2", "lumped:L2:2:2", "lumped:L1:2:3")
		}
		offset := 3 * time.Minute
		if seed%2 == 1 {
			offset = -offset
		}
		d, truth := offsetMonth(t, cfg, offset, faults...)
		pairOf, lumps := truePairs(d, truth, offset)
		pairs += len(pairOf)
		lumped += len(lumps)
		for _, p := range d.Match.Pairs {
			load, deck := d.MatchLoads[p.Load], d.MatchDeck[p.Deck]
			switch id := load.Rec.ID(); {
			case !d.In(load.At()) || lumps[id] != nil:
			case pairOf[id] == deck.Rec.ID():
				right++
			default:
				wrong++
			}
		}
		for _, e := range found(t, d) {
			if e.Rule == "merged load" && lumps[e.Records[0]] != nil && sameSet(lumps[e.Records[0]], e.Records[1:]) {
				resolved++
			}
		}
	}
	t.Logf("%d pairs: %d found, %d false; %d lumped records, %d with the right tickets", pairs, right, wrong, lumped, resolved)
	if float64(right) < 0.99*float64(pairs) || float64(wrong) > 0.001*float64(right) {
		t.Errorf("%d of %d true pairs found and %d false ones, want 99 %% and no more than 0.1 %%", right, pairs, wrong)
	}
	if float64(resolved) < 0.95*float64(lumped) {
		t.Errorf("%d of %d lumped records with the right tickets, want 95 %%", resolved, lumped)
	}
}

// offsetMonth is month with a deck whose clock is ahead.
func offsetMonth(t *testing.T, cfg simyard.Config, by time.Duration, faults ...string) (*screen.Data, simyard.Truth) {
	t.Helper()
	y := generate(t, cfg, faults...)
	records := screentest.TakeIn(t, y)
	for i := range records {
		if f, ok := records[i].Fact.(ledger.DeckTicket); ok {
			f.At = f.At.Add(by)
			records[i].Fact, records[i].At = f, f.At
		}
	}
	return screened(t, records, "SIM", "2026-02", 3), y.Truth
}

// truePairs returns the ticket of each kept load of the month of a truck that crossed the deck, and the tickets of each
// lumped record. A truck of the invented yard is away for an hour and at the deck within a quarter of one.
func truePairs(d *screen.Data, truth simyard.Truth, offset time.Duration) (pairs map[string]string, lumps map[string][]string) {
	pairs, lumps = map[string]string{}, map[string][]string{}
	for _, f := range truth.Findings() {
		if f.Rule != "merged load" {
			continue
		}
		load := ""
		for _, id := range f.Records {
			if strings.HasPrefix(id, "load:") {
				load = id
			}
		}
		for _, id := range f.Records {
			if id != load {
				lumps[load] = append(lumps[load], id)
			}
		}
	}
	trucks := map[string][]screen.Row[ledger.DeckTicket]{}
	for _, r := range d.MatchDeck {
		trucks[r.Fact.Truck] = append(trucks[r.Fact.Truck], r)
	}
	for _, l := range d.MatchLoads {
		if id := l.Rec.ID(); d.In(l.At()) && !l.Fact.Void && lumps[id] == nil {
			for _, r := range trucks[l.Fact.Truck] {
				if lag := r.At().Sub(l.At()) - offset; lag >= 3*time.Minute && lag <= 16*time.Minute {
					pairs[id] = r.Rec.ID()
				}
			}
		}
	}
	return pairs, lumps
}

func sameSet(a, b []string) bool {
	in := map[string]bool{}
	for _, id := range a {
		in[id] = true
	}
	n := 0
	for _, id := range b {
		if in[id] {
			n++
		}
	}
	return n == len(a) && len(a) == len(b)
}
