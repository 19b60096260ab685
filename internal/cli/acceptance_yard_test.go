package cli

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// closeYard is an invented yard with everything in it that goes wrong in a month, and the truth of it. All masses are
// whole kilograms; what is weighed is rounded to the scale's step.
type closeYard struct {
	r     *rand.Rand
	zone  *time.Location
	loads int // in October; a tenth as many in September

	piles   []*acceptPile
	trips   []*trip
	made    []belted
	trucks  []acceptTruck
	numbers [acceptLoaders]int
	tickets [acceptDecks]int

	truth   []seededFault
	drifted float64 // kg that the belt counted too much for the piles that are surveyed
}

// seededFault is what the register has to say.
type seededFault struct {
	rule      string
	pile      string // "" where the finding names none
	kg        int    // as weighed
	low, high int    // of an estimate
	record    string // one of the IDs that it names; "" for any
}

type acceptPile struct {
	code, product string
	stock         float64 // kg, truly, as weighed at the pile's moisture
	book          bool    // some fault touches its balance
}

type acceptTruck struct {
	code string
	tare int
	load float64 // kg, usual
}

// trip is one truck out of one pile.
type trip struct {
	at       time.Time
	loader   int
	deck     int
	pile     int // truly
	recorded int // as the loader's record has it
	truck    int
	kg       int // truly
	shown    int // by the loader
	weighed  int // by the deck
	ticket   string
	deckNo   string
	isVoid   bool
	noLoad   bool // no loader record
	noDeck   bool
	merged   bool // on the record of the trip after it
}

// belted is what a belt says it made for a pile on a day.
type belted struct {
	at   time.Time
	pile int
	kg   int
}

const (
	acceptLoaders = 4
	acceptDecks   = 2
	acceptStock   = 9_000_000 // kg in each pile when the book begins
	beltDrift     = 0.006     // from the twelfth on
	driftDay      = 12
)

// The piles that faults touch; the others are clean.
const (
	pileLost   = 4  // P05: trucks that nobody recorded
	pileMeant  = 6  // P07: a day's loads that were keyed as P08's
	pileKeyed  = 7  // P08
	pileStale  = 8  // P09: an old density
	pileMoving = 9  // P10: surveyed while it was loaded
	pileInto   = 10 // P11: P12 was pushed into it
	pileGone   = 11 // P12
)

func newCloseYard(t testing.TB, loads int) *closeYard {
	t.Helper()
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	y := &closeYard{r: rand.New(rand.NewPCG(20261025, 7)), zone: zone, loads: loads}
	for i := range 12 {
		product := i // three products are shared by two piles each
		if i < 6 {
			product = i / 2
		} else {
			product = i - 3
		}
		y.piles = append(y.piles, &acceptPile{code: fmt.Sprintf("P%02d", i+1), product: fmt.Sprintf("G%d", product+1), stock: acceptStock})
	}
	for i := range 150 {
		y.trucks = append(y.trucks, acceptTruck{code: fmt.Sprintf("V%03d", i+1), tare: 11_000 + 20*y.r.IntN(200), load: 19_000 + float64(y.r.IntN(7_000))})
	}
	y.work()
	return y
}

func (y *closeYard) day(month time.Month, day, hour, minute int) time.Time {
	return time.Date(2026, month, day, hour, minute, 0, 0, y.zone)
}

// work fills two months with trucks, and October with faults.
func (y *closeYard) work() {
	y.month(time.September, y.loads/10)
	y.produce(time.September, y.loads/10)
	first := len(y.trips)
	y.month(time.October, y.loads)
	y.produce(time.October, y.loads)
	y.night()
	october := y.trips[first:]
	slices.SortStableFunc(october, func(a, b *trip) int { return a.at.Compare(b.at) })
	y.spoil(october)
	y.number()
	y.carry()
}

