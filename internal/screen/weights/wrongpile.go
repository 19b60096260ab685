package weights

import (
	"strings"

	"repose/internal/match"
	"repose/internal/screen"
)

// wrongPile finds loads that are recorded from a pile of another product than the deck ticket has.
//
// Of the pairs from the margin on at which the matching is sure it takes those whose ticket has another product than the pile
// holds, where the load's own product, if it states one, is that of the pile or that of the ticket, and some pile holds
// the ticket's: the loader's record is then about the wrong pile, or the ticket about the wrong product. Products that two
// systems name differently are known by half of the pairs of a product having them. If the ticket is right, the stone left a
// pile of its product.
//
// False alarms: fewer than one in fifty clean months.
type wrongPile struct{}

func (wrongPile) Info() screen.Info {
	return screen.Info{Name: "wrong pile", Strength: screen.Likely,
		Meaning: "The deck ticket of a load has another product than the pile that the loader took it from: the pile is mistaken, or the ticket's product is.",
		Benign:  "The ticket's product was picked wrongly and the stone is that of the pile; the customer took a substitute.",
		Settle: "What the customer ordered and got. If the ticket is right, move the load to the pile of its product; if the pile is " +
			"right, the ticket is to be corrected and the book stays.",
		FalseAlarms: 0.02}
}

func (wrongPile) Look(d *screen.Data, found func(screen.Finding)) {
	mistakes(d, func(p *match.Pair, s stone, m mistake) {
		if m != pileMistaken {
			return
		}
		f := productFinding(d, p, s)
		f.Seen += ", which lies on " + strings.Join(s.piles, ", ")
		f.Effects = onPile(f.Pile, -f.Mass)
		if len(s.piles) == 1 {
			f.Effects = append(f.Effects, screen.Effect{Pile: s.piles[0], Mass: f.Mass})
		}
		found(f)
	})
}
