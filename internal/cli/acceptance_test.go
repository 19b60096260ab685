package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"repose/internal/report"
)

// registerLine is an exception as the command prints it.
type registerLine struct {
	ID, Rule, Status, Pile, Seen string
	Records                      []string
	Gone                         bool `json:"no_longer_shown"`

	Mass     string  `json:"mass_t"`
	Low      *string `json:"low_t"`
	High     *string `json:"high_t"`
	Explains []struct {
		Pile      string `json:"pile"`
		Shrinkage string `json:"shrinkage_t"`
	} `json:"explains"`
}

func kilograms(t testing.TB, tonnes string) int {
	t.Helper()
	v, err := strconv.ParseFloat(tonnes, 64)
	if err != nil {
		t.Fatal(err)
	}
	return int(math.Round(v * 1000))
}

// wholeYard is how many loads the acceptance close has in its month. With a fifth of them a belt that drifts by 0.6 % is
// lost in the errors of measurement.
const wholeYard = 18_000

// A month in which everything goes wrong that goes wrong in a yard, through the real commands: a belt that drifts, two
// piles that are surveyed as one, a product that is keyed wrongly for a day, the night in which the clocks go back,
// exports that overlap, ghost voids, four trucks on one record, an old density, trucks that nobody recorded, a survey
// while trucks are loaded. Whatever the order in which the files come, the book is the same; every fault is in the
// register with its tonnes, and nothing is said of piles in which nothing is wrong.
func TestAcceptanceClose(t *testing.T) {
	loads, orders := wholeYard, 3 // 40,000 tickets with the month before and the deck's
	if testing.Short() {
		loads, orders = wholeYard/5, 2
	}
	y := newCloseYard(t, loads)
	files := y.files()
	stock := ""
	var dirs []string
	for i := range orders {
		dir := t.TempDir()
		dirs = append(dirs, dir)
		takeInSomeOrder(t, dir, files, i)
		got := mustRun(t, dir, "stock", "--at", "2026-10-31", "--json")
		if stock != "" && got != stock {
			t.Fatalf("order %d of the files gives another stock", i)
		}
		stock = got
	}
	dir := dirs[0]
	lines := register(t, dir, "2026-10")
	y.checkRegister(t, lines)

	// What the clerk settles stays in the register, and the month closes.
	id := lines[slices.IndexFunc(lines, func(l registerLine) bool { return l.Rule == "void after weigh-out" })].ID
	mustRun(t, dir, "exceptions", "settle", id, "--how", "reinstate", "--reason", "weighed out and paid for")
	after := register(t, dir, "2026-10")
	i := slices.IndexFunc(after, func(l registerLine) bool { return l.ID == id })
	if i < 0 || after[i].Status != "settled" || !after[i].Gone || len(after) != len(lines) {
		t.Errorf("the settled exception is not what it should be: %d lines of %d", len(after), len(lines))
	}
	// The gaps are explained in words, and what moved stone is approved by another person.
	settle := []string{"exceptions", "settle", "--how", "explain", "--reason", "looked for, and not found"}
	for _, l := range after {
		if l.Rule == "missing number" {
			settle = append(settle, l.ID)
		}
	}
	mustRun(t, dir, settle...)
	approveAll(t, dir)
	for _, month := range []string{"2026-08", "2026-09", "2026-10"} {
		mustRun(t, dir, "close", month)
	}
	if again := register(t, dir, "2026-10"); len(again) != len(after) || again[i].Status != "settled" {
		t.Errorf("after the close the register has %d lines of %d", len(again), len(after))
	}
	mustRun(t, dir, "verify")
	mustRun(t, dir, "workbook", "2026-10", "-o", "october.xlsx")
	closeAgain(t, dir)
	flipOneByte(t, dir)
}

