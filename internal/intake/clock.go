package intake

import (
	"fmt"
	"time"
)

// clock turns what the clocks of a zone showed into instants.
type clock struct {
	zone *time.Location
	days map[int32]dayOffset

	last    int32 // the day asked for last, because rows of one day stand together
	lastOff dayOffset
}

// dayOffset is how far a zone is from UTC on one day.
type dayOffset struct {
	known  bool
	steady bool  // all day, and all of the days on both sides
	offset int32 // seconds east of UTC, where steady
}

// newClock returns the clock of an IANA zone such as Europe/London.
func newClock(zone string) (*clock, error) {
	loc, err := time.LoadLocation(zone)
	if err != nil || zone == "" || zone == "Local" {
		return nil, fmt.Errorf("time zone %q: want an IANA name such as Europe/London", zone)
	}
	return &clock{zone: loc, days: make(map[int32]dayOffset)}, nil
}

// day returns how far the zone is from UTC on a day. Finding it takes a search in the zone's table, and
// a file has many rows of one day, so it is kept.
func (c *clock) day(day int32) dayOffset {
	if c.lastOff.known && c.last == day {
		return c.lastOff
	}
	d := c.days[day]
	if !d.known {
		noon := time.Unix(int64(day)*secondsPerDay+secondsPerDay/2, 0).In(c.zone)
		_, offset := noon.Zone()
		start, end := noon.ZoneBounds()
		const margin = 2 * secondsPerDay // the day, and the furthest that a zone can be from UTC
		d = dayOffset{known: true, offset: int32(offset),
			steady: (start.IsZero() || noon.Unix()-start.Unix() > margin) && (end.IsZero() || end.Unix()-noon.Unix() > margin)}
		c.days[day] = d
	}
	c.last, c.lastOff = day, d
	return d
}

// moment is what a reading of a clock stands for: one instant, or none where the clock skipped it, or
// two where it showed it twice.
type moment struct {
	first, second time.Time // equal for one instant; both zero for none
	change        time.Time // when the clock was changed, for two instants and for none
}

// skipped reports whether the clock never showed the reading.
func (m moment) skipped() bool { return m.first.IsZero() }

// repeated reports whether the clock showed the reading twice.
func (m moment) repeated() bool { return !m.first.Equal(m.second) }

// moment returns what a reading stands for. One with an offset is one instant whatever the zone.
func (c *clock) moment(r civil) moment {
	wall, nano := r.wall(), int64(r.nano)
	if r.hasOffset {
		return oneMoment(wall-int64(r.offset), nano)
	}
	if d := c.day(r.day); d.steady {
		return oneMoment(wall-int64(d.offset), nano)
	}
	return c.search(wall, nano)
}

func oneMoment(unix, nano int64) moment {
	t := time.Unix(unix, nano).UTC()
	return moment{first: t, second: t}
}

// search tries the offset of every stretch of the zone's time that could show the reading: those within
// a day of it, as no zone is further than that from UTC.
func (c *clock) search(wall, nano int64) moment {
	var m moment
	at := time.Unix(wall-secondsPerDay, 0).In(c.zone)
	for {
		_, offset := at.Zone()
		start, end := at.ZoneBounds()
		t := time.Unix(wall-int64(offset), nano)
		switch {
		case !start.IsZero() && t.Before(start):
			if m.skipped() && m.change.IsZero() {
				m.change = start
			}
		case end.IsZero() || t.Before(end):
			if m.skipped() {
				m.first = t.UTC()
			} else {
				m.change = start
			}
			m.second = t.UTC()
		}
		if end.IsZero() || end.Unix() > wall+secondsPerDay {
			return m
		}
		at = end
	}
}

// showsTwice returns what the clock showed at an instant as a moment, if it is one of a repeated hour.
func (c *clock) showsTwice(at time.Time) (moment, bool) {
	local := at.In(c.zone)
	_, offset := local.Zone()
	wall := at.Unix() + int64(offset)
	if c.day(dayOf(wall)).steady {
		return moment{}, false
	}
	m := c.search(wall, int64(at.Nanosecond()))
	return m, m.repeated()
}

// dayOf returns the day of a wall reading, which is negative before 1970.
func dayOf(wall int64) int32 {
	day := wall / secondsPerDay
	if wall%secondsPerDay < 0 {
		day--
	}
	return int32(day)
}

// dayStart returns the first instant of a day in the zone: its midnight, the first of two, or the instant
// when the clock was put forward over it.
func (c *clock) dayStart(day int32) time.Time {
	m := c.moment(civil{day: day})
	if m.skipped() {
		return m.change.UTC()
	}
	return m.first
}

// reading writes what the clocks of a zone show at an instant, with their distance from UTC, as a cell may
// hold it.
func reading(at time.Time, zone *time.Location) string {
	layout := "2006-01-02T15:04"
	if at.Second() != 0 || at.Nanosecond() != 0 {
		layout = "2006-01-02T15:04:05.999999999"
	}
	if zone == time.UTC {
		return at.Format(layout) + "Z"
	}
	return at.In(zone).Format(layout + "-07:00")
}

// gap says which times the clock left out when it was changed: "02:00 to 03:00".
func (c *clock) gap(change time.Time) string {
	before := change.Add(-time.Second).In(c.zone)
	_, offset := before.Zone()
	from := change.In(time.FixedZone("", offset))
	return from.Format("15:04") + " to " + change.In(c.zone).Format("15:04")
}
