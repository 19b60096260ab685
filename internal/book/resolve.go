package book

import (
	"fmt"
	"slices"

	"repose/ledger"
)

// explain is words alone, or, with a cause, an entry: out of the pile, or, where the closed book has taken a survey
// of the pile since, out of what that left unexplained.
func (s *settler) explain() error {
	if s.res.Cause == "" {
		if s.res.Mass > 0 || s.res.Pile != "" {
			return fmt.Errorf("%w: a mass or a pile without a cause; name one with --cause", errResolution)
		}
		return nil
	}
	pile, err := s.pile()
	if err != nil {
		return err
	}
	mass, err := s.mass()
	if err != nil {
		return err
	}
	from, at := pileEnd(pile), s.exception.Time
	b, err := s.taken(pile, at)
	if err != nil {
		return err
	}
	if b != nil {
		from, at = ledger.End{Kind: ledger.KindShrinkage, Name: ledger.ShrinkageUnexplained}, b.At
	}
	return s.correct(from, ledger.ExplainedBy(s.res.Cause), pile, at, mass)
}

func pileEnd(code string) ledger.End { return ledger.End{Kind: ledger.KindPile, Name: code} }

// reclass takes loads to the pile that they truly left: each is recorded anew and replaces the wrong one. An
// exception without loads, or with a mass, moves the mass from pile to pile.
func (s *settler) reclass() error {
	if err := s.known(s.res.To, "--to"); err != nil {
		return err
	}
	if loads, err := s.loads(); err != nil || len(loads) > 0 && s.res.Mass == 0 {
		if err != nil {
			return err
		}
		return s.reclassLoads(loads)
	}
	pile, err := s.pile()
	if err != nil {
		return err
	}
	mass, err := s.mass()
	if err != nil {
		return err
	}
	for _, code := range []string{pile, s.res.To} {
		if err := s.untaken(code, s.exception.Time); err != nil {
			return err
		}
	}
	return s.correct(pileEnd(s.res.To), pileEnd(pile), s.res.To, s.exception.Time, mass)
}

// reclassLoads records loads anew, from the pile that they left and of its product.
func (s *settler) reclassLoads(loads []*ledger.Record) error {
	n := 0
	for _, rec := range loads {
		l := rec.Fact.(ledger.Load)
		from := ledger.PileID{Yard: s.res.Yard, Code: l.Pile}
		if l.Void || l.Pile == s.res.To || s.res.Pile != "" && l.Pile != s.res.Pile {
			continue
		}
		for _, code := range []string{l.Pile, s.res.To} {
			if err := s.untaken(code, l.At); err != nil {
				return err
			}
		}
		if l.Product == s.reader.reg.Pile(from, l.At).Product {
			l.Product = s.reader.reg.Pile(ledger.PileID{Yard: s.res.Yard, Code: s.res.To}, l.At).Product
		}
		l.Pile = s.res.To
		if err := s.add(l, l.Key()); err != nil {
			return err
		}
		n++
	}
	if n == 0 {
		return fmt.Errorf("%w: none of its loads is of another pile than %s", errResolution, s.res.To)
	}
	return nil
}

// lateLoad records a truck that the loaders' records lack: from its deck ticket, weight and all, or, where nobody
// weighed it, by estimate.
func (s *settler) lateLoad() error {
	pile, err := s.pile()
	if err != nil {
		return err
	}
	if err := s.untaken(pile, s.exception.Time); err != nil {
		return err
	}
	tickets, err := s.recordsOf(ledger.KindDeckRecord)
	if err != nil {
		return err
	}
	if len(tickets) == 0 || s.res.Mass > 0 {
		mass, err := s.mass()
		if err != nil {
			return err
		}
		return s.correct(pileEnd(pile), ledger.End{Kind: ledger.KindOut, Name: ledger.PurposeSale.String()}, pile, s.exception.Time, mass)
	}
	for _, rec := range tickets {
		t := rec.Fact.(ledger.DeckTicket)
		product := s.reader.reg.Pile(ledger.PileID{Yard: s.res.Yard, Code: pile}, t.At).Product
		err := s.add(ledger.Load{At: t.At, Loader: t.Deck, Ticket: t.Ticket, Pile: pile, Product: product, Truck: t.Truck,
			Customer: t.Customer, Net: t.Net, Purpose: ledger.PurposeSale}, "")
		if err != nil {
			return err
		}
	}
	return nil
}

