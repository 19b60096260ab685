package assign

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestSolve(t *testing.T) {
	tests := []struct {
		name        string
		left, right int
		edges       []Edge
		want        []int
	}{
		{"no edges", 2, 2, nil, []int{Alone, Alone}},
		{"one edge", 1, 2, []Edge{{0, 1, 5}}, []int{1}},
		{"no weight", 1, 2, []Edge{{0, 0, 0}, {0, 1, -3}}, []int{Alone}},
		{"the heavier of two", 1, 2, []Edge{{0, 0, 5}, {0, 1, 6}}, []int{1}},
		{"two want one", 2, 1, []Edge{{0, 0, 5}, {1, 0, 6}}, []int{Alone, 0}},
		{"the sum counts, not the best pair", 2, 2, []Edge{{0, 0, 10}, {0, 1, 7}, {1, 0, 8}}, []int{1, 0}},
		{"one good pair is worth more than two poor ones", 2, 2, []Edge{{0, 0, 10}, {0, 1, 3}, {1, 0, 4}}, []int{0, Alone}},
		{"a long way round", 3, 3, []Edge{{0, 0, 9}, {0, 1, 8}, {1, 1, 9}, {1, 2, 8}, {2, 0, 9}}, []int{1, 2, 0}},
		{"parallel edges", 1, 1, []Edge{{0, 0, 2}, {0, 0, 5}, {0, 0, 3}}, []int{0}},
		{"equal sums", 2, 2, []Edge{{0, 0, 4}, {0, 1, 4}, {1, 0, 4}, {1, 1, 4}}, []int{0, 1}},
		{"the largest weights", 2, 2, []Edge{{0, 0, MaxWeight}, {0, 1, MaxWeight - 1}, {1, 0, MaxWeight}, {1, 1, 1}}, []int{1, 0}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := Solve(test.left, test.right, test.edges)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("partners (-want +got):\n%s", diff)
			}
		})
	}
}

func TestSolveRefuses(t *testing.T) {
	for _, e := range []Edge{{2, 0, 1}, {0, 3, 1}, {-1, 0, 1}, {0, -1, 1}, {0, 0, MaxWeight + 1}} {
		if _, err := Solve(2, 3, []Edge{e}); err == nil {
			t.Errorf("edge %v: want an error", e)
		}
	}
}

// TestAgainstReference compares sums with those of a solver of other people's, see testdata/README.md.
func TestAgainstReference(t *testing.T) {
	text, err := os.ReadFile("testdata/totals.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Left, Right int
		Edges       [][3]int64
		Total       int64
	}
	if err := json.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) == 0 {
		t.Fatal("no cases")
	}
	for i, c := range cases {
		var edges []Edge
		for _, e := range c.Edges {
			edges = append(edges, Edge{int32(e[0]), int32(e[1]), e[2]})
		}
		partners, err := Solve(c.Left, c.Right, edges)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.Total, total(t, c.Right, partners, edges)); diff != "" {
			t.Errorf("case %d: sum (-want +got):\n%s", i, diff)
		}
	}
}

// TestNoPairsAreBetter tries all pairs of small graphs.
func TestNoPairsAreBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		left, right := rapid.IntRange(0, 7).Draw(t, "left"), rapid.IntRange(0, 7).Draw(t, "right")
		edges := drawEdges(t, left, right)
		partners, err := Solve(left, right, edges)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(bestTotal(left, edges, 0, 0), total(t, right, partners, edges)); diff != "" {
			t.Fatalf("sum (-want +got):\n%s", diff)
		}
	})
}

func TestOrderOfEdgesPlaysNoPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		left, right := rapid.IntRange(1, 30).Draw(t, "left"), rapid.IntRange(1, 30).Draw(t, "right")
		edges := drawEdges(t, left, right)
		want, err := Solve(left, right, edges)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Solve(left, right, rapid.Permutation(edges).Draw(t, "other order"))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("partners (-want +got):\n%s", diff)
		}
	})
}

