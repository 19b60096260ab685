package intake

import (
	"maps"
	"slices"

	"repose/ledger"
)

// Known is what the book holds before a call, as far as rows refer to it.
type Known struct {
	Yards    []ledger.Yard
	Piles    []ledger.PileID
	Products []string
}

// register is what rows may refer to: the book's own, and what the tables of this call add.
type register struct {
	yards    map[string]*yard
	only     *yard // if there is just one, else nil
	piles    map[ledger.PileID]bool
	products map[string]bool

	// faulty marks kinds whose tables have errors in this call: what rows name may stand in a bad row
	// there, so that it is not reported again for every row that names it.
	faulty map[ledger.Kind]bool
}

// yard is a yard and its clock.
type yard struct {
	code  string
	clock *clock
}

func newRegister(known Known) (*register, error) {
	r := &register{yards: map[string]*yard{}, piles: map[ledger.PileID]bool{}, products: map[string]bool{},
		faulty: map[ledger.Kind]bool{}}
	for _, y := range known.Yards {
		if err := r.setYard(y); err != nil {
			return nil, err
		}
	}
	for _, p := range known.Piles {
		r.piles[p] = true
	}
	for _, p := range known.Products {
		r.products[p] = true
	}
	return r, nil
}

func (r *register) setYard(y ledger.Yard) error {
	c, err := newClock(y.Zone)
	if err != nil {
		return err
	}
	r.yards[y.Code] = &yard{y.Code, c}
	if r.only = nil; len(r.yards) == 1 {
		r.only = r.yards[y.Code]
	}
	return nil
}

// note adds what a record of this call registers. A second yard of the same code counts only where it
// replaces the first: otherwise it is a conflict, and the first stays in force.
func (r *register) note(rec *ledger.Record) error {
	switch f := rec.Fact.(type) {
	case ledger.Yard:
		if r.yards[f.Code] == nil || rec.Replaces != "" {
			return r.setYard(f)
		}
	case ledger.Pile:
		r.piles[ledger.PileID{Yard: rec.Yard, Code: f.Code}] = true
	case ledger.Product:
		r.products[f.Code] = true
	}
	return nil
}

func (r *register) yardCodes() []string { return slices.Sorted(maps.Keys(r.yards)) }

func (r *register) productCodes() []string { return slices.Sorted(maps.Keys(r.products)) }

func (r *register) pileCodes(yard string) []string {
	var codes []string
	for id := range r.piles {
		if id.Yard == yard {
			codes = append(codes, id.Code)
		}
	}
	slices.Sort(codes)
	return codes
}

// wantedYard says what a cell that names a yard may hold.
func (r *register) wantedYard() string {
	if len(r.yards) == 0 {
		return "a yard: the book has none yet, and a table yards in this call can add it"
	}
	return "a yard of the book: " + quoteAll(r.yardCodes())
}

// hasPile reports whether the register names a pile, or may in a row that cannot be read.
func (r *register) hasPile(yard, code string) bool {
	return r.piles[ledger.PileID{Yard: yard, Code: code}] || r.faulty[ledger.KindPileRecord]
}

// hasProduct reports whether the register names a product, or may in a row that cannot be read.
func (r *register) hasProduct(code string) bool {
	return r.products[code] || r.faulty[ledger.KindProductRecord]
}
