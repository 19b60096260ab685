package simyard_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/simyard"
	numbers "repose/internal/stat/simyard"
)

// digest is of the files and the truth.
func digest(t testing.TB, y *simyard.Yard) string {
	t.Helper()
	h := sha256.New()
	for _, f := range y.Files {
		h.Write([]byte(f.Name))
		h.Write(f.Content)
	}
	truth, err := json.Marshal(y.Truth)
	if err != nil {
		t.Fatal(err)
	}
	h.Write(truth)
	return hex.EncodeToString(h.Sum(nil))
}

// The same configuration gives the same bytes, on every machine. The digest stands for a yard that somebody
// may have written down the seed of: it is to change only on purpose.
func TestSameSeedSameBytes(t *testing.T) {
	cfg := coarse(20240611, everyFault...)
	first, second := digest(t, generate(t, cfg)), digest(t, generate(t, cfg))
	if first != second {
		t.Error("two calls gave two yards")
	}
	if want := "1b74ff4fdab46c9860f7c12b8182bbcefc207114b62f297e5ca6509e5b497c75"; first != want {
		t.Errorf("digest %s, want %s", first, want)
	}
	cfg.Seed++
	if digest(t, generate(t, cfg)) == first {
		t.Error("another seed gave the same yard")
	}
}

// A longer yard begins as a shorter one.
func TestLongerYardBeginsTheSame(t *testing.T) {
	short, long := coarse(6), coarse(6)
	short.Months, long.Months = 6, 13
	a, b := generate(t, short).Truth, generate(t, long).Truth
	for i, p := range a.Piles {
		if diff := cmp.Diff(p.Months, b.Piles[i].Months[:6]); diff != "" {
			t.Errorf("pile %s (-short +long):\n%s", p.Pile, diff)
		}
	}
}

// The yard is the one that is simulated as pure numbers: stocks, flows and stated uncertainties agree.
func TestSameYardAsTheNumbers(t *testing.T) {
	cfg := simyard.Default(1)
	cfg.Scale = 0
	truth := generate(t, cfg).Truth
	plan := numbers.Standard(cfg.Months)
	year, err := numbers.Simulate(plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, pile, month int, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 0.5 {
			t.Errorf("%s, pile %d, month %d: %.2f t, want %.2f t", what, pile, month, got, want)
		}
	}
	for _, s := range year.Stocks {
		near("stock", s.Pile, s.Month, tonnes(truth.Piles[s.Pile].Surveys[s.Month].Solids), s.True)
	}
	for _, m := range year.Movements {
		pile := truth.Piles[m.Pile].Months[m.Month-1]
		to := ""
		switch m.Kind {
		case numbers.Produced:
			near("made", m.Pile, m.Month, tonnes(pile.Made), m.True)
			continue
		case numbers.Transferred:
			to = truth.Piles[m.Other].Pile
		}
		dry := 1e6 / (1e6 + float64(pile.MoisturePPM))
		k := slices.IndexFunc(pile.Weighings, func(w simyard.Weighings) bool {
			return w.To == to && w.Loader == truth.Instruments[plan.Belts+m.Instrument].Instrument
		})
		if k < 0 {
			t.Errorf("pile %d, month %d: no weighings to %q by loader %d", m.Pile, m.Month, to, m.Instrument)
			continue
		}
		near("weighed", m.Pile, m.Month, tonnes(pile.Weighings[k].Wet)*dry, m.True)
		if n := tonnes(pile.Weighings[k].Wet) / plan.LoadMass; math.Abs(n-float64(pile.Weighings[k].Records)) > 1 {
			t.Errorf("pile %d, month %d: %d records, want %.1f", m.Pile, m.Month, pile.Weighings[k].Records, n)
		}
	}
	want := numbers.Errors{Density: 0.03, Volume: 0.0112, BeltSystematic: 0.010, BeltRandom: 0.005, LoaderSystematic: 0.007,
		Weighing: 0.010, MoistureSystematic: 0.003, MoistureRandom: 0.003} // as TestErrorsAreAsStated has them
	if diff := cmp.Diff(want, plan.Stated); diff != "" {
		t.Errorf("uncertainties (-here +numbers):\n%s", diff)
	}
}

