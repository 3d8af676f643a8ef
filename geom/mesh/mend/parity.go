package mend

// parity joins things that face the same way or opposite ways. Each has a root and says whether it
// faces against it.
type parity struct {
	root []int32
	flip []bool
	size []int32
}

func newParity(n int) *parity {
	p := &parity{root: make([]int32, n), flip: make([]bool, n), size: make([]int32, n)}
	for i := range p.root {
		p.root[i], p.size[i] = int32(i), 1
	}
	return p
}

func (p *parity) find(i int32) (root int32, flip bool) {
	at := i
	for p.root[at] != at {
		flip = flip != p.flip[at]
		at = p.root[at]
	}
	// the way is made short for the next one
	for f := flip; p.root[i] != i; {
		next, own := p.root[i], p.flip[i]
		p.root[i], p.flip[i] = at, f
		f = f != own
		i = next
	}
	return at, flip
}

// join says that a and b face opposite ways where against is true; ok is false where that contradicts
// what was said before.
func (p *parity) join(a, b int32, against bool) (ok bool) {
	ra, fa := p.find(a)
	rb, fb := p.find(b)
	if ra == rb {
		return (fa != fb) == against
	}
	if p.size[ra] < p.size[rb] {
		ra, rb = rb, ra
	}
	p.root[rb], p.flip[rb] = ra, fa != fb != against
	p.size[ra] += p.size[rb]
	return true
}
