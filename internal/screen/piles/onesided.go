package piles

import (
	"fmt"

	"repose/internal/screen"
	"repose/ledger"
)

// oneSided finds transfers of which one end is not known: left empty, or a pile that the register does not name. The
// stone left a pile and came nowhere, or came from nowhere; until it is settled it lies in suspense.
type oneSided struct{}

func (oneSided) Info() screen.Info {
	return screen.Info{Name: "one-sided transfer", Strength: screen.Certain,
		Meaning: "A transfer of which one pile is missing or unknown.",
		Benign:  "A pile that is not in the register yet; stone carried to a road or a ramp, which is internal use.",
		Settle:  "A transfer with both piles that replaces it; a row of piles for the unknown one."}
}

func (oneSided) Look(d *screen.Data, found func(screen.Finding)) {
	known := func(code string) bool { return d.Register.Known(ledger.PileID{Yard: d.Yard, Code: code}) }
	for _, t := range d.Transfers {
		f := t.Fact
		from, to := known(f.From), known(f.To)
		if from && to || !d.In(t.At()) {
			continue
		}
		x := screen.Finding{Subject: t.Rec.ID(), Time: t.At(), Mass: f.Net, Records: []string{t.Rec.ID()}, Instrument: f.Loader, Truck: f.Truck}
		switch {
		case from:
			x.Pile = f.From
			x.Seen = fmt.Sprintf("%v left pile %s at %s, and where to is %s", f.Net, f.From, d.Clock(t.At()), orUnknown(f.To))
		case to:
			x.Pile = f.To
			x.Seen = fmt.Sprintf("%v came to pile %s at %s, and where from is %s", f.Net, f.To, d.Clock(t.At()), orUnknown(f.From))
		default:
			x.Seen = fmt.Sprintf("%v was carried at %s, from %s to %s", f.Net, d.Clock(t.At()), orUnknown(f.From), orUnknown(f.To))
		}
		found(x)
	}
}

func orUnknown(code string) string {
	if code == "" {
		return "not said"
	}
	return fmt.Sprintf("pile %q, which is not in the register", code)
}
