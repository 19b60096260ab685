package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/report"
	"repose/internal/sqlite"
)

func newDecide(a *app) *cobra.Command {
	var take, keep, dryRun bool
	var reason string
	c := &cobra.Command{
		Use:   "decide PERIOD PILE",
		Short: "Decide what the book does about a survey's difference",
		Long: `The yard's policy says whether the book takes a survey's figure. This decides for one pile of an open month,
whatever the policy says, with a reason. It is in force at once; the month cannot be closed before another person
has approved it, who is not the surveyor either: see repose approve. A later decision takes the place of an
earlier one, and both remain.`,
		Example: `  repose decide 2026-10 TEN --take-survey --reason "surveyed twice, the loss is real"
  repose decide 2026-10 SAND --keep-book --reason "within what the density can tell"`,
		Args: exactly(2, "a period and a pile, such as 2026-10 TEN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case take == keep:
				return usage(errors.New("want either --take-survey or --keep-book"))
			case strings.TrimSpace(reason) == "":
				return usage(errors.New("--reason: want why, in words"))
			}
			p, err := parsePeriod(args[0])
			if err != nil {
				return err
			}
			return runDecide(cmd.Context(), a, book.Deciding{Yard: a.yard, Period: p, Pile: args[1], Take: take, Reason: reason,
				By: a.person(), Now: a.now(), DryRun: dryRun})
		},
	}
	c.Flags().BoolVar(&take, "take-survey", false, "the book takes the survey's figure")
	c.Flags().BoolVar(&keep, "keep-book", false, "the book stands, and the difference is on record")
	c.Flags().BoolVar(&dryRun, "dry-run", false, "say what would be decided, and change nothing")
	c.Flags().StringVar(&reason, "reason", "", "why, in `words`")
	return a.ofYard(c)
}

func runDecide(ctx context.Context, a *app, d book.Deciding) (err error) {
	store, err := sqlite.Open(ctx, a.path(), sqlite.ReadWrite)
	if err != nil {
		return a.explainMissing(err)
	}
	defer closing(store, &err)
	c, err := book.Decide(ctx, store, d)
	if err != nil {
		return err
	}
	what := "the book stands"
	if d.Take {
		what = "the book takes the survey's figure"
	}
	u := report.YardUnit(0)
	if r, err := book.Read(ctx, store, a.knownAt); err == nil {
		u = a.unit(r)
	}
	fmt.Fprintf(a.Out, "Pile %s, survey %s: %s missing in %s; %s.\nAnother person has to approve it: repose approve\n", d.Pile, c.Survey.Survey,
		u.Format(c.Difference()), u.Mass, what)
	if d.DryRun {
		fmt.Fprintln(a.Out, "Nothing was changed.")
	}
	return nil
}
