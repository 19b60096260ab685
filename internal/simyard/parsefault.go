package simyard

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// ParseFault reads a fault as it is written on a command line:
//
//	KIND:WHERE:MONTHS:SIZE
//
//	loss:B:6:800t               800 t leave pile B in month 6 without a record
//	loss:B:5-12:200t            200 t a month in months 5 to 12
//	swap:C>B:7:1000t            1000 t are loaded from C and recorded from B
//	loader:L1:4-:+3%            loader L1 reads 3 % high from month 4 on
//	belt:B1:4-:-3%              belt B1 reads 3 % low from month 4 on
//	density:E:8-:+6%            the density used for E is 6 % too high from the survey of month 8 on
//	survey:A:6:+5%              the volume of A in the survey of month 6 is 5 % high
//	missed-transfer:F>E:9:2200t 2200 t are carried from F to E and not recorded
//	lumped:L1:5:3               one record of L1 in month 5 holds three truckloads
//	missing:L1:7:4              four tickets of L1 in month 7 are not in the tables
//	bucket-pass:L1:7:2          two loads of L1 have a bucket counted twice; with -2, a bucket not counted
//	unit-slip:D1:7:30           30 tickets of deck D1 in a row in short tons called t; with -30, the reverse
//	stale-moisture:A:7:90d      the moisture of A is 90 days old at the end of month 7
//
// Months count from 1; 6 is one month, 5-12 are eight, and 8- is from month 8 to the end. Tonnes are
// solids, in each of the months. Letters may be of either case; blanks do not matter.
func ParseFault(s string) (Fault, error) {
	f, err := parseFault(s)
	if err == nil {
		err = f.check()
	}
	if err != nil {
		return Fault{}, fmt.Errorf("fault %q: %w", s, err)
	}
	return f, nil
}

func parseFault(s string) (f Fault, err error) {
	parts := strings.Split(strings.ToUpper(strings.Join(strings.Fields(s), "")), ":")
	if len(parts) != 4 {
		return f, fmt.Errorf("%d parts: want KIND:WHERE:MONTHS:SIZE, such as loss:B:6:800t", len(parts))
	}
	if f.Kind, err = parseFaultKind(parts[0]); err != nil {
		return f, err
	}
	switch faultKinds[f.Kind].place {
	case atPile:
		f.Pile = parts[1]
	case betweenPiles:
		var ok bool
		if f.Pile, f.Other, ok = strings.Cut(parts[1], ">"); !ok {
			return f, fmt.Errorf("%q: want two piles, such as C>B", parts[1])
		}
	default:
		f.Instrument = parts[1]
	}
	if f.Month, f.Months, err = parseMonths(parts[2]); err != nil {
		return f, err
	}
	f.Size, err = parseSize(faultKinds[f.Kind].measure, parts[3])
	return f, err
}

func parseFaultKind(s string) (FaultKind, error) {
	for _, k := range FaultKinds() {
		if strings.EqualFold(k.String(), s) {
			return k, nil
		}
	}
	return 0, fmt.Errorf("kind %q: want one of %s", strings.ToLower(s), listOf(FaultKinds(), FaultKind.String))
}

var monthsForm = regexp.MustCompile(`^([0-9]{1,3})(-([0-9]{1,3})?)?$`)

func parseMonths(s string) (first, months int, err error) {
	m := monthsForm.FindStringSubmatch(s)
	if m == nil {
		return 0, 0, fmt.Errorf("months %q: want one such as 6, a range such as 5-12, or 8- for all from 8 on", s)
	}
	first, _ = strconv.Atoi(m[1]) // three digits at most
	switch {
	case m[2] == "":
		return first, 1, nil
	case m[3] == "":
		return first, 0, nil
	}
	last, _ := strconv.Atoi(m[3])
	if last < first {
		return 0, 0, fmt.Errorf("months %q: want the last not before the first", s)
	}
	return first, last - first + 1, nil
}

var sizeForm = regexp.MustCompile(`^([+-]?[0-9]{1,9}(?:\.[0-9]{1,6})?)(T|%|D)?$`)

// parseSize reads a size in the measure of its kind.
func parseSize(measure measure, s string) (float64, error) {
	m := sizeForm.FindStringSubmatch(s)
	var unit, want string
	switch measure {
	case inTonnes:
		unit, want = "T", "tonnes such as 800t"
	case inPercent:
		unit, want = "%", "per cent such as +3%"
	case inDays:
		unit, want = "D", "days such as 90d"
	default:
		want = "a whole number such as 4"
	}
	if m == nil || m[2] != unit {
		return 0, fmt.Errorf("size %q: want %s", strings.ToLower(s), want)
	}
	v, _ := strconv.ParseFloat(m[1], 64) // a plain number of nine digits at most
	if measure == inPercent {
		return v / 100, nil
	}
	return v, nil
}
