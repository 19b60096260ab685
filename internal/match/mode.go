package match

// Before anything is learned, the usual lag and bias of a loader and a deck scale are where lags and ratios of all
// loads and tickets heap up: those of chance neighbours are spread evenly, those of the same truck are not.
const (
	modeBin   = 60      // s of lag
	modeReach = 90 * 60 // s of lag to each side: clocks may differ by an hour, where one was not put forward
	modeLags  = 2*modeReach/modeBin + 1

	modeRatioBin   = 0.02 // of ln(loader/deck)
	modeRatios     = 41
	modeRatioFirst = -0.41 // 20 bins and a half below zero

	// A heap counts if it holds enoughVotes and stands out of what is around by standOut standard deviations.
	enoughVotes = 8
	standOut    = 5

	// around is how many bins of lag to each side the level around a heap is taken from.
	around = 15
)

// votes is how much each lag and ratio occurs.
type votes [modeLags][modeRatios]float64

// The weight of a vote: neighbours with one label are more likely to be one truck.
var (
	truckVote   = [...]float64{Unknown: 0.3, No: 0.03, Yes: 1}
	productVote = [...]float64{Unknown: 0.5, No: 0.1, Yes: 1}
)

// count adds the votes of some loads of one loader and the tickets of one deck scale.
func (v *votes) count(loads, deck *side, some, lane []int32) {
	lo := 0
	for _, i := range some {
		l := &loads.all[i]
		for lo < len(lane) && deck.all[lane[lo]].at < l.at-modeReach {
			lo++
		}
		for _, j := range lane[lo:] {
			t := &deck.all[j]
			lag := t.at - l.at + modeReach
			if lag > 2*modeReach {
				break
			}
			ratio := int((l.log - t.log - modeRatioFirst) / modeRatioBin)
			if ratio < 0 || ratio >= modeRatios || l.net <= 0 || t.net <= 0 {
				continue
			}
			v[lag/modeBin][ratio] += truckVote[compareLabels(l.truck, t.truck)] * productVote[compareLabels(l.product, t.product)]
		}
	}
}

func (v *votes) add(w *votes) {
	for i := range v {
		for k := range v[i] {
			v[i][k] += w[i][k]
		}
	}
}

// heap returns the lag in s and the ln(loader/deck) of the highest heap. ok is false where none stands out.
func (v *votes) heap() (lag, bias float64, ok bool) {
	best := 0.0
	for k := 1; k < modeRatios-1; k++ {
		for i := 1; i < modeLags-1; i++ {
			here, level := v.sum(i, k, 1), v.sum(i, k, around)
			level = (level - here) / (2*around + 1 - 3) * 3
			if excess := here - level; excess > best {
				best = excess
				lag, bias = float64(i*modeBin-modeReach)+modeBin/2, modeRatioFirst+(float64(k)+0.5)*modeRatioBin
				ok = here >= enoughVotes && excess*excess > standOut*standOut*(level+1)
			}
		}
	}
	return lag, bias, ok
}

// sum adds the votes of the lags up to reach bins away and the ratios of three bins.
func (v *votes) sum(lag, ratio, reach int) float64 {
	s := 0.0
	for i := max(lag-reach, 0); i <= min(lag+reach, modeLags-1); i++ {
		s += v[i][ratio-1] + v[i][ratio] + v[i][ratio+1]
	}
	return s
}
