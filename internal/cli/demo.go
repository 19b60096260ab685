package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/demoyard"
	"repose/internal/intake"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/internal/term"
	"repose/internal/workbook"
	"repose/ledger"
)

// The demonstration takes in and closes at an instant of its own, so that it gives the same book
// everywhere and on every day.
const (
	demoClock = "2026-11-04T09:00:00Z"
	demoClerk = "demo"
	demoDir   = "repose-demo"
)

func newDemo(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "demo [DIR]",
		Short: "See it all on an invented yard",
		Long: `Writes the files of an invented yard into a folder (repose-demo), takes them in as if they had come from
the yard's machines and people, sets three months against their surveys, closes them and writes the
workbook of the last. It says what to look at. Nothing outside the folder is touched; a second run finds
everything in its place.`,
		Example: "  repose demo\n  repose demo somewhere-else",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := demoDir
			if len(args) == 1 {
				dir = args[0]
			}
			return runDemo(cmd.Context(), a, dir)
		},
	}
}

func runDemo(ctx context.Context, a *app, dir string) error {
	now, err := time.Parse(time.RFC3339, demoClock)
	if err != nil {
		return err
	}
	files, truth, err := demoyard.Files()
	if err != nil {
		return err
	}
	yard := filepath.Join(dir, "files")
	paths, maps, err := writeDemoFiles(yard, files)
	if err != nil {
		return err
	}
	plan, err := planIntake(paths, maps)
	if err != nil {
		return err
	}
	bookPath := filepath.Join(dir, "repose.book")
	rep, err := a.takeIn(ctx, bookPath, plan, demoClerk, now, false)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.Out, "The invented yard %s: %d files in %s, taken into %s.\n", truth.Yard, len(files), yard, bookPath)
	a.printDemoIntake(rep)
	months, err := a.closeDemo(ctx, bookPath, truth, now)
	if err != nil {
		return err
	}
	last := months[len(months)-1]
	xlsx := filepath.Join(dir, truth.Yard+"-"+last.Period.String()+".xlsx")
	if err := a.demoWorkbook(ctx, bookPath, truth.Yard, last.Period, xlsx); err != nil {
		return err
	}
	return a.printDemo(months, bookPath, xlsx)
}

// writeDemoFiles writes the yard's files into a folder and returns the paths of tables and of maps. A
// file that stands there must be the same.
func writeDemoFiles(dir string, files []demoyard.File) (tables, maps []string, err error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, nil, err
	}
	isMap := map[string]bool{}
	for _, f := range files {
		isMap[f.Map] = true
	}
	for _, f := range files {
		path := filepath.Join(dir, f.Name)
		held, err := os.ReadFile(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			err = term.WriteFile(path, false, func(w io.Writer) error {
				_, err := w.Write(f.Content)
				return err
			})
		case err == nil && !bytes.Equal(held, f.Content):
			err = fmt.Errorf("%s: holds something else than the demonstration's file; name another folder", path)
		}
		if err != nil {
			return nil, nil, err
		}
		if isMap[f.Name] {
			maps = append(maps, path)
		} else {
			tables = append(tables, path)
		}
	}
	return tables, maps, nil
}

func (a *app) printDemoIntake(rep intake.Report) {
	rows, fresh, held := 0, 0, 0
	for _, t := range rep.Tables {
		rows += t.Rows
		fresh += t.New
		held += t.Held
	}
	fmt.Fprintf(a.Out, "Rows read %d: new %d, already held %d (two loader exports overlap), conflicts %d.\n\n", rows, fresh, held, countConflicts(rep))
}

