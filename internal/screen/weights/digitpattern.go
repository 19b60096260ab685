package weights

import (
	"fmt"
	"slices"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// digitPattern finds instruments with a preference for some last digits, and trucks that cluster below a legal limit.
//
// The last digit is that of a net in divisions of the display. Where loads scatter by more than six divisions of the tenfold, all are
// equally likely; their numbers are held to that with a chi-square test, at 1 % for all instruments together (Sidak), from
// twenty for each digit on. Whole and half tonnes are left out, which have a rule of their own, and runs in another unit. The limit is that of a
// truck's gross; where the setting names one, the tickets within 200 kg below it are held to those of the 200 kg before by a
// binomial test at 1 %, from thirty on.
//
// False alarms: one in a hundred clean months.
type digitPattern struct{}

var digitLimit = screen.Setting{Name: "rule digit pattern limit", Holds: screen.Tonnage, Default: "0 t",
	Meaning: "the gross mass that the law allows a truck, to look for weights just below it; 0 t to leave it"}

func (digitPattern) Info() screen.Info {
	return screen.Info{Name: "digit pattern", Strength: screen.Pattern,
		Meaning:     "The last digits of an instrument's nets are not equally frequent, or trucks weigh just below the legal limit too often: figures that were typed, rounded or chosen.",
		Benign:      "A display that steps unevenly, or a conversion between units; operators who load up to the limit by their display.",
		Settle:      "The instrument's own memory or prints. A pattern is no proof about any one record.",
		FalseAlarms: 0.02, Settings: []screen.Setting{digitLimit}}
}

const (
	digitLevel = 0.01
	leastDigit = 20
	limitWidth = 200 * ledger.Kilogram
	leastLimit = 30
)

func (digitPattern) Look(d *screen.Data, found func(screen.Finding)) {
	all := instruments(d)
	slipped := judge(d).slipped(d)
	for _, in := range all {
		if f, ok := in.digits(in.offGrid(slipped), eachLevel(digitLevel, len(all))); ok {
			found(f)
		}
	}
	if limit := d.Tonnage(digitLimit); limit > 0 {
		belowLimit(d, limit, found)
	}
}

// digits tests the last digits of nets; ok is false where they are as chance makes them or too few.
func (in *instrument) digits(list []net, level float64) (f screen.Finding, ok bool) {
	if len(list) < 10*leastDigit || !in.scatters(list) {
		return f, false
	}
	var seen [10]int
	for _, w := range list {
		seen[in.lastDigit(w)]++
	}
	test := stat.ChiSquare{DF: -1}
	most, excess := 0, 0.0
	for digit, part := range in.expectedDigits() {
		e := part * float64(len(list))
		if e == 0 {
			continue
		}
		over := float64(seen[digit]) - e
		test.Value += over * over / e
		test.DF++
		if over > excess {
			most, excess = digit, over
		}
	}
	p := test.P()
	if p >= level {
		return f, false
	}
	f = screen.Finding{Subject: in.code + "/digits", Instrument: in.code}
	for _, w := range list {
		if in.lastDigit(w) == most {
			f.Records = append(f.Records, w.rec.ID())
			if f.Time.IsZero() {
				f.Time = w.rec.At
			}
		}
	}
	f.Seen = fmt.Sprintf("of %d nets of %s in steps of %s, %d end in %d, where chance makes about %.0f; digits as uneven come once in %.0f such months",
		len(list), in.code, in.mass(in.division), seen[most], most, float64(seen[most])-excess, 1/max(p, 1e-9))
	return f, true
}

func (in *instrument) lastDigit(w net) int { return int(w.n / in.division % 10) }

// offGrid returns the nets that are no multiples of half a ton and in the right unit.
func (in *instrument) offGrid(slipped map[*ledger.Record]bool) []net {
	list := make([]net, 0, len(in.nets))
	for _, w := range in.nets {
		if w.n > 0 && !w.on(roundGrids[1]) && !slipped[w.rec] {
			list = append(list, w)
		}
	}
	return list
}

// scatters reports whether nets differ by enough for their last digits to be equally likely. For normal ones the
// chance of a digit is off by 2 exp(-2 (pi s)^2) at most, with s their standard deviation in tens of divisions: a
// thousandth at 0.6. It is taken from the quartiles.
func (in *instrument) scatters(list []net) bool {
	all := make([]int64, len(list))
	for i, w := range list {
		all[i] = w.n
	}
	slices.Sort(all)
	quartiles := float64(all[3*len(all)/4] - all[len(all)/4])
	return quartiles/1.349 >= 0.6*float64(10*in.division)
}

// expectedDigits returns the part of the figures off the grid of half tonnes that end in each digit.
func (in *instrument) expectedDigits() (part [10]float64) {
	steps := 0.0
	for k := range 10 * roundGrids[1] {
		if n := k * in.division; n%roundGrids[1] != 0 {
			part[k%10]++
			steps++
		}
	}
	for i := range part {
		part[i] /= steps
	}
	return part
}

// belowLimit finds deck scales whose trucks cluster just below a gross mass.
func belowLimit(d *screen.Data, limit ledger.Mass, found func(screen.Finding)) {
	type count struct {
		below, before int
		first         *ledger.Record
	}
	decks := map[string]*count{}
	for i := range d.Deck {
		f := &d.Deck[i].Fact
		if f.Void || !d.In(f.At) || f.Gross > limit || f.Gross <= limit-2*limitWidth {
			continue
		}
		c := decks[f.Deck]
		if c == nil {
			c = new(count)
			decks[f.Deck] = c
		}
		if f.Gross <= limit-limitWidth {
			c.before++
			continue
		}
		if c.below++; c.first == nil {
			c.first = d.Deck[i].Rec
		}
	}
	for code, c := range decks {
		n := c.below + c.before
		if n < leastLimit || stat.BinomialTail(n, c.below, 0.5) >= eachLevel(digitLevel, len(decks)) {
			continue
		}
		found(screen.Finding{Subject: code + "/limit", Time: c.first.At, Records: []string{c.first.ID()}, Instrument: code,
			Seen: fmt.Sprintf("%d trucks on %s weigh up to %s less than %s gross, and %d in the %s before that", c.below, code, limitWidth,
				limit, c.before, limitWidth)})
	}
}
