package weights_test

import (
	"testing"

	"repose/ledger"
)

func TestNoDeckTicket(t *testing.T) {
	at := april(10, 12)
	check(t, []one{
		{"a truck that never crossed", func(all []truckload) { all[at].noTicket = true }, nil, func(all []truckload) []told {
			return []told{{"no deck ticket", []string{all[at].loadID()}, all[at].load.Pile, nil}}
		}},
		{"for the yard's own use", func(all []truckload) {
			all[at].noTicket = true
			all[at].load.Purpose = ledger.PurposeInternal
		}, nil, nothing},
		{"free issue", func(all []truckload) {
			all[at].noTicket = true
			all[at].load.Purpose = ledger.PurposeFree
		}, nil, nothing},
		{"nobody's and on no truck", func(all []truckload) {
			all[at].noTicket = true
			all[at].load.Truck, all[at].load.Customer = "", ""
		}, nil, nothing},
		{"a void load", func(all []truckload) {
			all[at].noTicket = true
			all[at].load.Void = true
		}, nil, nothing},
		{"a void ticket is another matter", func(all []truckload) { all[at].deck.Void = true }, nil, nothing},
		{"the last before the tickets end", func(all []truckload) {
			all[len(all)-1].noTicket = true
			all[len(all)-2].noTicket = true
		}, nil, nothing},
		{"a product that never crosses the deck", func(all []truckload) {
			for i := range all {
				all[i].noTicket = all[i].load.Pile == "G"
			}
		}, nil, nothing},
		{"in the month before", func(all []truckload) { all[april(1, 0)-10].noTicket = true }, nil, nothing},
	})
}

func TestNoLoaderLoad(t *testing.T) {
	at := april(10, 12)
	from := func(all []truckload, i int, pile string) {
		all[i].load.Pile, all[i].deck.Product = pile, productOf[pile]
	}
	lost := func(pile string) func(all []truckload) []told {
		return func(all []truckload) []told {
			return []told{{"no loader load", []string{all[at].deckID()}, pile, onPile(pile, all[at].deck.Net)}}
		}
	}
	check(t, []one{
		{"of a product that one pile holds", func(all []truckload) {
			from(all, at, "G")
			all[at].noLoad = true
		}, nil, lost("G")},
		{"of a product that came from one pile at the time", func(all []truckload) {
			for i := at - 9; i <= at+9; i++ {
				from(all, i, "S")
			}
			all[at].noLoad = true
		}, nil, lost("S")},
		{"of a product that came from two piles", func(all []truckload) {
			for i := at - 4; i <= at+4; i++ {
				from(all, i, [2]string{"N", "S"}[i%2])
			}
			all[at].noLoad = true
		}, nil, lost("")},
		{"a void ticket", func(all []truckload) {
			all[at].noLoad = true
			all[at].deck.Void = true
		}, nil, nothing},
		{"a void load is another matter", func(all []truckload) { all[at].load.Void = true }, nil, nothing},
		{"after the last load on record", func(all []truckload) {
			for i := april(28, 0); i < len(all); i++ {
				all[i].noLoad = true
			}
		}, nil, nothing},
		{"a product that no loader weighs", func(all []truckload) {
			for i := range all {
				all[i].noLoad = all[i].load.Pile == "G"
			}
		}, nil, nothing},
	})
}
