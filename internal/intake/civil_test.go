package intake

import (
	"testing"
	"time"
)

// isoLayouts are the forms that parseCivil takes, as the time package writes them.
var isoLayouts = []struct {
	layout             string
	hasTime, hasOffset bool
}{
	{"2006-01-02", false, false},
	{"2006-01-02 15:04", true, false},
	{"2006-01-02T15:04", true, false},
	{"2006-01-02 15:04:05", true, false},
	{"2006-01-02T15:04:05", true, false},
	{"2006-01-02T15:04:05.000000000", true, false},
	{"2006-01-02T15:04Z07:00", true, true},
	{"2006-01-02T15:04:05Z07:00", true, true},
	{"2006-01-02T15:04:05.000Z07:00", true, true},
	{"2006-01-02 15:04:05-0700", true, true},
	{"2006-01-02 15:04:05 -07:00", true, true},
	{"2006-01-02T15:04-07", true, true},
}

// instantOf returns a civil reading as an instant of UTC.
func instantOf(c civil) time.Time {
	return time.Unix(c.wall()-int64(c.offset), int64(c.nano)).UTC()
}

func TestParseCivilTakesWhatTheTimePackageWrites(t *testing.T) {
	india := time.FixedZone("", 5*secondsPerHour+30*60)
	for _, at := range []time.Time{
		time.Date(2026, 8, 3, 9, 5, 7, 250_000_000, time.UTC),
		time.Date(2024, 2, 29, 23, 59, 59, 0, india),
		time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC),
		time.Date(2199, 12, 31, 12, 0, 0, 0, time.FixedZone("", -9*secondsPerHour)),
	} {
		for _, l := range isoLayouts {
			s := at.Format(l.layout)
			want, err := time.Parse(l.layout, s)
			if err != nil {
				continue // the time package does not read back every offset that it writes
			}
			c, ok := parseCivil(s)
			if !ok || c.hasTime != l.hasTime || c.hasOffset != l.hasOffset || !instantOf(c).Equal(want) {
				t.Errorf("%q: got %+v %v, want %v", s, c, ok, want)
			}
		}
	}
}

func TestParseCivilRefuses(t *testing.T) {
	for _, s := range []string{
		"", "2026", "2026-8-3", "2026-08-03T", "2026-08-03 9:00", "2026-08-03 09:00:", "2026-08-03 09:00:5",
		"2026-13-01", "2026-02-29", "2026-00-10", "1899-12-31", "2200-01-01", "2026-08-03 24:00", "2026-08-03 09:60",
		"2026-08-03 09:00:60", "2026-08-03 09:00:00.", "2026-08-03 09:00:00.1234567890", "2026-08-03 09:00.5",
		"2026-08-03T09:00z", "2026-08-03T09:00+1", "2026-08-03T09:00+1:00", "2026-08-03T09:00+19:00", "2026-08-03T09:00+01:60",
		"2026-08-03T09:00 ", "2026-08-03Z", "2026-08-03  09:00", "2026/08/03 09:00", "+026-08-03", "2026-08-03 0-:00",
	} {
		if c, ok := parseCivil(s); ok {
			t.Errorf("%q: got %+v, want none", s, c)
		}
	}
}

func FuzzParseCivil(f *testing.F) {
	for _, l := range isoLayouts {
		f.Add(time.Date(2026, 8, 3, 9, 5, 7, 250_000_000, time.UTC).Format(l.layout))
	}
	f.Add("2026-02-29 09:00")
	f.Fuzz(func(t *testing.T, s string) {
		c, ok := parseCivil(s)
		if !ok {
			return
		}
		if c.second < 0 || c.second >= secondsPerDay || c.nano < 0 || c.nano >= 1e9 || !c.hasTime && c.wall()%secondsPerDay != 0 {
			t.Fatalf("%q: got %+v", s, c)
		}
		// Written in full and read again it is the same instant.
		again, ok := parseCivil(instantOf(c).Format("2006-01-02T15:04:05.999999999Z07:00"))
		if year := instantOf(c).Year(); ok && !instantOf(again).Equal(instantOf(c)) || !ok && year >= firstYear && year <= lastYear {
			t.Fatalf("%q: got %v, then %v", s, instantOf(c), instantOf(again))
		}
	})
}
