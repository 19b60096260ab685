package bench

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"time"
)

// balances are masses as weighed in t, by yard and pile.
type balances map[string]float64

// agree says where two reckonings of the piles differ by more than a kilogram.
func (b balances) agree(other balances) error {
	if len(b) != len(other) {
		return fmt.Errorf("%d piles and %d piles: want the same", len(b), len(other))
	}
	for pile, mass := range b {
		if found, ok := other[pile]; !ok || math.Abs(found-mass) > 0.001 {
			return fmt.Errorf("pile %s: %.6f t and %.6f t: want the same", pile, mass, found)
		}
	}
	return nil
}

// stock runs case b: at the end of the tenth month, or of the last.
func (b *Bench) stock(ctx context.Context, rep *Report) error {
	s := b.Sizes.Year
	months := min(s.Months, 10)
	if b.SQLite.Path != "" {
		if _, _, err := b.sql(ctx, fmt.Sprintf(importRest, yearFile("production.csv"), yearFile("opening.csv"))); err != nil {
			return err
		}
	}
	err := b.compareStock(ctx, rep, months, "no month closed")
	if err != nil {
		return err
	}
	for m := range months - 1 {
		b.say("b: closing %s of %d yards", s.period(m), s.Yards)
		for y := range s.Yards {
			if _, _, err := b.repose(ctx, yearBook, "close", s.period(m), "--yard", fmt.Sprintf("Y%02d", y+1)); err != nil {
				return err
			}
		}
	}
	return b.compareStock(ctx, rep, months, "earlier months closed")
}

func (b *Bench) compareStock(ctx context.Context, rep *Report, months int, state string) error {
	s := b.Sizes.Year
	before := s.month(months)
	var ours, theirs balances
	line := Line{Case: "b", What: fmt.Sprintf("balances of %d piles after %d months, %s", s.Piles, months, state), Peer: "sums in SQL", Target: 1,
		Note: note(b.SQLite, "balances agree")}
	line, err := b.compare(line, func() (f Figures, err error) {
		ours, f, err = b.stockAt(ctx, before.AddDate(0, 0, -1))
		return f, err
	}, b.ifInstalled(b.SQLite, func() (f Figures, err error) {
		theirs, f, err = b.sumLoads(ctx, before.Format(time.DateOnly))
		return f, err
	}))
	if err == nil && theirs != nil {
		err = ours.agree(theirs)
	}
	return rep.add(line, err)
}

// stockAt asks the program for all balances at the end of a day.
func (b *Bench) stockAt(ctx context.Context, day time.Time) (balances, Figures, error) {
	out, f, err := b.repose(ctx, yearBook, "stock", "--json", "--at", day.Format(time.DateOnly))
	if err != nil {
		return nil, f, err
	}
	var said struct {
		Piles []struct {
			Yard string `json:"yard"`
			Pile string `json:"pile"`
			AsIs string `json:"as_is_t"`
		} `json:"piles"`
	}
	if err := json.Unmarshal(out, &said); err != nil {
		return nil, f, fmt.Errorf("what stock said: %w", err)
	}
	held := balances{}
	for _, p := range said.Piles {
		if held[p.Yard+"/"+p.Pile], err = strconv.ParseFloat(p.AsIs, 64); err != nil {
			return nil, f, fmt.Errorf("what stock said: %w", err)
		}
	}
	return held, f, nil
}
