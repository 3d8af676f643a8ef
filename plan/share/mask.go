package share

// Widen grows a mask, rows of nx nodes, by r nodes along both axes.
func Widen(m []bool, nx, r int) []bool {
	ny := len(m) / nx
	t, out := make([]bool, len(m)), make([]bool, len(m))
	for j := range ny {
		last := -r - 1
		for i := -r; i < nx; i++ {
			if i+r < nx && m[j*nx+i+r] {
				last = i + r
			}
			if i >= 0 {
				t[j*nx+i] = last >= i-r && last >= 0
			}
		}
	}
	seen := make([]int, nx)
	for i := range seen {
		seen[i] = -r - 1
	}
	for j := -r; j < ny; j++ {
		for i := range nx {
			if j+r < ny && t[(j+r)*nx+i] {
				seen[i] = j + r
			}
			if j >= 0 {
				out[j*nx+i] = seen[i] >= j-r && seen[i] >= 0
			}
		}
	}
	return out
}

// Narrow shrinks a mask by r nodes along both axes; beyond the grid nothing shrinks it.
func Narrow(m []bool, nx, r int) []bool {
	inv := make([]bool, len(m))
	for k, b := range m {
		inv[k] = !b
	}
	inv = Widen(inv, nx, r)
	for k, b := range inv {
		inv[k] = !b
	}
	return inv
}
