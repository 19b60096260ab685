package value_test

import (
	"errors"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/value"
	"repose/ledger"
)

func TestAllocateToTheLargestRemainders(t *testing.T) {
	for _, c := range []struct {
		name    string
		total   value.Money
		weights []ledger.Mass
		want    []value.Money
	}{
		{"equal ones, the earlier", 100, []ledger.Mass{1, 1, 1}, []value.Money{34, 33, 33}},
		{"largest remainder", 10, []ledger.Mass{5, 3, 1}, []value.Money{6, 3, 1}}, // 5.56, 3.33, 1.11
		{"no weight, no part", 10, []ledger.Mass{0, 7, 0}, []value.Money{0, 10, 0}},
		{"nothing to share", 0, []ledger.Mass{0, 0}, []value.Money{0, 0}},
		{"beyond 64 bits", value.MaxMoney, []ledger.Mass{ledger.MaxMass, ledger.MaxMass, ledger.MaxMass},
			[]value.Money{value.MaxMoney / 3, value.MaxMoney / 3, value.MaxMoney / 3}},
	} {
		got, err := value.Allocate(c.total, c.weights)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
	if got, err := value.Allocate(1, slices.Repeat([]ledger.Mass{ledger.MaxMass}, 19)); err == nil {
		t.Errorf("weights beyond 64 bits give %v", got)
	}
	for _, bad := range []struct {
		total   value.Money
		weights []value.Money
	}{{-1, []value.Money{1}}, {1, []value.Money{0}}, {1, nil}, {1, []value.Money{2, -1}}} {
		if got, err := value.Allocate(bad.total, bad.weights); err == nil {
			t.Errorf("%d over %v is %v", bad.total, bad.weights, got)
		}
	}
}

func price(s string) value.Price {
	return value.Price{Amount: decimal.RequireFromString(s), Per: ledger.UnitTonne}
}

// One crush of 100,000 gives 6,000 t of stone at 20 and 4,000 t of fines at 3 (our own figures). By tonnes the fines cost
// 10 a tonne and must be written down by 28,000; by sales value, or as a by-product, they need not.
func TestThreeWaysToShareACrush(t *testing.T) {
	for _, c := range []struct {
		name      string
		by        value.Method
		fines     value.Role
		want      []value.Money
		writeDown value.Money
	}{
		{"tonnes", value.ByTonnes, value.MainProduct, []value.Money{60_000_00, 40_000_00}, 28_000_00},
		{"sales value", value.BySalesValue, value.MainProduct, []value.Money{90_909_09, 9_090_91}, 0},
		{"by-product", value.ByTonnes, value.ByProduct, []value.Money{88_000_00, 12_000_00}, 0},
	} {
		made := []value.Joint{{Role: value.MainProduct, Made: 6000 * ledger.Tonne, Price: price("20")},
			{Role: c.fines, Made: 4000 * ledger.Tonne, Price: price("3")}}
		got, err := value.ShareJoint(100_000_00, c.by, usd(t), made)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s, by %s (-want +got):\n%s", c.name, c.by, diff)
		}
		lower, err := value.IAS2.Test(value.Held{Stock: stock(t, value.Lot{Quantity: made[1].Made, Cost: got[1]}), Value: 12_000_00})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.writeDown, lower.WriteDown); diff != "" {
			t.Errorf("%s, write-down of fines (-want +got):\n%s", c.name, diff)
		}
	}
}

// Fines that somebody must be paid to take are worth nothing, and bear nothing by value.
func TestProductsWorthLessThanNothing(t *testing.T) {
	for _, role := range []value.Role{value.MainProduct, value.ByProduct} {
		got, err := value.ShareJoint(100_00, value.BySalesValue, usd(t), []value.Joint{
			{Role: value.MainProduct, Made: 60 * ledger.Tonne, Price: price("20")}, {Role: role, Made: 40 * ledger.Tonne, Price: price("-1")}})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]value.Money{100_00, 0}, got); diff != "" {
			t.Errorf("role %d (-want +got):\n%s", role, diff)
		}
	}
}

func TestShareJointRefuses(t *testing.T) {
	main := value.Joint{Role: value.MainProduct, Made: ledger.Tonne, Price: price("1")}
	by := value.Joint{Role: value.ByProduct, Made: ledger.Tonne, Price: price("10.01")}
	if got, err := value.ShareJoint(10_00, value.ByTonnes, usd(t), []value.Joint{main, by}); !errors.Is(err, value.ErrByProduct) {
		t.Errorf("a by-product worth more than the cost: %v, %v", got, err)
	}
	for name, bad := range map[string][]value.Joint{
		"no role":          {{Made: ledger.Tonne}},
		"by-product alone": {{Role: value.ByProduct, Made: ledger.Tonne, Price: price("1")}},
		"no price":         {{Role: value.MainProduct, Made: ledger.Tonne}},
		"negative":         {{Role: value.MainProduct, Made: -ledger.Tonne, Price: price("1")}},
	} {
		if got, err := value.ShareJoint(10_00, value.BySalesValue, usd(t), bad); err == nil {
			t.Errorf("%s: shared as %v", name, got)
		}
	}
	if got, err := value.ShareJoint(10_00, 0, usd(t), []value.Joint{main}); err == nil {
		t.Errorf("no method: shared as %v", got)
	}
	if got, err := value.ShareJoint(10_00, value.ByTonnes, usd(t), []value.Joint{{Role: value.MainProduct, Made: 1}}); err != nil || got[0] != 10_00 {
		t.Errorf("tonnes need no price: %v, %v", got, err)
	}
}
