package demoyard_test

import (
	"maps"
	"math"
	"slices"
	"testing"
	"time"
)

// book is a deliberately simple second way from the files to the piles: floating point, and the last
// moisture test of the pile, else of its product, at or before each record.
type book struct {
	*yard
	t       *testing.T
	product map[string]string
	tests   []moistureTest // in order of time
	dry     []densityTest
	moves   []movement
}

type moistureTest struct {
	pile, product string
	taken         time.Time
	percent       float64
}

type densityTest struct {
	pile  string
	taken time.Time
	dry   float64 // t/m3 in place
}

// movement is solids into a pile, or out of it if negative.
type movement struct {
	pile   string
	at     time.Time
	solids float64 // t
}

func newBook(t *testing.T, y *yard) *book {
	t.Helper()
	b := &book{yard: y, t: t, product: map[string]string{}}
	for _, r := range y.sheet(t, "yard.xlsx", "piles") {
		b.product[r["pile"]] = r["product"]
	}
	for _, r := range y.sheet(t, "lab.xlsx", "moistures") {
		b.tests = append(b.tests, moistureTest{r["pile"], r["product"], y.serial(t, r["taken"]), r.number(t, "moisture [% dry]")})
	}
	for _, r := range y.sheet(t, "lab.xlsx", "densities") {
		dry := r.number(t, "bulk density [t/m3]") / (1 + r.number(t, "moisture [% dry]")/100) * r.number(t, "compaction factor")
		b.dry = append(b.dry, densityTest{r["pile"], y.serial(t, r["taken"]), dry})
	}
	for _, r := range y.sheet(t, "yard.xlsx", "opening") {
		b.moves = append(b.moves, movement{r["pile"], y.serial(t, r["time"]), r.number(t, "solids [t]")})
	}
	b.addProduction()
	for _, r := range standingLoads(t, y) {
		b.add(r["pile"], r["pile"], r["time"], -r.number(t, "net [t]"))
	}
	for _, r := range y.table(t, "transfers.csv") {
		b.add(r["from pile"], r["from pile"], r["time"], -r.number(t, "net [t]"))
		b.add(r["to pile"], r["from pile"], r["time"], r.number(t, "net [t]"))
	}
	for _, r := range y.table(t, "feed.csv") {
		b.add(r["pile"], r["pile"], r["time"], -r.number(t, "net [t]"))
	}
	for _, r := range y.table(t, "returns.csv") {
		b.add(r["pile"], r["pile"], r["time"], r.number(t, "net [t]"))
	}
	return b
}

// add enters a wet mass at the moisture of one of the piles.
func (b *book) add(pile, at, local string, wet float64) {
	when := b.time(b.t, local)
	b.moves = append(b.moves, movement{pile, when, wet / (1 + b.moisture(at, when)/100)})
}

// addProduction takes differences of readings; a fall is a rollover if it is near the modulus, and counts
// from nothing otherwise.
func (b *book) addProduction() {
	last := map[string]float64{}
	for _, r := range b.table(b.t, "production-belts.csv") {
		reading := r.number(b.t, "reading [t]")
		before, seen := last[r["belt"]]
		last[r["belt"]] = reading
		made := reading - before
		if made < 0 {
			made = math.Mod(made+1_000_000, 1_000_000)
		}
		if made > 2_000 {
			made = reading
		}
		if seen {
			b.add(r["pile"], r["pile"], r["time"], made)
		}
	}
}

// moisture returns the per cent of dry mass in force for a pile.
func (b *book) moisture(pile string, at time.Time) float64 {
	ofPile, ofProduct := math.NaN(), math.NaN()
	for _, m := range b.tests {
		switch {
		case m.taken.After(at):
		case m.pile == pile:
			ofPile = m.percent
		case m.product == b.product[pile]:
			ofProduct = m.percent
		}
	}
	if !math.IsNaN(ofPile) {
		return ofPile
	}
	if math.IsNaN(ofProduct) {
		b.t.Fatalf("no moisture of %s at %v", pile, at)
	}
	return ofProduct
}

// stock returns the solids that the book has in a pile at an instant, in tonnes.
func (b *book) stock(pile string, at time.Time) float64 {
	var sum float64
	for _, m := range b.moves {
		if m.pile == pile && !m.at.After(at) {
			sum += m.solids
		}
	}
	return sum
}

// surveyed returns the solids that a survey found, with the last density test at or before it.
func (b *book) surveyed(survey row) float64 {
	end := b.time(b.t, survey["end"])
	dry := math.NaN()
	for _, d := range b.dry {
		if d.pile == survey["pile"] && !d.taken.After(end) {
			dry = d.dry
		}
	}
	volume := survey.number(b.t, "volume [m3]")
	if survey["deduction [m3]"] != "" {
		volume -= survey.number(b.t, "deduction [m3]")
	}
	return volume * dry
}

