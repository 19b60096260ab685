package audit

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"math/big"
	"slices"

	"repose/ledger"
)

// Random draws n items, each as likely as any other: those with the smallest SHA-256 of the seed, a line's end and the ID,
//
//	printf '%s\n%s' "$SEED" "$ID" | sha256sum
//
// so that anyone can draw the same again, and the order of the items plays no part. Selected is in order of the digests:
// a larger sample of the same seed begins with the smaller one. A population of n items or fewer is drawn whole.
func Random(seed string, n int, items []Item) (*Sample, error) {
	s, err := newSample(MethodRandom, seed, n, items)
	if err != nil {
		return nil, err
	}
	s.take(smallest(seed, n, items)...)
	return s, nil
}

// Stratified draws n items, shared out over the strata in proportion to their mass by largest remainder. Each stratum has
// at least one item where n allows, and none more than it holds: what is over goes to the others in proportion.
// Within a stratum items are drawn as by [Random]; Selected is in order of strata.
func Stratified(seed string, n int, items []Item) (*Sample, error) {
	s, err := newSample(MethodStratified, seed, n, items)
	if err != nil {
		return nil, err
	}
	members := map[string][]Item{}
	for _, i := range items {
		members[i.Stratum] = append(members[i.Stratum], i)
	}
	for i, share := range shares(n, s.Strata) {
		name := s.Strata[i].Name
		s.take(smallest(seed, share, members[name])...)
	}
	return s, nil
}

// smallest returns the n items with the smallest digests, in their order.
func smallest(seed string, n int, items []Item) []Selected {
	type ranked struct {
		digest [sha256.Size]byte
		item   int
	}
	ranks := make([]ranked, len(items))
	text := []byte(seed + "\n")
	prefix := len(text)
	for i, item := range items {
		text = append(text[:prefix], item.ID...)
		ranks[i] = ranked{sha256.Sum256(text), i}
	}
	slices.SortFunc(ranks, func(a, b ranked) int { return bytes.Compare(a.digest[:], b.digest[:]) })
	drawn := make([]Selected, min(n, len(items)))
	for i := range drawn {
		drawn[i] = Selected{Item: items[ranks[i].item], Digest: hex.EncodeToString(ranks[i].digest[:]), Hits: 1}
	}
	return drawn
}

// shares returns how many of n items are drawn from each stratum. Giving one after the other to the stratum that lacks
// most of its quota is the method of the largest remainder.
func shares(n int, strata []Stratum) []int {
	got := make([]int, len(strata))
	left := n
	if n >= len(strata) {
		for i := range got {
			got[i] = 1
		}
		left -= len(strata)
	}
	quotas, scale := quotas(n, strata)
	for ; left > 0; left-- {
		best := -1
		var most *big.Int
		for i := range strata {
			if got[i] == strata[i].Population.Count {
				continue
			}
			lack := new(big.Int).Sub(quotas[i], new(big.Int).Mul(big.NewInt(int64(got[i])), scale))
			if best < 0 || lack.Cmp(most) > 0 {
				best, most = i, lack
			}
		}
		if best < 0 {
			break // the population is drawn whole
		}
		got[best]++
	}
	return got
}

// quotas returns each stratum's part of n in proportion to its mass, as numerators over one scale. A stratum that holds
// fewer items than its part gives them all, and the rest is shared by the others.
func quotas(n int, strata []Stratum) (quotas []*big.Int, scale *big.Int) {
	whole := make([]bool, len(strata))
	for {
		free, mass := n, ledger.Mass(0)
		for i, st := range strata {
			if whole[i] {
				free -= st.Population.Count
			} else {
				mass += st.Population.Mass
			}
		}
		scale = big.NewInt(max(int64(mass), 1))
		quotas, settled := make([]*big.Int, len(strata)), true
		for i, st := range strata {
			all := new(big.Int).Mul(big.NewInt(int64(st.Population.Count)), scale)
			quotas[i] = all
			if whole[i] {
				continue
			}
			quotas[i] = new(big.Int).Mul(big.NewInt(int64(max(free, 0))), big.NewInt(int64(st.Population.Mass)))
			if quotas[i].Cmp(all) > 0 {
				whole[i], settled = true, false
			}
		}
		if settled {
			return quotas, scale
		}
	}
}
