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
		s.productionTable(), s.loadTable(), s.deckTable(), s.transferTable(), s.feedTable(),
	} {
		if len(t.rows) == 1 {
			continue // a yard that has nothing of the kind
		}
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
			if m := s.moistures[i][month]; !m.dropped {
				t.add(p.code, m.taken.Format(toMinute), percentOf(m.moisture), moisturePoints(s.months[month].moisture[i]).inPercent())
			}
		}
	}
	return t
}

func (s *simulation) densityTable() table {
	t := newTable("densities.csv", "pile", "taken", "bulk density [t/m3]", "basis", "u [%]")
	for n := range s.errors.density[0] {
		for i, p := range piles {
			if d := s.densities[i][n]; !d.dropped {
				t.add(p.code, d.taken.Format(toMinute), s.testedDensity(i, n).inTonnes(), "dry", densityU.inPercent())
			}
		}
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
