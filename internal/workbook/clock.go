package workbook

import (
	"fmt"
	"math"
	"time"
)

// clock tells the local time of a zone. It remembers between which instants it has seen the zone keep its distance from
// UTC, because looking that up takes longer than all the rest. It is not safe for use by several at once.
type clock struct {
	zone        *time.Location
	from, until int64 // milliseconds since 1970: offset holds from the one until before the other
	offset      int64 // milliseconds ahead of UTC
	words       string
}

func newClock(zone *time.Location) *clock { return &clock{zone: zone} }

// offsetLayout shows by how much a clock is ahead of UTC.
const offsetLayout = "-07:00"

// look makes offset and words those of an instant.
func (c *clock) look(ms int64) {
	if ms >= c.from && ms < c.until {
		return
	}
	local := time.UnixMilli(ms).In(c.zone)
	start, end := local.ZoneBounds()
	c.from, c.until = math.MinInt64, math.MaxInt64
	if !start.IsZero() {
		c.from = start.UnixMilli()
	}
	if !end.IsZero() {
		c.until = end.UnixMilli()
	}
	_, seconds := local.Zone()
	c.offset, c.words = int64(seconds)*1000, local.Format(offsetLayout)
}

// ahead returns by how much the clock is ahead of UTC, as offsetLayout has it.
func (c *clock) ahead(t time.Time) string {
	c.look(t.UnixMilli())
	return c.words
}

// serial is a local date and time in parts of a day: fifteen digits, which is what a spreadsheet keeps.
type serial struct {
	parts  int64
	places int // decimals that the parts are of a day
}

func (s serial) days() float64 { return float64(s.parts) / float64(powerOfTen[s.places]) }

var powerOfTen = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10}

// serial returns the local date and time of an instant, in milliseconds since 1970. The fraction of the day is rounded up,
// by less than a tenth of a millisecond, because a time a hair before the full second is shown a second early.
func (c *clock) serial(ms int64) (serial, error) {
	const dayMs = secondsPerDay * 1000
	c.look(ms)
	local := ms + c.offset
	days := local / dayMs
	if local%dayMs < 0 {
		days--
	}
	day := days + serialOf1970
	if day < firstSerial || day > lastSerial {
		return serial{}, fmt.Errorf("instant %s: %w", time.UnixMilli(ms).In(c.zone).Format(time.RFC3339), errSerial)
	}
	s := serial{places: 10} // beside five digits of the day
	if day >= 100_000 {
		s.places = 9
	}
	grid := powerOfTen[s.places]
	s.parts = day*grid + ((local-days*dayMs)*grid+dayMs-1)/dayMs
	return s, nil
}

// instantSerial returns the local date and time of t.
func instantSerial(t time.Time, zone *time.Location) (float64, error) {
	s, err := newClock(zone).serial(t.UnixMilli())
	if err != nil {
		return 0, err
	}
	return s.days(), nil
}