// month sends trucks out of all piles on working days, in turn, so that no truck is loaded twice within the hour.
func (y *closeYard) month(m time.Month, loads int) {
	days, truck := y.workdays(m), 0
	for i := range loads {
		n := i * len(days) / loads
		day, first, of := days[n], (n*loads+len(days)-1)/len(days), loads/len(days)+1
		second := 6*3600 + 600 + (i-first)*11*3600/of
		y.trips = append(y.trips, y.trip(time.Date(day.Year(), m, day.Day(), 0, 0, second+y.r.IntN(40), 0, y.zone), truck, y.r.IntN(len(y.piles))))
		truck = (truck + 1) % len(y.trucks)
	}
}

// workdays are all days of a month but Sundays and the day of the survey.
func (y *closeYard) workdays(m time.Month) (days []time.Time) {
	for d := y.day(m, 1, 0, 0); d.Month() == m; d = d.AddDate(0, 0, 1) {
		if d.Weekday() != time.Sunday && d.Day() != 31 {
			days = append(days, d)
		}
	}
	return days
}

func (y *closeYard) trip(at time.Time, truck, pile int) *trip {
	kg := int(y.trucks[truck].load + 300*y.r.NormFloat64())
	step := func(x float64, step int) int { return int(math.Round(x/float64(step))) * step }
	return &trip{at: at, loader: y.r.IntN(acceptLoaders), deck: y.r.IntN(acceptDecks), pile: pile, recorded: pile, truck: truck, kg: kg,
		shown: step(float64(kg)*(1+0.004*y.r.NormFloat64()), 10), weighed: step(float64(kg)*(1+0.0005*y.r.NormFloat64()), 20)}
}

// night is the shift in which the clocks go back: a truck every nine minutes from half past midnight to half past two,
// the second time that the clock shows it.
func (y *closeYard) night() {
	start := time.Date(2026, time.October, 24, 23, 30, 0, 0, time.UTC)
	var kg int
	for i := range 20 {
		p := y.trip(start.Add(time.Duration(9*i)*time.Minute).In(y.zone), 130+i, y.r.IntN(4))
		p.loader = 0
		y.trips = append(y.trips, p)
		kg += p.shown
	}
	y.truth = append(y.truth, seededFault{rule: "night pickup", kg: kg})
}

// produce lets the belt make for every pile what leaves it, evenly over the month. From its twelfth day on it counts
// more than it carries.
func (y *closeYard) produce(m time.Month, loads int) {
	perPile := float64(loads) * 22_500 / float64(len(y.piles))
	days := y.workdays(m)
	for _, day := range days {
		for i, p := range y.piles {
			kg := perPile / float64(len(days)) * (1 + 0.05*y.r.NormFloat64())
			p.stock += kg
			says := kg * (1 + 0.0005*y.r.NormFloat64())
			if m == time.October && day.Day() >= driftDay {
				says *= 1 + beltDrift
				if i != pileGone {
					y.drifted += kg * beltDrift
				}
			}
			y.made = append(y.made, belted{day.Add(17 * time.Hour), i, int(says)})
		}
	}
}

// spoil puts the faults into October's trips, each on trips of its own.
func (y *closeYard) spoil(all []*trip) {
	taken := map[*trip]bool{}
	pick := func(n int, want func(*trip) bool) []*trip {
		var list []*trip
		for _, i := range y.r.Perm(len(all)) {
			if p := all[i]; len(list) < n && !taken[p] && p.at.Hour() > 7 && p.at.Hour() < 16 && want(p) {
				taken[p] = true
				list = append(list, p)
			}
		}
		return list
	}
	anyClean := func(p *trip) bool { return p.pile < pileLost }
	for _, p := range all { // a day on which P07 was keyed as P08
		if p.pile == pileMeant && p.at.Day() == 14 {
			p.recorded, taken[p] = pileKeyed, true
		}
	}
	unrecorded := y.loads * 4 / 1000
	for _, p := range pick(unrecorded/2, func(p *trip) bool { return p.pile == pileLost }) {
		p.noLoad = true
	}
	for _, p := range pick(unrecorded-unrecorded/2, func(p *trip) bool { return p.pile == pileLost }) {
		p.noLoad, p.noDeck, p.ticket = true, true, "gap"
	}
	for _, p := range pick(2, anyClean) { // ghosts: void, and gone
		p.isVoid = true
	}
	y.piles[pileLost].book = true
	for _, p := range pick(3, anyClean) { // void, and never weighed out
		p.isVoid, p.noDeck, p.kg = true, true, 0
	}
	for _, p := range pick(4, anyClean) { // void and reissued under the next number
		again := *p
		again.at = p.at.Add(3 * time.Minute)
		p.isVoid, p.noDeck, p.kg = true, true, 0
		y.trips = append(y.trips, &again)
	}
	y.lump(all, taken)
}

