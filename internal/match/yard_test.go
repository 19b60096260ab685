package match

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"repose/ledger"
)

// yard is an invented yard whose truth is known: trucks that come again and again, loaders with tasks that interleave,
// one queue before each deck scale, records that are missing, lumped, mislabelled or wrong.
type yard struct {
	seed           uint64
	days, hours    int
	loaders, decks int
	peak           int // trucks an hour at the busiest time
	trucks         int
	clock          time.Duration // by which the deck's clock is ahead
	noLabels       bool
	missing        float64 // part of the loads, and of the tickets
	lumped         float64 // part of the loader records that hold 2 to 4 trucks
	wrong          float64 // part of the loads with a wrong truck, of those with a wrong product and of those with a wrong weight, each
	minutes        bool    // stamps are whole minutes
}

// base is the yard that the figures in doc.go are of.
func base(seed uint64) yard {
	clock := 3 * time.Minute
	if seed%2 == 1 {
		clock = -clock
	}
	return yard{seed: seed, days: 5, hours: 10, loaders: 2, decks: 1, peak: 30 + 10*int(seed/2%4), trucks: 70, clock: clock,
		missing: 0.02, lumped: 0.01, wrong: 0.003, minutes: seed%4 == 3}
}

// truckload is what truly happened.
type truckload struct {
	loader, deck, truck, product int
	began, ended, weighed        time.Time
	mass                         float64 // t
	record, ticket               int     // indices into the input, or -1
}

// truth says which records hold which truckloads.
type truth struct {
	loads   []truckload
	ofLoad  [][]int // truckloads of each loader record
	tickets []int   // truckload of each ticket
}

func (y yard) build() (Input, *truth) {
	r := rand.New(rand.NewPCG(y.seed, 4))
	w := &truth{}
	for day := range y.days {
		y.work(r, w, time.Date(2026, 3, 2+day, 6, 0, 0, 0, time.UTC))
	}
	in := Input{}
	sets := y.lump(r, w)
	y.weighOut(r, w, &in)
	y.record(r, w, sets, &in)
	return in, w
}

// work lets trucks come for a day. One load in twelve is paused: the loader fills the next trucks before it goes on.
func (y yard) work(r *rand.Rand, w *truth, start time.Time) {
	type fleet struct {
		back    time.Time
		mass    float64
		product int
	}
	trucks := make([]fleet, y.trucks)
	for i := range trucks {
		trucks[i] = fleet{start.Add(time.Duration(r.IntN(60)) * time.Minute), 20 + 1.2*r.NormFloat64(), r.IntN(5)}
	}
	busy := make([]time.Time, y.loaders)
	for now := start; now.Before(start.Add(time.Duration(y.hours) * time.Hour)); {
		hour := now.Sub(start).Hours()
		rate := float64(y.peak) * (0.55 + 0.45*max(1-(hour-3)*(hour-3)/9, -1))
		now = now.Add(time.Duration(r.ExpFloat64() / max(rate, float64(y.peak)/4) * float64(time.Hour)))
		truck := r.IntN(y.trucks)
		for n := 0; trucks[truck].back.After(now) && n < y.trucks; n++ {
			truck = (truck + 1) % y.trucks
		}
		t := &trucks[truck]
		if t.back.After(now) {
			continue
		}
		if r.IntN(5) == 0 {
			t.product = r.IntN(5)
		}
		loader := r.IntN(y.loaders)
		began := now
		if busy[loader].After(began) {
			began = busy[loader]
		}
		ended := began.Add(time.Duration(70+r.IntN(80)) * time.Second)
		busy[loader] = ended
		if r.IntN(12) == 0 {
			ended = ended.Add(time.Duration(3+r.IntN(12)) * time.Minute)
		}
		w.loads = append(w.loads, truckload{loader: loader, deck: r.IntN(y.decks), truck: truck, product: t.product, began: began,
			ended: ended, mass: t.mass + 0.9*r.NormFloat64(), record: -1, ticket: -1})
		t.back = ended.Add(time.Duration(25+r.IntN(50)) * time.Minute)
	}
}

// weighOut lets the trucks drive to the decks, where they queue, and writes the tickets that are not missing.
func (y yard) weighOut(r *rand.Rand, w *truth, in *Input) {
	arrival := make([]time.Time, len(w.loads))
	order := make([]int, len(w.loads))
	for i, l := range w.loads {
		arrival[i], order[i] = l.ended.Add(time.Duration(80+r.IntN(160))*time.Second), i
	}
	slices.SortStableFunc(order, func(a, b int) int { return arrival[a].Compare(arrival[b]) })
	queue := make([]time.Time, y.decks)
	for _, i := range order {
		l := &w.loads[i]
		at := arrival[i]
		if queue[l.deck].After(at) {
			at = queue[l.deck]
		}
		at = at.Add(time.Duration(25+r.IntN(25)) * time.Second)
		queue[l.deck], l.weighed = at, at
		if r.Float64() < y.missing {
			continue
		}
		l.ticket = len(w.tickets)
		w.tickets = append(w.tickets, i)
		net := steps(l.mass+0.02*r.NormFloat64(), 0.02)
		in.Deck = append(in.Deck, rec(ledger.DeckTicket{At: y.stamp(at.Add(y.clock)), Deck: fmt.Sprintf("D%d", l.deck+1), Ticket: fmt.Sprint(i + 1),
			Truck: y.label(l.truck), Product: fmt.Sprintf("P%d", l.product), Net: net}))
	}
	y.sort(in.Deck, w.tickets, func(k, i int) { w.loads[i].ticket = k })
}

