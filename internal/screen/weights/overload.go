package weights

import (
	"math"
	"slices"

	"repose/internal/screen"
	"repose/ledger"
)

// overload is a load that is too much for one truck.
type overload struct {
	usual ledger.Mass // of one load
}

// loads returns how many loads a net likely is.
func (o overload) loads(net ledger.Mass) int {
	return max(int(math.Round(float64(net)/float64(max(o.usual, 1)))), 1)
}

// overloadRatio is how many times what is usual a net exceeds to be of more than one truck.
const overloadRatio = 1.5

// exceeds reports whether a mass is more than one truck's, where it is known what that usually is.
func exceeds(m, usual ledger.Mass) bool {
	return usual > 0 && float64(m) > overloadRatio*float64(usual)
}

// truckLoads is what a truck carried on the records that are not in doubt.
type truckLoads struct {
	number       int
	most, second ledger.Mass
}

func (t truckLoads) with(m ledger.Mass) truckLoads {
	if m > t.most {
		return truckLoads{t.number + 1, m, t.most}
	}
	return truckLoads{t.number + 1, t.most, max(t.second, m)}
}

// beside returns the most that a truck carried on other records than one with a net.
func (t truckLoads) beside(net ledger.Mass) ledger.Mass {
	if net == t.most {
		return t.second
	}
	return t.most
}

// enoughLoads is how many other records of a truck alone say what it carries.
const enoughLoads = 10

// overloadsByLoad are loads that are too much for one truck, by index into MatchLoads.
type overloadsByLoad map[int]overload

// overloads returns the kept loads that are too much for one truck and that no deck ticket confirms, found once for all
// rules, which must not change them.
func overloads(d *screen.Data) overloadsByLoad { return screen.Memo(d, findOverloads) }

func findOverloads(d *screen.Data) overloadsByLoad {
	j := judge(d)
	confirmed := make([]bool, len(d.MatchLoads))
	for i := range j.pairs {
		v := j.pairs[i].verdict
		confirmed[j.pairs[i].Load] = v != unweighed && v != unlike
	}
	usual := usualLoads(d)
	trucks := truckUses(d, usual, confirmed)
	passes := int(d.Number(mergedPasses))
	heavy := overloadsByLoad{}
	for k := range d.MatchLoads {
		f := &d.MatchLoads[k].Fact
		if f.Void || confirmed[k] {
			continue
		}
		u, t := usual[f.Loader], trucks[f.Truck]
		other := t.beside(f.Net)
		switch {
		case u.most > 0 && exceeds(f.Net, max(u.most, other)):
			heavy[k] = overload{u.median}
		case t.number > enoughLoads && exceeds(f.Net, other):
			heavy[k] = overload{other}
		case passes > 0 && f.Passes >= passes && u.manyPasses(f.Passes):
			heavy[k] = overload{u.median}
		}
	}
	return heavy
}

// truckUses returns what each truck carried. A net that is too much for the loader and that no ticket confirms says
// nothing of the truck.
func truckUses(d *screen.Data, usual map[string]loaderLoads, confirmed []bool) map[string]truckLoads {
	trucks := map[string]truckLoads{}
	before := len(d.Loads) - len(d.MatchLoads)
	for k := range d.Loads {
		f := &d.Loads[k].Fact
		if f.Void || f.Truck == "" || exceeds(f.Net, usual[f.Loader].most) && (k < before || !confirmed[k-before]) {
			continue
		}
		trucks[f.Truck] = trucks[f.Truck].with(f.Net)
	}
	return trucks
}

// loaderLoads is what a loader's records usually hold.
type loaderLoads struct {
	median, most ledger.Mass // most is that of nineteen in twenty
	passes       int         // median; 0 where too few records count them
}

func (u loaderLoads) manyPasses(n int) bool {
	return u.passes > 0 && float64(n) > overloadRatio*float64(u.passes)
}

// usualOf is how many records tell what a loader's usually hold, the latest of those of both months.
const usualOf = 2000

// usualLoads returns what each loader's kept records hold, of loaders with enough of them.
func usualLoads(d *screen.Data) map[string]loaderLoads {
	nets, passes := map[string][]ledger.Mass{}, map[string][]int{}
	for k := len(d.Loads) - 1; k >= 0; k-- {
		f := &d.Loads[k].Fact
		if list := nets[f.Loader]; !f.Void && f.Net > 0 && len(list) < usualOf {
			nets[f.Loader] = append(list, f.Net)
			if f.Passes > 0 {
				passes[f.Loader] = append(passes[f.Loader], f.Passes)
			}
		}
	}
	usual := map[string]loaderLoads{}
	for code, list := range nets {
		if len(list) < enoughHistory {
			continue
		}
		slices.Sort(list)
		u := loaderLoads{median: list[len(list)/2], most: list[len(list)*19/20]}
		if p := passes[code]; len(p) >= enoughHistory {
			slices.Sort(p)
			u.passes = p[len(p)/2]
		}
		usual[code] = u
	}
	return usual
}