// lump puts four trucks of one loader, one after another, on one record.
func (y *closeYard) lump(all []*trip, taken map[*trip]bool) {
	var run []*trip
	for _, p := range all {
		if p.loader != 2 || p.at.Day() != 20 || p.at.Hour() < 9 || taken[p] {
			continue
		}
		p.pile, p.recorded = 1, 1
		if run = append(run, p); len(run) == 4 {
			break
		}
	}
	total := 0
	for _, p := range run {
		taken[p] = true
		p.merged, p.deck = true, 0
		total += p.shown
	}
	last := run[len(run)-1]
	last.merged, last.shown = false, total
	y.truth = append(y.truth, seededFault{rule: "merged load", kg: total, record: "deck:HOLM:D1/"})
}

// number gives every record its number in order of time, and notes what the register has to say of each.
func (y *closeYard) number() {
	slices.SortStableFunc(y.trips, func(a, b *trip) int { return a.at.Compare(b.at) })
	for _, p := range y.trips {
		isGap := p.ticket == "gap"
		if !p.noLoad && !p.merged || isGap {
			y.numbers[p.loader]++
			p.ticket = fmt.Sprintf("L%d-%06d", p.loader+1, y.numbers[p.loader])
		}
		if !p.noDeck {
			y.tickets[p.deck]++
			p.deckNo = fmt.Sprintf("D%d-%06d", p.deck+1, y.tickets[p.deck])
		}
		y.note(p, isGap)
	}
}

func (y *closeYard) note(p *trip, isGap bool) {
	load, deck := fmt.Sprintf("load:HOLM:L%d/%s", p.loader+1, p.ticket), fmt.Sprintf("deck:HOLM:D%d/%s", p.deck+1, p.deckNo)
	switch {
	case isGap:
		n := p.ticket[strings.IndexByte(p.ticket, '-')+1:]
		number, _ := strconv.Atoi(n)
		y.truth = append(y.truth, seededFault{rule: "missing number", low: p.kg, high: p.kg, record: fmt.Sprintf("L%d L%d-/%d", p.loader+1, p.loader+1, number)})
	case p.noLoad:
		y.truth = append(y.truth, seededFault{rule: "no loader load", kg: p.weighed, record: deck})
	case p.isVoid && !p.noDeck:
		y.truth = append(y.truth, seededFault{rule: "void after weigh-out", pile: y.piles[p.pile].code, kg: p.shown, record: load})
		y.piles[p.pile].book = true
	case p.recorded != p.pile:
		y.truth = append(y.truth, seededFault{rule: "wrong pile", pile: "P08", kg: p.shown, record: load})
	}
}

// carry takes what truly left out of the piles.
func (y *closeYard) carry() {
	for _, p := range y.trips {
		y.piles[p.pile].stock -= float64(p.kg)
	}
	y.piles[pileInto].stock += y.piles[pileGone].stock // pushed over, and nobody wrote it down
	y.piles[pileGone].stock = 0
	for _, i := range []int{pileLost, pileMeant, pileKeyed, pileInto, pileGone} {
		y.piles[i].book = true
	}
}

