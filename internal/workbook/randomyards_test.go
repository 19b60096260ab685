package workbook

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"repose/internal/report"
	"repose/ledger"

	"github.com/shopspring/decimal"
)

// The second engine recomputes the workbooks of small random yards: every formula comes to what the file says, and all
// checks hold.
func TestRandomYardsRecomputed(t *testing.T) {
	t.Parallel()
	yards := 50
	if testing.Short() {
		yards = 4
	}
	books := make(map[string][]byte)
	for seed := range yards {
		data := writtenClose(t, randomClose(t, uint64(seed)), maxSheetRows)
		if got := allChecks(t, data); got != wordOK {
			t.Errorf("yard %d: the cover says %s: %q", seed, got, brokenChecks(t, open(t, data)))
		}
		books[fmt.Sprintf("yard %02d", seed)] = data
	}
	judge(t, books)
}

// randomYard draws the facts of an invented yard.
type randomYard struct {
	*testYard
	rng      *rand.Rand
	products []string
	piles    []string
	own      []string // products of which the yard has stone of its own
}

// randomClose is the month of a yard drawn from a seed: a few piles of a few products, 5 to 60 movements, and whatever of
// surveys, late records, rules, costs, register and papers the draw gives it.
func randomClose(t *testing.T, seed uint64) *report.Close {
	t.Helper()
	y := &randomYard{testYard: &testYard{t: t}, rng: rand.New(rand.NewPCG(seed, 20261125))}
	y.registers()
	sealed := len(y.records)
	for i := range 5 + y.rng.IntN(56) {
		y.movement(fmt.Sprint(i), at("2026-10-01 06:00").Add(time.Duration(y.rng.IntN(30*24*60))*time.Minute))
	}
	if y.once(2) {
		y.movement("late", at("2026-09-20 10:00"))
	}
	y.surveys()
	c := y.close(sealed)
	y.dress(c)
	return c
}

// once is true once in n draws.
func (y *randomYard) once(n int) bool { return y.rng.IntN(n) == 0 }

func (y *randomYard) number(low, high int64, places int32) decimal.Decimal {
	return decimal.New(low+y.rng.Int64N(high-low+1), -places)
}

func (y *randomYard) basis(low, high int64) ledger.DryBasis {
	m, err := ledger.NewDryBasis(y.number(low, high, 2))
	if err != nil {
		y.t.Fatal(err)
	}
	return m
}

// registers adds what September knew: products, piles with what lay in them, tests and rules.
func (y *randomYard) registers() {
	zones := []string{"Europe/London", "America/St_Johns", "Australia/Lord_Howe", "UTC"}
	y.add(ledger.Yard{Code: "Y", Zone: zones[y.rng.IntN(len(zones))], Unit: ledger.UnitTonne})
	long := at("2026-01-01 00:00")
	for i := range 1 + y.rng.IntN(3) {
		code := []string{"S20", "<4 mm*", "=dust"}[i]
		y.products = append(y.products, code)
		y.add(ledger.Product{Code: code, Reference: y.basis(0, 600)})
	}
	for i := range 1 + y.rng.IntN(5) {
		code := []string{"P1", "=P2", "010", "p1", "HELD"}[i]
		y.piles = append(y.piles, code)
		pile := ledger.Pile{Code: code, Product: y.products[y.rng.IntN(len(y.products))]}
		if y.once(5) {
			pile.Owner = "@owner"
		} else if !slices.Contains(y.own, pile.Product) {
			y.own = append(y.own, pile.Product)
		}
		y.add(pile, ledger.Opening{Pile: code, At: at("2026-09-02 00:00"), Solids: ledger.Mass(2_000*ledger.Tonne) + ledger.Mass(y.rng.Int64N(3e9)), IsSolids: true})
		if !y.once(4) {
			y.add(ledger.DensityTest{Pile: code, Taken: long, MoistTPerM3: y.number(13_000, 20_000, 4), Moisture: y.basis(0, 900), Compaction: y.number(90, 110, 2)})
		}
		if !y.once(3) {
			y.add(ledger.MoistureTest{Pile: code, Taken: at("2026-08-01 00:00").Add(time.Duration(y.rng.IntN(80*24)) * time.Hour), Moisture: y.basis(0, 900), Tests: 1})
		}
	}
	rule := func(name ledger.PolicyName, values ...string) {
		if i := y.rng.IntN(len(values) + 1); i < len(values) {
			y.add(ledger.Policy{Name: name, Value: values[i], From: long})
		}
	}
	rule(ledger.PolicyAdjust, "outside", "always", "never")
	rule(ledger.PolicyLimitMass, "20 t", "0.5 t")
	rule(ledger.PolicyLimitPercent, "1.337", "0.01")
	rule(ledger.PolicyLimitOf, "book", "throughput")
	rule(ledger.PolicyLimitJoin, "and", "or", "plus")
	y.money(rule)
}

