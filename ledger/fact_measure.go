package ledger

import (
	"errors"
	"fmt"
	"time"

	"github.com/shopspring/decimal"
)

// Survey states the volume of one pile, measured between two instants. It is set against the book at its
// end.
type Survey struct {
	Survey, Pile    string
	Start, End      time.Time
	VolumeM3        decimal.Decimal
	VolumeU         decimal.NullDecimal // relative standard uncertainty, per cent
	DeductionM3     decimal.Decimal     // base layer, berms, voids: not stone of this pile
	DeductionReason string
	Base            string              // the surface under the pile that the volume was taken from
	ToeAreaM2       decimal.NullDecimal // plan area inside the toe line
	Method          string
	Surveyor        string // a code, not a name
	Report          string
}

// DensityTest states a bulk density of a pile, or of a product.
type DensityTest struct {
	Pile, Product string // one of the two
	Taken         time.Time
	MoistTPerM3   decimal.Decimal     // as found, at Moisture; dry where Moisture is zero
	Moisture      DryBasis            // of the stone as it was tested
	U             decimal.NullDecimal // relative standard uncertainty, per cent
	Tests         int
	Method        string
	Compaction    decimal.Decimal // factor from the tested state to the pile's; 1 for none
}

// MoistureTest states the moisture of a pile, or of a product.
type MoistureTest struct {
	Pile, Product string // one of the two
	Taken         time.Time
	Moisture      DryBasis
	Tests         int
	U             decimal.NullDecimal // standard uncertainty, percentage points
}

func (Survey) Kind() Kind       { return KindSurveyRecord }
func (DensityTest) Kind() Kind  { return KindDensityRecord }
func (MoistureTest) Kind() Kind { return KindMoistureRecord }

func (s Survey) Key() string       { return joinKey(s.Survey, s.Pile) }
func (d DensityTest) Key() string  { return testKey(d.Pile, d.Product, d.Taken) }
func (m MoistureTest) Key() string { return testKey(m.Pile, m.Product, m.Taken) }

func testKey(pile, product string, taken time.Time) string {
	if pile != "" {
		return joinKey("pile", pile, keyTime(taken))
	}
	return joinKey("product", product, keyTime(taken))
}

func (s Survey) at() time.Time       { return s.End }
func (d DensityTest) at() time.Time  { return d.Taken }
func (m MoistureTest) at() time.Time { return m.Taken }

func (s Survey) validate() error {
	switch {
	case s.Start.IsZero() || s.End.IsZero() || s.End.Before(s.Start):
		return errors.New("want a start instant and an end instant not before it")
	case s.VolumeM3.IsNegative():
		return fmt.Errorf("volume %s m3: want zero or more", s.VolumeM3)
	case s.DeductionM3.IsNegative() || s.DeductionM3.GreaterThan(s.VolumeM3):
		return fmt.Errorf("deduction %s m3: want zero up to the volume, %s m3", s.DeductionM3, s.VolumeM3)
	case s.DeductionM3.IsPositive() && s.DeductionReason == "":
		return errors.New("deduction without a reason")
	case s.Survey == "":
		return errors.New("survey: want a number")
	}
	return checkCode("pile", s.Pile)
}

func (d DensityTest) validate() error {
	if !d.MoistTPerM3.IsPositive() {
		return fmt.Errorf("bulk density %s t/m3: want more than zero", d.MoistTPerM3)
	}
	if !d.Compaction.IsPositive() {
		return fmt.Errorf("compaction factor %s: want more than zero", d.Compaction)
	}
	return checkTest(d.Pile, d.Product, d.Taken)
}

func (m MoistureTest) validate() error { return checkTest(m.Pile, m.Product, m.Taken) }

func checkTest(pile, product string, taken time.Time) error {
	switch {
	case taken.IsZero():
		return errNoInstant
	case (pile == "") == (product == ""):
		return errors.New("want either a pile or a product")
	case pile != "":
		return checkCode("pile", pile)
	}
	return checkCode("product", product)
}

func (s Survey) fields(w *fieldWriter) {
	w.text("survey", s.Survey)
	w.text("pile", s.Pile)
	w.time("start", s.Start)
	w.time("end", s.End)
	w.decimal("volume_m3", s.VolumeM3)
	w.optional("volume_u_pct", s.VolumeU)
	w.decimal("deduction_m3", s.DeductionM3)
	w.text("deduction reason", s.DeductionReason)
	w.text("base", s.Base)
	w.optional("toe_area_m2", s.ToeAreaM2)
	w.text("method", s.Method)
	w.text("surveyor", s.Surveyor)
	w.text("report", s.Report)
}

func (d DensityTest) fields(w *fieldWriter) {
	w.text("pile", d.Pile)
	w.text("product", d.Product)
	w.time("taken", d.Taken)
	w.decimal("moist_density_t_per_m3", d.MoistTPerM3)
	w.decimal("moisture_pct_dry", d.Moisture.pct)
	w.optional("u_pct", d.U)
	w.count("tests", d.Tests)
	w.text("method", d.Method)
	w.decimal("compaction_factor", d.Compaction)
}

func (m MoistureTest) fields(w *fieldWriter) {
	w.text("pile", m.Pile)
	w.text("product", m.Product)
	w.time("taken", m.Taken)
	w.decimal("moisture_pct_dry", m.Moisture.pct)
	w.count("tests", m.Tests)
	w.optional("u_pct_points", m.U)
}

func readSurvey(d *fieldReader) Fact {
	return Survey{Survey: d.text("survey"), Pile: d.text("pile"), Start: d.time("start"), End: d.time("end"),
		VolumeM3: d.decimal("volume_m3"), VolumeU: d.optional("volume_u_pct"),
		DeductionM3: d.decimal("deduction_m3"), DeductionReason: d.text("deduction reason"),
		Base: d.text("base"), ToeAreaM2: d.optional("toe_area_m2"), Method: d.text("method"),
		Surveyor: d.text("surveyor"), Report: d.text("report")}
}

func readDensityTest(d *fieldReader) Fact {
	return DensityTest{Pile: d.text("pile"), Product: d.text("product"), Taken: d.time("taken"),
		MoistTPerM3: d.decimal("moist_density_t_per_m3"), Moisture: d.moisture("moisture_pct_dry"),
		U: d.optional("u_pct"), Tests: d.count("tests"), Method: d.text("method"), Compaction: d.decimal("compaction_factor")}
}

func readMoistureTest(d *fieldReader) Fact {
	return MoistureTest{Pile: d.text("pile"), Product: d.text("product"), Taken: d.time("taken"),
		Moisture: d.moisture("moisture_pct_dry"), Tests: d.count("tests"), U: d.optional("u_pct_points")}
}
