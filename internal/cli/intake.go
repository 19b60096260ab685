package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/intake"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

func newIntake(a *app) *cobra.Command {
	var maps []string
	var dryRun bool
	c := &cobra.Command{
		Use:   "intake PATH...",
		Short: "Take exports and tables into the book",
		Long: `Takes in CSV files, .xlsx workbooks and folders of them. The name of a file or sheet says which table it
is: loads-2026-10.csv is the table loads. An export with columns of its own is taken in through a column
map (--map). Everything is taken in, or nothing: every bad row is named with file, row and column, and the
book stays as it was.

The same file or row again changes nothing. A row under the key of a record that the book holds with other
content is a conflict: the held record stays in force until somebody decides (repose conflicts). The
original bytes of every file are kept in the book.

Exit code 3 says that there were conflicts.`,
		Example: `  repose intake exports/
  repose intake deck.csv --map deck-map.toml
  repose intake exports/ --dry-run`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage(errors.New("want at least one file or folder"))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runIntake(cmd.Context(), a, args, maps, dryRun) },
	}
	c.Flags().StringArrayVar(&maps, "map", nil, "a column map `file` (may be given more than once)")
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what would be taken in, and change nothing")
	c.Flags().BoolVar(&a.json, "json", false, "print one JSON document instead of text")
	return c
}

func runIntake(ctx context.Context, a *app, paths, mapPaths []string, dryRun bool) error {
	files, err := planIntake(paths, mapPaths)
	if err != nil {
		return err
	}
	rep, err := a.takeIn(ctx, a.path(), files, a.person(), a.now(), dryRun)
	if err != nil {
		return err
	}
	if a.json {
		err = printJSON(a.Out, intakeJSON(rep, dryRun))
	} else {
		err = a.printIntake(rep, dryRun)
	}
	if err == nil && countConflicts(rep) > 0 {
		return errFound
	}
	return err
}

func planIntake(paths, mapPaths []string) ([]intake.File, error) {
	var maps []*intake.Map
	for _, p := range mapPaths {
		data, err := os.ReadFile(p)
		if err != nil {
			return nil, err
		}
		m, err := intake.ReadMap(filepath.Base(p), data)
		if err != nil {
			return nil, err
		}
		maps = append(maps, m)
	}
	return intake.Plan(paths, maps)
}

// takeIn takes files into the book at a path, all or nothing. Where there is no book yet it makes one
// beside its place and puts it there whole, so that a call that takes nothing in leaves nothing behind,
// and never touches a book that another program has made meanwhile.
func (a *app) takeIn(ctx context.Context, path string, files []intake.File, by string, now time.Time, dryRun bool) (intake.Report, error) {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return a.takeInto(ctx, path, files, by, now, dryRun)
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+".new")
	if err != nil {
		return intake.Report{}, err
	}
	defer os.RemoveAll(dir)
	fresh := filepath.Join(dir, filepath.Base(path))
	rep, err := a.takeInto(ctx, fresh, files, by, now, dryRun)
	if err != nil || dryRun {
		return rep, err
	}
	err = os.Link(fresh, path) // unlike a rename, this fails where something stands
	switch {
	case errors.Is(err, fs.ErrExist):
		return a.takeInto(ctx, path, files, by, now, dryRun)
	case err != nil: // a file system without links
		err = os.Rename(fresh, path)
	}
	return rep, err
}

// takeInto takes files into the book at a path, which it makes where there is none.
func (a *app) takeInto(ctx context.Context, path string, files []intake.File, by string, now time.Time, dryRun bool) (rep intake.Report, err error) {
	store, err := sqlite.Open(ctx, path, sqlite.Create)
	if err != nil {
		return rep, err
	}
	defer closing(store, &err)
	tx, err := store.Begin(ctx, by, now)
	if err != nil {
		return rep, err
	}
	defer tx.Rollback()
	r, err := book.Read(ctx, store, time.Time{})
	if err != nil {
		return rep, err
	}
	bar := a.Progress("taking in", -1, false)
	defer bar.Done()
	rows, last := int64(0), intake.Progress{}
	rep, err = intake.Run(ctx, files, known(r), sink{tx}, func(p intake.Progress) {
		if p.File != last.File {
			rows += int64(last.Rows)
		}
		last = p
		bar.Set(rows + int64(p.Rows))
	})
	if err != nil || dryRun {
		return rep, err
	}
	return rep, tx.Commit()
}

// known is what rows may refer to in a book.
func known(r *book.Reader) intake.Known {
	k := intake.Known{Yards: r.Register().Yards(), Products: r.Register().Products()}
	for _, y := range k.Yards {
		k.Piles = append(k.Piles, r.Register().Piles(y.Code, time.Time{}, time.Unix(1<<40, 0))...)
	}
	return k
}

// sink is a transaction of the book as intake wants it.
type sink struct{ tx *sqlite.Tx }

func (s sink) AddFile(name string, r io.Reader, mapSHA string) (string, bool, error) {
	return s.tx.AddFile(name, r, mapSHA)
}

func (s sink) Draft(recs []ledger.Record) func() (int, error) {
	d := s.tx.Draft(recs)
	return func() (int, error) { return s.tx.AppendDraft(d) }
}