// The standard uncertainties of the invented yard that the statistics were worked out on (constructed; mean
// of twelve months by pile), of which the plan of this yard is a reconstruction.
func TestUncertaintiesOfTheYard(t *testing.T) {
	truth := generate(t, coarse(1)).Truth
	want := map[string]float64{"A": 580.6, "B": 302.1, "C": 363.7, "D": 152.8, "E": 690.1, "F": 199.6}
	for i, p := range truth.Piles {
		mean := 0.0
		for month := 1; month <= 12; month++ {
			mean += sigma(truth, i, month) / 12
		}
		if math.Abs(mean/want[p.Pile]-1) > 0.02 {
			t.Errorf("pile %s: mean sigma %.1f t, want %.1f t within 2 %%", p.Pile, mean, want[p.Pile])
		}
	}
}

// The records state every uncertainty that the errors are drawn with.
func TestRecordsStateUncertainties(t *testing.T) {
	cfg := coarse(1)
	cfg.DensityMonths = 6
	y := generate(t, cfg)
	stated := func(file, heading, by string) map[string]string {
		found := map[string]string{}
		for _, r := range rows(t, y, file) {
			if before, ok := found[r[by]]; ok && before != r[heading] {
				t.Errorf("%s: %s %s is %s and %s", file, r[by], heading, before, r[heading])
			}
			found[r[by]] = r[heading]
		}
		return found
	}
	for _, c := range []struct {
		file, heading, by string
		want              map[string]string
	}{
		{"instruments.csv", "systematic [%]", "kind", map[string]string{"belt": "1", "loader": "0.7", "deck": "0.1"}},
		{"instruments.csv", "random [%]", "kind", map[string]string{"belt": "0.5", "loader": "1", "deck": "0.1"}},
		{"surveys.csv", "volume u [%]", "method", map[string]string{"photogrammetry": "1.12"}},
		{"densities.csv", "u [%]", "basis", map[string]string{"dry": "3"}},
		{"policy.csv", "value", "name", map[string]string{"adjust": "always", "limit percent": "2", "limit of": "book", "u opening": "3"}},
	} {
		if diff := cmp.Diff(c.want, stated(c.file, c.heading, c.by)); diff != "" {
			t.Errorf("%s, %s (-want +got):\n%s", c.file, c.heading, diff)
		}
	}
	from := slices.Sorted(maps.Keys(stated("instruments.csv", "from", "certificate")))
	if len(from) != 4*5 {
		t.Errorf("%d certificates, want five instruments calibrated four times", len(from))
	}
	if n := len(rows(t, y, "densities.csv")); n != 3*6 {
		t.Errorf("%d density tests, want three of six piles", n)
	}
	for _, r := range rows(t, y, "moistures.csv") {
		m, u := r.number(t, "moisture [% dry]"), r.number(t, "u")
		if relative := u / (100 + m); math.Abs(relative-0.003) > 0.00005 {
			t.Errorf("moisture %v with u %v makes solids uncertain by %.5f, want 0.003", m, u, relative)
		}
	}
}

// The deck scale weighs what the loaders weigh: it shows a loader that reads high.
func TestDeckShowsLoaders(t *testing.T) {
	y := generate(t, with(simyard.Default(8), "loader:L1:1-:+3%"))
	deck := map[string]float64{}
	for _, r := range rows(t, y, "deck.csv") {
		deck[r["truck"]+r["customer"]+r["time"][:13]] = r.number(t, "net [t]")
	}
	ratio, n := map[string]float64{}, map[string]float64{}
	for _, r := range rows(t, y, "loads.csv") {
		if net, ok := deck[r["truck"]+r["customer"]+r["time"][:13]]; ok && r["time"] < "2026-04" {
			ratio[r["loader"]] += r.number(t, "net [t]") / net
			n[r["loader"]]++
		}
	}
	bias := map[string]float64{}
	for _, i := range y.Truth.Instruments {
		bias[i.Instrument] = fraction(i.CalibrationErrorsPPB[0])
	}
	for loader, high := range map[string]float64{"L1": 0.03, "L2": 0} {
		got, want := ratio[loader]/n[loader]-1, (1+bias[loader])*(1+high)/(1+bias["D1"])-1
		if n[loader] < 1000 || math.Abs(got-want) > 4*0.011/math.Sqrt(n[loader]) {
			t.Errorf("%s reads %.4f above the deck in %.0f loads, want %.4f", loader, got, n[loader], want)
		}
	}
}

