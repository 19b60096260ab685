package screen

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"repose/ledger"
)

// value returns a setting as the yard has it at the month's end, or its default.
func (d *Data) value(s Setting) string {
	if v, ok := d.Register.Setting(d.Yard, s.Name, d.End.Add(-1)); ok && check(s, v) == nil {
		return strings.TrimSpace(v)
	}
	return s.Default // a value that does not read is an exception of its own
}

// Number returns a setting that holds a number, or per cent as a number of per cent.
func (d *Data) Number(s Setting) float64 {
	v, _ := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(d.value(s), "%")), 64)
	return v
}

// Duration returns a setting that holds minutes or days of 24 hours.
func (d *Data) Duration(s Setting) time.Duration {
	unit := time.Minute
	if s.Holds == Days {
		unit = 24 * time.Hour
	}
	return time.Duration(d.Number(s) * float64(unit))
}

// Tonnage returns a setting that holds a mass.
func (d *Data) Tonnage(s Setting) ledger.Mass {
	m, _ := parseMass(d.value(s))
	return m
}

// Text returns a setting that holds words.
func (d *Data) Text(s Setting) string { return d.value(s) }

func parseMass(v string) (ledger.Mass, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(v), " ")
	u, err := ledger.ParseMassUnit(unit)
	if err != nil {
		return 0, err
	}
	return ledger.ParseMass(number, u)
}

// maxSetting bounds what numbers may be, so that durations stay far from overflow.
const maxSetting = 100_000

// check reads a value and says what is wrong with it.
func check(s Setting, value string) error {
	v := strings.TrimSpace(value)
	wanted := fmt.Errorf("%q: want %s", value, s.Holds)
	switch s.Holds {
	case Words:
		if v == "" {
			return wanted
		}
	case Tonnage:
		if m, err := parseMass(v); err != nil || m < 0 {
			return wanted
		}
	default:
		n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(v, "%")), 64)
		if err != nil || !(n >= 0 && n <= maxSetting) {
			return wanted
		}
	}
	return nil
}

// off reports whether the yard does without a rule.
func (d *Data) off(i Info) bool {
	v, ok := d.Register.Setting(d.Yard, i.Switch(), d.End.Add(-1))
	return ok && strings.EqualFold(strings.TrimSpace(v), "off")
}