func (s sink) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	outcome, held, err := s.tx.Append(rec)
	switch outcome {
	case sqlite.New:
		return intake.New, held, err
	case sqlite.Held:
		return intake.Held, held, err
	case sqlite.Conflicting:
		return intake.Conflicting, held, err
	}
	return 0, held, err
}

func countConflicts(rep intake.Report) int {
	n := 0
	for _, t := range rep.Tables {
		n += len(t.Conflicts)
	}
	return n
}

// intakeFile is one table of an intake in JSON.
type intakeFile struct {
	File      string           `json:"file"`
	Sheet     string           `json:"sheet,omitempty"`
	SHA256    string           `json:"sha256"`
	Map       string           `json:"map,omitempty"`
	Table     string           `json:"table"`
	Rows      int              `json:"rows"`
	New       int              `json:"new"`
	Held      int              `json:"held"`
	Conflicts int              `json:"conflicts"`
	Rejected  int              `json:"rejected"`
	Void      int              `json:"void"`
	Mass      report.Tonnes    `json:"mass_t"`
	NewMass   report.Tonnes    `json:"new_mass_t"`
	Suspense  int              `json:"unknown_pile"`
	Wet       int              `json:"wet_basis_converted"`
	Ignored   []string         `json:"ignored_columns,omitempty"`
	Details   []intakeConflict `json:"conflict_details,omitempty"`
}

type intakeConflict struct {
	Row         int               `json:"row"`
	Held        string            `json:"held"`
	Differences []fieldDifference `json:"differences"`
}

type fieldDifference struct {
	Field    string `json:"field"`
	Held     string `json:"held"`
	Incoming string `json:"incoming"`
}

func intakeJSON(rep intake.Report, dryRun bool) any {
	out := struct {
		Schema int          `json:"schema"`
		DryRun bool         `json:"dry_run"`
		Files  []intakeFile `json:"files"`
	}{report.Schema, dryRun, []intakeFile{}}
	for _, t := range rep.Tables {
		f := intakeFile{File: t.File, Sheet: t.Sheet, SHA256: t.SHA256, Map: t.Map, Table: t.Table, Rows: t.Rows, New: t.New,
			Held: t.Held, Conflicts: len(t.Conflicts), Rejected: t.Rejected, Void: t.Void, Mass: report.Tonnes(t.Mass),
			NewMass: report.Tonnes(t.NewMass), Suspense: t.Suspense, Wet: t.WetMoistures, Ignored: t.Ignored}
		for _, c := range t.Conflicts {
			d := intakeConflict{Row: c.Row, Held: c.Held}
			for _, x := range c.Differences {
				d.Differences = append(d.Differences, fieldDifference(x))
			}
			f.Details = append(f.Details, d)
		}
		out.Files = append(out.Files, f)
	}
	return out
}

func (a *app) printIntake(rep intake.Report, dryRun bool) error {
	u := report.YardUnit(ledger.UnitTonne)
	t := report.NewTable("file", "table", ">rows", ">new", ">already held", ">conflicts", ">t as weighed")
	for _, f := range rep.Tables {
		name := f.File
		if f.Sheet != "" {
			name += "[" + f.Sheet + "]"
		}
		mass := ""
		if f.Mass != 0 {
			mass = u.Format(f.Mass)
		}
		t.Row(name, f.Table, fmt.Sprint(f.Rows), fmt.Sprint(f.New), fmt.Sprint(f.Held), fmt.Sprint(len(f.Conflicts)), mass)
	}
	if _, err := t.WriteTo(a.Out); err != nil {
		return err
	}
	for _, p := range rep.PassedOver {
		fmt.Fprintf(a.Out, "%s[%s]: passed over, not a table\n", p.File, p.Sheet)
	}
	for _, f := range rep.Tables {
		a.printIntakeNotes(f)
	}
	if dryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}

// printIntakeNotes says what a reader of the summary should know of a table.
func (a *app) printIntakeNotes(f intake.TableReport) {
	if len(f.Ignored) > 0 {
		fmt.Fprintf(a.Out, "%s: columns that the map does not name: %s\n", f.File, strings.Join(f.Ignored, ", "))
	}
	if f.Suspense > 0 {
		fmt.Fprintf(a.Out, "%s: %d rows of a pile that is not in the register; they wait in suspense\n", f.File, f.Suspense)
	}
	if f.WetMoistures > 0 {
		fmt.Fprintf(a.Out, "%s: %d moistures converted from wet to dry basis\n", f.File, f.WetMoistures)
	}
	if f.RepeatedHours > 0 {
		fmt.Fprintf(a.Out, "%s: %d rows of an hour that the clock showed twice, settled by ticket order\n", f.File, f.RepeatedHours)
	}
	for _, c := range f.Conflicts {
		fmt.Fprintf(a.Out, "%s:%d: conflict with %s\n", f.File, c.Row, c.Held)
		for _, d := range c.Differences {
			fmt.Fprintf(a.Out, "    %s: held %q, came in as %q\n", d.Field, d.Held, d.Incoming)
		}
	}
}
