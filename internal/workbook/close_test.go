package workbook

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"repose/internal/report"
	"repose/ledger"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
)

// writtenClose writes the workbook of a close on sheets of a number of rows.
func writtenClose(t testing.TB, c *report.Close, sheetRows int) []byte {
	t.Helper()
	b, err := declareClose(t.Context(), c, sheetRows)
	if err != nil {
		t.Fatal(err)
	}
	return written(t, b)
}

// busyClose is the hostile yard's month with many more loads.
func busyClose(t testing.TB, loads int) *report.Close {
	y, sealed := hostileYard(t)
	for i, pile := range []string{"P1", "=P2", "p1"} { // or there would be nothing to sell at a cost
		y.add(ledger.Production{At: at("2026-10-15 06:00").Add(time.Duration(i) * time.Minute), Belt: "B1", Pile: pile, Net: tons(10 * float64(loads))})
	}
	for i := range loads {
		l := y.load(fmt.Sprintf("B%05d", i), "2026-10-16 06:00", []string{"P1", "=P2", "p1"}[i%3], 20+float64(i%7)/8)
		l.At = l.At.Add(time.Duration(i) * time.Minute)
		y.add(l)
	}
	return y.close(sealed)
}

// emptyClose is the month of a yard that has a pile and nothing else, and is open.
func emptyClose(t testing.TB) *report.Close {
	y := &testYard{t: t}
	y.add(ledger.Yard{Code: "Y", Zone: "Europe/London", Unit: ledger.UnitTonne}, ledger.Product{Code: "S20"}, ledger.Pile{Code: "P1", Product: "S20"})
	c := y.close(len(y.records))
	c.Closed, c.Seal, c.ClosedBy, c.ClosedAt, c.Files, c.Causes, c.Screening = false, "", "", time.Time{}, nil, nil, testScreening(c.Month, 0)
	c.Screening.Sequences, c.Screening.Matching = nil, nil
	c.Papers = &report.Papers{}
	return c
}

// Every formula of every kind of month comes to what the file says.
func TestCloseRecomputed(t *testing.T) {
	t.Parallel()
	const few = 900 // rows of a sheet: the entries go on in two more
	busy := busyClose(t, 2_000)
	busy.Screening = testScreening(busy.Month, 300)
	b, err := declareClose(t.Context(), busy, few)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"Entries", "Entries 2", "Entries 3"}, tableOf(t, b, "Entries").sheet.parts); diff != "" {
		t.Fatal(diff)
	}
	books := map[string][]byte{"hostile": writtenClose(t, hostileClose(t), maxSheetRows), "split": written(t, b), "empty": writtenClose(t, emptyClose(t), maxSheetRows),
		"odd": writtenClose(t, oddClose(t), maxSheetRows)}
	for name, data := range books {
		inspect(t, data)
		if got := allChecks(t, data); got != wordOK {
			t.Errorf("%s: the cover says %s", name, got)
		}
	}
	judge(t, books)
}

// allChecks returns what the cover says of all checks together.
func allChecks(t testing.TB, data []byte) string {
	t.Helper()
	return onCover(t, data, "All checks together")
}

// onCover returns what the cover says of something.
func onCover(t testing.TB, data []byte, what string) string {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := f.GetRows("Cover")
	if err = errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if len(r) > 1 && r[0] == what {
			return r[1]
		}
	}
	t.Fatalf("the cover says nothing of %q", what)
	return ""
}

func TestCloseSameBytes(t *testing.T) {
	var first []byte
	for i := range 3 {
		var buf bytes.Buffer
		if err := Write(t.Context(), &buf, hostileClose(t)); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = buf.Bytes()
		} else if !bytes.Equal(first, buf.Bytes()) {
			t.Fatal("the same close gave other bytes")
		}
	}
}

func TestCloseSheets(t *testing.T) {
	f := open(t, writtenClose(t, hostileClose(t), maxSheetRows))
	want := []string{"Cover", "Checks", "Lead", "Charts", "Roll-forward", "Book v survey", "Causes", "Exception counts", "Exceptions", "Sequences", "Loader v deck",
		"Rolls", "Sensitivity", "Cut-off", "Instruments", "Adjustments", "Journal screen", "Inventory", "Cost", "Days", "Entries", "Sources", "Problems", "Policies", "Log extract", "Definitions"}
	if diff := cmp.Diff(want, f.GetSheetList()); diff != "" {
		t.Error(diff)
	}
}

