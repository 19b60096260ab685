package piles

import (
	"fmt"
	"strings"

	"repose/internal/screen"
	"repose/ledger"
)

// belowZero finds the instant at which the book of a pile falls below zero: more has left by the records than ever lay
// there. It follows the entries in order, so that it names the record that crossed. The likeliest cause is looked for
// in the records: one movement out of all proportion, days on which nothing was made though the days around had
// production, and a pile that grew by about as much meanwhile. It is certain that the book is wrong: no pile holds less
// than nothing.
type belowZero struct{}

func (belowZero) Info() screen.Info {
	return screen.Info{Name: "below zero", Strength: screen.Certain,
		Meaning: "By the records more stone left a pile than lay in it.",
		Benign:  "Production or a transfer that is still to come; an opening that was estimated low.",
		Settle:  "The late record; a load recorded anew from the right pile or with the right mass; a survey that the book takes."}
}

// spell is a time during which the book of a pile is below zero.
type spell struct {
	entry  *ledger.Entry // that crossed
	lowest ledger.Mass   // the deepest that it went, solids
}

func (belowZero) Look(d *screen.Data, found func(screen.Finding)) {
	held := map[string]ledger.Mass{}
	for a, amount := range d.Month.Opening.Balances {
		if a.Kind == ledger.KindPile {
			held[a.Name] = amount.Solids
		}
	}
	under := map[string]*spell{}
	for _, e := range d.Entries {
		for _, l := range e.Legs {
			for _, end := range []struct {
				account ledger.Account
				solids  ledger.Mass
			}{{l.From, -l.Solids}, {l.To, l.Solids}} {
				if end.account.Kind != ledger.KindPile || end.solids == 0 {
					continue
				}
				code := end.account.Name
				held[code] += end.solids
				switch s := under[code]; {
				case held[code] >= 0 && s != nil:
					found(s.finding(d, code))
					delete(under, code)
				case held[code] < 0 && s == nil:
					under[code] = &spell{e, held[code]}
				case held[code] < 0:
					s.lowest = min(s.lowest, held[code])
				}
			}
		}
	}
	for _, id := range d.Month.Piles {
		if s := under[id.Code]; s != nil {
			found(s.finding(d, id.Code))
		}
	}
}

func (s *spell) finding(d *screen.Data, pile string) screen.Finding {
	at := s.entry.At()
	if at.Before(d.Start) {
		at = d.Start // a late record
	}
	f := screen.Finding{Subject: pile + "/" + s.entry.Record.ID(), Time: at, Pile: pile, Mass: d.AsWeighed(pile, at, s.lowest.Abs()), Records: []string{s.entry.Record.ID()},
		Product: d.Register.Pile(ledger.PileID{Yard: d.Yard, Code: pile}, at).Product}
	cause := s.cause(d, pile, &f)
	f.Seen = fmt.Sprintf("the book of pile %s falls below zero at %s, by up to %v of solids; %s", pile, d.Clock(at), s.lowest.Abs(), cause)
	return f
}

// outOfProportion is how many times the usual movement of a pile one has to be to explain by itself that the book
// is below zero.
const outOfProportion = 3

// cause says what in the records could have brought the book below zero, and names those records.
func (s *spell) cause(d *screen.Data, pile string, f *screen.Finding) string {
	var largest *ledger.Entry
	var most, sum ledger.Mass
	var n int
	for _, e := range d.Entries {
		if out := leaving(e, pile); out > 0 && !e.At().After(s.entry.At()) {
			n, sum = n+1, sum+out
			if out > most {
				most, largest = out, e
			}
		}
	}
	if n > 1 && most > outOfProportion*((sum-most)/ledger.Mass(n-1)) {
		if id := largest.Record.ID(); id != f.Records[0] {
			f.Records = append(f.Records, id)
		}
		return fmt.Sprintf("one movement, %s with %v, is out of all proportion", largest.Record.ID(), most)
	}
	var causes []string
	if days := idleDays(d, pile, s.entry); days > 0 {
		causes = append(causes, fmt.Sprintf("nothing was made for it in the %d days before, though it usually is", days))
	}
	if other := grown(d, pile, s.lowest.Abs()); other != "" {
		causes = append(causes, fmt.Sprintf("pile %s holds about as much more than the month began with", other))
	}
	if len(causes) == 0 {
		return "production, a transfer or an opening is missing, or loads of another pile were booked to it"
	}
	return strings.Join(causes, "; ")
}

// leaving returns the solids that an entry takes out of a pile.
func leaving(e *ledger.Entry, pile string) (m ledger.Mass) {
	for _, l := range e.Legs {
		if l.From.Kind == ledger.KindPile && l.From.Name == pile {
			m += l.Solids
		}
	}
	return m
}

// idleDays returns for how many whole days nothing had been made for a pile that is usually made for; 0 where it was
// made for lately or never is.
func idleDays(d *screen.Data, pile string, e *ledger.Entry) int {
	var last, first *ledger.Record
	runs := 0
	for _, p := range d.Production {
		if p.Fact.Pile == pile && p.At().Before(e.At()) {
			if first == nil {
				first = p.Rec
			}
			last = p.Rec
			runs++
		}
	}
	if runs < 3 {
		return 0
	}
	usual := last.At.Sub(first.At) / (3 * screen.After) // a third of the time that the runs span, in days
	if idle := int(e.At().Sub(last.At) / screen.After); idle > 3 && idle > int(usual) {
		return idle
	}
	return 0
}

// grown returns the pile that grew in the month by between half and twice a mass, the nearest first; "" for none.
func grown(d *screen.Data, pile string, m ledger.Mass) (best string) {
	var nearest ledger.Mass = -1
	for _, id := range d.Month.Piles {
		growth := d.Month.Closing.Balances[id.Account()].Solids - d.Month.Opening.Balances[id.Account()].Solids
		if id.Code == pile || growth < m/2 || growth > 2*m {
			continue
		}
		if off := (growth - m).Abs(); nearest < 0 || off < nearest {
			nearest, best = off, id.Code
		}
	}
	return best
}
