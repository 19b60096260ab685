package workbook

import (
	"errors"
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

func TestContent(t *testing.T) {
	zone := time.FixedZone("x", -3*3600-1800)
	noon := time.Date(2026, 10, 31, 12, 0, 0, 0, time.UTC)
	tests := map[string]struct {
		value value
		want  any
	}{
		"blank":           {value{}, nil},
		"text":            {text("=1+1"), "=1+1"},
		"tonnes":          {tonnes(31_757_369), 31.757369},
		"a gram missing":  {tonnes(-1), -0.000001},
		"number":          {number(decimal.RequireFromString("1.4820")), 1.482},
		"float":           {float(0.25), 0.25},
		"percent":         {percent(decimal.RequireFromString("4.25")), 0.0425},
		"ratio":           {ratio(0.5), 0.5},
		"first day":       {date(time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)), int64(61)},
		"day":             {date(noon), int64(46326)},
		"day of its zone": {date(time.Date(2026, 10, 31, 23, 0, 0, 0, zone)), int64(46326)},
		"instant":         {instant(noon), 46326 + 8.5/24},
		"day before":      {instant(time.Date(2026, 10, 31, 0, 0, 0, 0, time.UTC)), 46325 + 20.5/24},
		"integer":         {integer(-40_000), int64(-40_000)},
		"true":            {boolean(true), true},
		"false":           {boolean(false), false},
		"well":            {check(true), "OK"},
		"broken":          {check(false), "BROKEN"},
		"formula":         {computed("A1+1", tonnes(2_000_000)), 2.0},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			got, err := test.value.content(zone)
			if err != nil {
				t.Fatal(err)
			}
			if f, ok := test.want.(float64); ok {
				test.want = fifteenDigits(f)
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestContentRefuses(t *testing.T) {
	tests := map[string]struct {
		value value
		want  error
	}{
		"not a number":   {float(math.NaN()), errNotFinite},
		"infinite":       {ratio(math.Inf(-1)), errNotFinite},
		"too early":      {date(time.Date(1900, 2, 28, 0, 0, 0, 0, time.UTC)), errSerial},
		"too late":       {date(time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)), errSerial},
		"early instant":  {instant(time.Date(1900, 2, 28, 23, 59, 59, 0, time.UTC)), errSerial},
		"late instant":   {instant(time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)), errSerial},
		"sixteen digits": {integer(1_000_000_000_000_000), errInteger},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			if got, err := test.value.content(time.UTC); !errors.Is(err, test.want) {
				t.Errorf("got %v, %v; want %v", got, err, test.want)
			}
		})
	}
}

// A mass below 10^9 t can be read back from the workbook to the gram.
func TestTonnesExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grams := rapid.Int64Range(-999_999_999_999_999, 999_999_999_999_999).Draw(t, "grams")
		written := strconv.FormatFloat(gramsToTonnes(grams), 'f', -1, 64)
		back, ok := new(big.Rat).SetString(written)
		if !ok {
			t.Fatalf("%q is no number", written)
		}
		if want := big.NewRat(grams, 1_000_000); back.Cmp(want) != 0 {
			t.Errorf("%d g written as %s t", grams, written)
		}
		if digits := strings.Trim(strings.ReplaceAll(written, ".", ""), "-0"); len(digits) > 15 {
			t.Errorf("%s has more digits than a workbook keeps", written)
		}
	})
}

// Beyond, fifteen digits are kept.
func TestTonnesHuge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grams := rapid.Int64Range(1e15, 1e18).Draw(t, "grams")
		got := gramsToTonnes(grams) * 1e6
		if math.Abs(got-float64(grams)) > float64(grams)*5e-15 {
			t.Errorf("%d g comes to %.0f g", grams, got)
		}
	})
}

// A whole second is shown as itself both by those who cut the rest off and by those who round.
func TestInstantSecond(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Int64Range(-2_000_000_000, 200_000_000_000).Draw(t, "seconds")
		serial, err := instantSerial(time.Unix(s, 0), time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		seconds := (serial - serialOf1970) * secondsPerDay
		if rest := seconds - float64(s); rest < -1e-6 || rest > 1e-3 {
			t.Errorf("second %d is shown at %.9f", s, seconds)
		}
	})
}

// The library's own reader takes our serial for the same moment.
func TestInstantAgainstReader(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Int64Range(0, 4_000_000_000).Draw(t, "seconds")
		serial, err := instantSerial(time.Unix(s, 0), time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		back, err := excelize.ExcelDateToTime(serial, false)
		if err != nil {
			t.Fatal(err)
		}
		if got := back.Round(time.Second).Unix(); got != s {
			t.Errorf("second %d comes back as %d", s, got)
		}
	})
}

func TestKindString(t *testing.T) {
	for k := kindText; k <= kindAny; k++ {
		if k.String() == "" || k.String() == "blank" {
			t.Errorf("kind %d has no name", k)
		}
	}
	if got := kind(0).String() + kind(200).String(); got != "blankblank" {
		t.Errorf("unknown kinds are %q", got)
	}
}
