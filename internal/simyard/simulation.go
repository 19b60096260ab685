package simyard

import "fmt"

// simulation is the yard as it truly is, with what its instruments and tests get wrong.
type simulation struct {
	cfg    Config
	cal    calendar
	errors errorDraws

	months  []month // from month 1; element 0 is the opening day, on which nothing moves
	loads   []load  // in order of month, loader and time
	byTime  []*load // the same in order of time at the deck scale, once they have their tickets
	hauls   []haul  // in order of month, route and time
	feeds   []feed  // in order of time
	runs    []run   // of the belts, as they are recorded
	stock   [pileCount][]Grams
	flights [pileCount][]flight // the survey that ends each month, from month 0
	effects [][]effect          // of each fault

	moistures [pileCount][]test // one a month, from month 0
	densities [pileCount][]test
}

// month is what truly happens to each pile between two surveys, in solids.
type month struct {
	made     [pileCount]Grams
	moisture [pileCount]millionths
	lost     [pileCount]Grams // carried off by losses
}

func newSimulation(cfg Config, cal calendar) *simulation {
	s := &simulation{cfg: cfg, cal: cal, errors: drawErrors(cfg), months: make([]month, cfg.Months+1),
		effects: make([][]effect, len(cfg.Faults))}
	for t := range s.months {
		m := &s.months[t]
		season := cal.season(t)
		for i, p := range piles {
			m.moisture[i] = p.moisture + millionths(mulDiv(int64(p.rain), wetness[season], 100))
			if t > 0 {
				m.made[i] = cfg.share(p.made(season))
			}
		}
	}
	s.planFlights()
	s.takeTests()
	return s
}

// stockPiles adds up what truly lies in each pile at each survey.
func (s *simulation) stockPiles() error {
	change := make([][pileCount]Grams, s.cfg.Months+1)
	for _, l := range s.loads {
		change[l.month][l.pile] -= l.solids
	}
	for _, h := range s.hauls {
		change[h.month][routes[h.route].from] -= h.solids
		change[h.month][routes[h.route].to] += h.solids
	}
	for _, f := range s.feeds {
		change[f.month][f.pile] -= f.solids
	}
	for i, p := range piles {
		s.stock[i] = []Grams{s.cfg.share(s.cal.opening(i))}
		for t := 1; t <= s.cfg.Months; t++ {
			m := s.months[t]
			rest := s.stock[i][t-1] + m.made[i] - m.lost[i] + change[t][i]
			if rest <= 0 {
				return fmt.Errorf("pile %s is empty by month %d: want smaller losses", p.code, t)
			}
			s.stock[i] = append(s.stock[i], rest)
		}
	}
	return nil
}
