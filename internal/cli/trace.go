package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/intake"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newTrace(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "trace ID",
		Short: "From a ticket, record, account or file row to what stands behind it, and back",
		Long: `Finds the records behind a name and shows each with the row of the file that it came from, what replaced
it, and what it did to the book. The name may be

  a record's ID          load:UMB:L1/L1-11555
  a ticket or survey     L1-11555
  a row of a file        loads-2026-10.csv:14
  an exception           2610-4KX9T2MB          every record that it names
  an account in a month  pile:UMB:TEN@2026-10   every entry that makes up the figure`,
		Example: `  repose trace L1-11555
  repose trace loads-2026-10.csv:14
  repose trace pile:UMB:TEN@2026-10`,
		Args: exactly(1, "one name"),
		RunE: func(cmd *cobra.Command, args []string) error { return runTrace(cmd.Context(), a, args[0]) },
	})
}

// traced is one record in JSON.
type traced struct {
	ID         string            `json:"id"`
	At         *time.Time        `json:"at"`
	Recorded   time.Time         `json:"recorded"`
	By         string            `json:"by"`
	Seq        int64             `json:"seq"`
	File       string            `json:"file,omitempty"`
	SHA256     string            `json:"file_sha256,omitempty"`
	Sheet      string            `json:"sheet,omitempty"`
	Row        int               `json:"row,omitempty"`
	Original   string            `json:"original,omitempty"` // the row as it stands in the file
	Fields     map[string]string `json:"fields"`
	Replaces   string            `json:"replaces,omitempty"`
	ReplacedBy string            `json:"replaced_by,omitempty"`
	Period     string            `json:"period,omitempty"` // in which it is entered
	Flags      []string          `json:"flags,omitempty"`
	Legs       []tracedLeg       `json:"legs"`
}

type tracedLeg struct {
	From   string        `json:"from"`
	To     string        `json:"to"`
	Solids report.Tonnes `json:"solids_t"`
	Water  report.Tonnes `json:"water_t"`
}

func runTrace(ctx context.Context, a *app, name string) error {
	return a.read(ctx, func(store *sqlite.Book, r *book.Reader) error {
		if account, period, ok := accountInPeriod(name); ok {
			return traceAccount(ctx, a, r, account, period)
		}
		records, err := a.findRecords(ctx, store, r, name)
		if err != nil {
			return err
		}
		records = slices.DeleteFunc(records, func(rec *ledger.Record) bool { return !r.Knows(rec) })
		if len(records) == 0 {
			return fmt.Errorf("%q: the book as asked for does not have it yet", name)
		}
		files, err := store.Latest().Files(ctx)
		if err != nil {
			return err
		}
		var out []traced
		for _, rec := range records {
			t, err := traceRecord(ctx, store, r, files, rec)
			if err != nil {
				return err
			}
			out = append(out, t)
		}
		if a.json {
			return printJSON(a.Out, struct {
				Schema  int      `json:"schema"`
				Records []traced `json:"records"`
			}{report.Schema, out})
		}
		for i, t := range out {
			if i > 0 {
				fmt.Fprintln(a.Out)
			}
			a.printTraced(t)
		}
		return nil
	})
}

// findRecords finds the records behind a name: a row of a file, an ID, key or ticket, or an exception.
func (a *app) findRecords(ctx context.Context, store *sqlite.Book, r *book.Reader, name string) ([]*ledger.Record, error) {
	if i := strings.LastIndexByte(name, ':'); i > 0 {
		if row, err := strconv.Atoi(name[i+1:]); err == nil {
			records, err := store.BySource(ctx, name[:i], row)
			if err == nil && len(records) > 0 {
				return records, nil
			}
			if err != nil && !errors.Is(err, sqlite.ErrNoFile) {
				return nil, err
			}
		}
	}
	records, err := store.Lookup(ctx, name)
	switch {
	case err != nil || len(records) > 0:
		return records, err
	case book.IsExceptionID(strings.ToUpper(name)):
		return a.recordsOfException(ctx, r, strings.ToUpper(name))
	}
	return nil, fmt.Errorf("%q: no record, ticket, file row, exception or account of that name is in the book", name)
}

