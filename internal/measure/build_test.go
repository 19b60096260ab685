package measure

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/stat"
	"repose/ledger"
)

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		panic(err)
	}
	return t
}

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func pct(s string) decimal.NullDecimal { return decimal.NewNullDecimal(dec(s)) }

// yard derives the months of a yard of facts and returns its register and balances.
func yard(t *testing.T, periods []string, facts ...ledger.Fact) (*ledger.Register, []ledger.Balance) {
	t.Helper()
	facts = append(facts, ledger.Yard{Code: "Y", Zone: "UTC", Unit: ledger.UnitTonne}, ledger.Product{Code: "S"})
	var records []ledger.Record
	for _, f := range facts {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			t.Fatal(err)
		}
		records = append(records, rec)
	}
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	var balances []ledger.Balance
	state := ledger.NewState()
	for _, text := range periods {
		p, err := ledger.ParsePeriod(text)
		if err != nil {
			t.Fatal(err)
		}
		m, err := ledger.Derive(ledger.Input{Register: reg, Yard: "Y", Period: p, Opening: state, Records: inOrder(records, p)},
			func(*ledger.Entry) error { return nil })
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range m.Comparisons {
			if b, ok := c.Balance(); ok {
				balances = append(balances, b)
			}
		}
		state = m.Closing
	}
	return reg, balances
}

func model(t *testing.T, reg *ledger.Register, balances []ledger.Balance) (*Observed, *stat.Model) {
	t.Helper()
	o, err := Build(reg, "Y", balances, nil)
	if err != nil {
		t.Fatal(err)
	}
	o.Resolution = 0 // the examples have none
	m, err := o.Model()
	if err != nil {
		t.Fatal(err)
	}
	return o, m
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.Abs(got-want) > tolerance {
		t.Errorf("%s = %.6f, want %.6f", what, got, want)
	}
}

func survey(code, when string, m3 string, u string) ledger.Survey {
	return ledger.Survey{Survey: when, Pile: code, Start: at(when), End: at(when), VolumeM3: dec(m3), VolumeU: pct(u)}
}

// The worked sigma of one pile and month (constructed, in the method's own notes): opening 18,000 t,
// closing 17,000 t, belt 7,000 t, outbound 7,800 t in 390 loads of 20 t, survey volume 1 %, density 3 %, belt 1 % and
// 0.5 %, loader 0.7 % and 1 %, no moisture error: the parts are 30, 180, 170, 70, 35, 54.6 and 3.95 t.
func TestWorkedSigma(t *testing.T) {
	facts := []ledger.Fact{
		ledger.Pile{Code: "P", Product: "S"},
		ledger.DensityTest{Pile: "P", Taken: at("2026-01-01"), MoistTPerM3: dec("1"), Compaction: dec("1"), U: pct("3")},
		ledger.MoistureTest{Pile: "P", Taken: at("2026-01-01"), U: pct("0")},
		ledger.Instrument{Code: "B", Weighs: ledger.InstrumentBelt, Systematic: pct("1"), Random: pct("0.5")},
		ledger.Instrument{Code: "L", Weighs: ledger.InstrumentLoader, Systematic: pct("0.7"), Random: pct("1")},
		survey("P", "2026-01-31", "18000", "1"), survey("P", "2026-02-28", "17000", "1"),
		ledger.Production{At: at("2026-02-10"), Belt: "B", Pile: "P", Net: 7000 * ledger.Tonne},
	}
	for i := range 390 {
		facts = append(facts, ledger.Load{At: at("2026-02-11").Add(time.Duration(i) * time.Minute), Loader: "L",
			Ticket: time.Duration(i).String(), Pile: "P", Net: 20 * ledger.Tonne, Purpose: ledger.PurposeSale})
	}
	reg, balances := yard(t, []string{"2026-01", "2026-02"}, facts...)
	o, m := model(t, reg, balances)
	last := len(o.Records) - 1
	near(t, "sigma", m.Balance(last).Sigma, math.Sqrt(30*30+180*180+170*170+70*70+35*35+54.6*54.6+1.0*1.0*20*20*390/1e4), 1e-6)
	if len(o.Assumptions) != 0 {
		t.Errorf("assumed %+v, want nothing", o.Assumptions)
	}
}

