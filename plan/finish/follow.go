package finish

import (
	"context"

	"barwise/path"
	"barwise/plan/corner"
	"barwise/plan/share"
)

// corners finds what earlier cutters left, follows the creases in it and leaves the rest of it, and nothing
// else, to the other strategies. It returns the passes along creases, side by side.
func (w *work) corners(ctx context.Context) (creases [][]path.Pass, figs []corner.Figures, err error) {
	creases = make([][]path.Pass, len(w.set.Views))
	if len(w.in.Earlier) == 0 {
		return creases, nil, nil
	}
	left, err := corner.Find(ctx, w.set, w.in.Earlier, corner.Params{Cusp: w.p.Cusp, Tolerance: w.p.Tolerance, Decimals: w.p.Decimals})
	if err != nil {
		return nil, nil, err
	}
	for _, r := range left.Sides {
		figs = append(figs, r.Figures)
	}
	err = share.RowsErr(ctx, len(creases), func(i int) error {
		f, err := left.Creases(ctx, i)
		if err != nil {
			return err
		}
		creases[i] = f.Passes
		left.Take(i, f)
		left.Restrict(i)
		return nil
	})
	return creases, figs, err
}
