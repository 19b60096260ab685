package cli

import (
	"context"

	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/internal/sqlite"
)

func newAccrual(a *app) *cobra.Command {
	return a.reading(&cobra.Command{
		Use:   "accrual [PERIOD]",
		Short: "Expected shrinkage against what surveys found",
		Long: `A yard may expect a product to lose a per cent of what is made or loaded out, by wind, wear and spillage: a
policy "expected shrinkage PRODUCT" such as "0.8 % of production". It goes out of the book with every record, into
an account of its own. This holds it against what surveys found, month by month and product by product, through a
period (the last surveyed one): the true-up, and by how much the rate was wrong. A rate that is wrong to one side
is a bias; a new one counts from a day on and changes nothing before.`,
		Example: `  repose accrual
  repose accrual 2026-10 --json`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			period := ""
			if len(args) == 1 {
				period = args[0]
			}
			return runAccrual(cmd.Context(), a, period)
		},
	})
}

func runAccrual(ctx context.Context, a *app, period string) error {
	return a.read(ctx, func(_ *sqlite.Book, r *book.Reader) error {
		y, err := r.Yard(a.yard)
		if err != nil {
			return err
		}
		through, err := a.through(ctx, r, y, period)
		if err != nil {
			return err
		}
		x, err := r.Accrual(ctx, y.Code, through)
		if err != nil {
			return err
		}
		if a.json {
			return printJSON(a.Out, x)
		}
		return x.WriteText(a.Out, a.unit(r))
	})
}