// file is a table of the yard.
func file(rows [][]string) []byte {
	var b bytes.Buffer
	if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func tonnesOf(kg int) string { return fmt.Sprintf("%d.%03d", kg/1000, kg%1000) }

// local writes an instant as the machines do, without an offset.
func (y *closeYard) local(t time.Time) string { return t.In(y.zone).Format("2006-01-02 15:04:05") }

// files returns the tables by name: the register, and the exports, of which those of a kind overlap.
func (y *closeYard) files() map[string][]byte {
	all := map[string][]byte{
		"yards.csv":    file([][]string{{"yard", "name", "time zone"}, {"HOLM", "Holm quarry", "Europe/London"}}),
		"products.csv": y.products(), "piles.csv": y.pileRows(), "instruments.csv": y.instruments(), "hours.csv": y.hours(),
		"policy.csv": file([][]string{{"name", "value", "from"}, {"adjust", "never", "2026-01-01"}, {"u opening", "0.5", "2026-01-01"},
			{"survey every", "0", "2026-01-01"}}),
		"opening.csv": y.opening(), "moistures.csv": y.moistures(), "densities.csv": y.densities(), "surveys.csv": y.surveys(),
		"production.csv": y.production(),
	}
	for part, days := range [][2]int{{1, 12}, {10, 22}, {20, 31}} {
		from, until := y.day(time.October, days[0], 0, 0), y.day(time.October, days[1]+1, 0, 0)
		if part == 0 {
			from = y.day(time.September, 1, 0, 0)
		}
		all[fmt.Sprintf("loads-%d.csv", part+1)] = y.loadRows(from, until)
		all[fmt.Sprintf("deck-%d.csv", part+1)] = y.deckRows(from, until)
	}
	return all
}

func (y *closeYard) products() []byte {
	rows := [][]string{{"product", "reference moisture [% dry]"}}
	for i := range 9 {
		rows = append(rows, []string{fmt.Sprintf("G%d", i+1), "3"})
	}
	return file(rows)
}

func (y *closeYard) pileRows() []byte {
	rows := [][]string{{"pile", "product"}}
	for _, p := range y.piles {
		rows = append(rows, []string{p.code, p.product})
	}
	return file(rows)
}

func (y *closeYard) instruments() []byte {
	rows := [][]string{{"instrument", "kind", "from", "systematic [%]", "random [%]"}, {"B1", "belt", "2026-01-01", "0.05", "0.1"}}
	for i := range acceptLoaders {
		rows = append(rows, []string{fmt.Sprintf("L%d", i+1), "loader", "2026-01-01", "0.1", "0.5"})
	}
	for i := range acceptDecks {
		rows = append(rows, []string{fmt.Sprintf("D%d", i+1), "deck", "2026-01-01", "0.05", "0.1"})
	}
	return file(rows)
}

func (y *closeYard) hours() []byte {
	rows := [][]string{{"weekday", "open", "close"}}
	for d := time.Monday; d <= time.Saturday; d++ {
		rows = append(rows, []string{d.String(), "06:00", "18:00"})
	}
	return file(append(rows, []string{"Sunday", "", ""}))
}

func (y *closeYard) opening() []byte {
	rows := [][]string{{"pile", "time", "mass [t]", "moisture [% dry]"}}
	for _, p := range y.piles {
		rows = append(rows, []string{p.code, "2026-08-31 20:00", tonnesOf(acceptStock), "4"})
	}
	return file(rows)
}

func (y *closeYard) moistures() []byte {
	rows := [][]string{{"pile", "taken", "moisture [% dry]"}}
	for _, day := range []string{"2026-08-31 12:00", "2026-09-15 12:00", "2026-10-01 05:00", "2026-10-15 05:00"} {
		for _, p := range y.piles {
			rows = append(rows, []string{p.code, day, "4"})
		}
	}
	return file(rows)
}

// acceptDensity is the dry bulk density of all piles, t/m3.
const acceptDensity = 1.6

func (y *closeYard) densities() []byte {
	rows := [][]string{{"pile", "taken", "bulk density [t/m3]", "basis", "u [%]"}}
	for i, p := range y.piles {
		taken := "2026-08-31"
		if i == pileStale {
			taken = "2026-02-01"
		}
		rows = append(rows, []string{p.code, taken, "1.6", "dry", "0.3"})
	}
	return file(rows)
}

// surveys are flown on the last evening of October; P12 is not there any more. P10 is flown while trucks are loaded on
// the last working day.
func (y *closeYard) surveys() []byte {
	rows := [][]string{{"survey", "pile", "start", "end", "volume [m3]", "volume u [%]", "base"}}
	for i, p := range y.piles {
		if i == pileGone {
			continue
		}
		start, end, stock := y.day(time.October, 31, 19, 0), y.day(time.October, 31, 20, 0), p.stock
		if i == pileMoving {
			start, end = y.day(time.October, 30, 9, 0), y.day(time.October, 30, 11, 0)
			y.noteMoving(start, end)
			stock = y.stockAt(i, end)
		}
		volume := stock / 1.04 / 1000 / acceptDensity * (1 + 0.001*y.r.NormFloat64())
		rows = append(rows, []string{"S10", p.code, y.local(start), y.local(end), fmt.Sprintf("%.3f", volume), "0.2", "ground 2026-06-01"})
	}
	return file(rows)
}

// stockAt returns what truly lay in a pile at an instant of October.
func (y *closeYard) stockAt(pile int, at time.Time) float64 {
	stock := y.piles[pile].stock
	for _, p := range y.trips {
		if p.pile == pile && p.at.After(at) {
			stock += float64(p.kg)
		}
	}
	for _, m := range y.made {
		if m.pile == pile && m.at.After(at) {
			stock -= float64(m.kg) / (1 + beltDrift)
		}
	}
	return stock
}

// noteMoving notes what was loaded from P10 while it was being surveyed.
func (y *closeYard) noteMoving(start, end time.Time) {
	kg := 0
	for _, p := range y.trips {
		if p.recorded == pileMoving && !p.noLoad && !p.isVoid && !p.at.Before(start) && !p.at.After(end) {
			kg += p.shown
		}
	}
	y.truth = append(y.truth, seededFault{rule: "survey while loading", pile: "P10", kg: kg})
}

func (y *closeYard) production() []byte {
	rows := [][]string{{"time", "belt", "pile", "net [t]"}}
	for _, m := range y.made {
		at := m.at.Add(time.Duration(m.pile) * time.Minute)
		rows = append(rows, []string{y.local(at), "B1", y.piles[m.pile].code, tonnesOf(m.kg)})
	}
	return file(rows)
}

func (y *closeYard) loadRows(from, until time.Time) []byte {
	rows := [][]string{{"time", "loader", "ticket", "pile", "product", "truck", "customer", "net [t]", "status"}}
	for _, p := range y.trips {
		if p.noLoad || p.merged || p.at.Before(from) || !p.at.Before(until) {
			continue
		}
		status := "kept"
		if p.isVoid {
			status = "void"
		}
		pile := y.piles[p.recorded]
		rows = append(rows, []string{y.local(p.at), fmt.Sprintf("L%d", p.loader+1), p.ticket, pile.code, pile.product,
			y.trucks[p.truck].code, "C1", tonnesOf(p.shown), status})
	}
	return file(rows)
}

func (y *closeYard) deckRows(from, until time.Time) []byte {
	rows := [][]string{{"time", "deck", "ticket", "truck", "customer", "product", "gross [t]", "tare [t]", "net [t]"}}
	type row struct {
		at    time.Time
		cells []string
	}
	var list []row
	for _, p := range y.trips {
		if p.noDeck || p.at.Before(from) || !p.at.Before(until) {
			continue
		}
		at := p.at.Add(7*time.Minute + time.Duration(p.kg%240)*time.Second)
		tare := y.trucks[p.truck].tare + 20*(p.kg%7)
		list = append(list, row{at, []string{y.local(at), fmt.Sprintf("D%d", p.deck+1), p.deckNo, y.trucks[p.truck].code, "C1",
			y.piles[p.pile].product, tonnesOf(tare + p.weighed), tonnesOf(tare), tonnesOf(p.weighed)}})
	}
	slices.SortStableFunc(list, func(a, b row) int { return a.at.Compare(b.at) })
	for _, r := range list {
		rows = append(rows, r.cells)
	}
	return file(rows)
}