// throughput returns the larger of what came into a pile and what went out after one instant up to another.
func (b *book) throughput(pile string, after, until time.Time) float64 {
	var in, out float64
	for _, m := range b.moves {
		if m.pile != pile || !m.at.After(after) || m.at.After(until) {
			continue
		}
		in += max(m.solids, 0)
		out += max(-m.solids, 0)
	}
	return max(in, out)
}

// shrinkage returns book minus survey in per cent of book for every survey, keyed by pile and month. The
// book takes a survey's figure where adjusts says so.
func (b *book) shrinkage(adjusts func(difference, throughput float64) bool) map[string]float64 {
	opening := b.serial(b.t, b.sheet(b.t, "yard.xlsx", "opening")[0]["time"])
	adjusted, since := map[string]float64{}, map[string]time.Time{}
	found := map[string]float64{}
	for _, s := range b.table(b.t, "surveys.csv") {
		pile, end := s["pile"], b.time(b.t, s["end"])
		if since[pile].IsZero() {
			since[pile] = opening
		}
		stock := b.stock(pile, end) + adjusted[pile]
		difference := stock - b.surveyed(s)
		found[pile+" "+s["end"][:len("2026-08")]] = 100 * difference / stock
		if adjusts(difference, b.throughput(pile, since[pile], end)) {
			adjusted[pile] -= difference
		}
		since[pile] = end
	}
	return found
}

// TestShrinkage holds the files to the story they are to tell, whatever the rule for adjusting the book:
// the pile with the unrecorded loads misses 3 to 5 % of its book at the last survey, and nothing else is
// out by more than 1.5 % at any survey.
func TestShrinkage(t *testing.T) {
	y := newYard(t)
	b := newBook(t, y)
	told := y.truth.Unrecorded[0].Pile + " 2026-10"
	for name, adjusts := range map[string]func(difference, throughput float64) bool{
		"never":    func(float64, float64) bool { return false },
		"always":   func(float64, float64) bool { return true },
		"at limit": func(d, throughput float64) bool { return math.Abs(d) > 50+throughput/100 },
	} {
		t.Run(name, func(t *testing.T) {
			found := b.shrinkage(adjusts)
			if len(found) != 18 {
				t.Fatalf("%d surveys, want six piles in three months", len(found))
			}
			for _, at := range slices.Sorted(maps.Keys(found)) {
				low, high := -1.5, 1.5
				if at == told {
					low, high = 3, 5
				}
				if found[at] < low || found[at] > high {
					t.Errorf("%s: shrinkage is %.2f %% of book, want %v to %v", at, found[at], low, high)
				}
			}
		})
	}
}

// TestStocks holds the piles to the sizes of the story.
func TestStocks(t *testing.T) {
	y := newYard(t)
	b := newBook(t, y)
	for _, s := range y.table(t, "surveys.csv") {
		if stock := b.stock(s["pile"], y.time(t, s["end"])); stock < 5_000 || stock > 40_000 {
			t.Errorf("%s: book is %.0f t, want 5,000 to 40,000", s["survey"], stock)
		}
	}
}

// TestBookAgainstTruth says that without the unrecorded loads the book would be right within what the
// instruments and the opening get wrong, and that the survey is.
func TestBookAgainstTruth(t *testing.T) {
	y := newYard(t)
	b := newBook(t, y)
	for _, p := range y.truth.Piles {
		var lost float64
		for _, m := range p.Months {
			lost += float64(m.UnrecordedG) / 1e6
			truly := float64(m.AtSurveyG) / 1e6
			if off := (b.stock(p.Pile, m.SurveyEnd) - lost - truly) / truly; math.Abs(off) > 0.012 {
				t.Errorf("%s %s: book without the unrecorded loads is off by %.2f %%", p.Pile, m.Period, 100*off)
			}
			atEnd, end := float64(m.AtEndG)/1e6, y.time(t, m.Period+"-01 00:00").AddDate(0, 1, 0)
			if off := (b.stock(p.Pile, end) - lost - atEnd) / atEnd; math.Abs(off) > 0.012 {
				t.Errorf("%s %s: book at the month's end is off by %.2f %%", p.Pile, m.Period, 100*off)
			}
			for _, s := range y.table(t, "surveys.csv") {
				if s["pile"] != p.Pile || !y.time(t, s["end"]).Equal(m.SurveyEnd) {
					continue
				}
				known := float64(m.VolumePPM+m.DensityPPM) / 1e6
				if off := (b.surveyed(s)-truly)/truly - known; math.Abs(off) > 0.012 {
					t.Errorf("%s %s: survey is off by %.2f %% beyond its known errors", p.Pile, m.Period, 100*off)
				}
			}
		}
	}
}
