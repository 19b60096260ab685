package audit

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"repose/ledger"
)

const seed = "quarry 2026-10"

// tickets returns T1, T2 and so on, of 10 t each.
func tickets(n int) []Item {
	items := make([]Item, n)
	for i := range items {
		items[i] = Item{ID: fmt.Sprintf("T%d", i+1), Mass: tons(10)}
	}
	return items
}

func drawn(s *Sample) []string {
	var ids []string
	for _, d := range s.Selected {
		ids = append(ids, d.ID)
	}
	return ids
}

// The digests come from printf '%s\n%s' 'quarry 2026-10' T5 | sha256sum, and so on, sorted.
func TestRandomByHand(t *testing.T) {
	s, err := Random(seed, 3, tickets(6))
	if err != nil {
		t.Fatal(err)
	}
	want := &Sample{Method: MethodRandom, Seed: seed, Asked: 3, Population: Total{6, tons(60)}, Drawn: Total{3, tons(30)},
		Strata: []Stratum{{"", Total{6, tons(60)}, Total{3, tons(30)}}},
		Selected: []Selected{
			{Item{ID: "T5", Mass: tons(10)}, "06e0c0c9311e16dfc8c7da0492020b0eca01af1c3ebb9b4f0e905d1d48699d0c", 1},
			{Item{ID: "T6", Mass: tons(10)}, "4b743ee9c1548e33ad0f8b19e4851fa83f6534b6d646dfb3fefe73a7b2e789ac", 1},
			{Item{ID: "T2", Mass: tons(10)}, "4cc7c3e183d9ac215b7f5bc516b2a42817374e65334af2c8f9e52f576569d83f", 1},
		}}
	same(t, "sample", want, s)

	all, err := Random(seed, 100, tickets(6))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "whole population", []string{"T5", "T6", "T2", "T3", "T4", "T1"}, drawn(all))
}

// SHA-256 of the seed, by sha256sum, modulo 25,000,000, plus 1, is 10,329,078. The drawn grams lie at 10.3, 35.3, 60.3 and
// 85.3 t of A 0 to 5, B to 35, C to 43, D nothing, E to 93, F to 100 t.
func TestMassUnitByHand(t *testing.T) {
	items := []Item{{"E", tons(50), "p"}, {"F", tons(7), "p"}, {"A", tons(5), "p"}, {"C", tons(8), "q"}, {"B", tons(30), "q"}, {"D", 0, "q"}}
	s, err := MassUnit(seed, 4, items)
	if err != nil {
		t.Fatal(err)
	}
	want := &Sample{Method: MethodMassUnit, Seed: seed, Asked: 4, Population: Total{6, tons(100)}, Drawn: Total{3, tons(88)},
		Strata:   []Stratum{{"p", Total{3, tons(62)}, Total{1, tons(50)}}, {"q", Total{3, tons(38)}, Total{2, tons(38)}}},
		Interval: tons(25), Start: 10_329_078,
		Selected: []Selected{{Item{"B", tons(30), "q"}, "", 1}, {Item{"C", tons(8), "q"}, "", 1}, {Item{"E", tons(50), "p"}, "", 2}}}
	same(t, "sample", want, s)
}

// 10 from masses of 52, 28 and 20 t: quotas 5.2, 2.8 and 2.0, the odd one to the largest remainder.
func TestShares(t *testing.T) {
	stratum := func(name string, count int, mass float64) Stratum {
		return Stratum{Name: name, Population: Total{count, tons(mass)}}
	}
	for _, c := range []struct {
		name   string
		n      int
		strata []Stratum
		want   []int
	}{
		{"largest remainder", 10, []Stratum{stratum("a", 50, 52), stratum("b", 50, 28), stratum("c", 50, 20)}, []int{5, 3, 2}},
		{"one at least", 10, []Stratum{stratum("a", 50, 998), stratum("b", 50, 1), stratum("c", 50, 1)}, []int{8, 1, 1}},
		{"one at least of no mass", 4, []Stratum{stratum("a", 50, 100), stratum("b", 50, 0)}, []int{3, 1}},
		{"fewer than strata", 2, []Stratum{stratum("a", 50, 50), stratum("b", 50, 30), stratum("c", 50, 20)}, []int{1, 1, 0}},
		{"a small stratum gives all", 20, []Stratum{stratum("a", 5, 80), stratum("b", 50, 15), stratum("c", 50, 5)}, []int{5, 11, 4}},
		{"a small stratum beside light ones", 3, []Stratum{stratum("a", 2, 100), stratum("b", 50, 1), stratum("c", 50, 1)}, []int{1, 1, 1}},
		{"everything", 9, []Stratum{stratum("a", 2, 10), stratum("b", 3, 0)}, []int{2, 3}},
		{"a tie goes to the first", 3, []Stratum{stratum("a", 9, 50), stratum("b", 9, 50)}, []int{2, 1}},
	} {
		same(t, c.name, c.want, shares(c.n, c.strata))
	}
}

func drawItems(t *rapid.T) []Item {
	items := make([]Item, rapid.IntRange(1, 60).Draw(t, "items"))
	for i := range items {
		items[i] = Item{ID: fmt.Sprintf("I%d", i), Mass: ledger.Mass(rapid.Int64Range(0, 1000).Draw(t, "grams")),
			Stratum: rapid.SampledFrom([]string{"", "a", "b", "c"}).Draw(t, "stratum")}
	}
	items[0].Mass += 1000
	return items
}

var methods = map[string]func(string, int, []Item) (*Sample, error){"random": Random, "stratified": Stratified, "mass unit": MassUnit}

