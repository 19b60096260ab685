package weights

import (
	"math"

	"repose/internal/screen"
	"repose/internal/stat"
	"repose/ledger"
)

// side says which of two instruments is wrong. The zero value is that nothing says.
type side uint8

const (
	neither side = iota
	loaderSide
	deckSide
)

// wrongSide says which instrument's figures leave their own history in a run: the deck's if the trucks' tares do, else the
// loader's or the deck's if the loader's nets do or do not.
func (j *judged) wrongSide(d *screen.Data, r unitRun) side {
	if s := j.byTares(d, r); s != neither {
		return s
	}
	return j.byNets(d, r)
}

// tareSlack is how far the logarithm of tares in a run may lie from those of the same trucks at other times: fuel,
// mud and a driver more or less are 1 or 2 % (common practice, no source).
const tareSlack = 0.03

// byTares compares the tares of the run's tickets with those of the same trucks outside it.
func (j *judged) byTares(d *screen.Data, r unitRun) side {
	inRun, trucks := map[*ledger.Record]bool{}, map[string][]float64{}
	for _, i := range r.pairs {
		row := d.MatchDeck[j.pairs[i].Deck]
		inRun[row.Rec] = true
		trucks[row.Fact.Truck] = nil
	}
	delete(trucks, "")
	for k := range d.Deck {
		f := &d.Deck[k].Fact
		if before, ok := trucks[f.Truck]; ok && f.Tare > 0 && !inRun[d.Deck[k].Rec] {
			trucks[f.Truck] = append(before, math.Log(float64(f.Tare)))
		}
	}
	var shifts []float64
	for _, i := range r.pairs {
		f := &d.MatchDeck[j.pairs[i].Deck].Fact
		if before := trucks[f.Truck]; f.Tare > 0 && len(before) > 0 {
			shifts = append(shifts, math.Log(float64(f.Tare))-stat.Median(before))
		}
	}
	if len(shifts) < leastRun {
		return neither
	}
	shift := stat.Median(shifts)
	switch {
	case math.Abs(shift+float64(r.sign)*unitRatio) < tareSlack: // the deck is as far below as the loader seems above
		return deckSide
	case math.Abs(shift) < tareSlack:
		return loaderSide
	}
	return neither
}

// enoughHistory is how many nets outside a run say what is usual.
const enoughHistory = 20

// byNets compares the loader's nets of the run with its nets outside it. A side is named where the mean lies three
// standard errors from half the ratio of the units.
func (j *judged) byNets(d *screen.Data, r unitRun) side {
	inRun := map[*ledger.Record]bool{}
	loaders := map[string][]float64{}
	for _, i := range r.pairs {
		row := d.MatchLoads[j.pairs[i].Load]
		inRun[row.Rec] = true
		loaders[row.Fact.Loader] = nil
	}
	for k := range d.Loads {
		f := &d.Loads[k].Fact
		if before, ok := loaders[f.Loader]; ok && f.Net > 0 && !f.Void && !inRun[d.Loads[k].Rec] {
			loaders[f.Loader] = append(before, math.Log(float64(f.Net)))
		}
	}
	usual, scatter := map[string]float64{}, map[string]float64{}
	for code, before := range loaders {
		if len(before) < enoughHistory {
			return neither
		}
		usual[code] = stat.Median(before)
		for k := range before {
			before[k] = math.Abs(before[k] - usual[code])
		}
		scatter[code] = 1.4826 * stat.Median(before)
	}
	sum, variance := 0.0, 0.0
	for _, i := range r.pairs {
		f := &d.MatchLoads[j.pairs[i].Load].Fact
		sum += math.Log(float64(f.Net)) - usual[f.Loader]
		variance += scatter[f.Loader] * scatter[f.Loader]
	}
	n := float64(len(r.pairs))
	distance, se := float64(r.sign)*sum/n-unitRatio/2, math.Sqrt(variance)/n
	switch {
	case distance > 3*se:
		return loaderSide
	case distance < -3*se:
		return deckSide
	}
	return neither
}
