package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/internal/table"
	"repose/ledger"
)

func newSample(a *app) *cobra.Command {
	var d book.Drawing
	var by, from string
	var plan samplePlan
	c := &cobra.Command{
		Use:   "sample PERIOD --seed TEXT",
		Short: "A sample for the auditor, that anyone can draw again",
		Long: `Draws entries of a month with the rows that they came from (--from entries: is what the book says there), or rows of the
original files with the records that they became (--from files: is what is there in the book). The totals of what was
drawn from stand above it. Rows of files are taken as they stand, titles, headers and other months of a file too.

--by random takes those whose SHA-256 of the seed, a line's end and their name is smallest, so that sha256sum draws the
same again; --by stratum shares them over kinds of record or files; --by mass draws grams, so that an entry is the
likelier drawn the more it moved, and the largest always. Let the auditor choose the seed.

--tolerable says how many a sample by mass needs, to show with --confidence that the book is wrong by no more than that.
--found takes what the auditor found, a table with the columns record and found [t] in solids and a row for every drawn
entry, and says what the errors mean for all entries.`,
		Example: `  repose sample 2026-10 --by mass --tolerable "500 t"
  repose sample 2026-10 --seed "auditor, 9 November" --size 25 --by mass
  repose sample 2026-10 --seed "auditor, 9 November" --size 25 --by mass --found found.csv
  repose sample 2026-10 --seed 4711 --size 25 --from files`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			m, ok := book.DrawingMethods()[by]
			switch {
			case !ok:
				return usage(fmt.Errorf("--by %q: want random, stratum or mass", by))
			case from != "entries" && from != "files":
				return usage(fmt.Errorf("--from %q: want entries or files", from))
			case d.Seed == "" && plan.tolerable == "":
				return usage(errors.New("--seed: want a text of the auditor's choice"))
			case (plan.found != "" || plan.tolerable != "") && from != "entries":
				return usage(errors.New("--found and --tolerable: want --from entries, rows of files have no mass"))
			}
			d.Method = m
			return runSample(cmd.Context(), a, args[0], from, d, plan)
		},
	}
	c.Flags().StringVar(&d.Seed, "seed", "", "any `text`; the same draws the same")
	c.Flags().IntVar(&d.Size, "size", 25, "how `many`")
	c.Flags().StringVar(&by, "by", "random", "`random`, stratum or mass")
	c.Flags().StringVar(&from, "from", "entries", "`entries` of the book, or rows of the files")
	c.Flags().StringVar(&plan.found, "found", "", "a `file` with what the auditor found for every drawn entry")
	c.Flags().StringVar(&plan.tolerable, "tolerable", "", "say how many to draw, for an error of this `mass` that must not go unseen")
	c.Flags().StringVar(&plan.expected, "expected", "0 t", "the `mass` of errors that may come up")
	c.Flags().StringVar(&plan.confidence, "confidence", "95", "in `per cent`")
	return a.reading(c)
}

// samplePlan is what a sample has to show, or what was found in it.
type samplePlan struct{ found, tolerable, expected, confidence string }

func runSample(ctx context.Context, a *app, period, from string, d book.Drawing, plan samplePlan) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	confidence, err := ledger.ParseDecimal(plan.confidence)
	if err != nil {
		return usage(fmt.Errorf("--confidence: %w", err))
	}
	return a.read(ctx, func(store *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		switch {
		case plan.tolerable != "":
			return a.sampleSize(ctx, r, y.Code, p, plan, confidence)
		case plan.found != "":
			found, err := foundMasses(plan.found)
			if err != nil {
				return err
			}
			x, err := r.Project(ctx, y.Code, p, d, found, confidence)
			if err != nil {
				return err
			}
			return a.print(r, x)
		}
		if from == "entries" {
			s, err := r.SampleEntries(ctx, y.Code, p, d)
			if err != nil {
				return err
			}
			return a.print(r, s)
		}
		rows, err := rowsOf(ctx, store, r, y.Code, p)
		if err != nil {
			return err
		}
		s, err := r.SampleRows(ctx, y.Code, p, rows, d)
		if err != nil {
			return err
		}
		return a.print(r, s)
	})
}