// Order plays no part, no item is drawn twice, and population and strata add up.
func TestSampleOfAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items, n := drawItems(t), rapid.IntRange(1, 70).Draw(t, "n")
		shuffled := slices.Clone(items)
		shuffle := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 0))
		shuffle.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		for name, draw := range methods {
			s, err := draw(seed, n, items)
			if err != nil {
				t.Fatal(err)
			}
			again, err := draw(seed, n, shuffled)
			if err != nil {
				t.Fatal(err)
			}
			if fmt.Sprint(*s) != fmt.Sprint(*again) {
				t.Fatalf("%s: %v of one order, %v of another", name, *s, *again)
			}
			checkSums(t, s)
			if want := min(n, len(items)); s.Method != MethodMassUnit && len(s.Selected) != want {
				t.Fatalf("%s: %d drawn, want %d", name, len(s.Selected), want)
			}
		}
	})
}

func checkSums(t *rapid.T, s *Sample) {
	var population, taken, strata Total
	seen := map[string]bool{}
	for _, d := range s.Selected {
		if seen[d.ID] {
			t.Fatalf("%s is drawn twice", d.ID)
		}
		seen[d.ID] = true
		taken.Count++
		taken.Mass += d.Mass
	}
	for _, st := range s.Strata {
		population.Count += st.Population.Count
		population.Mass += st.Population.Mass
		strata.Count += st.Drawn.Count
		strata.Mass += st.Drawn.Mass
	}
	if population != s.Population || taken != s.Drawn || strata != s.Drawn {
		t.Fatalf("population %v of strata %v; drawn %v, by items %v, by strata %v", s.Population, population, s.Drawn, taken, strata)
	}
}

// Hits are the drawn grams that lie in an item, counted here one gram after another.
func TestMassUnitHitsByCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := drawItems(t)
		s, err := MassUnit(rapid.StringMatching(`[a-z]{1,8}`).Draw(t, "seed"), rapid.IntRange(1, 70).Draw(t, "n"), items)
		if err != nil {
			t.Fatal(err)
		}
		slices.SortFunc(items, func(a, b Item) int { return strings.Compare(a.ID, b.ID) })
		want := map[string]int{}
		gram, total := ledger.Mass(0), 0
		for _, i := range items {
			for range i.Mass {
				if gram++; gram >= s.Start && (gram-s.Start)%s.Interval == 0 {
					want[i.ID]++
					total++
				}
			}
			if i.Mass >= s.Interval && want[i.ID] == 0 {
				t.Fatalf("%v of an interval of %v is not drawn", i, s.Interval)
			}
		}
		for _, d := range s.Selected {
			if d.Hits != want[d.ID] {
				t.Fatalf("%s: %d hits, want %d", d.ID, d.Hits, want[d.ID])
			}
		}
		if len(s.Selected) != len(want) || total < s.Asked {
			t.Fatalf("%d items and %d hits, want %d items and at least %d hits", len(s.Selected), total, len(want), s.Asked)
		}
	})
}

// Over many seeds an item is drawn as often as its part of the population says: n/N at random, by mass for mass units. The
// bounds are 5 standard deviations; the seeds are fixed, so the test never fails by chance.
func TestSamplesAreFair(t *testing.T) {
	const seeds = 4000
	items := []Item{{ID: "light", Mass: 100}, {ID: "heavy", Mass: 300}, {ID: "a", Mass: 200}, {ID: "b", Mass: 200}, {ID: "c", Mass: 200}}
	random, byMass := map[string]int{}, map[string]int{}
	for i := range seeds {
		for count, draw := range map[*map[string]int]func(string, int, []Item) (*Sample, error){&random: Random, &byMass: MassUnit} {
			s, err := draw(fmt.Sprint("seed ", i), 2, items)
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range s.Selected {
				(*count)[d.ID]++
			}
		}
	}
	for _, i := range items {
		if got := random[i.ID]; got < 1600-155 || got > 1600+155 {
			t.Errorf("%s is drawn %d times at random, want about 1600", i.ID, got)
		}
		if got, want := byMass[i.ID], int(i.Mass)*8; got < want-160 || got > want+160 {
			t.Errorf("%s is drawn %d times by mass, want about %d", i.ID, got, want)
		}
	}
}

func TestSampleRefuses(t *testing.T) {
	for _, c := range []struct {
		name, seed string
		n          int
		items      []Item
		want       string
	}{
		{"no seed", "", 1, tickets(2), `seed "": want one line of text`},
		{"two lines", "a\nb", 1, tickets(2), `seed "a\nb": want one line of text`},
		{"nothing to draw", seed, 0, tickets(2), "sample of 0: want at least 1"},
		{"no ID", seed, 1, []Item{{}}, "item without an ID"},
		{"twice", seed, 1, append(tickets(2), tickets(1)...), `item "T1" is in the population twice`},
		{"below nothing", seed, 1, []Item{{ID: "T1", Mass: -tons(1)}}, `item "T1": mass -1.000 t: want zero or more`},
		{"too much", seed, 1, []Item{{ID: "T1", Mass: ledger.MaxMass}, {ID: "T2", Mass: 1}}, "population: mass beyond 10^12 t\nmass beyond 10^12 t"},
	} {
		for name, draw := range methods {
			_, err := draw(c.seed, c.n, c.items)
			same(t, c.name+", "+name, c.want, fmt.Sprint(err))
		}
	}
	_, err := MassUnit(seed, 11, []Item{{ID: "T1", Mass: 10}})
	same(t, "fewer grams than are wanted", "sample of 11 grams out of 10: want at least as many", fmt.Sprint(err))
}