// What the ledger states and what the entries add up to are two things: where they differ by a gram, or a
// count by one, the file says so without being recomputed.
func TestLedgerAgainstEntries(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(c *report.Close)
		broken string // part of the check's name
	}{
		{"closing solids", func(c *report.Close) { c.RollForward[1].Closing.Solids++ }, "Roll-forward: closing solids of pile =P2"},
		{"closing water", func(c *report.Close) { c.RollForward[1].Closing.Water++ }, "Roll-forward: closing water of pile =P2"},
		{"opening", func(c *report.Close) { c.RollForward[4].Opening.Solids-- }, "Roll-forward: closing solids of pile P1"},
		{"a flow", func(c *report.Close) { c.RollForward[4].Flows[ledger.ColumnSale].Solids++ }, "Roll-forward: total solids, sale"},
		{"entries", func(c *report.Close) { c.Month.Entries++ }, "Entries: number of entries"},
		{"book at survey", func(c *report.Close) { c.Month.Comparisons[0].Book.Solids++ }, "book at survey S1 of pile P1"},
		{"survey", func(c *report.Close) { c.Month.Comparisons[0].Found.Solids += 2 }, "solids of survey S1 of pile P1"},
		{"limit", func(c *report.Close) { c.Month.Final(ledger.PileID{Yard: "Y", Code: "P1"}).Limit += 2 }, "limit of pile P1"},
		{"rolled", func(c *report.Close) { c.Month.Final(ledger.PileID{Yard: "Y", Code: "P1"}).AfterOut += 2 }, "survey rolled forward of pile P1"},
		{"an account", func(c *report.Close) {
			sale := ledger.Account{Kind: ledger.KindOut, Yard: "Y", Name: "sale"}
			c.Month.Closing.Balances[sale] = ledger.Amount{Solids: c.Month.Closing.Balances[sale].Solids + 1}
		}, "accounts whose closing is not the ledger's"},
		{"a file", func(c *report.Close) { c.Files = c.Files[:1] }, "rows of Entries whose file is not listed"},
		{"z", func(c *report.Close) { *lineOf(c, "P1").Z += 0.0005 }, "z of pile P1"},
		{"smallest loss", func(c *report.Close) { *lineOf(c, "P1").MDL += report.Tonnes(5 * ledger.Kilogram) }, "smallest loss that would show of pile P1"},
		{"verdict", func(c *report.Close) { *lineOf(c, "P1").Verdict = "unsure" }, "piles whose verdict is not the ledger's"},
		{"residual", func(c *report.Close) { *lineOf(c, "P1").Residual += 2 }, "Book v survey: residual of pile P1"},
		{"effect of the density", func(c *report.Close) { *lineOf(c, "P1").DensityStock += report.Tonnes(2 * ledger.Kilogram) }, "effect of the density on the stock of pile P1"},
		{"alarm", func(c *report.Close) { c.Causes.Alarm = false }, "Causes: alarm"},
		{"balances", func(c *report.Close) { c.Causes.Balances-- }, "Causes: number of balances"},
		{"interval", func(c *report.Close) { c.Causes.Causes[3].High += report.Tonnes(3 * ledger.Kilogram) }, "causes whose interval is not the ledger's"},
		{"z of a balance", func(c *report.Close) { c.Causes.History[2].Z += 0.0005 }, "balances whose z or sum is not the ledger's"},
		{"sum of balances", func(c *report.Close) { c.Causes.History[0].Cumulative += report.Tonnes(2 * ledger.Kilogram) }, "balances whose z or sum is not the ledger's"},
		{"balance of the month", func(c *report.Close) {
			last := slices.IndexFunc(c.Causes.History, func(h report.HistoryLine) bool { return h.Pile == "HELD" && h.Period == "2026-10" })
			c.Causes.History[last].Residual += report.Tonnes(2 * ledger.Kilogram)
		}, "Causes: residual of pile HELD in this month"},
		{"explained shrinkage", func(c *report.Close) { *lineOf(c, "P1").Explained++ }, "Book v survey: explained shrinkage of pile P1"},
		{"expected shrinkage", func(c *report.Close) { *lineOf(c, "=P2").Expected-- }, "Book v survey: expected shrinkage of pile =P2"},
		{"unexplained shrinkage", func(c *report.Close) { *lineOf(c, "P1").Unexplained += 3 }, "Book v survey: unexplained shrinkage of pile P1"},
		{"shrinkage handed on", func(c *report.Close) {
			id := ledger.PileID{Yard: "Y", Code: "=P2"}
			base := c.Month.Opening.Bases[id]
			base.Explained++
			c.Month.Opening.Bases[id] = base
		}, "Book v survey: explained shrinkage of pile =P2"},
		{"all shrinkage", func(c *report.Close) { c.Reconciliation.Total.Explained += 5 }, "Book v survey: shrinkage of all piles in three parts"},
		{"a sequence", func(c *report.Close) { c.Screening.Sequences[0].Expected++ }, "Sequences: series that do not add up"},
		{"a status that is none", func(c *report.Close) { c.Screening.Exceptions.Exceptions[3].Status = "lost" }, "Exceptions: number of all statuses, against the register"},
		{"an act by nobody", func(c *report.Close) { c.Papers.Acts[0].By = "" }, "Adjustments: acts without the second person that they need"},
		{"a weighing in another month", func(c *report.Close) { c.Papers.CutOff.Cuts[0].Instruments[0].Before[0].Wrong = true }, "Cut-off: weighings entered in another month"},
		{"trucks between", func(c *report.Close) { c.Papers.CutOff.Cuts[1].Mass++ }, "Cut-off: cuts whose trucks are not the ledger's"},
		{"a roll", func(c *report.Close) { c.Papers.Rolls.Lines[0].AtEnd++ }, "Rolls: rolls that are not the ledger's"},
		{"the book of a roll", func(c *report.Close) { c.Papers.Rolls.Lines[1].Book++ }, "Rolls: rolls that are not the ledger's"},
		{"a rule of the screen", func(c *report.Close) { c.Papers.Screen.Flags[0].Rule = "none" }, "Journal screen: flags of all rules"},
		{"a cost", func(c *report.Close) { c.Value.Products[0].Closing.Money++ }, "Cost: closing cost of product <4 mm"},
		{"a move in money", func(c *report.Close) { c.Value.Products[1].Moves[0].Cost.Money-- }, "Cost: closing less opening of product S20, against the journal"},
		{"solids in money", func(c *report.Close) { c.Value.Products[1].OpeningSolids++ }, "Cost: closing solids of product S20, against Inventory"},
		{"an average", func(c *report.Close) {
			*c.Value.Products[1].Average = c.Value.Products[1].Average.Add(decimal.New(1, -3))
		}, "Cost: average cost of product S20"},
		{"a test of value", func(c *report.Close) { c.Value.Products[0].Carrying.Money++ }, "Cost: products whose lower of cost and value"},
		{"fixed costs", func(c *report.Close) { c.Value.Fixed.Unallocated.Money++ }, "Cost: fixed costs that are not those on record"},
		{"a posting", func(c *report.Close) { c.Value.Journal[0].Amount.Money++ }, "against the journal"},
		{"a day", func(c *report.Close) {
			c.Month.Days[len(c.Month.Days)-1].Solids[ledger.PileID{Yard: "Y", Code: "P1"}]++
		}, "Days: all piles at the end of the last day"},
	} {
		t.Run(c.name, func(t *testing.T) {
			hostile := hostileClose(t)
			c.change(hostile)
			data := writtenClose(t, hostile, maxSheetRows)
			if got := allChecks(t, data); got != wordBroken {
				t.Errorf("the cover says %s", got)
			}
			broken := brokenChecks(t, open(t, data))
			if !slices.ContainsFunc(broken, func(s string) bool { return strings.Contains(s, c.broken) }) {
				t.Errorf("broken are %q; want %q among them", broken, c.broken)
			}
		})
	}
}

