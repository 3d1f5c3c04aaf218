package buying

// before orders the nodes that wait: the lowest bound first, so that the head is always the
// proven bound of what is left; of equal ones the latest.
func (s *search) before(a, b *node) bool {
	return a.bound < b.bound || a.bound == b.bound && a.order > b.order
}

// push puts a node into the heap.
func (s *search) push(nd *node) {
	s.made++
	nd.order = s.made
	s.heap = append(s.heap, nd)
	for i := len(s.heap) - 1; i > 0; {
		up := (i - 1) / 2
		if !s.before(s.heap[i], s.heap[up]) {
			break
		}
		s.heap[i], s.heap[up] = s.heap[up], s.heap[i]
		i = up
	}
}

// pop takes the head out of the heap.
func (s *search) pop() {
	last := len(s.heap) - 1
	s.heap[0] = s.heap[last]
	s.heap = s.heap[:last]
	for i := 0; ; {
		low := i
		for _, k := range []int{2*i + 1, 2*i + 2} {
			if k < last && s.before(s.heap[k], s.heap[low]) {
				low = k
			}
		}
		if low == i {
			return
		}
		s.heap[i], s.heap[low] = s.heap[low], s.heap[i]
		i = low
	}
}
