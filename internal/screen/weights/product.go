package weights

import (
	"fmt"
	"strings"
	"time"

	"repose/internal/match"
	"repose/internal/screen"
	"repose/ledger"
)

// namesakes says which products of tickets mean a product of the loaders and piles, for systems that name them differently.
type namesakes map[[2]string]bool

// leastNamesakes is how many pairs a second name of a product takes.
const leastNamesakes = 5

// namesakesOf returns the products of tickets that at least half of the pairs with a product of the loader have.
func namesakesOf(d *screen.Data) namesakes { return screen.Memo(d, findNamesakes) }

func findNamesakes(d *screen.Data) namesakes {
	pairs, loads := map[[2]string]int{}, map[string]int{}
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		if p.SameProduct == match.Unknown {
			continue
		}
		product := d.ProductOf(d.MatchLoads[p.Load].Rec)
		loads[product]++
		if p.SameProduct == match.No {
			pairs[[2]string{product, d.MatchDeck[p.Deck].Fact.Product}]++
		}
	}
	all := namesakes{}
	for names, n := range pairs {
		if n >= leastNamesakes && 2*n >= loads[names[0]] {
			all[names] = true
		}
	}
	return all
}

// same reports whether a product of the loader or of a pile and one of a ticket are the same.
func (n namesakes) same(product, ticket string) bool {
	return sameLabel(product, ticket) || n[[2]string{product, ticket}]
}

// pilesOf returns the piles that hold the product of a ticket at an instant, in order.
func (n namesakes) pilesOf(d *screen.Data, ticket string, at time.Time) []string {
	if ticket == "" {
		return nil
	}
	var all []string
	for _, id := range d.Month.Piles {
		if p := d.Register.Pile(id, at); n.same(p.Product, ticket) && (p.Closed.IsZero() || at.Before(p.Closed)) {
			all = append(all, id.Code)
		}
	}
	return all
}

// stone is what is said of the stone in a truck.
type stone struct {
	onPile, onLoad, onTicket string   // products; onLoad is empty where the load's record states none
	piles                    []string // that hold the product of the ticket, where it is another than one of the others
}

// mistake is what the products of a load contradict. The zero value is nothing.
type mistake uint8

const (
	noMistake mistake = iota
	pileMistaken
	productMistaken
)

// mistakes calls f for the pairs of the month that the matching is sure of and whose products contradict each other.
func mistakes(d *screen.Data, f func(p *match.Pair, s stone, m mistake)) {
	names := namesakesOf(d)
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		l := &d.MatchLoads[p.Load].Fact
		if p.Margin < match.SureMargin || !d.In(l.At) {
			continue
		}
		s := stone{onLoad: l.Product, onTicket: d.MatchDeck[p.Deck].Fact.Product}
		if l.Pile != "" {
			s.onPile = d.Register.Pile(ledger.PileID{Yard: d.Yard, Code: l.Pile}, l.At).Product
		}
		if s.agrees(names) {
			continue
		}
		s.piles = names.pilesOf(d, s.onTicket, l.At)
		f(p, s, s.mistake(names))
	}
}

// agrees reports whether nothing that is said of the stone contradicts the rest, or the ticket says nothing.
func (s stone) agrees(n namesakes) bool {
	return s.onTicket == "" || (s.onPile == "" || n.same(s.onPile, s.onTicket)) && (s.onLoad == "" || n.same(s.onLoad, s.onTicket))
}

// mistake says which of them seems wrong where they do not agree.
func (s stone) mistake(n namesakes) mistake {
	switch {
	case s.onPile == "" || n.same(s.onPile, s.onTicket) || len(s.piles) == 0:
		return productMistaken
	case s.onLoad == "" || n.same(s.onLoad, s.onTicket) || sameLabel(s.onLoad, s.onPile):
		return pileMistaken
	}
	return productMistaken // three products
}

// productFinding describes a load whose products contradict each other.
func productFinding(d *screen.Data, p *match.Pair, s stone) screen.Finding {
	load, deck := d.MatchLoads[p.Load], d.MatchDeck[p.Deck]
	id := load.Rec.ID()
	var said []string
	if s.onPile != "" {
		said = append(said, fmt.Sprintf("pile %s, which holds %s", load.Fact.Pile, s.onPile))
	}
	if s.onLoad != "" {
		said = append(said, "product "+s.onLoad)
	}
	return screen.Finding{Subject: id, Time: load.At(), Pile: load.Fact.Pile, Mass: load.Fact.Net, Records: []string{id, deck.Rec.ID()},
		Instrument: load.Fact.Loader, Product: s.onTicket, Customer: load.Fact.Customer, Truck: load.Fact.Truck,
		Seen: fmt.Sprintf("%s recorded %s at %s from %s; ticket %s of %s at %s has %s", load.Fact.Loader, load.Fact.Net, d.Clock(load.At()),
			strings.Join(said, " and "), deck.Fact.Ticket, deck.Fact.Deck, d.Clock(deck.At()), s.onTicket)}
}
