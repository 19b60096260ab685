package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/internal/table"
	"repose/ledger"
)

func newSample(a *app) *cobra.Command {
	var d book.Drawing
	var by, from string
	c := &cobra.Command{
		Use:   "sample PERIOD --seed TEXT",
		Short: "A sample for the auditor, that anyone can draw again",
		Long: `Draws entries of a month with the rows that they came from (--from entries: is what the book says there), or rows of the
original files with the records that they became (--from files: is what is there in the book). The totals of what was
drawn from stand above it. Rows of files are taken as they stand, titles, headers and other months of a file too.

--by random takes those whose SHA-256 of the seed, a line's end and their name is smallest, so that sha256sum draws the
same again; --by stratum shares them over kinds of record or files; --by mass draws grams, so that an entry is the
likelier drawn the more it moved, and the largest always. Let the auditor choose the seed.`,
		Example: `  repose sample 2026-10 --seed "auditor, 9 November" --size 25 --by mass
  repose sample 2026-10 --seed 4711 --size 25 --from files`,
		Args: exactly(1, "a period such as 2026-10"),
		RunE: func(cmd *cobra.Command, args []string) error {
			m, ok := book.DrawingMethods()[by]
			switch {
			case !ok:
				return usage(fmt.Errorf("--by %q: want random, stratum or mass", by))
			case from != "entries" && from != "files":
				return usage(fmt.Errorf("--from %q: want entries or files", from))
			case d.Seed == "":
				return usage(errors.New("--seed: want a text of the auditor's choice"))
			}
			d.Method = m
			return runSample(cmd.Context(), a, args[0], from, d)
		},
	}
	c.Flags().StringVar(&d.Seed, "seed", "", "any `text`; the same draws the same")
	c.Flags().IntVar(&d.Size, "size", 25, "how `many`")
	c.Flags().StringVar(&by, "by", "random", "`random`, stratum or mass")
	c.Flags().StringVar(&from, "from", "entries", "`entries` of the book, or rows of the files")
	return a.reading(c)
}

func runSample(ctx context.Context, a *app, period, from string, d book.Drawing) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	return a.read(ctx, func(store *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
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
