package weights

import (
	"repose/internal/match"
	"repose/internal/screen"
)

// wrongProduct finds loads whose stated product is not that of the deck ticket, where the pile may well be right.
//
// Of the pairs from the margin on at which the matching is sure it takes those whose products differ and which the rule
// "wrong pile" does not have: the ticket has the product of the pile and the load's record another, or the record names no
// pile, or all three differ, or no pile holds the ticket's product. The book goes by the pile, so there is no effect.
//
// False alarms: fewer than one in fifty clean months.
type wrongProduct struct{}

func (wrongProduct) Info() screen.Info {
	return screen.Info{Name: "wrong product", Strength: screen.Likely,
		Meaning:     "A load's record and its deck ticket name different products, and the pile does not say that the loader took the stone elsewhere.",
		Benign:      "The operator left the product of the load before on the display; the office changed the order after the truck was loaded.",
		Settle:      "What the customer ordered and got; then a record of the load with the right product in place of this one.",
		FalseAlarms: 0.02}
}

func (wrongProduct) Look(d *screen.Data, found func(screen.Finding)) {
	mistakes(d, func(p *match.Pair, s stone, m mistake) {
		if m == productMistaken {
			found(productFinding(d, p, s))
		}
	})
}