// closeDemo closes the yard's months that are not closed yet and returns them all.
func (a *app) closeDemo(ctx context.Context, path string, truth demoyard.Truth, now time.Time) (months []*book.Month, err error) {
	store, err := sqlite.Open(ctx, path, sqlite.ReadWrite)
	if err != nil {
		return nil, err
	}
	defer closing(store, &err)
	for _, t := range truth.Piles[0].Months {
		p, err := ledger.ParsePeriod(t.Period)
		if err != nil {
			return nil, err
		}
		if err := explainDemo(ctx, store, truth.Yard, p, now); err != nil {
			return nil, err
		}
		_, err = book.Close(ctx, store, book.Closing{Yard: truth.Yard, Period: p, By: demoClerk, Now: now})
		if err != nil && !errors.Is(err, book.ErrClosed) {
			return nil, err
		}
		r, err := book.Read(ctx, store, time.Time{})
		if err != nil {
			return nil, err
		}
		m, err := r.Month(ctx, truth.Yard, p, func(*ledger.Entry) error { return nil })
		if err != nil {
			return nil, err
		}
		months = append(months, m)
	}
	return months, nil
}

func (a *app) demoWorkbook(ctx context.Context, path, yard string, p ledger.Period, xlsx string) error {
	store, err := sqlite.Open(ctx, path, sqlite.ReadOnly)
	if err != nil {
		return err
	}
	defer closing(store, &err)
	r, err := book.Read(ctx, store, time.Time{})
	if err != nil {
		return err
	}
	c, err := r.CloseReport(ctx, yard, p)
	if err != nil {
		return err
	}
	err = term.WriteFile(xlsx, false, func(w io.Writer) error { return workbook.Write(ctx, w, c) })
	if errors.Is(err, term.ErrExists) {
		return nil // of an earlier run; what was noted in it is not ours to lose
	}
	return err
}

// explainDemo explains the missing numbers of a month, as the invented yard's clerk does before a close.
func explainDemo(ctx context.Context, store *sqlite.Book, yard string, p ledger.Period, now time.Time) error {
	r, err := book.Read(ctx, store, time.Time{})
	if err != nil {
		return err
	}
	all, err := r.Exceptions(ctx, yard, p)
	if err != nil {
		return err
	}
	for _, e := range all {
		if e.Rule != "missing number" || e.Status != ledger.ExceptionOpen {
			continue
		}
		_, err := book.Resolve(ctx, store, book.Resolution{Yard: yard, Exceptions: []string{e.ID}, How: book.HowExplain,
			Reason: "a test weighing with the calibration weights, in the scale's own log", By: demoClerk, Now: now})
		if err != nil {
			return err
		}
	}
	return nil
}

// printDemo shows the differences month by month and says what to look at.
func (a *app) printDemo(months []*book.Month, bookPath, xlsx string) error {
	u := report.YardUnit(ledger.UnitTonne)
	heads := []string{"missing (+) or too much (-), t of solids"}
	for _, m := range months {
		heads = append(heads, ">"+m.Period.String(), ">% of book")
	}
	t := report.NewTable(heads...)
	for _, id := range months[0].Piles {
		row := []string{id.Code}
		for _, m := range months {
			c := m.Final(id)
			d := c.Difference()
			row = append(row, u.Format(d), report.PercentText(d, c.Book.Solids))
		}
		t.Row(row...)
	}
	if _, err := t.WriteTo(a.Out); err != nil {
		return err
	}
	last := months[len(months)-1]
	head := last.Close.Fact.(ledger.Close)
	_, err := fmt.Fprintf(a.Out, `
Three months are closed. What to look at:
- One pile is short by far more than the others in %[1]s. Its loads were sold and never recorded: the
  book cannot know it, the survey does.
- %[2]s: the sheets Checks and Book v survey first.
- go run ./cmd/repose reconcile %[1]s --book %[3]s
  the survey of %[1]s was flown on a working day: what moved meanwhile is named.
- go run ./cmd/repose causes %[1]s --book %[3]s
  what could explain it, and what to measure next.
- go run ./cmd/repose exceptions %[1]s --book %[3]s
  what the records themselves show: numbers that are missing, trucks on one scale only.
- go run ./cmd/repose value %[1]s --book %[3]s
  what the stock cost, and whether it is worth that.
- go run ./cmd/repose trace pile:%[4]s:TEN@%[1]s --book %[3]s
- go run ./cmd/repose verify --book %[3]s
Seal of %[1]s: %[5]s
`, last.Period, xlsx, bookPath, last.Yard.Code, head.SealSHA256)
	return err
}
