package workbook

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// A clock that has been asked before says the same as the zone.
func TestClockAgreesWithZone(t *testing.T) {
	for _, name := range []string{"UTC", "Europe/London", "America/St_Johns", "Asia/Kathmandu", "Australia/Lord_Howe"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		rapid.Check(t, func(rt *rapid.T) {
			c := newClock(zone)
			at := time.UnixMilli(rapid.Int64Range(-1e12, 5e12).Draw(rt, "from"))
			for range 20 {
				at = at.Add(time.Duration(rapid.Int64Range(-40*24*3600, 40*24*3600).Draw(rt, "later"))*time.Second + time.Millisecond)
				local := at.In(zone)
				if got, want := c.ahead(at), local.Format(offsetLayout); got != want {
					rt.Fatalf("%s at %v: %s, want %s", name, at, got, want)
				}
				s, err := c.serial(at.UnixMilli())
				if err != nil {
					rt.Fatal(err)
				}
				// Days and the time of day as the calendar has them, up to the tenth of a millisecond that is rounded up.
				midnight := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)
				clock := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute + time.Duration(local.Second())*time.Second + time.Duration(local.Nanosecond())
				day, part := s.parts/powerOfTen[s.places], s.parts%powerOfTen[s.places]
				over := float64(part)/float64(powerOfTen[s.places])*secondsPerDay - clock.Seconds()
				if want := midnight.Unix()/secondsPerDay + serialOf1970; day != want || over < -1e-9 || over > 1e-4 {
					rt.Fatalf("%s at %v: day %d, want %d; %v s over", name, local, day, want, over)
				}
			}
		})
	}
}

// The short way to a hundredth comes to the same as the long one.
func TestHundredth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := decimal.New(rapid.Int64().Draw(rt, "coefficient"), rapid.Int32Range(-14, 3).Draw(rt, "exponent"))
		if rapid.Bool().Draw(rt, "few digits") {
			d = decimal.New(rapid.Int64Range(-99_999, 99_999).Draw(rt, "few"), rapid.Int32Range(-12, 0).Draw(rt, "places"))
		}
		got, want := hundredth(d), d.Shift(-2).InexactFloat64()
		if got != want {
			rt.Fatalf("%s: %v, want %v", d, got, want)
		}
		if d.NumDigits() <= 15 && fifteenDigits(got) != got {
			rt.Fatalf("%s: %v is not kept by a spreadsheet", d, got)
		}
	})
}
