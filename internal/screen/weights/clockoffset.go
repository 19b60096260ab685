package weights

import (
	"fmt"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/internal/stat"
)

// clockOffset finds clocks that differ between a loader and a deck scale, so that somebody sets them.
//
// Of each loader and deck scale with pairs of their own it tells where trucks usually cross the deck before they are
// loaded, or later than the setting; and the day from which the usual time has changed most, if by more than the setting: the
// median of three days' medians against that of the three before, each of ten trucks or more. Thirty minutes from loader to deck
// are rare, and ten minutes more or less from one day to the next (common practice, no source).
//
// False alarms: none in 200 clean months.
type clockOffset struct{}

var (
	offsetMinutes = screen.Setting{Name: "rule clock offset minutes", Holds: screen.Minutes, Default: "30",
		Meaning: "how long trucks may usually be between loader and deck"}
	offsetJump = screen.Setting{Name: "rule clock offset jump minutes", Holds: screen.Minutes, Default: "10",
		Meaning: "by how much the usual time between loader and deck may change from one day to the next"}
)

func (clockOffset) Info() screen.Info {
	return screen.Info{Name: "clock offset", Strength: screen.Pattern,
		Meaning:  "The clocks of a loader and a deck scale differ, or one of them was changed: by their records trucks cross the deck before they are loaded, or much later or sooner than usual.",
		Benign:   "A clock was not set to summer or winter time; a load is stamped when it begins on one loader and when it ends on another; a longer way or queue.",
		Settle:   "Set the clock and note the day. Records keep their stamps; near the end of a month check on which side of it they belong.",
		Settings: []screen.Setting{offsetMinutes, offsetJump}}
}

func (clockOffset) Look(d *screen.Data, found func(screen.Finding)) {
	lags := map[pairKey]*days{}
	for _, l := range d.Match.Learned {
		lags[pairKey{l.Loader, l.Deck}] = &days{zone: d.Zone}
	}
	for i := range d.Match.Pairs {
		p := &d.Match.Pairs[i]
		load := &d.MatchLoads[p.Load].Fact
		lags[pairKey{load.Loader, d.MatchDeck[p.Deck].Fact.Deck}].add(load.At, p.Lag.Seconds())
	}
	longest, most := d.Duration(offsetMinutes), d.Duration(offsetJump)
	for _, l := range d.Match.Learned {
		s := lags[pairKey{l.Loader, l.Deck}]
		if l.Pairs == 0 {
			continue
		}
		f := screen.Finding{Instrument: l.Loader, Time: d.Start}
		if l.Lag < 0 || l.Lag > longest {
			f.Subject = l.Loader + "/" + l.Deck + "/lag"
			f.Seen = fmt.Sprintf("trucks of %s cross %s %s, by %d of them", l.Loader, l.Deck, afterOrBefore(l.Lag), l.Pairs)
			found(f)
		}
		if at, before, after := s.jump(); (after - before).Abs() > most {
			f.Subject, f.Time = l.Loader+"/"+l.Deck+"/jump", at
			f.Seen = fmt.Sprintf("from %s on trucks of %s cross %s %s, and before it was %s", dateOf(d, at), l.Loader, l.Deck,
				afterOrBefore(after), afterOrBefore(before))
			found(f)
		}
	}
}

func afterOrBefore(lag time.Duration) string {
	if lag < 0 {
		return minutes(-lag) + " before they are loaded"
	}
	return minutes(lag) + " after they are loaded"
}

const (
	jumpDays  = 3  // to each side
	jumpPairs = 10 // on each side
)

// jump returns the day from which the median of some days' medians differs most from that of as many before, and both;
// all zero where no day has enough pairs on both sides.
func (s *days) jump() (at time.Time, before, after time.Duration) {
	medians := make([]float64, len(s.list))
	for i := range s.list {
		medians[i] = stat.Median(s.list[i].x)
	}
	middle := func(from, to int) (lag time.Duration, enough bool) {
		pairs := 0
		for _, one := range s.list[from:to] {
			pairs += len(one.x)
		}
		return time.Duration(stat.Median(slices.Clone(medians[from:to])) * float64(time.Second)), pairs >= jumpPairs
	}
	for i := 1; i < len(s.list); i++ {
		a, enough := middle(max(i-jumpDays, 0), i)
		b, too := middle(i, min(i+jumpDays, len(s.list)))
		if enough && too && (b-a).Abs() > (after-before).Abs() {
			at, before, after = s.list[i].start, a, b
		}
	}
	return at, before, after
}
