package book

import (
	"context"
	"maps"
	"slices"
	"strings"

	"repose/internal/audit"
	"repose/internal/report"
	"repose/ledger"
)

// Depletion returns the times at which piles of a yard were taken to nothing through a period: where a survey found
// nothing, or the book fell to a mass or below.
func (r *Reader) Depletion(ctx context.Context, yard string, through ledger.Period, below ledger.Mass) (*report.Depletion, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	points := map[ledger.PileID]*pilePoints{}
	for p := h.first; !through.Before(p) && p != (ledger.Period{}); p = p.Next() {
		if err := r.pointsOf(ctx, yard, p, below, points); err != nil {
			return nil, err
		}
	}
	out := report.NewDepletion(yard, through, h.zone)
	for _, id := range slices.SortedFunc(maps.Keys(points), func(a, b ledger.PileID) int { return strings.Compare(a.Code, b.Code) }) {
		times, err := audit.Depletions(points[id].list, below)
		if err != nil {
			return nil, err
		}
		out.Add(id.Code, times)
	}
	return out, nil
}

// pilePoints are the points of a pile. Movements while it is not empty are added up, so that years of them take no room.
type pilePoints struct {
	list []audit.Point
	book ledger.Mass
	fold bool // the last point is of a pile that was not empty, and may be added to
}

func (s *pilePoints) add(x audit.Point, below ledger.Mass) {
	s.book += x.In - x.Out
	x.Book = s.book
	full := x.Found == 0 && x.Book > below
	if n := len(s.list); full && s.fold && n > 1 { // the first one says since when
		last := &s.list[n-1]
		last.Record, last.At, last.Book = x.Record, x.At, x.Book
		last.In += x.In
		last.Out += x.Out
		return
	}
	s.list, s.fold = append(s.list, x), full
}

// pointsOf adds the points of a month. A survey whose figure the book did not take has no entry, and is among the
// comparisons alone.
func (r *Reader) pointsOf(ctx context.Context, yard string, p ledger.Period, below ledger.Mass, points map[ledger.PileID]*pilePoints) error {
	type step struct {
		pile ledger.PileID
		audit.Point
		taken ledger.Mass // into the pile, by the book taking a survey: no movement
	}
	var steps []step
	m, err := r.Month(ctx, yard, p, func(e *ledger.Entry) error {
		for pile, solids := range toPile(e) {
			x := step{pile: pile, Point: audit.Point{Record: e.Record.ID(), At: e.At()}}
			if e.Record.Fact.Kind() == ledger.KindSurveyRecord {
				x.taken = solids
			} else {
				x.In, x.Out = max(solids, 0), max(-solids, 0)
			}
			steps = append(steps, x)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, c := range m.Comparisons {
		if !c.Survey.NetM3().IsZero() {
			continue
		}
		x := step{pile: c.Pile, Point: audit.Point{Record: c.Record.ID(), At: c.Survey.End, Found: audit.FoundNothing}}
		steps = slices.DeleteFunc(steps, func(s step) bool {
			if s.Record != x.Record {
				return false
			}
			x.taken, x.Found = s.taken, audit.FoundNothingTaken
			return true
		})
		steps = append(steps, x)
	}
	slices.SortStableFunc(steps, func(a, b step) int { return a.At.Compare(b.At) })
	for _, x := range steps {
		of, ok := points[x.pile]
		if !ok {
			of = &pilePoints{}
			points[x.pile] = of
		}
		if x.Found != 0 || x.taken == 0 {
			of.add(x.Point, below)
		}
		of.book += x.taken
	}
	return nil
}

// toPile returns what an entry adds to each pile in solids.
func toPile(e *ledger.Entry) map[ledger.PileID]ledger.Mass {
	moved := map[ledger.PileID]ledger.Mass{}
	for _, l := range e.Legs {
		if l.To.Kind == ledger.KindPile {
			moved[ledger.PileID{Yard: l.To.Yard, Code: l.To.Name}] += l.Solids
		}
		if l.From.Kind == ledger.KindPile {
			moved[ledger.PileID{Yard: l.From.Yard, Code: l.From.Name}] -= l.Solids
		}
	}
	return moved
}