// lump makes sets of loads that stand on one record each: mostly one, else the next of the same loader on the same day.
// Three in four lumped records are of one product, as the record says.
func (y yard) lump(r *rand.Rand, w *truth) [][]int {
	var sets [][]int
	open := make([][]int, y.loaders)
	wanted := make([]int, y.loaders)
	product := make([]int, y.loaders)
	for i := range w.loads {
		l := &w.loads[i]
		k := l.loader
		if held := open[k]; len(held) > 0 && l.began.Sub(w.loads[held[len(held)-1]].ended) > time.Hour {
			for _, h := range held {
				sets = append(sets, []int{h})
			}
			open[k], wanted[k] = nil, 0
		}
		if wanted[k] == 0 && r.Float64() < y.lumped {
			wanted[k], product[k] = 2+r.IntN(3), -1
			if r.IntN(4) > 0 {
				product[k] = l.product
			}
		}
		if wanted[k] > 0 && product[k] >= 0 {
			l.product = product[k]
		}
		if open[k] = append(open[k], i); len(open[k]) >= wanted[k] {
			sets = append(sets, open[k])
			open[k], wanted[k] = nil, 0
		}
	}
	return append(sets, slices.DeleteFunc(open, func(held []int) bool { return len(held) == 0 })...)
}

// record writes the loader records. A loader stamps a load when it ends, another when it begins, by its number and the
// seed. A lumped record carries its last truck and instant, or its first.
func (y yard) record(r *rand.Rand, w *truth, sets [][]int, in *Input) {
	var ids []int
	for _, held := range sets {
		if r.Float64() < y.missing {
			continue
		}
		ids = append(ids, len(w.ofLoad))
		w.ofLoad = append(w.ofLoad, held)
		in.Loads = append(in.Loads, rec(y.loaderRecord(r, w, held)))
	}
	held := slices.Clone(w.ofLoad)
	y.sort(in.Loads, ids, func(k, id int) {
		w.ofLoad[k] = held[id]
		for _, i := range held[id] {
			w.loads[i].record = k
		}
	})
}

func (y yard) loaderRecord(r *rand.Rand, w *truth, held []int) ledger.Load {
	l := &w.loads[slices.MaxFunc(held, func(a, b int) int { return w.loads[a].ended.Compare(w.loads[b].ended) })]
	at := l.ended
	if (uint64(l.loader)+y.seed/2)%2 == 1 {
		l = &w.loads[held[0]]
		at = l.began
	}
	mass := 0.0
	for _, i := range held {
		mass += w.loads[i].mass
	}
	mass *= []float64{1.012, 0.985, 1.03, 1}[l.loader%4] * (1 + 0.008*r.NormFloat64())
	f := ledger.Load{At: y.stamp(at), Loader: fmt.Sprintf("L%d", l.loader+1), Ticket: fmt.Sprint(held[0] + 1), Pile: "X",
		Truck: y.label(l.truck), Product: fmt.Sprintf("P%d", l.product), Passes: 4 * len(held)}
	if r.Float64() < y.wrong {
		f.Truck = y.label(r.IntN(y.trucks))
	}
	if r.Float64() < y.wrong {
		f.Product = fmt.Sprintf("P%d", r.IntN(5))
	}
	if r.Float64() < y.wrong {
		mass += 5 * float64(1-2*r.IntN(2))
	}
	f.Net = steps(mass, 0.01)
	return f
}

// sort puts records in order of time, and tells where each of the ids went.
func (y yard) sort(records []*ledger.Record, ids []int, at func(k, id int)) {
	order := make([]int, len(records))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return records[a].At.Compare(records[b].At) })
	was, wasID := slices.Clone(records), slices.Clone(ids)
	for k, i := range order {
		records[k], ids[k] = was[i], wasID[i]
		at(k, ids[k])
	}
}

func (y yard) stamp(t time.Time) time.Time {
	if y.minutes {
		return t.Truncate(time.Minute)
	}
	return t.Truncate(time.Second)
}

func (y yard) label(truck int) string {
	if y.noLabels {
		return ""
	}
	return fmt.Sprintf("T%d", truck+1)
}

func steps(t, step float64) ledger.Mass {
	return ledger.Mass(t/step+0.5) * ledger.Mass(step*1e6)
}

func rec(f ledger.Fact) *ledger.Record {
	r, err := ledger.NewRecord("Y", f)
	if err != nil {
		panic(err)
	}
	return &r
}
