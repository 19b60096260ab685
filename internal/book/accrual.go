package book

import (
	"context"

	"repose/internal/report"
	"repose/ledger"
)

// Accrual reports what a yard expected its products to lose through a period, against what its surveys found.
func (r *Reader) Accrual(ctx context.Context, yard string, through ledger.Period) (*report.Accrual, error) {
	balances, err := r.Balances(ctx, yard, through)
	if err != nil {
		return nil, err
	}
	zone, _ := r.reg.Zone(yard)
	return report.NewAccrual(yard, through, balances, func(b ledger.Balance) ledger.Period { return ledger.PeriodOf(b.At, zone) },
		func(b ledger.Balance) ledger.RateBasis {
			if rate, ok := r.reg.Rate(yard, b.Product, b.At); ok {
				return rate.Of
			}
			return ledger.RateOfProduction
		}), nil
}
