package value_test

import (
	"fmt"
	"testing"

	"repose/internal/value"
)

// Every name is there and no two are the same; what is no value of its kind has none.
func TestNames(t *testing.T) {
	var columns, accounts []fmt.Stringer
	for c := range value.Columns {
		columns = append(columns, c)
	}
	for k := value.AccountInventory; k <= value.AccountIdleCapacity; k++ {
		accounts = append(accounts, k)
	}
	for _, kind := range [][]fmt.Stringer{columns, accounts, {value.ByTonnes, value.BySalesValue}, {value.IAS2, value.ASC330}} {
		seen := map[string]bool{}
		for _, v := range kind {
			if name := v.String(); name == "" || seen[name] {
				t.Errorf("%T %d is named %q", v, v, name)
			}
			seen[v.String()] = true
		}
	}
	for _, v := range []fmt.Stringer{value.Columns, value.AccountKind(0), value.AccountIdleCapacity + 1, value.Method(0), value.Standard(0)} {
		if name := v.String(); name != "" {
			t.Errorf("%T %d is named %q", v, v, name)
		}
	}
}
