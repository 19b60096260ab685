package piles

import (
	"fmt"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// oneSided finds transfers of which one end is not known: left empty, or a pile that the register does not name. The
// stone left a pile and came nowhere, or came from nowhere; until it is settled it lies in suspense. The book of the end
// that is known is right, so there is no effect on it: what came from nowhere is missing from a pile that the records do
// not tell, and what came nowhere lies on one. Two halves of about one mass and one time are named together, for then
// both piles are right, and nothing is missing anywhere.
type oneSided struct{}

func (oneSided) Info() screen.Info {
	return screen.Info{Name: "one-sided transfer", Strength: screen.Certain,
		Meaning: "A transfer of which one pile is missing or unknown.",
		Benign:  "A pile that is not in the register yet; stone carried to a road or a ramp, which is internal use.",
		Settle:  "A transfer with both piles that replaces it; a row of piles for the unknown one."}
}

// What two halves of one transfer may differ by.
const (
	halvesApart  = 2 * time.Hour
	halvesUnlike = 0.05
)

// half is a transfer with at most one known end.
type half struct {
	screen.Row[ledger.Transfer]
	from, to bool // known
	other    *half
}

func (oneSided) Look(d *screen.Data, found func(screen.Finding)) {
	for _, h := range halves(d) {
		if d.In(h.At()) {
			found(h.finding(d))
		}
	}
}

// halves returns the transfers with an unknown end, in order, those that make sense as one joined: each with the
// nearest before it that is its opposite and free.
func halves(d *screen.Data) []*half {
	known := func(code string) bool { return d.Register.Known(ledger.PileID{Yard: d.Yard, Code: code}) }
	var all []*half
	for _, t := range d.Transfers {
		h := &half{Row: t, from: known(t.Fact.From), to: known(t.Fact.To)}
		if h.from && h.to {
			continue
		}
		for i := len(all) - 1; i >= 0 && h.At().Sub(all[i].At()) <= halvesApart; i-- {
			if all[i].completes(h) {
				h.other, all[i].other = all[i], h
				break
			}
		}
		all = append(all, h)
	}
	return all
}

// completes reports whether two halves could be one transfer.
func (h *half) completes(o *half) bool {
	if h.other != nil || h.from == h.to || o.from == o.to || h.from == o.from {
		return false
	}
	a, b := h.Fact, o.Fact
	if o.from {
		a, b = b, a
	}
	return a.From != b.To && (a.Truck == b.Truck || a.Truck == "" || b.Truck == "") && near(a.Net, b.Net, halvesUnlike)
}

func (h *half) finding(d *screen.Data) screen.Finding {
	f, clock := h.Fact, d.Clock(h.At())
	x := screen.Finding{Subject: h.Rec.ID(), Time: h.At(), Mass: f.Net, Records: []string{h.Rec.ID()}, Instrument: f.Loader, Truck: f.Truck}
	switch {
	case h.from:
		x.Pile = f.From
		x.Seen = fmt.Sprintf("%v left pile %s at %s, and where to is %s", f.Net, f.From, clock, orUnknown(f.To))
	case h.to:
		x.Pile = f.To
		x.Seen = fmt.Sprintf("%v came to pile %s at %s, and where from is %s", f.Net, f.To, clock, orUnknown(f.From))
		if h.other == nil {
			x.Unplaced = f.Net
		}
	default:
		x.Seen = fmt.Sprintf("%v was carried at %s, from %s to %s", f.Net, clock, orUnknown(f.From), orUnknown(f.To))
	}
	if h.other != nil {
		x.Records = append(x.Records, h.other.Rec.ID())
		x.Seen += fmt.Sprintf("; %s with %v at %s may be the other half of it", h.other.Rec.ID(), h.other.Fact.Net, d.Clock(h.other.At()))
	}
	return x
}

func orUnknown(code string) string {
	if code == "" {
		return "not said"
	}
	return fmt.Sprintf("pile %q, which is not in the register", code)
}
