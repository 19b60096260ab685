package demoyard

import "time"

// counter is a belt's totaliser. Its count runs on for ever; the dial starts again from 0 at its modulus
// or when it is reset.
type counter struct {
	count int64 // grams, with the errors of the belt weigher in it
	read  int64 // grams of the count at the last reading, in whole steps of the dial
	zero  int64 // grams of the count at which the dial stood at 0
	pile  int   // fed last
}

// The words of the shift sheet.
const (
	noteFirst  = "first reading of the book"
	noteChange = "changed over"
	noteFull   = "belt stood, piles full"
	noteFlight = "stopped for survey flight"
	noteReset  = "counter board replaced, counts from 0 again"
	shiftEarly = "early"
	shiftLate  = "late"
)

const (
	changeOneIn = 9   // early shifts in which the belt is put over to another pile
	fullPercent = 105 // of its target, above which a pile is not fed
	resetDay    = 73  // 2026-10-13
)

// run is a belt's work up to a reading of its totaliser.
type run struct {
	from, at    time.Time // from == at is a reading without work before it
	belt        int
	shift, note string
	other       bool // on to another pile than the run before
}

func (r run) when() time.Time { return r.at }

// reset is the belt's counter set back to 0.
type reset struct {
	at   time.Time
	belt int
}

func (r reset) when() time.Time { return r.at }

// shifts plans every reading of both belts.
func (s *simulation) shifts() []event {
	var plan []event
	for belt := range beltCount {
		first := clock(0, openHour, 0, s.zone)
		plan = append(plan, run{from: first, at: first, belt: belt, shift: shiftEarly, note: noteFirst})
		for day := range dayCount {
			if staffed(day) {
				plan = append(plan, s.dayRuns(belt, day)...)
			}
		}
	}
	return plan
}

// dayRuns plans the two shifts of a belt's day: a reading at the end of each, and one more where the
// belt changes over, stops for the flight, or has its counter reset.
func (s *simulation) dayRuns(belt, day int) []event {
	minute := func(h, m int64) time.Time { return clock(day, int(h), int(m), s.zone) }
	start, noon, end := minute(openHour, s.plant.within(2, 12)), minute(11, s.plant.within(50, 59)), minute(17, s.plant.within(40, 58))
	early := run{from: start, at: noon, belt: belt, shift: shiftEarly}
	late := run{from: noon, at: end, belt: belt, shift: shiftLate}

	var plan []event
	switch {
	case day == flightPlan[monthCount-1].day:
		stop := early
		stop.at, stop.note = flightStart(monthCount-1, s.zone), noteFlight
		early.from = flightEnd(monthCount-1, s.zone)
		plan = append(plan, stop)
	case s.plant.oneIn(changeOneIn):
		change := early
		change.at, change.note = minute(9, s.plant.within(0, 50)), noteChange
		early.from, early.other = change.at, true
		plan = append(plan, change)
	}
	plan = append(plan, early)
	if belt == belt2 && day == resetDay {
		late.from = minute(12, 20)
		plan = append(plan, reset{at: late.from, belt: belt})
	}
	return append(plan, late)
}

// happen runs the belt on to the pile that needs it most, and writes down what the dial shows.
func (r run) happen(s *simulation) {
	c, belt := &s.counters[r.belt], belts[r.belt]
	pile, percent := s.neediest(r.belt, r.other)
	if percent > fullPercent {
		r.note = noteFull
	} else {
		c.pile = pile
		seconds := int64(r.at.Sub(r.from) / time.Second)
		stops := s.plant.within(4, 36) // per cent of the time, part load in it
		wet := belt.ratePerHour * tonne * seconds / 3_600 * (100 - stops) / 100
		s.move(pile, wet, r.at)
		c.count += withError(wet, belt.biasPPM+s.plant.bell(belt.scatterPPM))
	}
	now := c.count / belt.step * belt.step
	s.month(c.pile, r.at).Recorded.ProductionG += now - c.read
	c.read = now
	s.writeReading(r.at, r.belt, r.shift, r.note)
}

func (r reset) happen(s *simulation) {
	s.counters[r.belt].zero = s.counters[r.belt].read
	s.writeReading(r.at, r.belt, shiftLate, noteReset)
}

// writeReading notes the dial on the shift sheet.
func (s *simulation) writeReading(at time.Time, belt int, shift, note string) {
	c, b := s.counters[belt], belts[belt]
	dial := (c.read - c.zero) % (b.modulusT * tonne)
	text := tonnes(dial, 0)
	if b.step < tonne {
		text = tonnes(dial, 1)
	}
	s.production = append(s.production, readingRow{at: at, belt: b.code, pile: piles[c.pile].name,
		reading: text, shift: shift, note: note})
}

// neediest returns the pile of a belt that is lowest against its target, and how full it is in per cent.
// With other set it passes over the pile fed last.
func (s *simulation) neediest(belt int, other bool) (pile int, percent int64) {
	percent = -1
	for i, p := range piles {
		if p.belt != belt || other && i == s.counters[belt].pile {
			continue
		}
		if full := s.solids[i] * 100 / (p.target * tonne); percent < 0 || full < percent {
			pile, percent = i, full
		}
	}
	return pile, percent
}
