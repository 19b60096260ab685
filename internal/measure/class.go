package measure

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// A certificate may name an accuracy class instead of an uncertainty. The tables below give maximum
// permissible errors in service; JCGM 100, 4.3.7, turns limits +-a of which nothing else is known into a
// standard uncertainty of a / sqrt 3. A permissible error is what an instrument may have at verification:
// for one that has drifted since, it is a floor.

// beltClasses are OIML R 50-1 (1997, with class 0.2 of 2014), clause 2.2.1: maximum permissible error in
// service in per cent of the totalised load. Values from memory; that the classes exist and that the
// table is R 50-1, 2.2.1, is confirmed by UK SI 2001/1208, regulation 2.
var beltClasses = map[string]float64{"0.2": 0.2, "0.5": 0.5, "1": 1.0, "2": 2.0}

// scaleBand is a row of a table of permissible errors in divisions.
type scaleBand struct{ upTo, divisions float64 }

// r76ClassIII is OIML R 76-1, table 6, class III, initial verification, read in an extract of the table;
// in service twice that, as UK SI 1995/1907, schedule 2, paragraph 4.2 says.
var r76ClassIII = []scaleBand{{500, 1}, {2000, 2}, {math.Inf(1), 3}} // in service

// hb44ClassIII is NIST Handbook 44, section 2.20, table 6, class III, maintenance tolerances. From
// memory; a published forum discussion agrees for the upper two bands.
var hb44ClassIII = []scaleBand{{500, 1}, {2000, 2}, {4000, 3}, {math.Inf(1), 5}}

var (
	beltClass  = regexp.MustCompile(`(?i)^(?:OIML )?R ?50 (?:class )?(0\.2|0\.5|1|2)$`)
	scaleClass = regexp.MustCompile(`(?i)^(?:(?:OIML )?(R) ?76|(?:NIST )?(HB) ?44) (?:class )?(III|III ?L) ([ed]) ?= ?([0-9]+(?:\.[0-9]+)?) ?kg$`)
)

// classUncertainty returns the relative standard uncertainty that a class stands for at a typical weighing
// in t; ok is false for a class that is not in the tables.
//
//	R 50 class 1              OIML R 50, belt weighers
//	R 76 III e=20 kg          OIML R 76, class III, verification interval e
//	HB 44 III d=10 kg         NIST Handbook 44, class III, scale division d
//	HB 44 III L d=10 kg       the same, class III L
func classUncertainty(class string, weighing float64) (u float64, ok bool) {
	class = strings.Join(strings.Fields(class), " ")
	if m := beltClass.FindStringSubmatch(class); m != nil {
		return beltClasses[m[1]] / 100 / math.Sqrt(3), true
	}
	m := scaleClass.FindStringSubmatch(class)
	if m == nil || weighing <= 0 {
		return 0, false
	}
	interval, err := strconv.ParseFloat(m[5], 64)
	if err != nil || interval == 0 {
		return 0, false
	}
	divisions := weighing * 1000 / interval
	var permitted float64
	switch isIIIL := strings.HasSuffix(strings.ToUpper(m[3]), "L"); {
	case isIIIL && m[1] != "":
		return 0, false // R 76 has no class III L
	case isIIIL:
		permitted = classIIIL(divisions)
	case m[1] != "":
		permitted = bandOf(r76ClassIII, divisions)
	default:
		permitted = bandOf(hb44ClassIII, divisions)
	}
	return permitted / divisions / math.Sqrt(3), true
}

func bandOf(bands []scaleBand, divisions float64) float64 {
	for _, b := range bands {
		if divisions <= b.upTo {
			return b.divisions
		}
	}
	return bands[len(bands)-1].divisions
}

// classIIIL is NIST Handbook 44, section 2.20, table 6, class III L, maintenance: one division up to 500,
// two up to 1000, and one more for every further 500 or part of it. From memory.
func classIIIL(divisions float64) float64 { return max(math.Ceil(divisions/500), 1) }
