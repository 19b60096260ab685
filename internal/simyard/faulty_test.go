package simyard_test

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/simyard"
)

// pair is a yard with a fault and the same one without.
type pair struct {
	t             *testing.T
	clean, faulty *simyard.Yard
	fault         simyard.FaultTruth
}

func withAndWithout(t *testing.T, fault string) pair {
	t.Helper()
	cfg := simyard.Default(11)
	cfg.LoadT = 100
	clean := generate(t, cfg)
	faulty := generate(t, with(cfg, fault))
	if len(faulty.Truth.Faults) != 1 || faulty.Truth.Faults[0].Fault != fault {
		t.Fatalf("truth has faults %+v, want %s", faulty.Truth.Faults, fault)
	}
	return pair{t, clean, faulty, faulty.Truth.Faults[0]}
}

// changed holds the pair to differing in the named tables and in no other.
func (p pair) changed(want ...string) {
	p.t.Helper()
	var got []string
	for i, f := range p.clean.Files {
		if !bytes.Equal(f.Content, p.faulty.Files[i].Content) {
			got = append(got, f.Name)
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		p.t.Errorf("changed tables (-want +got):\n%s", diff)
	}
}

// ratios returns, for rows that keep their place, the faulty number over the clean one. The other cells must
// be the same.
func (p pair) ratios(file, heading string) (clean []row, ratio []float64) {
	p.t.Helper()
	clean = rows(p.t, p.clean, file)
	faulty := rows(p.t, p.faulty, file)
	if len(clean) != len(faulty) {
		p.t.Fatalf("%s: %d rows, without the fault %d", file, len(faulty), len(clean))
	}
	for i, r := range clean {
		ratio = append(ratio, faulty[i].number(p.t, heading)/r.number(p.t, heading))
		other := maps.Clone(faulty[i])
		other[heading] = r[heading]
		if !maps.Equal(other, r) {
			p.t.Errorf("%s: row %v, without the fault %v", file, faulty[i], r)
		}
	}
	return clean, ratio
}

// check holds ratios to a factor for the rows that are concerned and to 1 for all others.
func (p pair) check(file, heading string, concerned func(row) bool, factor, tolerance float64) {
	p.t.Helper()
	clean, ratio := p.ratios(file, heading)
	n := 0
	for i, r := range clean {
		want, within := 1.0, 0.0
		if concerned(r) {
			want, within = factor, tolerance
			n++
		}
		if math.Abs(ratio[i]-want) > within {
			p.t.Errorf("%s: %v by a factor of %.5f, want %.5f", file, r, ratio[i], want)
		}
	}
	if n == 0 || n == len(clean) {
		p.t.Errorf("%s: %d of %d rows concerned", file, n, len(clean))
	}
}

func TestLoss(t *testing.T) {
	p := withAndWithout(t, "loss:B:5-6:200t")
	p.changed("surveys.csv")
	for i, want := range p.clean.Truth.Piles {
		got := p.faulty.Truth.Piles[i]
		for k, s := range want.Surveys {
			gone := simyard.Grams(0)
			if got.Pile == "B" {
				gone = simyard.Grams(200e6 * min(max(k-4, 0), 2))
			}
			if got.Surveys[k].Solids != s.Solids-gone {
				t.Errorf("%s %s: %d g lie there, want %d g less than %d g", got.Pile, s.Survey, got.Surveys[k].Solids, gone, s.Solids)
			}
		}
	}
	m := p.faulty.Truth.Piles[1].Months
	if m[4].Lost != 200e6 || m[4].Shrinkage != 200e6 || m[5].Shrinkage != 200e6 || m[3].Shrinkage != 0 || m[6].Shrinkage != 0 {
		t.Errorf("shrinkage of B: %+v, want 200 t in months 5 and 6", m)
	}
}

func TestLoader(t *testing.T) {
	p := withAndWithout(t, "loader:L1:4-:+3%")
	p.changed("loads.csv", "transfers.csv")
	concerned := func(r row) bool { return r["loader"] == "L1" && r["time"] >= "2026-04" }
	p.check("loads.csv", "net [t]", concerned, 1.03, 0.001) // 10 kg steps of 90 t or more
	p.check("transfers.csv", "net [t]", concerned, 1.03, 0.001)
}

func TestBelt(t *testing.T) {
	p := withAndWithout(t, "belt:B2:4-7:-3%")
	p.changed("production.csv")
	p.check("production.csv", "net [t]", func(r row) bool {
		return r["belt"] == "B2" && r["time"] >= "2026-04" && r["time"] < "2026-08"
	}, 0.97, 0.001)
}

func TestSurvey(t *testing.T) {
	p := withAndWithout(t, "survey:A:6:+5%")
	p.changed("surveys.csv")
	p.check("surveys.csv", "volume [m3]", func(r row) bool { return r["pile"] == "A" && r["survey"] == "S06" }, 1.05, 1e-6)
	if got := p.fault.Months[0].Wrong; !slices.Equal(got, []string{"survey:SIM:S06/A"}) {
		t.Errorf("wrong records %v, want the survey", got)
	}
}

func TestDensity(t *testing.T) {
	p := withAndWithout(t, "density:E:8-:+6%")
	p.changed("surveys.csv")
	p.check("surveys.csv", "volume [m3]", func(r row) bool { return r["pile"] == "E" && r["survey"] >= "S08" }, 1.06, 1e-6)
}

func TestSwap(t *testing.T) {
	p := withAndWithout(t, "swap:C>B:7:1000t")
	p.changed("loads.csv")
	clean := rows(t, p.clean, "loads.csv")
	byTicket := map[string]row{}
	for _, r := range clean {
		byTicket[r["ticket"]] = r
	}
	var wrong []string
	var net float64
	for _, r := range rows(t, p.faulty, "loads.csv") {
		before := byTicket[r["ticket"]]
		if maps.Equal(r, before) {
			continue
		}
		wrong = append(wrong, "load:SIM:"+r["loader"]+"/"+r["ticket"])
		net += r.number(t, "net [t]")
		want := maps.Clone(before)
		want["pile"], want["product"] = "B", "20mm"
		if before["pile"] != "C" || before["time"][:7] != "2026-07" || !maps.Equal(r, want) {
			t.Errorf("row %v, without the fault %v", r, before)
		}
	}
	m := p.fault.Months[0]
	slices.Sort(wrong)
	slices.Sort(m.Wrong)
	if diff := cmp.Diff(m.Wrong, wrong); diff != "" || len(m.Absent) != 0 || len(m.Deck) != len(wrong) {
		t.Errorf("records that changed (-truth +tables):\n%s", diff)
	}
	c, b := p.faulty.Truth.Piles[2].Months[6], p.faulty.Truth.Piles[1].Months[6]
	if off := tonnes(m.Solids) - 1000; math.Abs(off) > 51 || c.Shrinkage != m.Solids {
		t.Errorf("%v t swapped and %v t gone from C, want 1000 t in whole loads", m.Solids, c.Shrinkage)
	}
	if b.Shrinkage >= 0 || math.Abs(tonnes(b.Shrinkage+c.Shrinkage)) > 0.01*1000 || math.Abs(net-tonnes(m.Solids)) > 60 {
		t.Errorf("%v t gone from C, %v t from B, %.1f t on the tickets", c.Shrinkage, b.Shrinkage, net)
	}
}

// withoutTickets returns rows as text without their ticket numbers, sorted.
func withoutTickets(all []row) []string {
	var list []string
	for _, r := range all {
		r = maps.Clone(r)
		delete(r, "ticket")
		list = append(list, fmt.Sprint(r))
	}
	slices.Sort(list)
	return list
}

func TestMissedTransfer(t *testing.T) {
	p := withAndWithout(t, "missed-transfer:F>E:9:2200t")
	p.changed("transfers.csv")
	var kept []row
	for _, r := range rows(t, p.clean, "transfers.csv") {
		if r["from pile"] != "F" || r["time"][:7] != "2026-09" {
			kept = append(kept, r)
		}
	}
	if diff := cmp.Diff(withoutTickets(kept), withoutTickets(rows(t, p.faulty, "transfers.csv"))); diff != "" {
		t.Errorf("transfers (-want +got):\n%s", diff)
	}
	f, e := p.faulty.Truth.Piles[5].Months[8], p.faulty.Truth.Piles[4].Months[8]
	if f.Shrinkage != 2200e6 || e.Shrinkage != -2200e6 || f.CarriedOut != 2200e6 || e.CarriedIn != 2200e6 {
		t.Errorf("F: %+v\nE: %+v\nwant 2200 t carried and missed", f, e)
	}
	part := withAndWithout(t, "missed-transfer:F>E:9:500t")
	if got := tonnes(part.fault.Months[0].Solids); math.Abs(got-500) > 51 {
		t.Errorf("%.1f t missed, want 500 t in whole loads", got)
	}
}

func TestMissing(t *testing.T) {
	p := withAndWithout(t, "missing:L1:7:4")
	p.changed("loads.csv")
	absent := p.fault.Months[0].Absent
	var kept []row
	var gone float64
	for _, r := range rows(t, p.clean, "loads.csv") {
		if slices.Contains(absent, "load:SIM:"+r["loader"]+"/"+r["ticket"]) {
			gone += r.number(t, "net [t]")
			if r["time"][:7] != "2026-07" || r["loader"] != "L1" {
				t.Errorf("%v is missing", r)
			}
			continue
		}
		kept = append(kept, r)
	}
	if diff := cmp.Diff(kept, rows(t, p.faulty, "loads.csv")); diff != "" || len(absent) != 4 {
		t.Errorf("loads without %v (-want +got):\n%s", absent, diff)
	}
	var shrinkage simyard.Grams
	for _, pile := range p.faulty.Truth.Piles {
		shrinkage += pile.Months[6].Shrinkage
	}
	if shrinkage != p.fault.Months[0].Solids || math.Abs(tonnes(shrinkage)/gone-0.96) > 0.03 {
		t.Errorf("%v t are gone, of %.1f t on the missing tickets", shrinkage, gone)
	}
}

func TestLumped(t *testing.T) {
	p := withAndWithout(t, "lumped:L1:5:3")
	p.changed("loads.csv")
	m := p.fault.Months[0]
	if len(m.Wrong) != 1 || len(m.Deck) != 3 {
		t.Fatalf("%+v, want one record and three deck tickets", m)
	}
	var lump row
	for _, r := range rows(t, p.faulty, "loads.csv") {
		if "load:SIM:"+r["loader"]+"/"+r["ticket"] == m.Wrong[0] {
			lump = r
		}
	}
	was, is := withoutTickets(rows(t, p.clean, "loads.csv")), withoutTickets(rows(t, p.faulty, "loads.csv"))
	gone := slices.DeleteFunc(was, func(s string) bool { _, found := slices.BinarySearch(is, s); return found })
	if len(gone) != 3 || len(is) != len(rows(t, p.clean, "loads.csv"))-2 {
		t.Fatalf("rows that are gone: %v", gone)
	}
	sum := 0.0
	for _, r := range rows(t, p.clean, "loads.csv") {
		if slices.Contains(gone, withoutTickets([]row{r})[0]) {
			sum += r.number(t, "net [t]")
			if r["loader"] != "L1" || r["pile"] != lump["pile"] || r["time"][:10] != lump["time"][:10] || r["time"] > lump["time"] {
				t.Errorf("%v is on %v", r, lump)
			}
		}
	}
	if math.Abs(sum-lump.number(t, "net [t]")) > 1e-9 {
		t.Errorf("three loads of %.2f t are on %v", sum, lump)
	}
	for _, pile := range p.faulty.Truth.Piles {
		if pile.Months[4].Shrinkage != 0 {
			t.Errorf("%s: shrinkage %v, want none: every tonne is on a record", pile.Pile, pile.Months[4].Shrinkage)
		}
	}
}

// Ticket numbers run without a gap, but for those that are missing.
func TestTicketsRun(t *testing.T) {
	y := generate(t, coarse(2, everyFault...))
	absent := map[string]bool{}
	for _, f := range y.Truth.Faults {
		for _, m := range f.Months {
			for _, id := range m.Absent {
				absent[id[strings.IndexByte(id, '/')+1:]] = true
			}
		}
	}
	for _, file := range []string{"loads.csv", "transfers.csv", "deck.csv"} {
		next, last := map[string]int{}, map[string]string{}
		for _, r := range rows(t, y, file) {
			series := strings.TrimRight(r["ticket"], "0123456789")
			number := func() string {
				next[series]++
				return fmt.Sprintf("%s%0*d", series, len(r["ticket"])-len(series), next[series])
			}
			want := number()
			for absent[want] {
				delete(absent, want)
				want = number()
			}
			if r["ticket"] != want || r["time"] < last[series] {
				t.Errorf("%s: ticket %s at %s, want %s not before %s", file, r["ticket"], r["time"], want, last[series])
			}
			last[series] = r["time"]
		}
	}
	if len(absent) != 0 {
		t.Errorf("%v are not missing", absent)
	}
}

// Whatever goes wrong together, the tables still follow from the truth.
func TestAnyFaultsFollowFromTruth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		cfg := coarse(rapid.Uint64().Draw(rt, "seed"))
		cfg.Months = 5
		cfg.Scale = rapid.Float64Range(0, 1.5).Draw(rt, "scale")
		cfg.LoadT = rapid.IntRange(150, 500).Draw(rt, "load")
		cfg = with(cfg, rapid.SliceOfN(rapid.SampledFrom([]string{"loss:B:2:800t", "loss:A:1-:90t", "swap:C>B:3:1000t", "swap:E>F:3-5:1500t",
			"swap:B>C:1-:400t", "loader:L1:2-:+3%", "loader:L2:3:-8%", "belt:B1:4-:2%", "density:C:5-:-6%", "survey:D:4:+5%",
			"survey:C:5:9%", "missed-transfer:F>E:3:900t", "missed-transfer:C>D:2-4:400t", "lumped:L1:5:2", "missing:L1:1-:2", "missing:L2:3:4"}),
			0, 4).Draw(rt, "faults")...)
		y, err := simyard.Generate(cfg)
		if err != nil {
			rt.Skip(err) // two faults may want the same loads
		}
		got, want := balancesOf(t, y), account{y.Truth, cfg.Faults}
		for i, p := range y.Truth.Piles {
			for month := 1; month <= cfg.Months; month++ {
				if g, w := got.residual(cell{p.Pile, month}), want.residual(i, month); math.Abs(g-w) > 0.15 {
					rt.Errorf("%s, month %d: residual %.3f t, want %.3f t", p.Pile, month, g, w)
				}
			}
		}
	})
}