// brokenChecks returns the names of the checks that a workbook says are broken.
func brokenChecks(t *testing.T, f *excelize.File) []string {
	t.Helper()
	rows, err := f.GetRows("Checks")
	if err != nil {
		t.Fatal(err)
	}
	var broken []string
	for _, r := range rows {
		if len(r) > 9 && r[9] == wordBroken {
			broken = append(broken, r[1])
		}
	}
	return broken
}

// A draft says so wherever it is read or printed, and has no seal.
func TestDraft(t *testing.T) {
	f := open(t, writtenClose(t, emptyClose(t), maxSheetRows))
	got := make(map[string]string)
	rows, err := f.GetRows("Cover")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if len(r) > 1 {
			got[r[0]] = r[1]
		}
	}
	if got["State"] != "draft: the month is open" || got["SHA-256 of the seal"] != "none before the close" || got["Closed by"] != "" {
		t.Errorf("cover %q", got)
	}
	for _, sheet := range f.GetSheetList() {
		if h, err := f.GetHeaderFooter(sheet); err != nil || !strings.Contains(h.OddHeader, "2026-10 draft") {
			t.Errorf("sheet %s is printed with the header %+v, %v", sheet, h, err)
		}
	}
}

// A month may have a million entries, which take as long to read as to write.
func TestEntriesAreReadOnce(t *testing.T) {
	c := hostileClose(t)
	entries, readings := c.Entries, 0
	c.Entries = func(yield func(*ledger.Entry, error) bool) {
		readings++
		entries(yield)
	}
	if err := Write(t.Context(), io.Discard, c); err != nil || readings != 1 {
		t.Errorf("%d readings, %v", readings, err)
	}
}

func TestWriteStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Write(ctx, io.Discard, hostileClose(t)); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	lost := errors.New("the book is gone")
	for _, after := range []int{0, 1, hostileClose(t).Month.Entries} {
		c := hostileClose(t)
		entries, n := c.Entries, 0
		c.Entries = func(yield func(*ledger.Entry, error) bool) {
			for e, err := range entries {
				if n++; n > after {
					break
				}
				if !yield(e, err) {
					return
				}
			}
			yield(nil, lost)
		}
		if err := Write(t.Context(), io.Discard, c); !errors.Is(err, lost) {
			t.Errorf("reading fails after %d entries: %v", after, err)
		}
	}
}
