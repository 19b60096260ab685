package audit

import (
	"time"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Evidence says how it is known that a pile ran empty. The zero value is no evidence.
type Evidence uint8

// The kinds of evidence, the stronger first.
const (
	EvidenceSurvey Evidence = iota + 1 // a survey found nothing
	EvidenceBook                       // the book fell to the given mass or below
)

var evidenceNames = [...]string{EvidenceSurvey: "survey", EvidenceBook: "book"}

// String returns survey or book.
func (e Evidence) String() string { return evidenceNames[e] }

// Point is the book of a pile after one record.
type Point struct {
	Record  string
	At      time.Time
	In, Out ledger.Mass // solids that the record moved, zero or more
	Book    ledger.Mass // solids after it; for a survey, before any adjustment to it
	Found   Found
}

// Found says what a survey at a point did. The zero value is no survey, or one that found something.
type Found uint8

// What a survey that found nothing did.
const (
	FoundNothing      Found = iota + 1 // and the book stood
	FoundNothingTaken                  // and the book took it over
)

// Depletion is a pile that was taken to nothing, against its book. There is no volume, density or moisture in it: what is
// left in the book is what all weighings together got wrong, and what left without one.
type Depletion struct {
	Record   string
	At       time.Time
	Evidence Evidence
	Leftover ledger.Mass // the book's solids at that instant; positive where the stone is missing

	// Carried is the part of the leftover that the book had already when the pile was last empty; In and Out are what moved
	// since then, or since the first point. Leftover is Carried + In - Out where those points are all there is.
	Carried, In, Out ledger.Mass
	Since            time.Time // of the last time, or of the first point

	// Percent is what is left over beyond what was carried, in per cent of the throughput, the larger of In and Out, half-even
	// to 4 places of a quotient of 8; nil where nothing moved.
	Percent *decimal.Decimal
}

// Throughput is the larger of what came in and what went out.
func (d Depletion) Throughput() ledger.Mass { return max(d.In, d.Out) }

// Depletions returns the times at which a pile was taken to nothing, in order. points are those of one pile in order of
// time. A stretch of the book at or below the given mass is one time: that of the first survey in it that found nothing, since
// a second one finds what the first left of the book; else of its lowest point, the last of several. It needs a movement out since the time before, so that a pile that has yet
// to begin is none.
func Depletions(points []Point, below ledger.Mass) ([]Depletion, error) {
	var all []Depletion
	count := counter{}
	if len(points) > 0 {
		count.since = points[0].At
	}
	for i := 0; i < len(points); {
		low, evidence, end := emptyStretch(points, i, below)
		if evidence == 0 {
			low, end = i, i+1
		}
		if err := count.add(points[i : low+1]); err != nil {
			return nil, err
		}
		if evidence != 0 && count.out > 0 {
			d := count.depletion(points[low], evidence)
			all = append(all, d)
			count = counter{since: d.At, carried: d.Leftover}
			if points[low].Found == FoundNothingTaken {
				count.carried = 0
			}
		}
		if err := count.add(points[low+1 : end]); err != nil {
			return nil, err
		}
		i = end
	}
	return all, nil
}

// emptyStretch looks at the stretch of empty points that begins at i: which point of it stands for it, on what evidence,
// and where it ends. evidence is zero where the point at i is not empty.
func emptyStretch(points []Point, i int, below ledger.Mass) (low int, evidence Evidence, end int) {
	end = i
	for end < len(points) && (points[end].Book <= below || points[end].Found != 0) {
		switch p := points[end]; {
		case p.Found != 0 && evidence != EvidenceSurvey:
			low, evidence = end, EvidenceSurvey
		case evidence == 0 || evidence == EvidenceBook && p.Book <= points[low].Book:
			low, evidence = end, EvidenceBook
		}
		end++
	}
	return low, evidence, end
}

// counter counts what moved since a pile was last empty.
type counter struct {
	since            time.Time
	carried, in, out ledger.Mass
}

func (c *counter) add(points []Point) (err error) {
	for _, p := range points {
		if c.in, err = c.in.Add(p.In); err != nil {
			return err
		}
		if c.out, err = c.out.Add(p.Out); err != nil {
			return err
		}
	}
	return nil
}

func (c *counter) depletion(p Point, evidence Evidence) Depletion {
	d := Depletion{Record: p.Record, At: p.At, Evidence: evidence, Leftover: p.Book,
		Carried: c.carried, In: c.in, Out: c.out, Since: c.since}
	if through := d.Throughput(); through != 0 {
		left := (d.Leftover - d.Carried).Decimal().Shift(2)
		d.Percent = new(left.DivRound(through.Decimal(), 8).RoundBank(4))
	}
	return d
}
