package finish

import (
	"context"

	"barwise/geom/field"
)

// field is the exact field of side v on a grid.
func (w *work) field(ctx context.Context, v *view, g field.Grid) (*field.Field, error) {
	if v.ix == nil {
		v.ix = w.in.Surface.Index(v.turn)
	}
	f := field.New(g, field.Empty)
	err := rows(ctx, g.NY, func(j int) {
		for i := range g.NX {
			f.Z[j*g.NX+i] = float32(v.ix.Height(w.prof, g.X(i), g.Y(j)) - w.rise)
		}
	})
	return f, err
}
