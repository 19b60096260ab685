package intake

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func mustClock(t testing.TB, zone string) *clock {
	t.Helper()
	c, err := newClock(zone)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustCivil(t testing.TB, s string) civil {
	t.Helper()
	c, ok := parseCivil(s)
	if !ok {
		t.Fatalf("%q is no time", s)
	}
	return c
}

// Changes of clocks as the IANA time zone database has them.
func TestMoment(t *testing.T) {
	for _, c := range []struct{ zone, shown, first, second string }{
		{"Europe/London", "2026-08-03 09:00", "2026-08-03T08:00:00Z", ""},
		{"Europe/London", "2026-10-25 00:59:59", "2026-10-24T23:59:59Z", ""},
		{"Europe/London", "2026-10-25 01:00", "2026-10-25T00:00:00Z", "2026-10-25T01:00:00Z"},
		{"Europe/London", "2026-10-25 01:59:59.5", "2026-10-25T00:59:59.5Z", "2026-10-25T01:59:59.5Z"},
		{"Europe/London", "2026-10-25 02:00", "2026-10-25T02:00:00Z", ""},
		{"Europe/London", "2026-10-25T01:30+01:00", "2026-10-25T00:30:00Z", ""},
		{"Europe/London", "2026-03-29 01:30", "", ""},
		{"America/Chicago", "2024-11-03 01:30", "2024-11-03T06:30:00Z", "2024-11-03T07:30:00Z"},
		{"America/Chicago", "2024-03-10 02:30", "", ""},
		{"America/Chicago", "2024-03-10 01:59:59", "2024-03-10T07:59:59Z", ""},
		{"America/Chicago", "2024-03-10 03:00", "2024-03-10T08:00:00Z", ""},
		{"Australia/Lord_Howe", "2026-04-05 01:45", "2026-04-04T14:45:00Z", "2026-04-04T15:15:00Z"}, // by half an hour
		{"Pacific/Apia", "2011-12-30 12:00", "", ""},                                                // a whole day
		{"UTC", "2026-10-25 01:30", "2026-10-25T01:30:00Z", ""},
		{"Asia/Kolkata", "1969-07-20 12:00", "1969-07-20T06:30:00Z", ""},
	} {
		m := mustClock(t, c.zone).moment(mustCivil(t, c.shown))
		if c.second == "" {
			c.second = c.first
		}
		write := func(at time.Time) string {
			if at.IsZero() {
				return ""
			}
			return at.Format(time.RFC3339Nano)
		}
		if write(m.first) != c.first || write(m.second) != c.second {
			t.Errorf("%s %s: got %s and %s, want %s and %s", c.zone, c.shown, write(m.first), write(m.second), c.first, c.second)
		}
	}
}

func TestGapAndDayStart(t *testing.T) {
	beirut := mustClock(t, "Asia/Beirut") // its clocks go forward at midnight
	if m := beirut.moment(mustCivil(t, "2026-03-29 00:30")); !m.skipped() || beirut.gap(m.change) != "00:00 to 01:00" {
		t.Errorf("gap %s, want 00:00 to 01:00", beirut.gap(m.change))
	}
	for _, c := range []struct{ zone, day, want string }{
		{"Europe/London", "2026-07-01", "2026-06-30T23:00:00Z"},
		{"Asia/Beirut", "2026-03-29", "2026-03-28T22:00:00Z"},
		{"Asia/Beirut", "2026-10-25", "2026-10-24T22:00:00Z"},    // the hour before comes twice, midnight once
		{"America/Havana", "2026-11-01", "2026-11-01T04:00:00Z"}, // midnight comes twice
	} {
		if got := mustClock(t, c.zone).dayStart(mustCivil(t, c.day).day); got.Format(time.RFC3339) != c.want {
			t.Errorf("%s %s starts at %v, want %s", c.zone, c.day, got, c.want)
		}
	}
}

// Whatever a zone's clock shows at an instant stands for that instant, first or second.
func TestMomentInvertsTheClock(t *testing.T) {
	zones := []string{"Europe/London", "America/Chicago", "Australia/Lord_Howe", "Pacific/Apia", "Africa/Casablanca",
		"Asia/Tehran", "America/St_Johns", "Antarctica/Troll", "UTC"}
	rapid.Check(t, func(r *rapid.T) {
		zone := rapid.SampledFrom(zones).Draw(r, "zone")
		c := mustClock(t, zone)
		at := time.Unix(rapid.Int64Range(-1_000_000_000, 4_000_000_000).Draw(r, "unix"), rapid.Int64Range(0, 999_999_999).Draw(r, "nano")).UTC()
		if rapid.Bool().Draw(r, "near a change") {
			if _, change := at.In(c.zone).ZoneBounds(); !change.IsZero() {
				at = change.Add(time.Duration(rapid.Int64Range(-3*secondsPerHour, 3*secondsPerHour).Draw(r, "seconds")) * time.Second).UTC()
			}
		}
		if _, offset := at.In(c.zone).Zone(); offset%60 != 0 {
			return // a local mean time, which nobody's records use
		}
		shown := mustCivil(t, at.In(c.zone).Format("2006-01-02T15:04:05.999999999"))
		m := c.moment(shown)
		if !m.first.Equal(at) && !m.second.Equal(at) {
			r.Fatalf("%v shows %+v, which stands for %v or %v", at, shown, m.first, m.second)
		}
		again, twice := c.showsTwice(at)
		if twice != m.repeated() || twice && again != m {
			r.Fatalf("%v: showsTwice says %v %+v, moment %+v", at, twice, again, m)
		}
	})
}
