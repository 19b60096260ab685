package weights_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"repose/internal/screen"
	"repose/ledger"
)

// one is a case of the hand-made yard: what is changed, and everything that the rules of the package then find.
type one struct {
	name   string
	change func(all []truckload)
	facts  []ledger.Fact
	want   func(all []truckload) []told
}

func nothing([]truckload) []told { return nil }

func check(t *testing.T, cases []one) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			all := plain(1)
			c.change(all)
			if diff := cmp.Diff(c.want(all), findings(t, yardOf(t, all, c.facts...))); diff != "" {
				t.Errorf("findings (-want +got):\n%s", diff)
			}
		})
	}
}

func onPile(pile string, m ledger.Mass) []screen.Effect {
	if pile == "" {
		return nil
	}
	return []screen.Effect{{Pile: pile, Mass: m}}
}
