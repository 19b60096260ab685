package weights_test

import (
	"testing"

	"repose/internal/screen"
)

func TestProducts(t *testing.T) {
	at := april(10, 12)
	says := func(pile, load, ticket string) func(all []truckload) {
		return func(all []truckload) {
			all[at].load.Pile, all[at].load.Product, all[at].deck.Product = pile, load, ticket
		}
	}
	told1 := func(rule, pile string, to ...string) func(all []truckload) []told {
		return func(all []truckload) []told {
			var effects []screen.Effect
			if rule == "wrong pile" {
				effects = onPile(pile, -all[at].load.Net)
			}
			for _, code := range to {
				effects = append(effects, onPile(code, all[at].load.Net)...)
			}
			return []told{{rule, []string{all[at].loadID(), all[at].deckID()}, pile, effects}}
		}
	}
	check(t, []one{
		{"ticket of another product", says("N", "", "gravel"), nil, told1("wrong pile", "N", "G")},
		{"ticket of another product, load of the pile's", says("N", "sand", "gravel"), nil, told1("wrong pile", "N", "G")},
		{"ticket and load of another product than the pile", says("N", "gravel", "gravel"), nil, told1("wrong pile", "N", "G")},
		{"ticket of a product that two piles hold", says("G", "", "sand"), nil, told1("wrong pile", "G")},
		{"load of another product than pile and ticket", says("N", "gravel", "sand"), nil, told1("wrong product", "N")},
		{"ticket of a product that no pile holds", says("N", "", "clay"), nil, told1("wrong product", "N")},
		{"pile not known", says("", "gravel", "sand"), nil, told1("wrong product", "")},
		{"letters of the other case", says("N", " Sand", "SAND "), nil, nothing},
		{"ticket without a product", says("N", "sand", ""), nil, nothing},
		{"another pile of the product", says("S", "sand", "sand"), nil, nothing},
		{"a product that the deck names otherwise", func(all []truckload) {
			for i := range all {
				if all[i].load.Pile == "G" {
					all[i].deck.Product = "gravel 8/16"
				}
			}
		}, nil, nothing},
	})
}

func TestWrongTruck(t *testing.T) {
	at := april(10, 12)
	check(t, []one{
		{"a truck that was elsewhere", func(all []truckload) { all[at].load.Truck = "K99" }, nil, func(all []truckload) []told {
			return []told{{"wrong truck", []string{all[at].loadID(), all[at].deckID()}, all[at].load.Pile, nil}}
		}},
		{"no truck", func(all []truckload) { all[at].load.Truck = "" }, nil, nothing},
		{"letters of the other case", func(all []truckload) { all[at].load.Truck = "k12 "; all[at].deck.Truck = "K12" }, nil, nothing},
		{"a loader that names trucks otherwise", func(all []truckload) {
			for i := range all {
				if all[i].load.Loader == "L1" {
					all[i].load.Truck = "truck " + all[i].load.Truck[1:]
				}
			}
		}, nil, nothing},
	})
}
