package simyard

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"time"
)

// files writes every table of the yard.
func (s *simulation) files() ([]File, error) {
	var files []File
	for _, t := range []table{
		s.yardTable(), productTable(), pileTable(), s.instrumentTable(), hourTable(), s.policyTable(),
		s.openingTable(), s.moistureTable(), s.densityTable(), s.surveyTable(),
		s.productionTable(), s.loadTable(), s.deckTable(), s.transferTable(),
	} {
		var b bytes.Buffer
		if err := csv.NewWriter(&b).WriteAll(t.rows); err != nil {
			return nil, fmt.Errorf("%s: %w", t.file, err)
		}
		files = append(files, File{Name: t.file, Content: b.Bytes()})
	}
	return files, nil
}

// table is one file of the yard.
type table struct {
	file string
	rows [][]string // the first is the header
}

func newTable(file string, header ...string) table { return table{file, [][]string{header}} }

func (t *table) add(row ...string) { t.rows = append(t.rows, row) }

func (s *simulation) yardTable() table {
	t := newTable("yards.csv", "yard", "name", "time zone", "unit")
	t.add(yardCode, yardName, zoneName, "t")
	return t
}

func productTable() table {
	t := newTable("products.csv", "product", "name", "reference moisture [% dry]")
	for _, p := range piles {
		t.add(p.product, p.name, percentOf(p.moisture))
	}
	return t
}

func pileTable() table {
	t := newTable("piles.csv", "pile", "product")
	for _, p := range piles {
		t.add(p.code, p.product)
	}
	return t
}

// instrumentTable has a row for each calibration: the systematic error is drawn anew with it.
func (s *simulation) instrumentTable() table {
	t := newTable("instruments.csv", "instrument", "kind", "from", "until", "systematic [%]", "random [%]", "certificate")
	for month := 1; month <= s.cfg.Months; month += calibrationMonths {
		for _, in := range scales {
			t.add(in.code, in.kind, s.cal.start(month).Format(toDay),
				s.cal.lastDay(month+calibrationMonths-1).Format(toDay), in.systematic.inPercent(), in.random.inPercent(),
				in.code+"-"+s.cal.period(month))
		}
	}
	return t
}

func hourTable() table {
	t := newTable("hours.csv", "weekday", "open", "close")
	for day := time.Monday; day <= time.Saturday; day++ {
		t.add(day.String(), fmt.Sprintf("%02d:00", openHour), fmt.Sprintf("%02d:00", closeHour))
	}
	t.add(time.Sunday.String(), "", "")
	return t
}

func (s *simulation) policyTable() table {
	adjust := "always"
	if s.cfg.KeepBook {
		adjust = "never"
	}
	from := s.cal.start(0).Format(toDay)
	t := newTable("policy.csv", "name", "value", "from", "reason")
	t.add("adjust", adjust, from, "agreed with the auditor")
	t.add("limit percent", "2", from, "agreed with the auditor")
	t.add("limit of", "book", from, "the per cent counts on the book")
	t.add("u opening", openingU.inPercent(), from, "how well the opening stock was known")
	return t
}

func (s *simulation) openingTable() table {
	t := newTable("opening.csv", "pile", "time", "solids [t]")
	for i, p := range piles {
		stated := s.stock[i][0].with(s.errors.opening[i])
		t.add(p.code, s.cal.opened().Format(toMinute), stated.inTonnes())
	}
	return t
}

func (s *simulation) moistureTable() table {
	t := newTable("moistures.csv", "pile", "taken", "moisture [% dry]", "u")
	for month := range s.months {
		for i, p := range piles {
			t.add(p.code, s.cal.sampled(month).Format(toMinute), percentOf(s.tested(i, month)),
				moisturePoints(s.months[month].moisture[i]).inPercent())
		}
	}
	return t
}

