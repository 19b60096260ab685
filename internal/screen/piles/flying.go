package piles

import (
	"fmt"

	"repose/internal/screen"
)

// flying finds surveys during which their pile moved. What moved then may be on either side of the measurement; the
// book is set against the survey's end, and half of what moved widens the survey's uncertainty. It is certain that it
// moved.
type flying struct{}

func (flying) Info() screen.Info {
	return screen.Info{Name: "survey while loading", Strength: screen.Certain,
		Meaning: "A pile was loaded from or built on while it was being surveyed.",
		Benign:  "A survey of the whole yard with one window for all piles, during which this one was not in view yet, or any more.",
		Settle:  "Words: what was in view when; or a new survey at rest."}
}

func (flying) Look(d *screen.Data, found func(screen.Finding)) {
	for _, c := range d.Month.Comparisons {
		if len(c.InWindow) == 0 {
			continue
		}
		f := screen.Finding{Subject: c.Record.ID(), Time: c.Survey.End, Pile: c.Pile.Code, Product: c.Product, Records: []string{c.Record.ID()}}
		for _, i := range c.InWindow {
			f.Mass += i.Net.AsIs().Abs()
			f.Records = append(f.Records, i.Record.ID())
		}
		f.Seen = fmt.Sprintf("pile %s moved %s, %v together, between %s and %s, while survey %s was taken; half of that widens its error",
			c.Pile.Code, times(len(c.InWindow)), f.Mass, d.Clock(c.Survey.Start), d.Clock(c.Survey.End), c.Survey.Survey)
		found(f)
	}
}

// times writes how often.
func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
