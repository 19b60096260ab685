package assign

// solver holds pairs that are the best for the left nodes inserted so far, with prices that prove it: no price is
// negative, the prices of the two ends of every edge make up its weight at least, those of a pair exactly, and that of
// a node without a partner is zero. The sum of all prices is then a bound on the sum of any pairs, and is met.
type solver struct {
	*graph
	ofLeft, ofRight       []int32 // partners, or Alone
	priceLeft, priceRight []int64

	// One search: how far the right nodes are from its root, and from which left node they were reached.
	reached  []int32 // the number of the search that reached a right node last
	search   int32
	distance []int64
	from     []int32
	front    heap
	done     []int32 // right nodes whose distance is final
}

func newSolver(g *graph, right int) *solver {
	left := len(g.start) - 1
	s := &solver{graph: g, ofLeft: make([]int32, left), ofRight: make([]int32, right),
		priceLeft: make([]int64, left), priceRight: make([]int64, right),
		reached: make([]int32, right), distance: make([]int64, right), from: make([]int32, right)}
	for i := range s.ofLeft {
		s.ofLeft[i] = Alone
	}
	for j := range s.ofRight {
		s.ofRight[j] = Alone
	}
	return s
}

// insert takes a left node in. Its price is what its best edge is worth beyond the right node's price; if that right
// node has no partner the two are a pair.
func (s *solver) insert(root int32) {
	best, free := int64(0), int32(Alone)
	for _, a := range s.of(root) {
		worth := a.weight - s.priceRight[a.right]
		if worth > best {
			best, free = worth, Alone
		}
		if worth == best && best > 0 && free == Alone && s.ofRight[a.right] == Alone {
			free = a.right
		}
	}
	s.priceLeft[root] = best
	switch {
	case free != Alone:
		s.ofLeft[root], s.ofRight[free] = free, root
	case best > 0:
		s.augment(root)
	}
}

// end is where a search stops: at a right node without a partner, or at a left node that gives its own up.
type end struct {
	distance    int64
	right, left int32 // one of them is Alone
}

// augment changes the pairs along the shortest path from a new left node, and the prices of what was nearer.
func (s *solver) augment(root int32) {
	e := s.shortest(root)
	for _, j := range s.done {
		lift := e.distance - s.distance[j]
		s.priceRight[j] += lift
		s.priceLeft[s.ofRight[j]] -= lift
	}
	s.priceLeft[root] -= e.distance

	j := e.right
	if e.left == root {
		return
	}
	if e.left != Alone {
		j, s.ofLeft[e.left] = s.ofLeft[e.left], Alone
	}
	for {
		i := s.from[j]
		next := s.ofLeft[i]
		s.ofLeft[i], s.ofRight[j] = j, i
		if i == root {
			return
		}
		j = next
	}
}

// shortest searches from a new left node. The length of an edge is by how much the prices of its ends exceed its
// weight: what is lost by using it.
func (s *solver) shortest(root int32) end {
	s.search++
	s.front, s.done = s.front[:0], s.done[:0]
	e := end{s.priceLeft[root], Alone, root} // staying alone loses the whole price
	s.relax(root, 0, &e)
	for len(s.front) > 0 {
		p := s.front.pop()
		if p.distance >= e.distance {
			break
		}
		if p.distance > s.distance[p.right] {
			continue // it was reached on a shorter way since
		}
		s.done = append(s.done, p.right)
		i := s.ofRight[p.right]
		if d := p.distance + s.priceLeft[i]; d < e.distance {
			e = end{d, Alone, i}
		}
		s.relax(i, p.distance, &e)
	}
	return e
}

// relax follows the edges of a left node.
func (s *solver) relax(left int32, distance int64, e *end) {
	base := distance + s.priceLeft[left]
	for _, a := range s.of(left) {
		j := a.right
		d := base + s.priceRight[j] - a.weight
		if d >= e.distance || s.reached[j] == s.search && d >= s.distance[j] {
			continue
		}
		s.reached[j], s.distance[j], s.from[j] = s.search, d, left
		if s.ofRight[j] == Alone {
			*e = end{d, j, Alone}
		} else {
			s.front.push(place{d, j})
		}
	}
}

// place is a right node at a distance.
type place struct {
	distance int64
	right    int32
}

func (p place) before(q place) bool {
	return p.distance < q.distance || p.distance == q.distance && p.right < q.right
}

// heap is a binary heap of places, the nearest on top.
type heap []place

func (h *heap) push(p place) {
	*h = append(*h, p)
	a := *h
	k := len(a) - 1
	for k > 0 {
		parent := (k - 1) / 2
		if !p.before(a[parent]) {
			break
		}
		a[k] = a[parent]
		k = parent
	}
	a[k] = p
}

func (h *heap) pop() place {
	a := *h
	top, last := a[0], a[len(a)-1]
	a = a[:len(a)-1]
	*h = a
	if len(a) == 0 {
		return top
	}
	k := 0
	for {
		child := 2*k + 1
		if child >= len(a) {
			break
		}
		if child+1 < len(a) && a[child+1].before(a[child]) {
			child++
		}
		if !a[child].before(last) {
			break
		}
		a[k] = a[child]
		k = child
	}
	a[k] = last
	return top
}