// TestPricesProveTheSum solves graphs too large to try, and checks the proof that the solver keeps.
func TestPricesProveTheSum(t *testing.T) {
	size := 100_000
	if testing.Short() {
		size = 10_000
	}
	for _, shape := range shapes {
		t.Run(shape.name, func(t *testing.T) {
			edges := shape.edges(size)
			g, err := newGraph(size, size, edges)
			if err != nil {
				t.Fatal(err)
			}
			s := newSolver(g, size)
			for i := range size {
				s.insert(int32(i))
			}
			bound := int64(0)
			for _, p := range slices.Concat(s.priceLeft, s.priceRight) {
				if p < 0 {
					t.Fatalf("a price is %d: want none below zero", p)
				}
				bound += p
			}
			for _, e := range edges {
				if s.priceLeft[e.Left]+s.priceRight[e.Right] < e.Weight {
					t.Fatalf("edge %v: prices %d and %d do not cover it", e, s.priceLeft[e.Left], s.priceRight[e.Right])
				}
			}
			partners, err := Solve(size, size, edges)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(bound, total(t, size, partners, edges)); diff != "" {
				t.Errorf("sum against its bound (-want +got):\n%s", diff)
			}
		})
	}
}

type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
}

// total sums the weights of pairs, and fails where a right node has two partners or a pair no edge.
func total(t fataler, right int, partners []int, edges []Edge) int64 {
	t.Helper()
	weights := map[[2]int]int64{}
	for _, e := range edges {
		key := [2]int{int(e.Left), int(e.Right)}
		weights[key] = max(weights[key], e.Weight)
	}
	taken, sum := make([]bool, right), int64(0)
	for i, j := range partners {
		if j == Alone {
			continue
		}
		w := weights[[2]int{i, j}]
		if taken[j] || w <= 0 {
			t.Fatalf("%d with %d: taken before %v, weight %d", i, j, taken[j], w)
		}
		taken[j] = true
		sum += w
	}
	return sum
}

// bestTotal is the largest sum of the left nodes from one on, with the right nodes that are not in taken.
func bestTotal(left int, edges []Edge, from int, taken uint) int64 {
	if from == left {
		return 0
	}
	best := bestTotal(left, edges, from+1, taken)
	for _, e := range edges {
		if int(e.Left) == from && e.Weight > 0 && taken&(1<<e.Right) == 0 {
			best = max(best, e.Weight+bestTotal(left, edges, from+1, taken|1<<e.Right))
		}
	}
	return best
}

// drawEdges draws few or many edges; small weights, so that sums are often equal.
func drawEdges(t *rapid.T, left, right int) []Edge {
	if left == 0 || right == 0 {
		return nil
	}
	top := rapid.SampledFrom([]int64{1, 3, 20, 1_000_000}).Draw(t, "top")
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Edge {
		return Edge{int32(rapid.IntRange(0, left-1).Draw(t, "l")), int32(rapid.IntRange(0, right-1).Draw(t, "r")),
			rapid.Int64Range(-1, top).Draw(t, "weight")}
	}), 0, 3*left).Draw(t, "edges")
}

// shapes are graphs as weighings make them: nodes in order of time, edges to what was near in time.
var shapes = []struct {
	name  string
	edges func(size int) []Edge
}{
	// With truck labels one edge stands out.
	{"labelled", func(size int) []Edge { return near(size, 4, 6, 9_000_000) }},
	// Without labels any of the nearest could be the one, and components have thousands of nodes.
	{"unlabelled", func(size int) []Edge { return near(size, 8, 8, 500_000) }},
	// All weights are one of three: searches are long.
	{"equal", func(size int) []Edge {
		edges := near(size, 6, 12, 0)
		for i := range edges {
			edges[i].Weight = edges[i].Weight%3 + 1
		}
		return edges
	}},
}

// near draws degree edges a node that reach that far; one in twenty true partners is missing, and the others weigh
// the bonus more.
func near(size, degree, reach int, bonus int64) []Edge {
	random := rand.New(rand.NewPCG(7, uint64(size)))
	var edges []Edge
	for i := range size {
		if random.IntN(20) > 0 {
			edges = append(edges, Edge{int32(i), int32(i), bonus + random.Int64N(1_000_000)})
		}
		for range degree - 1 {
			if j := i + random.IntN(2*reach+1) - reach; j >= 0 && j < size && j != i {
				edges = append(edges, Edge{int32(i), int32(j), 1 + random.Int64N(1_000_000)})
			}
		}
	}
	return edges
}

func BenchmarkSolve(b *testing.B) {
	for _, shape := range shapes {
		for _, size := range []int{10_000, 100_000} {
			b.Run(fmt.Sprintf("%s/%d", shape.name, size), func(b *testing.B) {
				edges := shape.edges(size)
				b.ReportAllocs()
				for b.Loop() {
					if _, err := Solve(size, size, edges); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
