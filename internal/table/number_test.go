package table

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestAppendNumber(t *testing.T) {
	for _, tt := range []struct {
		v    float64
		want string
	}{
		{0, "0"},
		{math.Copysign(0, -1), "0"},
		{24.31, "24.31"},
		{24.310000000000002, "24.31"},
		{0.1 + 0.2, "0.3"},
		{99.99999999999999, "100"},
		{-1.5e-7, "-0.00000015"},
		{1e21, "1000000000000000000000"},
		{123456789012345, "123456789012345"},
		{123456789012345678, "123456789012346000"},
	} {
		if got := string(appendNumber(nil, tt.v)); got != tt.want {
			t.Errorf("appendNumber(%v) = %q, want %q", tt.v, got, tt.want)
		}
	}
}

// TestAppendNumberDigits checks that a decimal of up to 15 digits comes back as
// it was, and a hundred times it likewise, as percentages need.
func TestAppendNumberDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-999_999_999_999_999, 999_999_999_999_999).Draw(t, "digits")
		places := rapid.IntRange(2, 20).Draw(t, "places")
		for shift, factor := range map[int]float64{0: 1, 2: 100} {
			v, err := strconv.ParseFloat(strconv.FormatInt(n, 10)+"e-"+strconv.Itoa(places), 64)
			if err != nil {
				t.Fatal(err)
			}
			want := decimalText(n, places-shift)
			if got := string(appendNumber(nil, v*factor)); got != want {
				t.Errorf("%v times %v: got %q, want %q", v, factor, got, want)
			}
		}
	})
}

// decimalText writes n with so many decimal places, without final zeros.
func decimalText(n int64, places int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	s := strconv.FormatInt(n, 10)
	if len(s) <= places {
		s = strings.Repeat("0", places-len(s)+1) + s
	}
	whole, fraction := s[:len(s)-places], strings.TrimRight(s[len(s)-places:], "0")
	if fraction == "" {
		return sign + whole
	}
	return sign + whole + "." + fraction
}

// TestIsShort checks that text which is left as it is would come out of
// appendNumber the same.
func TestIsShort(t *testing.T) {
	for text, want := range map[string]bool{
		"0": true, "7": true, "-7": true, "24.31": true, "-0.5": true, "0.001": true, "123456789012345": true, "1234567.1234567": true,
		"": false, "-": false, "-0": false, "00": false, "007": false, "01.5": false, ".5": false, "5.": false, "1.50": false, "0.0": false,
		"1.2.3": false, "1e5": false, "+1": false, " 1": false, "1234567890123456": false, "0x1": false,
	} {
		if got := isShort([]byte(text)); got != want {
			t.Errorf("isShort(%q) = %v, want %v", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`-?[0-9.]{1,17}`).Draw(t, "text")
		if !isShort([]byte(text)) {
			return
		}
		v, ok := parseNumber([]byte(text))
		if got := string(appendNumber(nil, v)); !ok || got != text {
			t.Errorf("appendNumber of %q = %q, %v", text, got, ok)
		}
	})
}

