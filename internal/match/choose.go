package match

import (
	"cmp"
	"slices"
)

// mostTries bounds the choice among hosts that want the same parts. It is far beyond what has been seen, and where it
// is met the best choice so far stands.
const mostTries = 100_000

// choose picks one group or none for each host, so that no part is in two and the sum of weights is the largest. Each
// host offers groups, the best first. Hosts are in order of time, so that those that want the same parts are near.
func choose(offers [][]group) []group {
	hosts := map[int32][]int{} // by part
	for k, list := range offers {
		for _, x := range list {
			for _, j := range x.parts {
				if h := hosts[j]; len(h) == 0 || h[len(h)-1] != k {
					hosts[j] = append(h, k)
				}
			}
		}
	}
	var chosen []group
	seen := make([]bool, len(offers))
	for k := range offers {
		if seen[k] {
			continue
		}
		cluster := []int{k}
		seen[k] = true
		for at := 0; at < len(cluster); at++ {
			for _, x := range offers[cluster[at]] {
				for _, j := range x.parts {
					for _, other := range hosts[j] {
						if !seen[other] {
							seen[other] = true
							cluster = append(cluster, other)
						}
					}
				}
			}
		}
		chosen = append(chosen, chooseAmong(offers, cluster)...)
	}
	slices.SortFunc(chosen, func(a, b group) int { return int(a.host - b.host) })
	return chosen
}

// choice is a search by branch and bound, the hosts with the best offers first.
type choice struct {
	lists   [][]group
	rest    []float64 // the most that the hosts from one on can add
	taken   map[int32]bool
	picked  []group
	best    []group
	bestSum float64
	tries   int
}

func chooseAmong(offers [][]group, cluster []int) []group {
	c := choice{taken: map[int32]bool{}}
	for _, k := range cluster {
		c.lists = append(c.lists, offers[k])
	}
	slices.SortFunc(c.lists, func(a, b []group) int {
		return cmp.Or(cmp.Compare(b[0].weight, a[0].weight), cmp.Compare(a[0].host, b[0].host))
	})
	c.rest = make([]float64, len(c.lists)+1)
	for k := len(c.lists) - 1; k >= 0; k-- {
		c.rest[k] = c.rest[k+1] + c.lists[k][0].weight
	}
	c.pick(0, 0)
	return c.best
}

// pick tries the offers of the hosts from one on, on top of those picked, which sum to so much.
func (c *choice) pick(k int, sum float64) {
	if sum > c.bestSum {
		c.bestSum, c.best = sum, slices.Clone(c.picked)
	}
	c.tries++
	if k == len(c.lists) || c.tries > mostTries || sum+c.rest[k] <= c.bestSum {
		return
	}
	for _, x := range c.lists[k] {
		if slices.ContainsFunc(x.parts, func(j int32) bool { return c.taken[j] }) {
			continue
		}
		for _, j := range x.parts {
			c.taken[j] = true
		}
		c.picked = append(c.picked, x)
		c.pick(k+1, sum+x.weight)
		c.picked = c.picked[:len(c.picked)-1]
		for _, j := range x.parts {
			delete(c.taken, j)
		}
	}
	c.pick(k+1, sum)
}
