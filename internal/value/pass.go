package value

import "fmt"

// pass values every product at what transfers and feeding were last found to cost, and finds anew what they cost. It
// reports whether that changed.
func (r *reckoning) pass() (again bool, err error) {
	pool := r.inProcess
	for i, f := range r.flows {
		changed, err := r.product(i)
		if err != nil {
			return false, fmt.Errorf("product %q: %w", f.Product, err)
		}
		if pool, err = pool.Sub(r.lines[i].Moves[ColumnFed].Cost); err != nil {
			return false, fmt.Errorf("cost in process: %w", err)
		}
		again = again || changed
	}
	changed, err := r.remake(pool)
	return again || changed, err
}

// product values one product, and passes on what its transfers cost.
func (r *reckoning) product(i int) (again bool, err error) {
	f := r.flows[i]
	moves := f.Moves
	moves[ColumnRemade].Cost = r.remade[i]
	for _, t := range r.transfers {
		switch f.Product {
		case t.To:
			moves[ColumnTransferIn], err = moves[ColumnTransferIn].Add(t.Lot)
		case t.From:
			moves[ColumnTransferOut], err = moves[ColumnTransferOut].Add(Lot{Quantity: -t.Quantity})
		}
		if err != nil {
			return false, err
		}
	}
	out, closing, err := Periodic(f.Opening, moves)
	if err != nil {
		return false, err
	}
	r.lines[i] = Line{f.Product, f.Opening, out, closing}

	gone := Stock{out[ColumnTransferOut].Neg()}
	for k, t := range r.transfers {
		if t.From != f.Product {
			continue
		}
		var part Lot
		if gone, part, err = gone.Issue(t.Quantity); err != nil {
			return false, err
		}
		again = again || part != t.Lot
		r.transfers[k].Lot = part
	}
	return again, nil
}

// remake lays the cost of what was fed on what was made, by tonnes. Where nothing was made it stays in process.
func (r *reckoning) remake(pool Money) (again bool, err error) {
	if r.made == 0 {
		r.left = pool
		return false, nil
	}
	plant := Stock{Lot{r.made, pool}}
	for i, f := range r.flows {
		var part Lot
		if plant, part, err = plant.Issue(max(f.Moves[ColumnMade].Quantity, 0)); err != nil {
			return false, err
		}
		again = again || part.Cost != r.remade[i]
		r.remade[i] = part.Cost
	}
	return again, nil
}