func TestAppendSerial(t *testing.T) {
	for _, tt := range []struct {
		serial   float64
		format   numberFormat
		date1904 bool
		want     string // "" if refused
	}{
		// 1998-07-05 in both systems: "XL: The 1900 Date System vs. the 1904
		// Date System", Microsoft Knowledge Base 214330. The others follow
		// from the calendar and the day that never was.
		{35981, dateFormat, false, "1998-07-05"},
		{34519, dateFormat, true, "1998-07-05"},
		{1, dateFormat, false, "1900-01-01"},
		{59, dateFormat, false, "1900-02-28"},
		{60, dateFormat, false, ""},
		{61, dateFormat, false, "1900-03-01"},
		{2958465, dateFormat, false, "9999-12-31"},
		{2957003, dateFormat, true, "9999-12-31"},

		{0, dateFormat, false, ""},
		{0, dateFormat, true, "1904-01-01"},
		{60, dateFormat, true, "1904-03-01"},
		{-0.5, timeFormat, false, ""},
		{2958466, dateFormat, false, ""},
		{2957004, dateFormat, true, ""},
		{2958465.999999, dateTimeFormat, false, ""}, // rounds into the year 10000

		{46296.5, dateFormat, false, "2026-10-01 12:00:00"},
		{46296, dateTimeFormat, false, "2026-10-01 00:00:00"},
		{46296.000005, dateFormat, false, "2026-10-01"},
		{46296.000006, dateFormat, false, "2026-10-01 00:00:01"},
		{46295.999995, dateFormat, false, "2026-10-01"},
		{60.999999, dateTimeFormat, false, "1900-03-01 00:00:00"},
		{60.5, dateTimeFormat, false, ""},
		{0.5, dateTimeFormat, false, ""},
		{0.5, dateTimeFormat, true, "1904-01-01 12:00:00"},

		{0, timeFormat, false, "00:00:00"},
		{0.25, timeFormat, false, "06:00:00"},
		{0.999999, timeFormat, false, "1900-01-01 00:00:00"},
		{46296.25, timeFormat, false, "2026-10-01 06:00:00"},

		{0.5, localFormat, false, "12:00:00"},
		{46296, localFormat, false, "2026-10-01"},
		{46296.5, localFormat, false, "2026-10-01 12:00:00"},
		{0, localFormat, false, ""},

		{0.25, elapsedFormat, false, "06:00:00"},
		{1.25, elapsedFormat, false, "30:00:00"},
		{60.5, elapsedFormat, false, "1452:00:00"},
		{-0.25, elapsedFormat, false, ""},
	} {
		got, ok := appendSerial(nil, tt.serial, tt.format, tt.date1904)
		if ok != (tt.want != "") || ok && string(got) != tt.want {
			t.Errorf("appendSerial(%v, format %d, 1904 %v) = %q, %v; want %q", tt.serial, tt.format, tt.date1904, got, ok, tt.want)
		}
	}
}

// TestAppendSerialTime checks serials counted from random instants.
func TestAppendSerialTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)
		last := time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC)
		at := time.Unix(rapid.Int64Range(first.Unix(), last.Unix()).Draw(t, "seconds"), 0).UTC()
		date1904 := rapid.Bool().Draw(t, "1904")
		days := (at.Unix() - first.Unix()) / secondsPerDay
		serial := 61 + float64(days) + float64((at.Unix()-first.Unix())%secondsPerDay)/secondsPerDay
		if date1904 {
			serial -= 1462 // as the same article says
		}
		if serial < 0 {
			return
		}
		got, ok := appendSerial(nil, serial, dateTimeFormat, date1904)
		if want := at.Format("2006-01-02 15:04:05"); !ok || string(got) != want {
			t.Errorf("serial %v, 1904 %v: got %q, %v, want %q", serial, date1904, got, ok, want)
		}
	})
}

func TestAppendISO(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"2026-10-01T06:30:00", "2026-10-01 06:30:00"},
		{"2026-10-01T06:30:59.5", "2026-10-01 06:31:00"},
		{"2026-10-01T06:30", "2026-10-01 06:30:00"},
		{"2026-10-01", "2026-10-01"},
		{"06:30:00", "06:30:00"},
		{"2026-10-01T06:30:00Z", "2026-10-01T06:30:00Z"},
		{"2026-10-01T06:30:00+02:00", "2026-10-01T06:30:00+02:00"},
		{"2026-02-30", ""},
		{"1/10/2026", ""},
	} {
		got, ok := appendISO(nil, []byte(tt.in))
		if ok != (tt.want != "") || ok && string(got) != tt.want {
			t.Errorf("appendISO(%q) = %q, %v, want %q", tt.in, got, ok, tt.want)
		}
	}
}
