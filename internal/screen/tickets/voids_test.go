package tickets

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/ledger"
)

// weighed returns eight loads of trucks, an hour apart, that the deck scale weighed ten minutes later, the i-th with
// change done to both.
func weighed(i int, change func(l *ledger.Load, t *ledger.DeckTicket)) []ledger.Fact {
	var facts []ledger.Fact
	for k, f := range hourly("L1", "A-", 1, 8, "2026-10-05 07:00") {
		l := f.(ledger.Load)
		l.Net += ledger.Mass(k) * 300 * ledger.Kilogram
		d := ledger.DeckTicket{At: l.At.Add(10 * time.Minute), Deck: "D1", Ticket: "W-" + l.Ticket[2:], Truck: l.Truck, Product: "G1", Customer: "C1", Net: l.Net}
		if k == i {
			change(&l, &d)
		}
		facts = append(facts, l, d)
	}
	return facts
}

// A void is only found where the other scale kept the truck, and nothing else that is kept took its place.
func TestVoidAfterWeighOut(t *testing.T) {
	again := func(clock string) ledger.Fact {
		l := load("A-9", clock, "P1", "L1-4")
		l.Net += 900 * ledger.Kilogram
		return l
	}
	for _, c := range []struct {
		name   string
		change func(*ledger.Load, *ledger.DeckTicket)
		extra  []ledger.Fact
		want   []string
		effect ledger.Mass
	}{
		{"a void load, a kept ticket", func(l *ledger.Load, _ *ledger.DeckTicket) { l.Void = true }, nil, []string{"load:Y:L1/A-4"}, 20_900 * ledger.Kilogram},
		{"a kept load, a void ticket", func(_ *ledger.Load, d *ledger.DeckTicket) { d.Void = true }, nil, []string{"load:Y:L1/A-4"}, 0},
		{"both void", func(l *ledger.Load, d *ledger.DeckTicket) { l.Void, d.Void = true, true }, nil, nil, 0},
		{"neither", func(*ledger.Load, *ledger.DeckTicket) {}, nil, nil, 0},
		{"reissued before the truck was weighed", func(l *ledger.Load, _ *ledger.DeckTicket) { l.Void = true }, []ledger.Fact{again("2026-10-05 10:04")}, nil, 0},
		{"another truck", func(l *ledger.Load, d *ledger.DeckTicket) { l.Void, d.Truck, d.Net = true, "V77", 11*ledger.Tonne }, nil, nil, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, f := range wants(t, october(t, append(weighed(3, c.change), c.extra...)...), voided{}, c.want...) {
				want := []screen.Effect{{Pile: "P1", Mass: c.effect}}
				if c.effect == 0 {
					want = nil
				}
				if diff := cmp.Diff(want, f.Effects); diff != "" {
					t.Errorf("effects (-want +got):\n%s", diff)
				}
			}
		})
	}
}

// A void and its reissue are of one loader and truck, within a hundredth, and not too long after one another.
func TestReissueNearMisses(t *testing.T) {
	void := load("A-1", "2026-10-05 08:00", "P1", "V1")
	void.Void = true
	for name, c := range map[string]struct {
		change func(*ledger.Load)
		found  bool
	}{
		"from another pile":      {func(l *ledger.Load) { l.Pile = "P2" }, true},
		"to the minute":          {func(l *ledger.Load) { l.At = at("2026-10-05 10:00") }, true},
		"a minute too late":      {func(l *ledger.Load) { l.At = at("2026-10-05 10:01") }, false},
		"before the void":        {func(l *ledger.Load) { l.At = at("2026-10-05 07:55") }, false},
		"void as well":           {func(l *ledger.Load) { l.Void = true }, false},
		"another loader":         {func(l *ledger.Load) { l.Loader = "L2" }, false},
		"another truck":          {func(l *ledger.Load) { l.Truck = "V2" }, false},
		"a hundredth":            {func(l *ledger.Load) { l.Net = 20_200 * ledger.Kilogram }, true},
		"more than a hundredth":  {func(l *ledger.Load) { l.Net = 20_240 * ledger.Kilogram }, false},
		"nothing in the bucket":  {func(l *ledger.Load) { l.Net = 0 }, false},
		"without a truck's name": {func(l *ledger.Load) { l.Truck = "" }, false},
	} {
		t.Run(name, func(t *testing.T) {
			next := load("A-2", "2026-10-05 08:10", "P1", "V1")
			c.change(&next)
			var want []string
			if c.found {
				want = []string{"load:Y:L1/A-1"}
			}
			for _, f := range wants(t, october(t, void, next), reissue{}, want...) {
				if f.Effects != nil {
					t.Errorf("a reissue has effects: %+v", f.Effects)
				}
			}
		})
	}
}

