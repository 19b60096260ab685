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

func newApprove(a *app) *cobra.Command {
	var dryRun bool
	c := &cobra.Command{
		Use:   "approve [ID]",
		Short: "A second person's word on what another did",
		Long: `Without an ID it lists what waits for a second person: waivers of what stands in the way of a close,
decisions about surveys, settlements of exceptions that moved stone in the book, and closed months that somebody
would open again. A month with something that waits cannot be closed; a wish to open one again keeps none open.

With an ID it approves. Nobody approves what they did themselves. Who somebody is, is the name of the account
that runs the program, or the one declared with --as: a label that anybody with the account can type. Give each
person an account of their own, and see docs/book.md for what that proves.

Exit code 3 says that something waits.`,
		Example: `  repose approve
  repose approve 1f0c22ab --as controller`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return listPending(cmd.Context(), a)
			}
			return approve(cmd.Context(), a, book.Approving{Yard: a.yard, ID: args[0], By: a.person(), Now: a.now(), DryRun: dryRun})
		},
	}
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what would be approved, and change nothing")
	return a.reading(c)
}

// pendingLine is something that waits for a second person, in JSON.
type pendingLine struct {
	ID     string    `json:"id"`
	Record string    `json:"record"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	What   string    `json:"what"`
}

func listPending(ctx context.Context, a *app) error {
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		pending, err := r.Pending(ctx, y.Code)
		if err != nil {
			return err
		}
		lines := []pendingLine{}
		for _, p := range pending {
			lines = append(lines, pendingLine{p.ID, p.Record.ID(), p.Record.By, p.Record.Recorded, p.What})
		}
		if a.json {
			err = printJSON(a.Out, struct {
				Schema  int           `json:"schema"`
				Yard    string        `json:"yard"`
				Pending []pendingLine `json:"pending"`
			}{report.Schema, y.Code, lines})
		} else if len(lines) == 0 {
			fmt.Fprintln(a.Out, "Nothing waits for a second person.")
		}
		for _, l := range lines {
			if !a.json {
				fmt.Fprintf(a.Out, "%s  by %s, %s\n    %s\n", l.ID, l.By, l.At.Format(time.RFC3339), l.What)
			}
		}
		if err == nil && len(lines) > 0 {
			return errFound
		}
		return err
	})
}

func approve(ctx context.Context, a *app, x book.Approving) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	p, err := book.Approve(ctx, store, x)
	if err != nil {
		return err
	}
	if a.json {
		return printJSON(a.Out, struct {
			Schema     int    `json:"schema"`
			ID         string `json:"id"`
			Record     string `json:"record"`
			ApprovedBy string `json:"approved_by"`
			DryRun     bool   `json:"dry_run"`
		}{report.Schema, p.ID, p.Record.ID(), x.By, x.DryRun})
	}
	fmt.Fprintf(a.Out, "%s, by %s: %s\nApproved by %s.\n", p.ID, p.Record.By, p.What, x.By)
	if x.DryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}