// An 894 t difference breaches the policy of 650 t and is 0.70 standard uncertainties (worked example of the
// close, V5: opening 35,880 (600), production 60,000 (900), sales 54,000 (100), survey 40,986 with 1.5 % of
// volume and 3 % of density at k = 2: combined 1,285.5).
func TestDifferenceWithUncertainty(t *testing.T) {
	u := func(name ledger.PolicyName, value string) ledger.Fact {
		return ledger.Policy{Name: name, Value: value, From: at("2025-01-01")}
	}
	reg, balances := yard(t, []string{"2026-10"},
		ledger.Pile{Code: "P", Product: "S"},
		ledger.DensityTest{Pile: "P", Taken: at("2026-01-01"), MoistTPerM3: dec("1.62"), Compaction: dec("1"), U: pct("1.5")},
		u(ledger.PolicyUOpening, dec("600").Div(dec("358.8")).Round(12).String()),
		u(ledger.PolicyUBeltSystematic, "1.5"), u(ledger.PolicyUBeltRandom, "0"), u(ledger.PolicyUMoisture, "0"),
		u(ledger.PolicyULoaderSystematic, dec("100").Div(dec("540")).Round(12).String()), u(ledger.PolicyULoaderRandom, "0"),
		ledger.Opening{Pile: "P", At: at("2026-10-01"), Solids: 35880 * ledger.Tonne, IsSolids: true},
		ledger.Production{At: at("2026-10-10"), Belt: "B", Pile: "P", Net: 60000 * ledger.Tonne},
		ledger.Load{At: at("2026-10-11"), Loader: "L", Ticket: "1", Pile: "P", Net: 54000 * ledger.Tonne, Purpose: ledger.PurposeSale},
		survey("P", "2026-10-31", "25300", "0.75"))
	o, m := model(t, reg, balances)
	near(t, "residual", o.Rows()[0].Residual, 894, 1e-9)
	near(t, "sigma", m.Balance(0).Sigma, 1285.5, 0.05)
	near(t, "z", o.Rows()[0].Residual/m.Balance(0).Sigma, 0.70, 0.005)
	want := []Assumption{{"belt B, random", "0 %", 1}, {"belt B, systematic", "1.5 %", 1}, {"moisture", "0 percentage points", 1},
		{"opening stock", "1.672240802676 %", 1}, {"scale L, random", "0 %", 1}, {"scale L, systematic", "0.185185185185 %", 1}}
	if diff := cmp.Diff(want, o.Assumptions); diff != "" {
		t.Errorf("assumptions (-want +got):\n%s", diff)
	}
}

// Accuracy classes: NIST Handbook 44 tolerances (W1 to W10; tables from memory, arithmetic recomputed), OIML
// R 76 (W11 to W13, table read in an extract) and R 50 (W14, W15, from memory).
func TestAccuracyClasses(t *testing.T) {
	for _, c := range []struct {
		id, class   string
		weighing, a float64 // t
	}{
		{"W1", "HB 44 III L d=10 kg", 5, 0.010},
		{"W2", "HB 44 III L d=10 kg", 5.010, 0.020},
		{"W3", "HB 44 III L d=10 kg", 10, 0.020},
		{"W4", "HB 44 III L d=10 kg", 10.010, 0.030},
		{"W6", "HB 44 III L d=10 kg", 25, 0.050},
		{"W7", "HB44 IIIL d=10kg", 40, 0.080},
		{"W9", "HB 44 III d=2 kg", 1, 0.002},
		{"W9", "HB 44 III d=2 kg", 1.002, 0.004},
		{"W9", "HB 44 III d=2 kg", 8, 0.006},
		{"W9", "HB 44 III d=2 kg", 8.002, 0.010},
		{"W11", "R 76 III e=20 kg", 10, 0.020},
		{"W12", "OIML R 76 class III e=20 kg", 40, 0.040},
		{"W13", "R 76 III e=20 kg", 60, 0.060},
		{"W14", "R 50 class 1", 1250, 12.5},
		{"W15", "R 50 0.5", 1250, 6.25},
		{"W15", "OIML R 50 class 2", 1250, 25},
	} {
		u, ok := classUncertainty(c.class, c.weighing)
		if !ok {
			t.Errorf("%s: class %q is not known", c.id, c.class)
			continue
		}
		near(t, c.id+" "+c.class, u*c.weighing, c.a/math.Sqrt(3), 1e-9)
	}
	for _, class := range []string{"", "R 76 III", "R 76 III L e=20 kg", "R 50 3", "HB 44 III L d=0 kg", "class 1"} {
		if u, ok := classUncertainty(class, 20); ok {
			t.Errorf("class %q was read as %v", class, u)
		}
	}
}
