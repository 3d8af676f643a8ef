package survey

import (
	"fmt"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

// shells looks at how the pieces lie to one another.
func (r *Report) shells(m *mesh.Mesh) {
	h := r.Health
	if len(h.Shells) < 2 {
		return
	}
	cavities, buried, inverted := 0, 0, 0
	for i, s := range h.Shells {
		depth := r.depth(i)
		switch {
		case s.Closed && s.Volume < 0 && h.Volume > 0 && depth > 0:
			cavities++
		case s.Closed && s.Volume < 0 && h.Volume > 0:
			inverted++
		case s.Inside >= 0:
			if buried++; buried <= maxSpots {
				r.add("mesh-inside", finding.Note, "near "+place(s.Box.Centre()),
					fmt.Sprintf("shell %d, %s mm, lies inside shell %d", i+1, size(s.Box.Size(), 1), s.Inside+1), "no cutter comes there: it changes nothing")
			}
		}
	}
	if n := buried - maxSpots; n > 0 {
		r.add("mesh-inside", finding.Note, "", fmt.Sprintf("%d more shells lie inside others", n), "no cutter comes there: they change nothing")
	}
	if inverted > 0 {
		r.add("mesh-inside-out", finding.Blocking, "", fmt.Sprintf("%d of %d shells face inward and are not cavities", inverted, len(h.Shells)),
			"turn their normals over in the program the model comes from")
	}
	if cavities > 0 {
		r.add("mesh-cavity", finding.Note, "", fmt.Sprintf("%d closed cavities lie inside the model", cavities), "they cannot be cut and stay solid")
	}
	apart := groups(h.Shells)
	if apart > 1 {
		r.add("mesh-apart", finding.Warning, r.gaps(), fmt.Sprintf("the model is %d pieces whose boxes lie apart", apart),
			"pieces that are not joined fall off when they are cut free: keep one, or join them")
	}
	if n := r.pieces(m); n > apart && !r.Cross.Full {
		r.add("mesh-loose", finding.Note, "", fmt.Sprintf("the model is %d pieces that do not touch one another", n),
			"pieces that are not joined may fall off when they are cut free")
	}
	r.add("mesh-shells", finding.Note, "", fmt.Sprintf("the model has %d shells, of %s mm³", len(h.Shells), volumes(h.Shells)), "")
}

// depth is how often the shells around shell i wind about it.
func (r *Report) depth(i int) int {
	d, ss := 0, r.Health.Shells
	for steps := 0; ss[i].Inside >= 0 && steps < len(ss); steps++ {
		i = ss[i].Inside
		if ss[i].Volume < 0 {
			d--
		} else {
			d++
		}
	}
	return d
}

// pieces counts the sets of shells that meet: cross or touch, share a corner, or lie in one another.
func (r *Report) pieces(m *mesh.Mesh) int {
	h := r.Health
	n, join := sets(len(h.Shells))
	first := make([]int32, len(m.Vertices)) // a shell at the vertex, + 1
	for i, t := range m.Triangles {
		for _, v := range t {
			if first[v] == 0 {
				first[v] = h.ShellOf[i] + 1
			} else if first[v] != h.ShellOf[i]+1 {
				join(int(first[v]-1), int(h.ShellOf[i]))
			}
		}
	}
	for _, p := range r.Cross.List {
		join(int(h.ShellOf[p.A]), int(h.ShellOf[p.B]))
	}
	for i, s := range h.Shells {
		if s.Inside >= 0 {
			join(i, s.Inside)
		}
	}
	return *n
}

// sets begins with n sets of one; join makes two into one.
func sets(n int) (left *int, join func(a, b int)) {
	label := make([]int, n)
	for i := range label {
		label[i] = i
	}
	find := func(i int) int {
		for label[i] != i {
			label[i] = label[label[i]]
			i = label[i]
		}
		return i
	}
	return &n, func(a, b int) {
		if a, b = find(a), find(b); a != b {
			label[a] = b
			n--
		}
	}
}

func volumes(ss []mesh.Shell) string {
	text := ""
	for i, s := range ss {
		if i == 5 {
			return text + ", …"
		}
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("%.4g", s.Volume)
	}
	return text
}

// groups counts the sets of shells whose boxes overlap or touch, directly or by way of others.
func groups(ss []mesh.Shell) int {
	const most = 2000 // pairs are compared one by one
	ss = ss[:min(len(ss), most)]
	n, join := sets(len(ss))
	for i := range ss {
		for j := range i {
			if touch(ss[i].Box, ss[j].Box) {
				join(i, j)
			}
		}
	}
	return *n
}

func touch(a, b geom.Box3) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y &&
		a.Min.Z <= b.Max.Z && b.Min.Z <= a.Max.Z
}

// gaps names where the two largest shells are.
func (r *Report) gaps() string {
	a, b := r.Health.Shells[0].Box, r.Health.Shells[1].Box
	return "near " + place(a.Centre()) + " and " + place(b.Centre())
}