func (s *simulation) densityTable() table {
	t := newTable("densities.csv", "pile", "taken", "bulk density [t/m3]", "basis", "u [%]")
	for n := range s.errors.density[0] {
		for i, p := range piles {
			t.add(p.code, s.densityTaken(n).Format(toMinute), s.testedDensity(i, n).inTonnes(), "dry", densityU.inPercent())
		}
	}
	return t
}

func (s *simulation) surveyTable() table {
	t := newTable("surveys.csv", "survey", "pile", "start", "end", "volume [m3]", "volume u [%]", "base", "method", "surveyor")
	for month := range s.months {
		start, end := s.cal.flown(month)
		for i, p := range piles {
			t.add(surveyCode(month), p.code, start.Format(toMinute), end.Format(toMinute),
				fixed(s.surveyed(i, month), 3), volumeU.inPercent(), "ground", "photogrammetry", "SV-1")
		}
	}
	return t
}

func surveyCode(month int) string { return fmt.Sprintf("S%02d", month) }

// productionTable has what each belt carried to each of its piles on each working day. The belt's random
// error of a month is the same on all of them.
func (s *simulation) productionTable() table {
	t := newTable("production.csv", "time", "belt", "pile", "net [t]")
	d := newDice(s.cfg.Seed, runStream)
	for month := 1; month <= s.cfg.Months; month++ {
		days := s.cal.workdays(month)
		var runs [pileCount][]Grams
		for i, p := range piles {
			wet := s.months[month].made[i].wet(s.months[month].moisture[i])
			shown := s.reading(p.belt, month, wet).with(s.errors.belt[i][month])
			runs[i] = shown.split(d.weights(len(days)), scales[p.belt].step)
		}
		for k, day := range days {
			for i, p := range piles {
				at := clock(day, openHour+4*(1+i%3), 0) // a belt feeds three piles, one after another
				t.add(at.Format(toMinute), scales[p.belt].code, p.code, runs[i][k].inTonnes())
			}
		}
	}
	return t
}

// loadTable has the loaders' records. A record of several trucks comes with the last of them.
func (s *simulation) loadTable() table {
	t := newTable("loads.csv", "time", "loader", "ticket", "pile", "product", "truck", "customer", "net [t]")
	var before Grams
	for _, l := range s.loads {
		switch l.fate {
		case absorbed:
			before += l.shown
		case written:
			p := piles[l.recorded]
			t.add(l.at.Format(toSecond), scales[loaderScale(l.loader)].code, l.ticket, p.code, p.product,
				truckCode(l.truck), customerCode(l.customer), (before + l.shown).inTonnes())
			before = 0
		}
	}
	return t
}

// toDeck is how long a loaded truck takes to the deck scale.
const toDeck = 6 * time.Minute

// deckTable has a ticket for every truck that was loaded, with the product that it truly carries.
func (s *simulation) deckTable() table {
	t := newTable("deck.csv", "time", "deck", "ticket", "truck", "customer", "product", "net [t]")
	for _, l := range s.byTime {
		t.add(l.at.Add(toDeck).Format(toSecond), scales[deckScale].code, l.deckTicket, truckCode(l.truck),
			customerCode(l.customer), piles[l.pile].product, l.weighed.inTonnes())
	}
	return t
}

func (s *simulation) transferTable() table {
	t := newTable("transfers.csv", "time", "loader", "ticket", "from pile", "to pile", "net [t]")
	for _, h := range s.hauls {
		if h.missed {
			continue
		}
		r := routes[h.route]
		t.add(h.at.Format(toSecond), scales[loaderScale(r.loader)].code, h.ticket,
			piles[r.from].code, piles[r.to].code, h.shown.inTonnes())
	}
	return t
}

// moisturePoints returns the uncertainty of a moisture test, as a fraction of the dry mass, that makes
// solids = wet / (1 + moisture) uncertain by moistureU.
func moisturePoints(m millionths) PPB {
	return moistureU + PPB(mulDiv(int64(moistureU), int64(m), million))
}

// percentOf writes a moisture in per cent.
func percentOf(m millionths) string { return fixed(int64(m), 4) }
