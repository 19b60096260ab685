package demoyard_test

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// sameLoad is the time within which two records may be of one load.
const sameLoad = 5 * time.Minute

// deckTime reads a clock of the deck's export, as if it were UTC.
func deckTime(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse("02.01.2006 15:04", s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// TestNaturalKeys checks that no table holds two rows of one key, and that ticket numbers have no gaps.
func TestNaturalKeys(t *testing.T) {
	y := newYard(t)
	for _, tt := range []struct {
		name    string
		rows    []row
		columns []string
	}{
		{"loads", loadRows(t, y), []string{"loader", "ticket"}},
		{"deck", y.deck(t), []string{"deck", "ticket"}},
		{"production", y.table(t, "production-belts.csv"), []string{"belt", "time"}},
		{"transfers", y.table(t, "transfers.csv"), []string{"ticket"}},
		{"feed", y.table(t, "feed.csv"), []string{"instrument", "time"}},
		{"returns", y.table(t, "returns.csv"), []string{"ticket"}},
		{"surveys", y.table(t, "surveys.csv"), []string{"survey"}},
		{"moistures", y.sheet(t, "lab.xlsx", "moistures"), []string{"pile", "product", "taken"}},
		{"densities", y.sheet(t, "lab.xlsx", "densities"), []string{"pile", "taken"}},
	} {
		seen, last := map[string]bool{}, map[string]int{}
		for _, r := range tt.rows {
			var parts []string
			for _, c := range tt.columns {
				parts = append(parts, r[c])
			}
			key := strings.Join(parts, "/")
			if seen[key] {
				t.Errorf("%s: two rows of %s", tt.name, key)
			}
			seen[key] = true
			if r["ticket"] == "" {
				continue
			}
			number, err := strconv.Atoi(strings.TrimLeft(r["ticket"][strings.Index(r["ticket"], "-")+1:], "W"))
			if err != nil {
				t.Fatal(err)
			}
			series := r["loader"]
			if tt.name == "transfers" {
				series = ""
			}
			if before := last[series]; before != 0 && number != before+1 {
				t.Errorf("%s: ticket %s after %d", tt.name, r["ticket"], before)
			}
			last[series] = number
		}
	}
}

// TestRepeatedHour checks that in the hour that comes twice the ticket order, and only it, tells the
// loads before the change from those after, for the loader and for the deck.
func TestRepeatedHour(t *testing.T) {
	y := newYard(t)
	for name, rows := range map[string][]row{"loads": y.table(t, "loads-2026-10.csv"), "deck": y.deck(t)} {
		var clocks []string
		falls, before := 0, 0
		for _, r := range rows {
			day, clock, _ := strings.Cut(r["time"], " ")
			if day != "2026-10-25" && day != "25.10.2026" || clock[:2] != "01" {
				continue
			}
			if n := len(clocks); n > 0 && clock < clocks[n-1] {
				falls, before = falls+1, n
			}
			clocks = append(clocks, clock)
		}
		if after := len(clocks) - before; falls != 1 || before < 2 || after < 2 {
			t.Errorf("%s: clocks %v: want two or more before the only fall and after it", name, clocks)
		}
	}
}

// TestReplacedTickets checks that a replaced ticket is the same truck a few minutes before, with another
// weight, and that a voided one was written again.
func TestReplacedTickets(t *testing.T) {
	y := newYard(t)
	rows := loadRows(t, y)
	byTicket := map[string]row{}
	for _, r := range rows {
		byTicket[r["ticket"]] = r
	}
	replaced, void := 0, 0
	for _, r := range rows {
		if r["status"] == "void" {
			void++
			continue
		}
		if r["replaces"] == "" {
			continue
		}
		replaced++
		wrong, ok := byTicket[r["replaces"]]
		if gap := y.time(t, r["time"]).Sub(y.time(t, wrong["time"])); !ok || wrong["truck"] != r["truck"] || gap <= 0 || gap > sameLoad ||
			math.Abs(wrong.number(t, "net [t]")-r.number(t, "net [t]")) < 5 {
			t.Errorf("%v replaces %v", r, wrong)
		}
	}
	if replaced == 0 || void == 0 {
		t.Errorf("%d replacing and %d void tickets, want some of both", replaced, void)
	}
}

// TestDeck checks tickets against the loaders': net is gross less tare, nearly every customer's load has
// its ticket within a quarter of an hour, and it agrees within what the two scales get wrong.
func TestDeck(t *testing.T) {
	y := newYard(t)
	deck := y.deck(t)
	byTruck := map[string][]row{}
	for _, d := range deck {
		if net := d.number(t, "gross") - d.number(t, "tare"); math.Abs(net-d.number(t, "net")) > 1e-9 {
			t.Errorf("deck ticket %s: net %s, want %.2f", d["ticket"], d["net"], net)
		}
		if d["status"] == "kept" {
			byTruck[d["truck"]] = append(byTruck[d["truck"]], d)
		}
	}
	loads, missing, straddling := 0, 0, 0
	flightEnd := "2026-10-29 11:25"
	for _, l := range standingLoads(t, y) {
		if l["purpose"] == "internal" {
			continue
		}
		loads++
		clock, err := time.Parse("2006-01-02 15:04:05", l["time"])
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(byTruck[l["truck"]], func(d row) bool {
			wait := deckTime(t, d["time"]).Sub(clock)
			return wait > 0 && wait < 15*time.Minute && d["product"] == l["product"] && d["customer"] == l["customer"]
		})
		if i < 0 {
			missing++
			continue
		}
		d := byTruck[l["truck"]][i]
		if off := d.number(t, "net")/l.number(t, "net [t]") - 1; math.Abs(off) > 0.06 {
			t.Errorf("load %s and deck ticket %s differ by %.1f %%", l["ticket"], d["ticket"], 100*off)
		}
		if l["time"] < flightEnd && deckTime(t, d["time"]).Format("2006-01-02 15:04") > flightEnd {
			straddling++
		}
	}
	if missing == 0 || missing > loads/50 {
		t.Errorf("%d of %d loads have no deck ticket, want some but less than 2 %%", missing, loads)
	}
	if straddling < 2 {
		t.Errorf("%d trucks straddle the end of the last survey, want two or more", straddling)
	}
}
