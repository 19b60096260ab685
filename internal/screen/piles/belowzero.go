package piles

import (
	"fmt"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// belowZero finds the instant at which the book of a pile falls below zero: more has left by the records than ever lay
// there. It follows the entries in order, each as a whole, so that it names the record that crossed; a pile that began
// the month below zero is found on its first instant. What could be the cause is looked for in the records, see cause.
// It is certain that the book is wrong: no pile holds less than nothing.
type belowZero struct{}

func (belowZero) Info() screen.Info {
	return screen.Info{Name: "below zero", Strength: screen.Certain,
		Meaning: "By the records more stone left a pile than lay in it.",
		Benign:  "Production or a transfer that is still to come; an opening that was estimated low.",
		Settle:  "The late record; a load recorded anew from the right pile or with the right mass; a survey that the book takes."}
}

// spell is a time during which the book of a pile is below zero.
type spell struct {
	pile     string
	from, to *ledger.Entry // that crossed, and that brought it up again; nil before the month, and after it
	lowest   ledger.Mass   // the deepest that it went, solids
}

func (belowZero) Look(d *screen.Data, found func(screen.Finding)) {
	spells := spellsBelowZero(d)
	if len(spells) == 0 {
		return
	}
	causes := newCauses(d, spells)
	for _, s := range spells {
		found(s.finding(d, causes))
	}
}

// spellsBelowZero returns the spells of the month, in the order in which they end.
func spellsBelowZero(d *screen.Data) []*spell {
	held := map[string]ledger.Mass{}
	under := map[string]*spell{}
	for _, id := range d.Month.Piles {
		held[id.Code] = d.Month.Opening.Balances[id.Account()].Solids
		if held[id.Code] < 0 {
			under[id.Code] = &spell{pile: id.Code, lowest: held[id.Code]}
		}
	}
	var ended []*spell
	for _, e := range d.Entries {
		for _, l := range e.Legs {
			held[pileOf(l.From)] -= l.Solids
			held[pileOf(l.To)] += l.Solids
		}
		for _, l := range e.Legs { // only now: a correction takes the old mass back first
			for _, pile := range [...]string{pileOf(l.From), pileOf(l.To)} {
				s, now := under[pile], held[pile]
				switch {
				case pile == "":
				case now < 0 && s == nil:
					under[pile] = &spell{pile: pile, from: e, lowest: now}
				case now < 0:
					s.lowest = min(s.lowest, now)
				case s != nil:
					s.to, ended = e, append(ended, s)
					delete(under, pile)
				}
			}
		}
	}
	for _, id := range d.Month.Piles {
		if s := under[id.Code]; s != nil {
			ended = append(ended, s)
		}
	}
	return ended
}

// pileOf returns the pile that an account is; "" where it is none.
func pileOf(a ledger.Account) string {
	if a.Kind != ledger.KindPile {
		return ""
	}
	return a.Name
}

// start returns when the spell began, within the month: a late record is entered on its first instant.
func (s *spell) start(d *screen.Data) time.Time {
	if s.from == nil || s.from.At().Before(d.Start) {
		return d.Start
	}
	return s.from.At()
}

func (s *spell) finding(d *screen.Data, c *causes) screen.Finding {
	at := s.start(d)
	f := screen.Finding{Subject: s.pile, Time: at, Pile: s.pile, Mass: d.AsWeighed(s.pile, at, s.lowest.Abs()),
		Product: d.Register.Pile(ledger.PileID{Yard: d.Yard, Code: s.pile}, at).Product}
	verb := "begins the month below zero"
	if s.from != nil {
		id := s.from.Record.ID()
		f.Subject, f.Records = s.pile+"/"+id, []string{id}
		verb = "falls below zero at " + d.Clock(at)
	}
	words, records := c.of(d, s)
	for _, id := range records {
		if s.from == nil || id != f.Records[0] {
			f.Records = append(f.Records, id)
		}
	}
	f.Seen = fmt.Sprintf("the book of pile %s %s, by up to %v of solids; %s", s.pile, verb, s.lowest.Abs(), words)
	return f
}
