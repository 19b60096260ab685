package intake

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"repose/internal/table"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

var hundred = decimal.NewFromInt(100)

// number returns the text of a quantity as plain decimal text. A number in a cell of a workbook is plain
// already, whatever the map says of texts.
func (r *row) number(f field) (plain, cell string, ok bool) {
	cell, ok = r.cell(f)
	if !ok {
		return "", cell, false
	}
	plain = cell
	if r.isPercentage(f) {
		plain = strings.TrimSpace(strings.TrimSuffix(plain, "%"))
	}
	if r.kind(f) == table.Number || !r.has(f) {
		return plain, cell, true
	}
	if plain, ok = r.numbers.plain(plain); !ok {
		r.failNumber(f, cell)
	}
	return plain, cell, ok
}

// isPercentage reports whether the cells of a field may hold a per cent sign.
func (r *row) isPercentage(f field) bool {
	switch r.columns[f].spec.Holds {
	case Moisture, Percent, DryPercent, PercentPoint:
		return true
	default:
		return false
	}
}

// failNumber notes that a cell holds no number as the file writes them.
func (r *row) failNumber(f field, cell string) {
	wanted := fmt.Sprintf("a number with %s, such as %s", r.numbers.pointName(), r.numbers.example())
	if r.numbers.thousands != 0 {
		wanted += fmt.Sprintf(", thousands parted by %q or not at all", r.numbers.thousands)
	} else if r.mapped == nil && strings.Contains(cell, ",") {
		wanted += " (a column map can say decimal = \",\")"
	}
	if u := r.unitName(f); u != "" && strings.ContainsFunc(cell, unicode.IsLetter) {
		wanted += "; its unit, " + u + ", is known from the header or the map"
	}
	r.fail(f, quote(cell), wanted)
}

// unitName returns the unit of a field's column as headers write it, or "".
func (r *row) unitName(f field) string {
	c := &r.columns[f]
	switch c.spec.Holds {
	case Mass, BareMass:
		if c.unit.mass != 0 {
			return c.unit.mass.String()
		}
	case Volume:
		return c.unit.volume.String()
	case Density:
		return c.unit.density.String()
	case Area:
		return c.unit.area.String()
	case Moisture:
		if c.unit.wet {
			return unitWet
		}
		return unitDry
	case Percent, DryPercent:
		return unitPercent
	}
	return ""
}

// mass returns a mass of zero or more.
func (r *row) mass(f field) ledger.Mass {
	plain, cell, ok := r.number(f)
	if !ok {
		return 0
	}
	m, err := ledger.ParseMass(plain, r.unit(f).mass)
	switch {
	case err == nil && m >= 0:
		return m
	case err == nil:
		r.fail(f, quote(cell), "a mass of zero or more: the table says which way it went")
	case errors.Is(err, ledger.ErrMassRange):
		r.fail(f, quote(cell), "at most 10^12 t")
	default:
		if _, err := ledger.ParseDecimal(plain); err == nil {
			r.fail(f, quote(cell), "whole grams: a metric mass finer than a gram is not rounded")
		} else {
			r.failNumber(f, cell)
		}
	}
	return 0
}

// bareMass returns a mass, or the number of a column without a unit.
func (r *row) bareMass(f field) (ledger.Mass, decimal.NullDecimal) {
	var bare decimal.NullDecimal
	if !r.has(f) {
		return 0, bare
	}
	if r.unit(f).mass == 0 {
		bare = r.quantity(f)
		return 0, bare
	}
	m := r.mass(f)
	if m == 0 && r.ok() {
		r.fail(f, quote(r.shown(f)), "more than zero")
	}
	return m, bare
}

// quantity returns a number in the unit in which records keep its dimension: m3, m2, t/m3 or per cent.
// It is not valid where the cell is blank.
func (r *row) quantity(f field) decimal.NullDecimal {
	var none decimal.NullDecimal
	plain, cell, ok := r.number(f)
	if !ok {
		return none
	}
	v, err := ledger.ParseDecimal(plain)
	if err != nil {
		r.failNumber(f, cell)
		return none
	}
	u := r.unit(f)
	switch r.columns[f].spec.Holds {
	case Volume:
		if v.IsNegative() {
			r.fail(f, quote(cell), "zero or more")
			return none
		}
		return decimal.NewNullDecimal(u.volume.CubicMetres(v))
	case Percent, DryPercent, PercentPoint:
		if v.IsNegative() || v.GreaterThan(hundred) {
			r.fail(f, quote(cell), "0 to 100")
			return none
		}
		return decimal.NewNullDecimal(v)
	}
	if !v.IsPositive() {
		r.fail(f, quote(cell), "more than zero")
		return none
	}
	switch r.columns[f].spec.Holds {
	case Area:
		v = u.area.squareMetres(v)
	case Density:
		v = u.density.TonnesPerCubicMetre(v)
	}
	return decimal.NewNullDecimal(v)
}

// moisture returns a moisture in per cent of dry mass, converted if the header says wet basis.
func (r *row) moisture(f field) ledger.DryBasis {
	plain, cell, ok := r.number(f)
	if !ok {
		return ledger.DryBasis{}
	}
	v, err := ledger.ParseDecimal(plain)
	if err != nil {
		r.failNumber(f, cell)
		return ledger.DryBasis{}
	}
	if !r.unit(f).wet {
		m, err := ledger.NewDryBasis(v)
		if err != nil {
			r.fail(f, quote(cell), "0 to 1000 % of dry mass")
		}
		return m
	}
	w, err := ledger.NewWetBasis(v)
	if err != nil {
		r.fail(f, quote(cell), "0 to less than 100 % of wet mass")
		return ledger.DryBasis{}
	}
	m, err := w.ToDry()
	if err != nil {
		r.fail(f, quote(cell), "a wet basis that is at most 1000 % of dry mass")
	}
	r.wet++
	return m
}

// pointPlaces is the precision to which a converted uncertainty is held, in percentage points.
const pointPlaces = 12

// dryPoints returns a standard uncertainty in percentage points of dry mass. Where the moisture it belongs
// to is on wet basis, so is the uncertainty, and it is converted to first order (GUM, JCGM 100:2008, 5.1):
// dry = 100 wet / (100 - wet), so u(dry) = u(wet) 100² / (100 - wet)² = u(wet) (1 + dry/100)², rounded
// half-even to 12 places.
func (r *row) dryPoints(f, moisture field) decimal.NullDecimal {
	u := r.quantity(f)
	if !u.Valid || !r.unit(moisture).wet || !r.ok() {
		return u
	}
	wet := r.wet
	ratio := r.moisture(moisture).Percent().Add(hundred).Shift(-2)
	r.wet = wet // counted when the moisture itself was read
	u.Decimal = u.Decimal.Mul(ratio).Mul(ratio).RoundBank(pointPlaces)
	return u
}

// count returns a whole number; 0 for a blank cell.
func (r *row) count(f field) int {
	s, ok := r.cell(f)
	if !ok {
		return 0
	}
	const most = 1_000_000
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > most || s[0] == '+' {
		r.fail(f, quote(s), "a whole number, 0 to 1000000")
		return 0
	}
	return n
}
