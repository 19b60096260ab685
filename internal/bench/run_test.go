package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/cli"
)

// roleVariable tells the test binary which program to be.
const roleVariable = "REPOSE_BENCH_ROLE"

// TestMain makes the test binary the program, or a peer, where a run calls it as one.
func TestMain(m *testing.M) {
	switch os.Getenv(roleVariable) {
	case "program":
		os.Exit(cli.Main())
	case "peer":
		if err := Peer(os.Stdout, os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// tinySizes are a few hundred rows.
func tinySizes() Sizes {
	start := time.Date(2025, time.January, 1, 0, 0, 0, 0, time.UTC)
	return Sizes{
		Year:      Size{Seed: 1, Start: start, Months: 2, Yards: 2, Piles: 6, Loads: 300, Deck: 300, Readings: 40},
		Month:     Size{Seed: 2, Start: start, Months: 1, Yards: 1, Piles: 4, Loads: 300, Readings: 20},
		History:   Size{Seed: 3, Start: start, Months: 4, Yards: 1, Piles: 3, Loads: 200, Deck: 100, Readings: 40},
		Recent:    2,
		SheetRows: 100,
	}
}

func installed(name string) Command {
	path, err := exec.LookPath(name)
	if err != nil {
		return Command{}
	}
	return Command{Path: path}
}

// tinyRun is a run of all cases with the test binary as the program and as the peers in Go.
func tinyRun(t testing.TB, dir string) *Bench {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	as := func(role string) Command { return Command{Path: self, Env: []string{roleVariable + "=" + role}} }
	return &Bench{Dir: dir, Sizes: tinySizes(), Reps: 1, Program: as("program"), Peers: as("peer"), Limit: time.Minute,
		Now: time.Now, Log: io.Discard}
}

// Every case runs, its results are right, and each comparison has both sides where its peer is there. Nothing is
// asserted of how long anything took, but that it took some time.
func TestRun(t *testing.T) {
	b := tinyRun(t, t.TempDir())
	b.SQLite = installed("sqlite3")
	if !testing.Short() {
		b.Office = installed("soffice")
	}
	rep, err := b.Run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	missing := map[string]bool{"sqlite3 .import, one index": b.SQLite.Path == "", "sums in SQL": b.SQLite.Path == "",
		"spreadsheet engine recalculating it": b.Office.Path == ""}
	got := map[string]int{}
	for _, l := range rep.Lines {
		got[l.Case]++
		if l.Ours == nil || l.Ours.Wall <= 0 {
			t.Errorf("%s: nothing was measured", l.What)
		}
		if l.Peer == "" {
			continue
		}
		if absent := l.Theirs == nil; absent != missing[l.Peer] {
			t.Errorf("%s against %s: absent is %v, want %v", l.What, l.Peer, absent, missing[l.Peer])
		} else if !absent && (l.Ratio <= 0 || l.CPURatio <= 0) {
			t.Errorf("%s against %s: ratios %v and %v, want more than nothing", l.What, l.Peer, l.Ratio, l.CPURatio)
		}
	}
	if diff := cmp.Diff(map[string]int{"a": 2, "b": 2, "c": 2, "d": 5, "e": 3}, got); diff != "" {
		t.Errorf("lines of each case (-want +got):\n%s", diff)
	}
	checkOutput(t, rep)
}

// checkOutput holds the two forms of a report to each other.
func checkOutput(t *testing.T, rep *Report) {
	t.Helper()
	var text, document bytes.Buffer
	if err := rep.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	if err := rep.WriteJSON(&document); err != nil {
		t.Fatal(err)
	}
	var back Report
	if err := json.Unmarshal(document.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(*rep, back); diff != "" {
		t.Errorf("the report and its JSON (-want +got):\n%s", diff)
	}
	for _, l := range rep.Lines {
		if !strings.Contains(text.String(), l.What) {
			t.Errorf("the table lacks %q", l.What)
		}
	}
}

// Without its peers a run goes on and says so.
func TestRunWithoutPeers(t *testing.T) {
	b := tinyRun(t, t.TempDir())
	b.Cases = []string{"a"}
	rep, err := b.Run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	l := rep.Lines[0]
	if diff := cmp.Diff([]any{true, "peer not installed", 0.0}, []any{l.Theirs == nil, l.Note, l.Ratio}); diff != "" {
		t.Errorf("no peer, note and ratio (-want +got):\n%s", diff)
	}
	var text bytes.Buffer
	if err := rep.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text.String(), "sqlite3 not installed") {
		t.Errorf("the versions do not say what is missing:\n%s", text.String())
	}
}

// A wrong result is an error, not a line: rows that are not all taken in, and balances that differ.
func TestWrongResults(t *testing.T) {
	b := tinyRun(t, t.TempDir())
	if err := b.write(b.Sizes.Year, yearFolder); err != nil {
		t.Fatal(err)
	}
	if err := b.base(t.Context()); err != nil {
		t.Fatal(err)
	}
	_, err := b.takeIn(t.Context(), baseBook, b.Sizes.Year.Loads+1, yearFile("loads.csv"))
	if want := "intake took in 300 rows, want 301"; err == nil || err.Error() != want {
		t.Errorf("found %v, want %s", err, want)
	}
	for _, c := range []struct {
		name string
		a, b balances
		want string
	}{
		{"equal", balances{"Y/P": 1.5}, balances{"Y/P": 1.5005}, ""},
		{"apart", balances{"Y/P": 1.5}, balances{"Y/P": 1.502}, "pile Y/P: 1.500000 t and 1.502000 t: want the same"},
		{"other pile", balances{"Y/P": 1.5}, balances{"Y/Q": 1.5}, "pile Y/P: 1.500000 t and 0.000000 t: want the same"},
		{"a pile more", balances{"Y/P": 1.5}, balances{}, "1 piles and 0 piles: want the same"},
	} {
		got := ""
		if err := c.a.agree(c.b); err != nil {
			got = err.Error()
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// A program that fails is an error that shows what it said; an exit code that is no failure is none.
func TestProgramThatFails(t *testing.T) {
	b := tinyRun(t, t.TempDir())
	_, _, err := b.repose(context.Background(), "none.book", "stock")
	if err == nil || !strings.Contains(err.Error(), "there is no book here yet") {
		t.Errorf("found %v, want what the program said", err)
	}
	for _, code := range []int{foundDifferences, 1} {
		_, _, err := b.run(t.Context(), run{command: b.Peers, args: []string{"nothing"}, codes: []int{code}})
		if failed := err != nil; failed != (code != 1) {
			t.Errorf("exit code 1 with %d allowed: %v", code, err)
		}
	}
}

func TestSummary(t *testing.T) {
	runs := []Figures{{3 * time.Second, 4 * time.Second, 5e6}, {1 * time.Second, 2 * time.Second, 9e6}, {8 * time.Second, 1 * time.Second, 7e6}}
	want := &Summary{Runs: 3, Wall: 3, Fastest: 1, Slowest: 8, CPU: 2, PeakMB: 9}
	if diff := cmp.Diff(want, summarise(runs)); diff != "" {
		t.Errorf("of three runs (-want +got):\n%s", diff)
	}
	want = &Summary{Runs: 2, Wall: 2, Fastest: 1, Slowest: 3, CPU: 3, PeakMB: 9}
	if diff := cmp.Diff(want, summarise(runs[:2])); diff != "" {
		t.Errorf("of two runs (-want +got):\n%s", diff)
	}
}
