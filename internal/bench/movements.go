package bench

import (
	"fmt"
	"time"
)

// clock is how times stand in the tables: by the yard's clock. Nothing happens at night, when clocks are put
// forward and back.
const clock = "2006-01-02 15:04:05"

// Hours in which yards work, every day, and how long a truck takes from the loader to the deck scale.
const (
	opens   = 6 * time.Hour
	workday = 12 * time.Hour
	toScale = 6 * time.Minute
	trucks  = 40  // of each yard
	patrons = 240 // customers
)

// tonnes writes a mass in steps of the scales as t.
func tonnes(steps int64) string { return fmt.Sprintf("%d.%02d", steps/perTonne, steps%perTonne) }

// instants calls each with the times of n events that are spread evenly over a month's working hours.
func (o *operator) instants(month, n int, each func(i int, at time.Time)) {
	start := o.size.month(month)
	days := int(o.size.month(month+1).Sub(start).Hours() / 24)
	for i := range n {
		worked := time.Duration(float64(workday) * float64(days) * float64(i) / float64(n)).Truncate(time.Second)
		each(i, start.AddDate(0, 0, int(worked/workday)).Add(opens+worked%workday))
	}
}

// writeProduction writes readings of the belts, as net masses: together as much as is loaded out.
func (o *operator) writeProduction(t *tables, month int, d dice) {
	n := o.size.share(o.size.Readings, month)
	if n == 0 {
		return
	}
	mean := o.size.share(o.size.Loads, month) * meanLoad / n
	o.instants(month, n, func(i int, at time.Time) {
		p := &o.piles[i%len(o.piles)]
		net := int64(mean*9/10 + d.below(mean/5+1))
		p.mass += net
		y := o.yards[p.yard]
		t.add("production.csv", "%s,%s,%s,%s,%s\n", at.Format(clock), y.code, y.belt(), p.code, tonnes(net))
	})
}

// writeLoads writes the loads of a month, and the deck tickets of as many of them as there are.
func (o *operator) writeLoads(t *tables, month int, d dice) {
	n := o.size.share(o.size.Loads, month)
	deck := o.size.share(o.size.Deck, month)
	o.instants(month, n, func(i int, at time.Time) {
		y := &o.yards[i%len(o.yards)]
		p := &o.piles[y.piles[d.below(len(y.piles))]]
		net := int64(meanLoad - 1000 + d.below(2001))
		p.mass -= net
		l := d.below(len(y.tickets))
		y.tickets[l]++
		truck, customer := fmt.Sprintf("%s-T%02d", y.code, d.below(trucks)+1), d.below(patrons)+1
		t.add("loads.csv", "%s,%s,%s,%s-%06d,%s,%s,%s,C%03d,%d,%s,sale,kept\n", at.Format(clock), y.code, y.loader(l), y.loader(l),
			y.tickets[l], p.code, p.productCode(), truck, customer, 3+d.below(5), tonnes(net))
		if deck*(i+1)/n == deck*i/n {
			return
		}
		y.weighed++
		tare, found := int64(1100+d.below(300)), net+int64(d.below(31)-15)
		t.add("deck.csv", "%s,%s,%s,W%s-%07d,%s,C%03d,%s,%s,%s,%s,kept\n", at.Add(toScale).Format(clock), y.code, y.deck(), y.code,
			y.weighed, truck, customer, p.productCode(), tonnes(tare+found), tonnes(tare), tonnes(found))
	})
}
