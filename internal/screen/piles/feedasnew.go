package piles

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

var feedMinutes = screen.Setting{Name: "rule feed as new minutes", Holds: screen.Minutes, Default: "120",
	Meaning: "How long after stone was fed to the crusher a belt may still be counting it."}

// feedAsNew finds days on which stone was carried from a pile back to the crusher while belts counted production: what
// the belts counted then is in part stone that was made before. The pile that it came from is right; what is made a
// second time is not new stone. At most the smaller of both masses is counted twice. The book keeps feed apart, so no
// balance is wrong; production as a figure is.
type feedAsNew struct{}

func (feedAsNew) Info() screen.Info {
	return screen.Info{Name: "feed as new", Strength: screen.Likely, FalseAlarms: 0.2,
		Meaning:  "Belts counted production in the hours in which stone was fed back to the crusher: some of it is not new.",
		Benign:   "A plant that crushes pit stone and fed stone side by side, as it is meant to.",
		Settle:   "Words: how much of the day's production was feed. What was fed is out of its pile already.",
		Settings: []screen.Setting{feedMinutes}}
}

func (feedAsNew) Look(d *screen.Data, found func(screen.Finding)) {
	type feedDay struct {
		first, last time.Time
		fed         ledger.Mass
		records     []string
		pile        string
		made        ledger.Mass
	}
	days := map[string]*feedDay{}
	for _, f := range d.Feeds {
		if !d.In(f.At()) {
			continue
		}
		key := f.At().In(d.Zone).Format(time.DateOnly)
		day, ok := days[key]
		if !ok {
			day = &feedDay{first: f.At(), pile: f.Fact.Pile}
			days[key] = day
		}
		if f.Fact.Pile != day.pile {
			day.pile = "" // of several
		}
		day.last, day.fed = f.At(), day.fed+f.Fact.Net
		day.records = append(day.records, f.Rec.ID())
	}
	made, slack := madeBy(d), d.Duration(feedMinutes)
	for _, p := range d.Production {
		day, ok := days[p.At().In(d.Zone).Format(time.DateOnly)]
		if !ok || p.At().Before(day.first) || p.At().After(day.last.Add(slack)) {
			continue
		}
		m := p.Fact.Net
		if p.Fact.IsReading {
			m = made[p.Rec.ID()]
		}
		if m > 0 {
			day.made += m
			day.records = append(day.records, p.Rec.ID())
		}
	}
	for _, key := range slices.Sorted(maps.Keys(days)) {
		day := days[key]
		if day.made == 0 {
			continue
		}
		found(screen.Finding{Subject: key, Time: day.first, Pile: day.pile, Mass: min(day.fed, day.made), Records: day.records,
			Seen: fmt.Sprintf("%v was fed to the crusher between %s and %s, and belts counted %v then or soon after; up to %v of it is not new",
				day.fed, d.Clock(day.first), d.Clock(day.last), day.made, min(day.fed, day.made))})
	}
}
