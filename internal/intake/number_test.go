package intake

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestPlainNumber(t *testing.T) {
	german := numberFormat{decimal: ',', thousands: '.'}
	swiss := numberFormat{decimal: '.', thousands: '\''}
	blank := numberFormat{decimal: ',', thousands: ' '}
	for _, c := range []struct {
		format numberFormat
		in     string
		want   string
		ok     bool
	}{
		{numberFormat{}, "24.31", "24.31", true},
		{numberFormat{}, "24,31", "24,31", true}, // left to the reader of the number, which refuses it
		{numberFormat{decimal: ','}, "24,31", "24.31", true},
		{numberFormat{decimal: ','}, "24.31", "", false},
		{numberFormat{decimal: ','}, "24", "24", true},
		{german, "24.310,5", "24310.5", true},
		{german, "-1.024.310", "-1024310", true},
		{german, "24310,5", "24310.5", true},
		{german, "24.31", "", false},
		{german, "2.4310", "", false},
		{german, ".310", "", false},
		{german, "24.310.", "", false},
		{german, "24..310", "", false},
		{german, "1234.310", "", false},
		{german, "24,310.5", "", false},
		{swiss, "24'310.5", "24310.5", true},
		{swiss, "24,310.5", "24,310.5", true},
		{blank, "24 310,5", "24310.5", true},
		{blank, "24\u00a0310,5", "24310.5", true},
		{blank, "24\u202f310", "24310", true},
	} {
		if got, ok := c.format.plain(c.in); got != c.want || ok != c.ok {
			t.Errorf("%q: got %q %v, want %q %v", c.in, got, ok, c.want, c.ok)
		}
	}
}

// A number written in any notation is read as the number that it is.
func TestPlainNumberInvertsWriting(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		format := numberFormat{decimal: rapid.SampledFrom([]byte{'.', ','}).Draw(r, "decimal")}
		format.thousands = rapid.SampledFrom([]rune{0, ' ', '\'', ',', '.'}).Filter(func(t rune) bool { return t != rune(format.decimal) }).Draw(r, "thousands")
		whole := rapid.StringMatching(`-?[1-9][0-9]{0,11}`).Draw(r, "whole")
		fraction := rapid.StringMatching(`([0-9]{1,6})?`).Draw(r, "fraction")
		want, written := whole, whole
		if format.thousands != 0 {
			written = grouped(whole, string(format.thousands))
		}
		if fraction != "" {
			want += "." + fraction
			written += string(format.decimal) + fraction
		}
		if got, ok := format.plain(written); !ok || got != want {
			r.Fatalf("%q: got %q %v, want %q", written, got, ok, want)
		}
	})
}

// grouped writes a whole number with a separator before every three digits.
func grouped(whole, separator string) string {
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	var parts []string
	for len(whole) > 3 {
		parts = append([]string{whole[len(whole)-3:]}, parts...)
		whole = whole[:len(whole)-3]
	}
	return sign + strings.Join(append([]string{whole}, parts...), separator)
}
