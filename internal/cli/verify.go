package cli

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
)

func newVerify(a *app) *cobra.Command {
	var folder string
	c := &cobra.Command{
		Use:   "verify",
		Short: "Check the book's hashes, sums and seals, and print its head",
		Long: `Recomputes the hash of every record and the tree over them, the hash of every original file and of every
sealed month, and the sums of all accounts. What does not hold is named, the first record first.

The head that is printed stands for every record. Kept outside this machine, by mail or on paper, it shows
later whether the past was rewritten. It does not show that a record was true when it came in, nor that
none is missing.

--pack checks a pack instead, the folder that repose pack wrote, without the book: every file against its sum,
every record against the tree, the seal and the tables against one another. The hash that it prints stands for
the whole folder; compare it with the one that was kept outside.

Exit code 3 says that something does not hold.`,
		Example: `  repose verify
  repose verify --pack october
  repose verify --json`,
		Args: exactly(0, "none"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if folder != "" {
				return verifyPack(cmd.Context(), a, folder)
			}
			return runVerify(cmd.Context(), a)
		},
	}
	c.Flags().StringVar(&folder, "pack", "", "check this `folder`, a pack, instead of the book")
	c.Flags().BoolVar(&a.json, "json", false, "print one JSON document instead of text")
	return c
}

// verification is the JSON of verify.
type verification struct {
	Schema  int      `json:"schema"`
	OK      bool     `json:"ok"`
	Head    string   `json:"head"`
	Size    int64    `json:"records"`
	Files   int64    `json:"files"`
	Seals   int64    `json:"seals"`
	Faults  []string `json:"faults"`
	Found   int64    `json:"faults_found"`
	OpenSum string   `json:"open_sum_t"`
}

func runVerify(ctx context.Context, a *app) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadOnly)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	bar := a.Progress("verifying", -1, false)
	v, err := store.Verify(ctx, func(done, _ int64) { bar.Set(done) })
	bar.Done()
	if err != nil {
		return err
	}
	out := verification{report.Schema, v.OK(), v.Head.Root, v.Records, v.Files, v.Seals, []string{}, v.Found, "0.000"}
	for _, f := range v.Faults {
		out.Faults = append(out.Faults, f.String())
	}
	if v.OK() {
		if err := checkOpen(ctx, a, store, &out); err != nil {
			return err
		}
	}
	if a.json {
		err = printJSON(a.Out, out)
	} else {
		err = a.printVerification(out)
	}
	if err == nil && !out.OK {
		return errFound
	}
	return err
}

// checkOpen derives every yard's open months and sums their accounts.
func checkOpen(ctx context.Context, a *app, store *sqlite.Book, out *verification) error {
	r, err := book.Read(ctx, store, time.Time{})
	if err != nil {
		return err
	}
	sum, err := r.Sum(ctx, a.now())
	if err != nil {
		return err
	}
	out.OpenSum = sum.AsIs().Tonnes()
	if !sum.IsZero() {
		out.OK = false
		out.Found++
		out.Faults = append(out.Faults, fmt.Sprintf("the sum over all accounts is %v of solids and %v of water", sum.Solids, sum.Water))
	}
	return nil
}

func (a *app) printVerification(v verification) error {
	for _, f := range v.Faults {
		fmt.Fprintln(a.Out, f)
	}
	if more := v.Found - int64(len(v.Faults)); more > 0 {
		fmt.Fprintf(a.Out, "and %d more\n", more)
	}
	if !v.OK {
		_, err := fmt.Fprintln(a.Out, "\nThe book does not hold.")
		return err
	}
	_, err := fmt.Fprintf(a.Out, `The book holds: %d records, %d files, %d sealed months; the sum over all accounts is zero.
Head %s
     over %d records. Keep it outside this machine.
`, v.Size, v.Files, v.Seals, v.Head, v.Size)
	return err
}
