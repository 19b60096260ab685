// Package assign pairs the nodes of two sides, one to one, so that the weights of the pairs have the largest sum. It
// is exact: weights are whole numbers and no step rounds.
//
// The graph is sparse and a node may stay alone at no cost. The method is the assignment problem's own (Kuhn, Naval
// Research Logistics Quarterly 2 (1955) 83), in the form of shortest augmenting paths with prices on the nodes
// (Jonker and Volgenant, Computing 38 (1987) 325), both from memory. Left nodes come in one by one. Each looks for the
// change of pairs that gains most, by a shortest-path search that ends as soon as no farther node can do better. Such
// a search cannot leave its connected component and mostly ends after a few nodes, so that splitting the graph into
// components first would change neither the result nor the work.
package assign

import (
	"fmt"
	"slices"
)

// Edge joins node Left of one side with node Right of the other. Weight is what the pair is worth.
type Edge struct {
	Left, Right int32
	Weight      int64
}

// MaxWeight is the largest weight of an edge.
const MaxWeight = 1 << 60

// Alone is the partner of a node that has none.
const Alone = -1

// Solve returns the partner of each of the left nodes, or [Alone]. Of several edges that join the same nodes the
// heaviest counts; an edge of no or negative weight is never used. Among sums that are equal the choice depends on the
// numbers of the nodes alone: the order of the edges plays no part. It fails where an edge names a node that is not
// there or weighs more than MaxWeight.
func Solve(left, right int, edges []Edge) ([]int, error) {
	g, err := newGraph(left, right, edges)
	if err != nil {
		return nil, err
	}
	s := newSolver(g, right)
	for i := range left {
		s.insert(int32(i))
	}
	partners := make([]int, left)
	for i, j := range s.ofLeft {
		partners[i] = int(j)
	}
	return partners, nil
}

// graph lists the edges of each left node, in order of the right one.
type graph struct {
	start []int32 // of each left node's arcs, and the end of the last
	arcs  []arc
}

type arc struct {
	weight int64
	right  int32
}

func (g *graph) of(left int32) []arc { return g.arcs[g.start[left]:g.start[left+1]] }

func newGraph(left, right int, edges []Edge) (*graph, error) {
	g := &graph{start: make([]int32, left+1)}
	for _, e := range edges {
		if e.Left < 0 || int(e.Left) >= left || e.Right < 0 || int(e.Right) >= right {
			return nil, fmt.Errorf("edge from %d to %d: want nodes below %d and %d", e.Left, e.Right, left, right)
		}
		if e.Weight > MaxWeight {
			return nil, fmt.Errorf("edge from %d to %d: weight %d is above %d", e.Left, e.Right, e.Weight, int64(MaxWeight))
		}
		if e.Weight > 0 {
			g.start[e.Left+1]++
		}
	}
	for i := range left {
		g.start[i+1] += g.start[i]
	}
	g.arcs = make([]arc, g.start[left])
	next := slices.Clone(g.start[:left])
	for _, e := range edges {
		if e.Weight > 0 {
			g.arcs[next[e.Left]] = arc{e.Weight, e.Right}
			next[e.Left]++
		}
	}
	for i := range left {
		slices.SortFunc(g.of(int32(i)), arc.compare)
	}
	return g, nil
}

// compare puts arcs in order of the right node, the heaviest first: of arcs to one node the later ones can then never
// be the better ones.
func (a arc) compare(b arc) int {
	switch {
	case a.right != b.right:
		return int(a.right - b.right)
	case a.weight > b.weight:
		return -1
	case a.weight < b.weight:
		return 1
	}
	return 0
}
