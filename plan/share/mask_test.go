package share

import (
	"math/rand"
	"testing"
)

func TestMasksAgainstAllPairs(t *testing.T) {
	r := rand.New(rand.NewSource(2))
	const nx, ny = 23, 17
	far := func(k, q int) int {
		x, y := k%nx-q%nx, k/nx-q/nx
		return max(x, -x, y, -y)
	}
	for _, d := range []int{0, 1, 3, 6} {
		m, full := make([]bool, nx*ny), make([]bool, nx*ny)
		for k := range m {
			m[k] = r.Intn(40) == 0
			full[k] = r.Intn(40) > 0
		}
		wide, narrow := Widen(m, nx, d), Narrow(full, nx, d)
		for k := range m {
			some, all := false, true
			for q := range m {
				some = some || m[q] && far(k, q) <= d
				all = all && (full[q] || far(k, q) > d)
			}
			if wide[k] != some || narrow[k] != all {
				t.Fatalf("%d nodes, node %d: widened %v, narrowed %v", d, k, wide[k], narrow[k])
			}
		}
	}
}
