package cli

import (
	"github.com/spf13/cobra"

	"repose/internal/book"
	"repose/ledger"
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
			return a.surveyed(cmd.Context(), args, func(r *book.Reader, y ledger.Yard, through ledger.Period) error {
				x, err := r.Accrual(cmd.Context(), y.Code, through)
				if err != nil {
					return err
				}
				return a.print(r, x)
			})
		},
	})
}
