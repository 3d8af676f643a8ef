package share

// Restrict takes the nodes out of a share that keep does not want; k numbers them in Field. It is for
// cuts that only follow up on another: called after Decide and before Spread, which then lays the overlap
// about what is left. A wall belongs to the node at its foot and goes or stays with it.
func (v *View) Restrict(keep func(k int) bool) {
	for k := range v.State {
		if v.State[k] == Out && !v.Foot[k] || keep(k) {
			continue
		}
		v.State[k], v.Foot[k] = Out, false
		v.E[k], v.Hang[k], v.Climb[k] = 0, 0, 0
	}
}