// money adds costs, for half of the yards.
func (y *randomYard) money(rule func(ledger.PolicyName, ...string)) {
	if len(y.own) == 0 || y.once(2) {
		return
	}
	currency, places := "EUR", int32(2)
	if y.once(3) {
		currency, places = "JPY", 0
	}
	rule(ledger.ValueStandard, ledger.StandardASC330)
	rule(ledger.ValueNormal, "100 t", "90000 t")
	for _, month := range []string{"2026-09", "2026-10"} {
		y.add(ledger.Cost{Period: period(y.t, month), What: ledger.CostFixed, Amount: y.number(0, 900_000, places), Currency: currency},
			ledger.Cost{Period: period(y.t, month), What: ledger.CostMaking, Centre: "=all", Amount: y.number(1, 9_000_000, places), Currency: currency})
		for _, p := range y.products {
			if !y.once(3) {
				y.add(ledger.Price{From: period(y.t, month), Product: p, Amount: y.number(0, 3_000, places), Selling: y.number(0, 90, places), Per: ledger.UnitTonne, Currency: currency})
			}
		}
	}
	for _, p := range y.own {
		y.add(ledger.Cost{Period: period(y.t, "2026-09"), Product: p, What: ledger.CostOpening, Amount: y.number(0, 9_000_000, places), Currency: currency})
	}
	for i, pile := range y.piles { // or a cost of making would have nothing to lie on
		y.add(ledger.Production{At: at("2026-09-03 08:00").Add(time.Duration(i) * time.Minute), Belt: "B1", Pile: pile, Net: tons(50)},
			ledger.Production{At: at("2026-10-01 05:00").Add(time.Duration(i) * time.Minute), Belt: "B1", Pile: pile, Net: tons(50)})
	}
}

// movement adds a movement of up to 40 t, or of a belt up to 400 t.
func (y *randomYard) movement(ticket string, when time.Time) {
	net := ledger.Mass(1 + y.rng.Int64N(40_000_000))
	pile := y.piles[y.rng.IntN(len(y.piles))]
	switch kind := y.rng.IntN(8); {
	case kind == 0:
		y.add(ledger.Production{At: when, Belt: "B1", Pile: pile, Net: 10 * net})
	case kind == 1 && len(y.piles) > 1:
		other := y.piles[(slices.Index(y.piles, pile)+1)%len(y.piles)]
		y.add(ledger.Transfer{At: when, Loader: "L1", Ticket: ticket, From: pile, To: other, Net: net})
	case kind == 2:
		y.add(ledger.Feed{At: when, Instrument: "L1", Pile: pile, Net: net})
	case kind == 3:
		y.add(ledger.Return{At: when, Instrument: "D1", Ticket: ticket, Pile: pile, Net: net})
	case kind == 4:
		y.corrects("2610-"+ticket, "pile:"+pile, "shrinkage:explained spillage", pile, when.Format("2006-01-02 15:04"), 1+float64(y.rng.IntN(9)))
	default:
		l := y.load(ticket, "2026-10-01 00:00", pile, 1)
		l.At, l.Net, l.Void = when, net, y.once(9)
		l.Purpose = []ledger.Purpose{ledger.PurposeSale, ledger.PurposeSale, ledger.PurposeInternal, ledger.PurposeFree}[y.rng.IntN(4)]
		y.add(l)
	}
}

// surveys adds up to two surveys of each pile, near what may lie there.
func (y *randomYard) surveys() {
	for i, pile := range y.piles {
		for n := range y.rng.IntN(3) {
			end := at("2026-10-05 12:00").Add(time.Duration(n*11+i)*24*time.Hour + time.Duration(y.rng.IntN(600))*time.Minute)
			y.add(ledger.Survey{Survey: fmt.Sprint("S", n), Pile: pile, Start: end.Add(-time.Hour), End: end, VolumeM3: y.number(900_000, 3_000_000, 3), DeductionM3: y.number(0, 9, 1), DeductionReason: "=berms"})
		}
	}
}

// dress gives a close what the draw says: it may be open, and lack what a workbook can do without.
func (y *randomYard) dress(c *report.Close) {
	c.Screening = testScreening(c.Month, y.rng.IntN(30))
	if y.once(4) {
		c.Screening = nil
	}
	switch y.rng.IntN(5) {
	case 0:
		c.Papers = nil
	case 1:
		c.Papers = &report.Papers{}
	}
	if y.once(4) {
		c.Causes = nil
	}
	if y.once(3) {
		c.Closed, c.Seal, c.ClosedBy, c.ClosedAt, c.Number = false, "", "", time.Time{}, 0
	}
}
