package cli

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/pack"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/internal/workbook"
)

func newPack(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "pack PERIOD DIR",
		Short: "A closed month as one folder that anybody can check",
		Long: `Writes a closed month into a new folder: the workbook, tables as CSV, every record as it was hashed, the seal, the
original files that the month rests on, the hash of each, and a page that says how to check it all with nothing but
sha256sum and a spreadsheet. The folder is there whole or not at all, and the same close gives the same bytes.

Keep the hash that is printed outside this machine: it stands for the whole folder. Keep the folder as long as the
law asks for books.`,
		Example: `  repose pack 2026-10 october
  repose verify --pack october`,
		Args: exactly(2, "a period and a folder, such as 2026-10 october"),
		RunE: func(cmd *cobra.Command, args []string) error { return runPack(cmd.Context(), a, args[0], args[1]) },
	}
	c.Flags().BoolVar(&a.json, "json", false, "print one JSON document instead of text")
	return a.asKnown(a.ofYard(c))
}

// packed is the JSON of pack and of verify --pack.
type packed struct {
	Schema  int      `json:"schema"`
	OK      bool     `json:"ok"`
	Yard    string   `json:"yard"`
	Period  string   `json:"period"`
	Close   int      `json:"close"`
	Files   int      `json:"files"`
	Bytes   int64    `json:"bytes"`
	Records int64    `json:"records"`
	Entries int      `json:"entries"`
	Root    string   `json:"log_root"`
	Seal    string   `json:"seal_sha256"`
	Sums    string   `json:"sums_sha256"`
	Faults  []string `json:"faults"`
	Found   int64    `json:"faults_found"`
}

func (a *app) printPack(r *pack.Result, folder, verb string) error {
	out := packed{report.Schema, r.OK(), r.Yard, r.Period.String(), r.Close, r.Files, r.Bytes, r.Records, r.Entries, r.LogRoot, r.SealSHA256, r.SumsSHA256, []string{}, r.Found}
	for _, f := range r.Faults {
		out.Faults = append(out.Faults, f.String())
	}
	switch {
	case a.json:
		if err := printJSON(a.Out, out); err != nil {
			return err
		}
	case !r.OK():
		for _, f := range out.Faults {
			fmt.Fprintln(a.Out, f)
		}
		if more := r.Found - int64(len(out.Faults)); more > 0 {
			fmt.Fprintf(a.Out, "and %d more\n", more)
		}
		fmt.Fprintf(a.Out, "\nThe pack %s does not hold.\n", folder)
	default:
		fmt.Fprintf(a.Out, "%s %s: close %d of %s, yard %s; %d files, %d records, %d entries.\nSeal %s\nPack %s\n     the SHA-256 of its SHA256SUMS. Keep it outside this machine.\n",
			verb, folder, r.Close, r.Period, r.Yard, r.Files, r.Records, r.Entries, r.SealSHA256, r.SumsSHA256)
	}
	if !r.OK() {
		return errFound
	}
	return nil
}

func runPack(ctx context.Context, a *app, period, folder string) error {
	p, err := parsePeriod(period)
	if err != nil {
		return err
	}
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		contents, err := r.PackContents(ctx, y.Code, p, func(w io.Writer, c *report.Close) error { return workbook.Write(ctx, w, c) })
		if err != nil {
			return err
		}
		bar := a.Progress("packing", -1, true)
		res, err := pack.Write(ctx, folder, *contents, func(done, _ int64) { bar.Set(done) })
		bar.Done()
		if err != nil {
			return err
		}
		return a.printPack(res, folder, "Wrote")
	})
}

// verifyPack checks a pack without any book.
func verifyPack(ctx context.Context, a *app, folder string) error {
	bar := a.Progress("checking", -1, true)
	res, err := pack.Verify(ctx, folder, func(done, _ int64) { bar.Set(done) })
	bar.Done()
	if err != nil {
		return err
	}
	return a.printPack(res, folder, "The pack holds:")
}
