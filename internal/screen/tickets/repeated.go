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
	all := seriesOf(d)
	for _, id := range sortedIDs(all) {
		list := all[id]
		for i := 1; i < len(list); i++ {
			if list[i].number == list[i-1].number {
				found(repeatedFinding(d, id, list[i-1], list[i]))
			}
		}
	}
}

// alikeShare is how near the masses of two records are that may be of one truck: a hundredth.
const alikeShare = 100

func (n numbered) alike(m numbered) bool {
	return n.truck == m.truck && n.pile == m.pile && (n.net-m.net).Abs()*alikeShare <= max(n.net, m.net)
}

func repeatedFinding(d *screen.Data, id seriesID, first, second numbered) screen.Finding {
	f := screen.Finding{Subject: second.rec.ID() + "/" + first.rec.ID(), Time: second.at, Pile: second.pile, Mass: second.net,
		Records: []string{second.rec.ID(), first.rec.ID()}, Instrument: id.instrument, Series: id.String(), Product: second.product,
		Truck: second.truck, Customer: second.customer,
		Seen: fmt.Sprintf("number %d of series %s is there twice: %s at %s, %v, and %s at %s, %v", second.number, id,
			first.rec.Fact.Key(), d.Clock(first.at), first.net, second.rec.Fact.Key(), d.Clock(second.at), second.net)}
	if second.pile != "" && !first.isVoid && !second.isVoid && first.alike(second) {
		f.Effects = []screen.Effect{{Pile: second.pile, Mass: -second.net}}
	}
	return f
}
