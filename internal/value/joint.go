package value

import (
	"errors"
	"fmt"

	"repose/ledger"
)

// Method is how a cost that products have in common is shared among them (IAS 2.14 wants it rational and consistent). The
// zero value is none.
type Method uint8

// The methods.
const (
	ByTonnes     Method = iota + 1 // every tonne bears the same
	BySalesValue                   // every unit of money that the products are worth where they part bears the same
)

// String returns tonnes or sales value.
func (m Method) String() string {
	switch m {
	case ByTonnes:
		return "tonnes"
	case BySalesValue:
		return "sales value"
	}
	return ""
}

// Role says whether a product of a joint process is what the plant runs for. The zero value is none.
type Role uint8

// The roles.
const (
	MainProduct Role = iota + 1
	ByProduct        // immaterial: costs what it can be sold for, which is taken off the cost of the main products
)

// Joint is one product that comes out of the same crush as others.
type Joint struct {
	Name  string // for errors
	Role  Role
	Made  ledger.Mass
	Price Price // where the products part: what it sells for less what it takes from there to sell it
}

// ErrByProduct says that by-products are worth more than the whole process cost: they are no by-products.
var ErrByProduct = errors.New("by-products are worth more than the common cost")

// ShareJoint shares the common cost of making products among them. A by-product takes its net realisable value, the main
// products share the rest by the method ([Allocate]). What costs more to get rid of than it brings is worth nothing here:
// getting rid of it is an expense of its own. The costs are in the order of the products and sum to the total.
func ShareJoint(total Money, by Method, c Currency, products []Joint) ([]Money, error) {
	costs := make([]Money, len(products))
	tonnes, worth := make([]ledger.Mass, len(products)), make([]Money, len(products))
	rest := total
	for i, p := range products {
		w, err := p.Price.Of(p.Made, c)
		switch {
		case err != nil && (by == BySalesValue || p.Role == ByProduct):
			return nil, fmt.Errorf("product %s: %w", p.Name, err)
		case p.Role == ByProduct:
			costs[i] = max(w, 0)
			if rest, err = rest.Sub(costs[i]); err != nil || rest < 0 {
				return nil, fmt.Errorf("%w: %d minor units", ErrByProduct, total)
			}
		case p.Role == MainProduct:
			tonnes[i], worth[i] = p.Made, max(w, 0)
		default:
			return nil, fmt.Errorf("product %s: want a main product or a by-product", p.Name)
		}
	}
	var shares []Money
	var err error
	switch by {
	case ByTonnes:
		shares, err = Allocate(rest, tonnes)
	case BySalesValue:
		shares, err = Allocate(rest, worth)
	default:
		err = errors.New("no method: want tonnes or sales value")
	}
	if err != nil {
		return nil, err
	}
	for i, s := range shares {
		costs[i] += s
	}
	return costs, nil
}