// split parts a load of several trucks. The grams that do not part evenly go one each to the first of them, so
// that the total is kept exactly.
func (s *settler) split() error {
	rec, err := s.load()
	if err != nil {
		return err
	}
	l := rec.Fact.(ledger.Load)
	tickets, err := s.recordsOf(ledger.KindDeckRecord)
	if err != nil {
		return err
	}
	parts := s.res.Parts
	if parts == 0 {
		parts = len(tickets)
	}
	if parts < 2 || ledger.Mass(parts) > l.Net {
		return fmt.Errorf("%w: want the number of trucks, two or more, in --parts", errResolution)
	}
	each, rest := l.Net/ledger.Mass(parts), l.Net%ledger.Mass(parts)
	whole := l
	for i := range parts {
		part := whole
		part.Net, part.Passes, part.Truck = each, 0, ""
		if ledger.Mass(i) < rest {
			part.Net++
		}
		if len(tickets) == parts {
			part.Truck, part.Customer = tickets[i].Fact.(ledger.DeckTicket).Truck, tickets[i].Fact.(ledger.DeckTicket).Customer
		}
		replaces := whole.Key()
		if i > 0 {
			part.Ticket, replaces = fmt.Sprintf("%s part %d", whole.Ticket, i+1), ""
		}
		if err := s.add(part, replaces); err != nil {
			return err
		}
	}
	return nil
}

// internalUse takes stone out of a pile for the yard itself, by estimate.
func (s *settler) internalUse() error {
	pile, err := s.pile()
	if err != nil {
		return err
	}
	mass, err := s.mass()
	if err != nil {
		return err
	}
	if err := s.untaken(pile, s.exception.Time); err != nil {
		return err
	}
	return s.correct(pileEnd(pile), ledger.End{Kind: ledger.KindOut, Name: ledger.PurposeInternal.String()}, pile, s.exception.Time, mass)
}

// setVoid records a load anew as void, or as kept.
func (s *settler) setVoid() error {
	rec, err := s.load()
	if err != nil {
		return err
	}
	l := rec.Fact.(ledger.Load)
	isVoid := s.res.How == HowVoid
	if l.Void == isVoid {
		return fmt.Errorf("%w: load %s is %s already", errResolution, rec.ID(), map[bool]string{true: "void", false: "kept"}[l.Void])
	}
	if err := s.untaken(l.Pile, l.At); err != nil {
		return err
	}
	l.Void = isVoid
	return s.add(l, l.Key())
}

// recordsOf returns the records of a kind that the exception names and that stand, in its order.
func (s *settler) recordsOf(k ledger.Kind) ([]*ledger.Record, error) {
	if s.res.Record != "" && !slices.Contains(s.exception.Records, s.res.Record) {
		return nil, fmt.Errorf("%w: record %q is not one of it", errResolution, s.res.Record)
	}
	var records []*ledger.Record
	for _, id := range s.exception.Records {
		rec, err := s.reader.store.ByID(s.ctx, id)
		if err != nil {
			return nil, fmt.Errorf("record %s: %w", id, err)
		}
		asked := s.res.Record == "" || s.res.Record == id
		if asked && rec.Fact.Kind() == k && !s.reader.reg.Superseded(rec) {
			records = append(records, rec)
		}
	}
	return records, nil
}

func (s *settler) loads() ([]*ledger.Record, error) { return s.recordsOf(ledger.KindLoadRecord) }

// load returns the load that is meant: the first that the exception names, or the one asked for.
func (s *settler) load() (*ledger.Record, error) {
	loads, err := s.loads()
	if err != nil {
		return nil, err
	}
	if len(loads) == 0 {
		return nil, fmt.Errorf("%w: it names no load that stands", errResolution)
	}
	return loads[0], nil
}
