package workbook

import (
	"bytes"
	"fmt"
	"iter"
	"testing"
	"time"

	"github.com/shopspring/decimal"
)

// sampleProps are the properties of the invented yard that the tests write about. Its zone is a half
// hour off, so that nothing passes by whole hours.
func sampleProps(t testing.TB) properties {
	t.Helper()
	return properties{
		title:    "Stockpile close",
		subtitle: "Yard North · period 2026-10 · masses are oven-dry solids",
		author:   "Yard office",
		program:  "Repose test",
		made:     time.Date(2026, 11, 3, 14, 30, 0, 0, time.UTC),
		zone:     time.FixedZone("Yard/North", 5*3600+1800),
		page:     pageText{headLeft: "Yard North & Sons", headRight: "2026-10 closed", footLeft: "head 9f2c41d07be85a36"},
	}
}

// movement is one posting of the sample.
type movement struct {
	ticket   string
	at       time.Time
	pile     string
	purpose  string
	grams    int64
	moisture decimal.Decimal
}

var samplePiles = []string{"0/4", "<32 mm", "8/16 *washed*", "010"}

// movements returns n postings that look alike in every run.
func movements(n int) []movement {
	purposes := []string{"sale", "internal", "made"}
	out := make([]movement, n)
	for i := range out {
		out[i] = movement{
			ticket:   fmt.Sprintf("%06d", 4100+i),
			at:       time.Date(2026, 10, 1, 1, 7*i%60, 0, 0, time.UTC).Add(time.Duration(i) * 37 * time.Minute),
			pile:     samplePiles[i%len(samplePiles)],
			purpose:  purposes[i%3],
			grams:    int64(8_000_000 + (i*7_919_123)%24_000_000),
			moisture: decimal.New(int64(150+i*37%500), -2),
		}
	}
	return out
}

// sumOf adds up the movements of a pile and purpose; "" is any.
func sumOf(ms []movement, pile, purpose string) int64 {
	var sum int64
	for _, m := range ms {
		if (pile == "" || m.pile == pile) && (purpose == "" || m.purpose == purpose) {
			sum += m.grams
		}
	}
	return sum
}

func movementRows(ms []movement) iter.Seq2[[]value, error] {
	return func(yield func([]value, error) bool) {
		row := make([]value, 6)
		for _, m := range ms {
			row[0], row[1], row[2] = text(m.ticket), instant(m.at), text(keyText("pile", m.pile))
			row[3], row[4], row[5] = text(m.purpose), tonnes(m.grams), percent(m.moisture)
			if !yield(row, nil) {
				return
			}
		}
	}
}

// movementTable declares the long table of the sample.
func movementTable(s *sheet, ms []movement) *table {
	return s.table(tableSpec{
		name: "Movements", count: len(ms), rows: movementRows(ms), long: true, frozen: 1,
		columns: []column{
			{key: "ticket", head: "Ticket", kind: kindText, width: 12},
			{key: "at", head: "Time", kind: kindInstant},
			{key: "pile", head: "Pile", kind: kindText, isKey: true, width: 22},
			{key: "purpose", head: "Purpose", kind: kindText, isKey: true},
			{key: "net", head: "Net", kind: kindTonnes},
			{key: "moisture", head: "Moisture", unit: "% dry", kind: kindPercent},
		},
		total: []value{text("All"), {}, {}, {}, tonnes(sumOf(ms, "", "")), {}},
	})
}

// sampleBook declares a book with every feature of the base layer, on sheets of a number of rows.
func sampleBook(t testing.TB, ms []movement, sheetRows int) *book {
	t.Helper()
	b := newBook(sampleProps(t))
	b.sheetRows = sheetRows
	cover := b.sheet("00 Cover", "Stockpile close of October")
	checks := b.sheet("01 Checks", "Checks")
	lead := b.sheet("02 Lead", "Lead schedule")
	days := b.sheet("Days", "Stock by day")
	moves := b.sheet("Movements", "Movements")

	table := movementTable(moves, ms)
	leads := sampleLead(lead, table, ms)
	sampleDays(days)
	tests := sampleChecks(checks, leads, table, ms)
	b.name("MovedTotal", table.totalCell("net"))

	cover.heading("What this is")
	cover.note("The book of what lies in the piles of the yard, held against the surveys, for one month. " +
		"Figures in blue italic were set by a person; upright black ones are worked out in this workbook; grey ones with a rule at their side are the program's own, held against them.")
	cover.gap()
	cover.table(tableSpec{
		name: "Cover", count: 5,
		columns: []column{
			{key: "what", head: "What", kind: kindText, width: 24},
			{key: "is", head: "Is", kind: kindAny, width: 30, role: roleInput},
			{key: "see", head: "See", kind: kindText, width: 18, role: roleLink},
		},
		rows: rowsOf(
			[]value{text("Yard"), text("North"), {}},
			[]value{text("First day"), date(time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)), {}},
			[]value{text("Dry bulk density, 0/4"), number(decimal.RequireFromString("1.482")), {}},
			[]value{text("Limit, share of throughput"), percent(decimal.RequireFromString("1.5")), {}},
			[]value{text("All checks"), computed(allOK(tests.column("result")), check(false)), link("01 Checks", tests.cell("result", 0))},
		),
	})
	return b
}

