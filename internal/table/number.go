package table

import (
	"bytes"
	"math"
	"strconv"
	"time"
)

// significantDigits is how many digits a spreadsheet keeps of a number
// ("Excel specifications and limits", number precision).
const significantDigits = 15

// isShort reports whether text is a number in the form that appendNumber
// gives it, so that it can stand as it is. Most numbers in sheets are.
func isShort(text []byte) bool {
	digits := bytes.TrimPrefix(text, []byte("-"))
	if len(digits) == 0 || len(digits) > significantDigits {
		return false
	}
	point := -1
	for i, c := range digits {
		switch {
		case c == '.' && point < 0:
			point = i
		case c < '0' || c > '9':
			return false
		}
	}
	if point < 0 {
		return digits[0] != '0' || len(text) == 1
	}
	leading := digits[0] != '0' && point > 0 || point == 1
	return leading && digits[len(digits)-1] != '0' && point < len(digits)-1
}

// parseNumber reads a number of a sheet (xsd:double without its INF and NaN,
// which a sheet never holds). It returns false for what is none, or too large
// for a spreadsheet.
func parseNumber(text []byte) (float64, bool) {
	for _, c := range text {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false // ParseFloat takes "inf" and "0x1p4" too
		}
	}
	v, err := strconv.ParseFloat(string(text), 64)
	return v, err == nil && math.Abs(v) < 1e306
}

// appendNumber appends v, rounded to 15 significant digits, as plain decimal
// text. v must be of a size that parseNumber accepts, or a hundred times that.
func appendNumber(dst []byte, v float64) []byte {
	var scratch [32]byte
	digits := strconv.AppendFloat(scratch[:0], v, 'e', significantDigits-1, 64)
	// A double holds any 15 digits, so the shortest text of the double
	// nearest to them is these digits again, without their final zeros.
	rounded, _ := strconv.ParseFloat(string(digits), 64)
	return strconv.AppendFloat(dst, rounded+0, 'f', -1, 64) // -0 + 0 is 0
}

const (
	secondsPerDay = 24 * 60 * 60

	// The serial of 9999-12-31 in either date system.
	lastSerial1900 = 2_958_465
	lastSerial1904 = 2_957_003

	layoutDate     = "2006-01-02"
	layoutTime     = "15:04:05"
	layoutDateTime = layoutDate + " " + layoutTime
)

// appendSerial appends the date or time that a serial number of days shows in
// a format, rounded to the nearest second. It returns false for a serial that
// stands for none: below 0, beyond the year 9999, and in the 1900 date system
// the days 0 and 60, 1900-01-00 and 1900-02-29, which never were (ECMA-376
// part 1, 18.17.4.1).
func appendSerial(dst []byte, serial float64, f numberFormat, date1904 bool) ([]byte, bool) {
	last, epoch := lastSerial1900, time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC) // for days after 60
	if date1904 {
		last, epoch = lastSerial1904, time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	if serial < 0 || serial >= float64(last+1) {
		return dst, false
	}
	seconds := int64(math.Round(serial * secondsPerDay))
	days, second := seconds/secondsPerDay, seconds%secondsPerDay
	local := f == localFormat

	switch {
	case f == elapsedFormat:
		return appendElapsed(dst, seconds), true
	case days == 0 && (f == timeFormat || local && second > 0):
		return epoch.Add(time.Duration(second)*time.Second).AppendFormat(dst, layoutTime), true
	case days > int64(last):
		return dst, false
	case !date1904 && (days == 0 || days == 60):
		return dst, false
	case !date1904 && days < 60:
		days++ // before the day that never was
	}
	day := epoch.AddDate(0, 0, int(days)).Add(time.Duration(second) * time.Second)
	if second == 0 && (f == dateFormat || local) {
		return day.AppendFormat(dst, layoutDate), true
	}
	return day.AppendFormat(dst, layoutDateTime), true
}

// appendElapsed appends a duration as hours, minutes and seconds.
func appendElapsed(dst []byte, seconds int64) []byte {
	hours := seconds / 3600
	if hours < 10 {
		dst = append(dst, '0')
	}
	dst = strconv.AppendInt(dst, hours, 10)
	inHour := time.Time{}.Add(time.Duration(seconds%3600) * time.Second)
	return inHour.AppendFormat(dst, ":04:05")
}

// appendISO appends the date of a cell of type "d" (ECMA-376 part 1, 18.18.11)
// in the form of appendSerial. One that states its distance from UTC stands
// unchanged: without it, it would be another instant.
func appendISO(dst, text []byte) ([]byte, bool) {
	for _, l := range []struct{ in, out string }{
		{"2006-01-02T15:04:05", layoutDateTime}, // takes fractions of a second too
		{"2006-01-02T15:04", layoutDateTime},
		{layoutDate, layoutDate},
		{layoutTime, layoutTime},
	} {
		if t, err := time.Parse(l.in, string(text)); err == nil {
			return t.Round(time.Second).AppendFormat(dst, l.out), true
		}
	}
	_, err := time.Parse(time.RFC3339, string(text))
	return append(dst, text...), err == nil
}