// closeAgain takes the close of October back, enters a load that had been left out, and closes it a second time. Both packs
// hold, also the first one when it is written once more from the book as it was known, and a flipped byte of either is
// laid on its file.
func closeAgain(t *testing.T, dir string) {
	t.Helper()
	mustRun(t, dir, "pack", "2026-10", "first")
	before := mustRun(t, dir, "reconcile", "2026-10", "--json")
	const known = "2026-11-08"
	t.Setenv("REPOSE_TEST_NOW", "2026-11-12T09:00:00Z")
	mustRun(t, dir, "reopen", "2026-10", "--why", "error", "--reason", "a truck was left out")
	approveAll(t, dir)
	late := "time,loader,ticket,pile,product,truck,net [t]\n2026-10-20 12:00,L1,LATE-1,P01,10mm,V1,21.5\n"
	if err := os.WriteFile(filepath.Join(dir, "loads-late.csv"), []byte(late), 0o644); err != nil {
		t.Fatal(err)
	}
	mustRun(t, dir, "intake", "loads-late.csv")
	mustRun(t, dir, "close", "2026-10")
	if got := mustRun(t, dir, "reconcile", "2026-10", "--json", "--known", known); got != before {
		t.Error("the first close does not read as it did")
	}
	compared := mustRun(t, dir, "close", "2026-10", "--compare")
	if !strings.Contains(compared, "load:") || !strings.Contains(compared, "LATE-1") {
		t.Errorf("the comparison does not name the load that came in between:\n%s", compared)
	}
	mustRun(t, dir, "pack", "2026-10", "second")
	mustRun(t, dir, "pack", "2026-10", "again", "--known", known)
	mustRun(t, dir, "verify")
	for _, name := range []string{"first", "second", "again"} {
		mustRun(t, dir, "verify", "--pack", name)
	}
	for _, file := range []string{"SHA256SUMS", "seal.txt", "records.jsonl", "tables/entries.csv", "workbook.xlsx"} {
		sameFile(t, filepath.Join(dir, "first", file), filepath.Join(dir, "again", file))
	}
	for _, file := range []string{"first/records.jsonl", "second/seal.txt", "second/originals.csv"} {
		path := filepath.Join(dir, file)
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		damaged := slices.Clone(whole)
		damaged[len(damaged)/3] ^= 1
		if err := os.WriteFile(path, damaged, 0o644); err != nil {
			t.Fatal(err)
		}
		folder, name, _ := strings.Cut(file, "/")
		out, err := program(t, dir, "verify", "--pack", folder).CombinedOutput()
		if exitText(err) != "3" || !strings.Contains(string(out), name+":") {
			t.Errorf("a byte of %s was changed: exit code %s\n%s", file, exitText(err), out)
		}
		if err := os.WriteFile(path, whole, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func sameFile(t *testing.T, a, b string) {
	t.Helper()
	x, err := os.ReadFile(a)
	if err != nil {
		t.Fatal(err)
	}
	y, err := os.ReadFile(b)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(x, y) {
		t.Errorf("%s and %s differ", a, b)
	}
}

// approveAll has another person approve what waits for one.
func approveAll(t *testing.T, dir string) {
	t.Helper()
	out, err := program(t, dir, "approve", "--json").Output()
	if code := exitText(err); err == nil || code != "3" {
		t.Fatalf("what waits for approval: exit code %s\n%s", code, out)
	}
	var list struct {
		Pending []struct {
			ID string `json:"id"`
		} `json:"pending"`
	}
	if err := json.Unmarshal(out, &list); err != nil {
		t.Fatal(err)
	}
	for _, p := range list.Pending {
		if out, err := program(t, dir, "approve", p.ID).CombinedOutput(); err == nil {
			t.Errorf("approved by the person who did it:\n%s", out)
		}
		mustRun(t, dir, "approve", p.ID, "--as", "yard manager")
	}
}

// takeInSomeOrder takes the register tables in, and then the exports in an order of its own, each by itself.
func takeInSomeOrder(t *testing.T, dir string, files map[string][]byte, order int) {
	t.Helper()
	register := []string{"yards.csv", "products.csv", "piles.csv", "instruments.csv", "hours.csv", "policy.csv"}
	var rest []string
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(register, name) {
			rest = append(rest, name)
		}
	}
	slices.Sort(rest)
	switch order {
	case 1:
		slices.Reverse(rest)
	case 2:
		rest = append(rest[len(rest)/2:], rest[:len(rest)/2]...)
	}
	for _, name := range append(register, rest...) {
		mustRun(t, dir, "intake", name)
	}
}

func register(t *testing.T, dir, period string) []registerLine {
	t.Helper()
	out, err := program(t, dir, "exceptions", period, "--json").Output()
	var exit *exec.ExitError
	if err != nil && !(errors.As(err, &exit) && exit.ExitCode() == exitFound) {
		t.Fatalf("exceptions: %v\n%s", err, exit.Stderr)
	}
	var x struct {
		Schema     int            `json:"schema"`
		Exceptions []registerLine `json:"exceptions"`
	}
	if err := json.Unmarshal(out, &x); err != nil || x.Schema != report.Schema {
		t.Fatalf("exceptions: %v", err)
	}
	return x.Exceptions
}

// checkRegister holds the register to the truth.
func (y *closeYard) checkRegister(t *testing.T, lines []registerLine) {
	t.Helper()
	of := func(rule string) (list []registerLine) {
		for _, l := range lines {
			if l.Rule == rule {
				list = append(list, l)
			}
		}
		return list
	}
	gaps := y.checkGaps(t, of("missing number"))
	counts := map[string]int{"missing number": gaps, "void and reissue": 4, "stale density": 1, "survey gap": 1}
	if y.loads >= wholeYard {
		counts["belt factor"] = 1
	}
	for _, f := range y.truth {
		if f.rule == "missing number" {
			continue
		}
		counts[f.rule]++
		if !slices.ContainsFunc(of(f.rule), func(l registerLine) bool { return f.shownBy(t, l) }) {
			t.Errorf("the register does not have %+v", f)
		}
	}
	for rule, n := range counts {
		if got := len(of(rule)); rule != "night pickup" && rule != "missing number" && got != n {
			t.Errorf("%d exceptions of rule %q, want %d: %v", got, rule, n, seenOf(of(rule)))
		}
	}
	for _, l := range of("stale density") {
		if l.Pile != y.piles[pileStale].code {
			t.Errorf("the old density is said to be of pile %s", l.Pile)
		}
	}
	for _, l := range of("survey gap") {
		if l.Pile != y.piles[pileGone].code {
			t.Errorf("the pile that nobody surveyed is said to be %s", l.Pile)
		}
	}
	for _, l := range of("belt factor") {
		drifted := int(y.drifted)
		if low, high := kilograms(t, *l.Low), kilograms(t, *l.High); drifted < low || drifted > high {
			t.Errorf("the belt counted %d kg too much, and the register says %d to %d", drifted, low, high)
		}
	}
	y.checkClean(t, lines)
}

// shownBy reports whether an exception is the one that a fault should give.
func (f seededFault) shownBy(t *testing.T, l registerLine) bool {
	t.Helper()
	named := f.record == "" || slices.ContainsFunc(l.Records, func(id string) bool { return strings.HasPrefix(id, f.record) })
	return named && (f.pile == "" || f.pile == l.Pile) && kilograms(t, l.Mass) == f.kg
}

func seenOf(lines []registerLine) (seen []string) {
	for _, l := range lines {
		seen = append(seen, l.Seen)
	}
	return seen
}

// checkGaps holds the gaps to the truth: as many numbers, and intervals that hold what the trucks carried. It returns
// how many exceptions there are.
func (y *closeYard) checkGaps(t *testing.T, gaps []registerLine) int {
	t.Helper()
	want, kg := 0, 0
	for _, f := range y.truth {
		if f.rule == "missing number" {
			want, kg = want+1, kg+f.low
		}
	}
	several := regexp.MustCompile(`^(\d+) numbers, `)
	numbers, mass, half := 0, 0, 0.0
	for _, g := range gaps {
		n := 1
		if m := several.FindStringSubmatch(g.Seen); m != nil {
			n, _ = strconv.Atoi(m[1])
		}
		numbers += n
		mass += kilograms(t, g.Mass)
		half = math.Hypot(half, float64(kilograms(t, *g.High)-kilograms(t, g.Mass)))
	}
	if numbers != want {
		t.Errorf("%d numbers are said to be missing, want %d", numbers, want)
	}
	if math.Abs(float64(mass-kg)) > 1.5*half {
		t.Errorf("the missing loads are said to be %d kg +/- %.0f, and are %d", mass, half, kg)
	}
	return len(gaps)
}

// checkClean wants nothing said of piles that no fault touches.
func (y *closeYard) checkClean(t *testing.T, lines []registerLine) {
	t.Helper()
	clean := map[string]bool{}
	for i, p := range y.piles {
		if !p.book && i != pileStale && i != pileMoving {
			clean[p.code] = true
		}
	}
	if len(clean) < 3 {
		t.Fatalf("only %d clean piles", len(clean))
	}
	harmless := []string{"merged load", "void and reissue"} // seeded in a clean pile, and take nothing from it
	for _, l := range lines {
		accused := clean[l.Pile]
		for _, e := range l.Explains {
			accused = accused || clean[e.Pile]
		}
		if accused && !slices.Contains(harmless, l.Rule) {
			t.Errorf("clean pile %s is in %s: %s", l.Pile, l.Rule, l.Seen)
		}
	}
}

// flipOneByte changes one byte of the book at a time: verify has to see it.
func flipOneByte(t *testing.T, dir string) {
	t.Helper()
	path := filepath.Join(dir, "repose.book")
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range []float64{0.11, 0.5, 0.87} {
		at := int(part * float64(len(whole)))
		damaged := slices.Clone(whole)
		damaged[at] ^= 1
		if err := os.WriteFile(path, damaged, 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := program(t, dir, "verify").CombinedOutput(); err == nil {
			t.Errorf("byte %d was changed and the book is said to hold:\n%s", at, out)
		}
	}
	if err := os.WriteFile(path, whole, 0o644); err != nil {
		t.Fatal(fmt.Errorf("put the book back: %w", err))
	}
	mustRun(t, dir, "verify")
}