func (a *app) recordsOfException(ctx context.Context, r *book.Reader, id string) (records []*ledger.Record, err error) {
	y, err := r.Yard(a.yard)
	if err != nil {
		return nil, err
	}
	_, near, err := r.Exception(ctx, y.Code, id)
	if err != nil {
		return nil, err
	}
	for _, n := range near {
		if n.Named {
			records = append(records, n.Record)
		}
	}
	if len(records) == 0 {
		return nil, fmt.Errorf("exception %s names no record: repose exceptions %s shows what it is about", id, id)
	}
	return records, nil
}

func traceRecord(ctx context.Context, store *sqlite.Book, r *book.Reader, files []sqlite.FileInfo, rec *ledger.Record) (traced, error) {
	t := traced{ID: rec.ID(), Recorded: rec.Recorded, By: rec.By, Seq: rec.Seq, SHA256: rec.Source.File, Sheet: rec.Source.Sheet,
		Row: rec.Source.Row, Fields: map[string]string{}, Replaces: r.Register().Replaced(rec),
		ReplacedBy: r.Register().ReplacedBy(rec), Legs: []tracedLeg{}}
	if !rec.At.IsZero() {
		t.At = &rec.At
	}
	for _, f := range rec.Fields() {
		t.Fields[f.Name] = f.Value
	}
	if i := slices.IndexFunc(files, func(f sqlite.FileInfo) bool { return f.SHA256 == rec.Source.File }); i >= 0 {
		t.File = files[i].Name
		var err error
		if t.Original, err = originalRow(ctx, store, files[i], rec.Source.Row); err != nil {
			return t, err
		}
	}
	e, err := r.EntryOf(ctx, rec)
	if err != nil || e == nil {
		return t, err
	}
	t.Period, t.Flags = e.Period.String(), e.Flags.Names()
	for _, l := range e.Legs {
		t.Legs = append(t.Legs, tracedLeg{l.From.String(), l.To.String(), report.Tonnes(l.Solids), report.Tonnes(l.Water)})
	}
	return t, nil
}

// originalRow returns a row of a text file as it stands in the file, unless it cannot be shown.
func originalRow(ctx context.Context, store *sqlite.Book, f sqlite.FileInfo, row int) (string, error) {
	if row == 0 || !strings.EqualFold(path.Ext(f.Name), ".csv") {
		return "", nil
	}
	var content, text bytes.Buffer
	if err := store.FileContent(ctx, f.SHA256, &content); err != nil {
		return "", err
	}
	decoded, err := decode(ctx, store, f, &content)
	if err == nil {
		_, err = text.ReadFrom(decoded)
	}
	if err != nil {
		return "", err
	}
	line := 1
	for l := range bytes.Lines(text.Bytes()) {
		if line == row {
			return strings.ToValidUTF8(strings.TrimRight(string(l), "\r\n"), "\uFFFD"), nil
		}
		line++
	}
	return "", nil
}

// decode returns the text of a file that was taken in, in the characters that its column map says it has.
func decode(ctx context.Context, store *sqlite.Book, f sqlite.FileInfo, content io.Reader) (io.Reader, error) {
	var columns *intake.Map
	if f.Map != "" {
		var data bytes.Buffer
		if err := store.FileContent(ctx, f.Map, &data); err != nil {
			return nil, err
		}
		var err error
		if columns, err = intake.ReadMap(f.Map, data.Bytes()); err != nil {
			return nil, err
		}
	}
	return columns.Decode(f.Name, content)
}

func (a *app) printTraced(t traced) {
	fmt.Fprintln(a.Out, t.ID)
	if t.At != nil {
		fmt.Fprintf(a.Out, "  happened   %s\n", t.At.Format(time.RFC3339Nano))
	}
	fmt.Fprintf(a.Out, "  taken in   %s by %s, record %d of the log\n", t.Recorded.Format(time.RFC3339), t.By, t.Seq)
	if t.File != "" {
		sheet := ""
		if t.Sheet != "" {
			sheet = " sheet " + t.Sheet
		}
		fmt.Fprintf(a.Out, "  from       %s%s row %d (SHA-256 %.12s...)\n", t.File, sheet, t.Row, t.SHA256)
	}
	if t.Original != "" {
		fmt.Fprintf(a.Out, "  original   %s\n", t.Original)
	}
	if t.File == "" { // the program wrote it: nothing but the record says what it states
		for _, name := range slices.Sorted(maps.Keys(t.Fields)) {
			fmt.Fprintf(a.Out, "  states     %s: %s\n", name, strings.ReplaceAll(t.Fields[name], "\n", ", "))
		}
	}
	if t.Replaces != "" {
		fmt.Fprintf(a.Out, "  replaces   %s\n", t.Replaces)
	}
	if t.ReplacedBy != "" {
		fmt.Fprintf(a.Out, "  replaced by %s\n", t.ReplacedBy)
	}
	if t.Period != "" {
		fmt.Fprintf(a.Out, "  entered in %s%s\n", t.Period, join(" (", t.Flags, ")"))
	}
	for _, l := range t.Legs {
		fmt.Fprintf(a.Out, "  moved      %s t solids, %s t water, from %s to %s\n", l.Solids.Mass().Tonnes(), l.Water.Mass().Tonnes(), l.From, l.To)
	}
	if len(t.Legs) == 0 {
		fmt.Fprintln(a.Out, "  moved      nothing")
	}
}

