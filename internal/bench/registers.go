package bench

import (
	"fmt"
	"time"
)

// surveyU is the relative standard uncertainty of a survey's volume, in per cent.
const surveyU = 1

// writeRegisters writes what does not grow with the months.
func (o *operator) writeRegisters(t *tables) {
	day := o.size.Start.Format(time.DateOnly)
	for i := range products {
		t.add("products.csv", "%s,%.2f\n", productCode(i), moisture(i))
	}
	for i, y := range o.yards {
		t.add("yards.csv", "%s,Yard %d,Europe/London\n", y.code, i+1)
		t.add("policy.csv", "%s,survey every,0,%s\n", y.code, day) // a month may be closed without surveys
		for n := range y.tickets {
			t.add("instruments.csv", "%s,%s,loader,%s,0.7,1,C-%s\n", y.code, y.loader(n), day, y.loader(n))
		}
		t.add("instruments.csv", "%s,%s,deck,%s,0.1,0.1,C-%s\n", y.code, y.deck(), day, y.deck())
		t.add("instruments.csv", "%s,%s,belt,%s,0.5,0.5,C-%s\n", y.code, y.belt(), day, y.belt())
	}
	for _, p := range o.piles {
		t.add("piles.csv", "%s,%s,%s\n", o.yards[p.yard].code, p.code, p.productCode())
		t.add("opening.csv", "%s,%s,%s,%s,%.2f\n", o.yards[p.yard].code, p.code, day, tonnes(p.mass), moisture(p.product))
	}
}

func (y yard) loader(n int) string { return fmt.Sprintf("%s-L%d", y.code, n+1) }
func (y yard) deck() string        { return y.code + "-D1" }
func (y yard) belt() string        { return y.code + "-B1" }

// writeTests writes a moisture and a density of every pile, taken on the month's first morning.
func (o *operator) writeTests(t *tables, month int) {
	at := o.size.month(month).Add(5 * time.Hour).Format(clock)
	for _, p := range o.piles {
		code := o.yards[p.yard].code
		t.add("moistures.csv", "%s,%s,%s,%.2f,2\n", code, p.code, at, moisture(p.product))
		t.add("densities.csv", "%s,%s,%s,%.3f,%.2f,3\n", code, p.code, at, density(p.product), moisture(p.product))
	}
}

// writeSurveys writes a survey of every pile on the month's last evening, after the last truck: wrong by up to one and a
// half per cent.
func (o *operator) writeSurveys(t *tables, month int, d dice) {
	evening := o.size.month(month+1).AddDate(0, 0, -1).Add(19 * time.Hour)
	for _, p := range o.piles {
		wrong := 1 + (float64(d.below(301))-150)/10_000
		volume := float64(p.mass) / perTonne / density(p.product) * wrong
		t.add("surveys.csv", "%s,S%s-%s,%s,%s,%s,%.1f,%d,photogrammetry\n", o.yards[p.yard].code, o.size.period(month), p.code,
			p.code, evening.Format(clock), evening.Add(time.Hour).Format(clock), volume, surveyU)
	}
}