func sampleLead(s *sheet, moved *table, ms []movement) *table {
	opening := int64(1_250_000_000)
	var rows [][]value
	sums := [4]int64{}
	for i, p := range samplePiles {
		open := opening + int64(i)*333_333_333
		made, sold, used := sumOf(ms, p, "made"), sumOf(ms, p, "sale"), sumOf(ms, p, "internal")
		closing := open + made - sold - used
		survey := closing - int64(i-1)*41_500_000
		rows = append(rows, []value{text(keyText("pile", p)), tonnes(open), tonnes(made), tonnes(sold), tonnes(used),
			tonnes(closing), tonnes(survey), tonnes(closing - survey), ratio(float64(closing-survey) / float64(closing)),
			text(map[bool]string{true: "outside", false: "inside"}[i == 3])})
		for j, v := range []int64{open, closing, survey, closing - survey} {
			sums[j] += v
		}
	}
	flow := func(purpose string) string {
		return sumIfs(moved.column("net"), where(moved.column("pile"), "{pile}"), where(moved.column("purpose"), quoted(purpose)))
	}
	t := s.table(tableSpec{
		name: "Lead", count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1,
		columns: []column{
			{key: "pile", head: "Pile", kind: kindText, isKey: true, width: 20},
			{key: "opening", head: "Opening", kind: kindTonnes},
			{key: "made", head: "Made", kind: kindTonnes, formula: flow("made")},
			{key: "sold", head: "Sold", kind: kindTonnes, formula: flow("sale")},
			{key: "used", head: "Used inside", kind: kindTonnes, formula: flow("internal")},
			{key: "closing", head: "Book at the survey", kind: kindTonnes, formula: "{opening}+{made}-{sold}-{used}"},
			{key: "survey", head: "Survey", kind: kindTonnes, role: roleInput},
			{key: "missing", head: "Book less survey", kind: kindTonnes, formula: "{closing}-{survey}"},
			{key: "share", head: "Share of book", kind: kindPercent, formula: "IF({closing}=0,0,{missing}/{closing})"},
			{key: "verdict", head: "Verdict", kind: kindText, alarm: []string{"outside"}, choices: []string{"inside", "outside"}, width: 12},
		},
		total: []value{text("All piles"), tonnes(sums[0]), tonnes(sumOf(ms, "", "made")), tonnes(sumOf(ms, "", "sale")),
			tonnes(sumOf(ms, "", "internal")), tonnes(sums[1]), tonnes(sums[2]), tonnes(sums[3]),
			computed("{missing}/{closing}", ratio(float64(sums[3])/float64(sums[1]))), {}},
	})
	s.columnChart(chartSpec{title: "Book against survey", xTitle: "Pile", yTitle: "Dry solids [t]", table: t, x: "pile",
		y: []string{"closing", "survey"}, alt: "Columns of book and survey mass for each pile"})
	return t
}

func sampleDays(s *sheet) {
	var rows [][]value
	columns := []column{{key: "day", head: "Day", kind: kindDate}}
	for i, p := range samplePiles {
		columns = append(columns, column{key: fmt.Sprintf("pile%d", i), head: p, kind: kindTonnes})
	}
	for d := range 31 {
		row := []value{date(time.Date(2026, 10, d+1, 0, 0, 0, 0, time.UTC))}
		for i := range samplePiles {
			row = append(row, tonnes(int64(1+i)*400_000_000+int64(d*(i+2)*7919%23)*12_345_678))
		}
		rows = append(rows, row)
	}
	t := s.table(tableSpec{name: "Days", columns: columns, count: len(rows), rows: rowsOf(rows...), main: true, frozen: 1})
	s.lineChart(chartSpec{title: "Stock over the month", xTitle: "Day of October", yTitle: "Dry solids [t]", table: t, x: "day",
		y: []string{"pile0", "pile1", "pile2", "pile3"}, alt: "Lines of the stock of each pile from the first to the last day of the month"})
}

func sampleChecks(s *sheet, lead, moved *table, ms []movement) *table {
	moves := sumOf(ms, "", "")
	return s.table(tableSpec{
		name: "Checks", count: 3, main: true,
		columns: []column{
			{key: "check", head: "Check", kind: kindText, width: 44, wrap: true},
			{key: "found", head: "Found", kind: kindTonnes, role: roleCalculation},
			{key: "expected", head: "Ledger's own", kind: kindTonnes, role: roleControl},
			{key: "tolerance", head: "Tolerance", kind: kindTonnes, role: roleInput},
			{key: "result", head: "Result", kind: kindCheck, formula: "ABS({found}-{expected})<={tolerance}"},
		},
		rows: rowsOf(
			[]value{text("Movements add up to the ledger's total"), computed(moved.column("net").sum(), tonnes(moves)), tonnes(moves), tonnes(1), check(true)},
			[]value{text("Lead foots: opening and made less sold and used is the book; a long line that has to be broken to be read"),
				computed(lead.totalCell("opening").String()+"+"+lead.totalCell("made").String()+"-"+lead.totalCell("sold").String()+"-"+lead.totalCell("used").String(),
					tonnes(7_000_000_000-2+sumOf(ms, "", "made")-sumOf(ms, "", "sale")-sumOf(ms, "", "internal"))),
				computed(lead.totalCell("closing").String(), tonnes(7_000_000_000-2+sumOf(ms, "", "made")-sumOf(ms, "", "sale")-sumOf(ms, "", "internal"))), tonnes(1), check(true)},
			[]value{text("A tonne off, to see what that looks like"), computed("{found@above}-{expected@above}", tonnes(0)), tonnes(1_000_000), tonnes(1), check(false)},
		),
	})
}

// written writes a book that must be sound.
func written(t testing.TB, b *book) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := b.write(t.Context(), &buf); err != nil {
		t.Fatalf("write: %v", err)
	}
	return buf.Bytes()
}