func join(before string, words []string, after string) string {
	if len(words) == 0 {
		return ""
	}
	return before + strings.Join(words, ", ") + after
}

// accountInPeriod reads kind:yard:name@YYYY-MM.
func accountInPeriod(name string) (ledger.Account, ledger.Period, bool) {
	i := strings.LastIndexByte(name, '@')
	if i < 0 {
		return ledger.Account{}, ledger.Period{}, false
	}
	account, err := ledger.ParseAccount(name[:i])
	if err != nil {
		return ledger.Account{}, ledger.Period{}, false
	}
	p, err := ledger.ParsePeriod(name[i+1:])
	return account, p, err == nil
}

// tracedEntry is one entry of an account in JSON.
type tracedEntry struct {
	ID      string        `json:"id"`
	At      time.Time     `json:"at"`
	File    string        `json:"file_sha256,omitempty"`
	Row     int           `json:"row,omitempty"`
	Solids  report.Tonnes `json:"solids_t"` // into the account if positive
	Water   report.Tonnes `json:"water_t"`
	Balance report.Tonnes `json:"balance_solids_t"`
}

func traceAccount(ctx context.Context, a *app, r *book.Reader, account ledger.Account, p ledger.Period) error {
	entries := []tracedEntry{}
	m, err := r.Month(ctx, account.Yard, p, func(e *ledger.Entry) error {
		var in ledger.Amount
		for _, l := range e.Legs {
			if l.To == account {
				in = ledger.Amount{Solids: in.Solids + l.Solids, Water: in.Water + l.Water}
			}
			if l.From == account {
				in = ledger.Amount{Solids: in.Solids - l.Solids, Water: in.Water - l.Water}
			}
		}
		if !in.IsZero() {
			entries = append(entries, tracedEntry{ID: e.Record.ID(), At: e.At(), File: e.Record.Source.File, Row: e.Record.Source.Row,
				Solids: report.Tonnes(in.Solids), Water: report.Tonnes(in.Water)})
		}
		return nil
	})
	if err != nil {
		return err
	}
	opening, closing := m.Opening.Balances[account], m.Closing.Balances[account]
	balance := opening.Solids
	for i := range entries {
		balance += entries[i].Solids.Mass()
		entries[i].Balance = report.Tonnes(balance)
	}
	if a.json {
		return printJSON(a.Out, struct {
			Schema  int           `json:"schema"`
			Account string        `json:"account"`
			Period  string        `json:"period"`
			Opening report.Tonnes `json:"opening_solids_t"`
			Entries []tracedEntry `json:"entries"`
			Closing report.Tonnes `json:"closing_solids_t"`
		}{report.Schema, account.String(), p.String(), report.Tonnes(opening.Solids), entries, report.Tonnes(closing.Solids)})
	}
	u := a.unit(r)
	t := report.NewTable("instant", "record", ">solids", ">water", ">balance")
	t.Row("", "opening", u.Format(opening.Solids), u.Format(opening.Water), u.Format(opening.Solids))
	for _, e := range entries {
		t.Row(e.At.In(m.Zone).Format("2006-01-02 15:04:05"), e.ID, u.Format(e.Solids.Mass()), u.Format(e.Water.Mass()), u.Format(e.Balance.Mass()))
	}
	t.Row("", "closing", u.Format(closing.Solids), u.Format(closing.Water), u.Format(closing.Solids))
	t.Total = true
	_, err = t.WriteTo(a.Out)
	return err
}