// Twins are of one record or of two; parts of one record are no twins, however alike.
func TestTwinsAndParts(t *testing.T) {
	named := func(loader, ticket, clock string) ledger.Load {
		l := load(ticket, clock, "P1", "V1")
		l.Loader = loader
		return l
	}
	for _, c := range []struct {
		name  string
		facts []ledger.Fact
		want  []string
	}{
		{"two parts", []ledger.Fact{named("L1", "A-1 part 1", "2026-10-05 08:00"), named("L1", "A-1 part 2", "2026-10-05 08:00")}, nil},
		{"a record and its part", []ledger.Fact{named("L1", "A-1", "2026-10-05 08:00"), named("L1", "A-1 part 2", "2026-10-05 08:00")}, nil},
		{"parts of two", []ledger.Fact{named("L1", "A-1 part 1", "2026-10-05 08:00"), named("L1", "A-2 part 1", "2026-10-05 08:05")},
			[]string{"load:Y:L1/A-2 part 1/load:Y:L1/A-1 part 1"}},
		{"one number on two loaders", []ledger.Fact{named("L1", "A-1", "2026-10-05 08:00"), named("L2", "A-1", "2026-10-05 08:05")},
			[]string{"load:Y:L2/A-1/load:Y:L1/A-1"}},
		{"fifteen minutes", []ledger.Fact{named("L1", "A-1", "2026-10-05 08:00"), named("L1", "A-2", "2026-10-05 08:15")}, []string{"load:Y:L1/A-2/load:Y:L1/A-1"}},
		{"sixteen", []ledger.Fact{named("L1", "A-1", "2026-10-05 08:00"), named("L1", "A-2", "2026-10-05 08:16")}, nil},
		{"three in a row", []ledger.Fact{named("L1", "A-1", "2026-10-05 08:00"), named("L1", "A-2", "2026-10-05 08:05"), named("L1", "A-3", "2026-10-05 08:10")},
			[]string{"load:Y:L1/A-2/load:Y:L1/A-1", "load:Y:L1/A-3/load:Y:L1/A-2"}},
		{"over the month's end", []ledger.Fact{named("L1", "A-1", "2026-09-30 22:55"), named("L1", "A-2", "2026-09-30 23:05")}, []string{"load:Y:L1/A-2/load:Y:L1/A-1"}},
		{"one deck ticket for the two", []ledger.Fact{named("L1", "A-1", "2026-10-05 08:00"), named("L1", "A-2", "2026-10-05 08:05"), deck("W-1", "2026-10-05 08:12", "V1", 20)},
			[]string{"load:Y:L1/A-2/load:Y:L1/A-1"}},
	} {
		t.Run(c.name, func(t *testing.T) { wants(t, october(t, c.facts...), twin{}, c.want...) })
	}
}

// What chance alone does is d/(2 sqrt(pi) sd): loads of 19.42 and 20.62 t scatter by 0.6 t, and in steps of 20 kg two agree
// in 0.94 % of all pairs (the worked example of duplicates, which stat has too).
func TestTwinSaysWhatChanceDoes(t *testing.T) {
	var facts []ledger.Fact
	for i, f := range hourly("L1", "A-", 1, 20, "2026-10-05 06:00") {
		l := f.(ledger.Load)
		l.Net = ledger.Mass(19_420+1_200*(i/2%2)) * ledger.Kilogram
		if i < 2 {
			l.Truck, l.At = "V1", at("2026-10-05 05:00").Add(l.At.Sub(at("2026-10-05 06:00"))/12)
		}
		facts = append(facts, l)
	}
	f := wants(t, october(t, facts...), twin{}, "load:Y:L1/A-2/load:Y:L1/A-1")[0]
	if !strings.Contains(f.Seen, "5 min apart") || !strings.Contains(f.Seen, "0.0094 ") {
		t.Error(f.Seen)
	}
}
