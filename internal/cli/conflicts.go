package cli

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
)

func newConflicts(a *app) *cobra.Command {
	var take, keep, dryRun bool
	var reason string
	c := &cobra.Command{
		Use:   "conflicts [ID]",
		Short: "Rows that came in again with other content, and which of the two stands",
		Long: `An export that overlaps an earlier one may hold a row under the same key with other content. Neither
wins silently: the record that was held stays in force, the conflict is listed here field by field, and a
month with an open conflict cannot be closed. --keep lets the held record stand, --take lets the content
that came in replace it; both stay in the book, with the reason.`,
		Example: `  repose conflicts
  repose conflicts 1f0c22ab --take --reason "scale house corrected the weight the same day"`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return listConflicts(cmd.Context(), a)
			}
			if a.at != "" || a.known != "" {
				return usage(errAsOf)
			}
			if take == keep {
				return usage(errors.New("a conflict is settled with either --keep or --take"))
			}
			return settleConflict(cmd.Context(), a, book.Settling{Conflict: args[0], Take: take, Reason: reason,
				By: a.person(), Now: a.now(), DryRun: dryRun})
		},
	}
	c.Flags().BoolVar(&keep, "keep", false, "the record that was held stands")
	c.Flags().BoolVar(&take, "take", false, "the content that came in replaces it")
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what would be decided, and change nothing")
	c.Flags().StringVar(&reason, "reason", "", "why, in `words`")
	return a.reading(c)
}

// conflictLine is one open conflict in JSON.
type conflictLine struct {
	ID          string            `json:"id"`
	Held        string            `json:"held"`
	File        string            `json:"file_sha256"`
	Row         int               `json:"row"`
	Differences []fieldDifference `json:"differences"`
}

func listConflicts(ctx context.Context, a *app) error {
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		open, err := r.OpenConflicts(ctx)
		if err != nil {
			return err
		}
		lines := []conflictLine{}
		for _, c := range open {
			l := conflictLine{c.Short, c.Fact.Held, c.Record.Source.File, c.Record.Source.Row, nil}
			for _, d := range c.Differences {
				l.Differences = append(l.Differences, fieldDifference(d))
			}
			lines = append(lines, l)
		}
		if a.json {
			err = printJSON(a.Out, struct {
				Schema    int            `json:"schema"`
				Conflicts []conflictLine `json:"conflicts"`
			}{report.Schema, lines})
		} else {
			printConflicts(a, lines)
		}
		if err == nil && len(lines) > 0 {
			return errFound
		}
		return err
	})
}

func printConflicts(a *app, lines []conflictLine) {
	if len(lines) == 0 {
		fmt.Fprintln(a.Out, "No open conflicts.")
	}
	for _, l := range lines {
		fmt.Fprintf(a.Out, "%s  %s\n", l.ID, l.Held)
		for _, d := range l.Differences {
			fmt.Fprintf(a.Out, "    %s: held %q, came in as %q\n", d.Field, d.Held, d.Incoming)
		}
	}
}

func settleConflict(ctx context.Context, a *app, s book.Settling) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	c, err := book.Settle(ctx, store, s)
	if err != nil {
		return err
	}
	stands := "the held record stands"
	if s.Take {
		stands = "the content that came in replaces it"
	}
	fmt.Fprintf(a.Out, "%s: %s\n", c.Fact.Held, stands)
	if s.DryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}
