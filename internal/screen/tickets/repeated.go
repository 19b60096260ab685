package tickets

import (
	"fmt"

	"repose/internal/screen"
)

// repeated finds a number that two records of a series have, written in two ways: with other zeros in front, with
// blanks, or by a load and a transfer. Records of one key with other content never get this far; they are conflicts.
// It is certain that the number is there twice.
type repeated struct{}

func (repeated) Info() screen.Info {
	return screen.Info{Name: "repeated number", Strength: screen.Certain,
		Meaning: "Two records of one series have the same number, written in two ways.",
		Benign:  "A ticket entered by hand with other zeros; a counter that was set back.",
		Settle:  "Void the one that did not leave; or words, where both did."}
}

func (repeated) Look(d *screen.Data, found func(screen.Finding)) {
	r := seriesOf(d)
	for _, s := range r.series {
		for i := 1; i < len(s.rows); i++ {
			if s.rows[i].number == s.rows[i-1].number {
				found(r.repeated(d, s.id, s.rows[i-1], s.rows[i]))
			}
		}
	}
}

// alikeShare is how near the masses of two records are that may be of one truck: a hundredth.
const alikeShare = 100

func (s slip) alike(t slip) bool {
	return s.truck == t.truck && s.pile == t.pile && (s.net-t.net).Abs()*alikeShare <= max(s.net, t.net)
}

func (r *recorded) repeated(d *screen.Data, id seriesID, a, b numbered) screen.Finding {
	firstRec, first := r.slip(a)
	rec, second := r.slip(b)
	f := screen.Finding{Subject: rec.ID() + "/" + firstRec.ID(), Time: rec.At, Pile: second.pile, Mass: second.net,
		Records: []string{rec.ID(), firstRec.ID()}, Instrument: id.instrument, Series: id.String(), Product: second.product,
		Truck: second.truck, Customer: second.customer,
		Seen: fmt.Sprintf("number %d of series %s is there twice: %s at %s, %v, and %s at %s, %v", b.number, id,
			firstRec.Fact.Key(), d.Clock(firstRec.At), first.net, rec.Fact.Key(), d.Clock(rec.At), second.net)}
	if second.pile != "" && !first.isVoid && !second.isVoid && first.alike(second) {
		f.Effects = []screen.Effect{{Pile: second.pile, Mass: -second.net}}
	}
	return f
}