// In JSON a mass is text in tonnes, as everywhere in the program.
func TestTruthAsJSON(t *testing.T) {
	truth := generate(t, with(coarse(1), "loss:B:6:800t", "missing:L1:7:1")).Truth
	text, err := json.Marshal(truth)
	if err != nil {
		t.Fatal(err)
	}
	var read struct {
		Schema int
		Piles  []struct {
			Pile    string
			Density string `json:"density_t_per_m3"`
			Months  []struct {
				Lost      string `json:"lost_t"`
				Shrinkage string `json:"shrinkage_t"`
			}
		}
		Faults []struct {
			Fault  string
			Months []struct {
				Solids string `json:"solids_t"`
				Absent []string
			}
		}
	}
	if err := json.Unmarshal(text, &read); err != nil {
		t.Fatal(err)
	}
	if p := read.Piles[1]; read.Schema != 1 || p.Pile != "B" || p.Density != "1.455000" ||
		p.Months[5].Lost != "800.000000" || p.Months[4].Lost != "0.000000" || p.Months[5].Shrinkage[:2] != "80" {
		t.Errorf("read %+v", read.Piles[1])
	}
	if f := read.Faults; len(f) != 2 || f[0].Months[0].Solids != "800.000000" || len(f[1].Months[0].Absent) != 1 {
		t.Errorf("read %+v", read.Faults)
	}
}

func TestAdjustPolicy(t *testing.T) {
	cfg := coarse(1)
	for keep, want := range map[bool]string{false: "always", true: "never"} {
		cfg.KeepBook = keep
		if !bytes.Contains(content(t, generate(t, cfg), "policy.csv"), []byte("adjust,"+want+",")) {
			t.Errorf("keep book %v: policy is not %q", keep, want)
		}
	}
}

func TestConfigIsChecked(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*simyard.Config)
		want   string
	}{
		{"start", func(c *simyard.Config) { c.Start = "2026" }, `start "2026": want a month from 1950-01 to 2150-12, such as 2026-01`},
		{"months", func(c *simyard.Config) { c.Months = 0 }, "months 0: want 1 to 120"},
		{"scale", func(c *simyard.Config) { c.Scale = math.NaN() }, "scale NaN: want 0 to 3"},
		{"load", func(c *simyard.Config) { c.LoadT = 1 }, "load of 1 t: want 5 to 500 t"},
		{"density", func(c *simyard.Config) { c.DensityMonths = -1 }, "density test every -1 months: want 0 for a single one, or more"},
		{"fault too late", func(c *simyard.Config) { *c = with(*c, "loss:B:10-13:5t") }, `fault "loss:B:10-13:5t": month 13: want one of the yard's 12 months`},
		{"too many faults", func(c *simyard.Config) { c.Faults = make([]simyard.Fault, 41) }, "41 faults: want 40 at most"},
		{"traffic", func(c *simyard.Config) { c.Traffic = 5 }, "traffic of 5 %: want 10 to 100, or 0 for all of it"},
		{"unknown fault", func(c *simyard.Config) { c.Faults = []simyard.Fault{{}} },
			`fault "unknown": kind 0: want one of ` + allKinds},
		{"loss of a whole pile", func(c *simyard.Config) { *c = with(*c, "loss:D:3-:4000t") }, "pile D is empty by month 5: want smaller losses"},
		{"swap of more than is sold", func(c *simyard.Config) { *c = with(*c, "swap:D>B:3:90000t") },
			`fault "swap:D>B:3:90000t": month 3: 3133 t of loads from pile D are free for it: want no more`},
		{"no such route", func(c *simyard.Config) { *c = with(*c, "missed-transfer:B>A:3:10t") },
			`fault "missed-transfer:B>A:3:10t": month 3: nothing is carried from B to A: want one of F>E, C>D`},
		{"a month without transfers", func(c *simyard.Config) { *c = with(*c, "missed-transfer:F>E:4:2200t") },
			`fault "missed-transfer:F>E:4:2200t": month 4: 0 t are carried from F to E: want no more`},
		{"too many tickets", func(c *simyard.Config) { *c = with(*c, "missing:L2:1:900") },
			`fault "missing:L2:1:900": month 1: loader L2 has 42 tickets free for it: want no more`},
		{"no such row of loads", func(c *simyard.Config) { c.LoadT = 500; *c = with(*c, "lumped:L2:1:6") },
			`fault "lumped:L2:1:6": month 1: loader L2 has no 6 loads in a row from one pile: want fewer, or smaller loads`},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg := coarse(1)
			c.change(&cfg)
			y, err := simyard.Generate(cfg)
			if err == nil || err.Error() != c.want || y != nil {
				t.Errorf("got %v, want %s", err, c.want)
			}
		})
	}
}