// sampleSize prints how many items a sample by mass needs.
func (a *app) sampleSize(ctx context.Context, r *book.Reader, yard string, p ledger.Period, plan samplePlan, confidence decimal.Decimal) error {
	tolerable, err := parseMass(plan.tolerable)
	if err != nil {
		return err
	}
	expected, err := parseMass(plan.expected)
	if err != nil {
		return err
	}
	n, err := r.SizeFor(ctx, yard, p, tolerable, expected, confidence)
	if err != nil {
		return err
	}
	if a.json {
		return printJSON(a.Out, struct {
			Schema int `json:"schema"`
			Size   int `json:"size"`
		}{report.Schema, n})
	}
	_, err = fmt.Fprintf(a.Out, "Draw %d by mass, to show with %s %% confidence that the book holds no more than %s too much, where %s of errors may come up.\n", n, confidence, plan.tolerable, plan.expected)
	return err
}

// foundMasses reads what an auditor found: a table of records and solids.
func foundMasses(file string) (map[string]ledger.Mass, error) {
	content, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	r, err := table.OpenCSV(path.Base(file), bytes.NewReader(content), table.Layout{})
	if err != nil {
		return nil, err
	}
	head := r.Header().Cells
	record, found := slices.Index(head, "record"), slices.Index(head, "found [t]")
	if record < 0 || found < 0 {
		return nil, fmt.Errorf("%s: found the columns %q, wanted record and found [t]", file, head)
	}
	masses := map[string]ledger.Mass{}
	for {
		row, err := r.Next()
		if errors.Is(err, io.EOF) {
			return masses, nil
		}
		if err != nil {
			return nil, err
		}
		m, err := ledger.ParseMass(strings.TrimSpace(row.Cells[found]), ledger.UnitTonne)
		if err != nil {
			return nil, fmt.Errorf("%s:%d:%d: found %q, wanted tonnes", file, row.Number, found+1, row.Cells[found])
		}
		masses[strings.TrimSpace(row.Cells[record])] = m
	}
}

// rowsOf lists the rows of the files that were taken in for a month: the lines of text files as they stand, and the filled
// rows of sheets. It knows nothing of tables, columns and maps, so that what these leave out is among them.
func rowsOf(ctx context.Context, store *sqlite.Book, r *book.Reader, yard string, p ledger.Period) ([]book.Row, error) {
	files, err := r.FilesOf(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	var rows []book.Row
	for _, f := range files {
		var content bytes.Buffer
		if err := store.FileContent(ctx, f.SHA256, &content); err != nil {
			return nil, err
		}
		read := linesOf
		if strings.EqualFold(path.Ext(f.Name), ".xlsx") {
			read = sheetRowsOf
		}
		of, err := read(f, content.Bytes())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, err)
		}
		rows = append(rows, of...)
	}
	return rows, nil
}

func linesOf(f sqlite.FileInfo, content []byte) ([]book.Row, error) {
	var rows []book.Row
	n := 0
	for line := range bytes.Lines(content) {
		n++
		if text := strings.TrimSpace(strings.ToValidUTF8(string(line), "\uFFFD")); text != "" {
			rows = append(rows, book.Row{Name: f.Name, SHA: f.SHA256, Row: n, Text: text})
		}
	}
	return rows, nil
}

func sheetRowsOf(f sqlite.FileInfo, content []byte) ([]book.Row, error) {
	w, err := table.OpenWorkbook(f.Name, bytes.NewReader(content), int64(len(content)))
	if err != nil {
		return nil, err
	}
	var rows []book.Row
	for _, sheet := range w.Sheets() {
		r, err := w.Open(sheet, table.Layout{})
		if err != nil {
			continue // an empty sheet has no rows
		}
		for {
			row, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				return nil, err
			}
			if text := strings.Join(row.Cells, " | "); strings.Trim(text, " |") != "" {
				rows = append(rows, book.Row{Name: f.Name + " sheet " + sheet, SHA: f.SHA256, Row: row.Number, Text: text})
			}
		}
	}
	return rows, nil
}
