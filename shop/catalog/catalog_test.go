package catalog

import "testing"

func TestBuiltinReads(t *testing.T) {
	b := Builtin()
	if len(b.Cutters) != 13 || len(b.Machines) != 3 || len(b.Materials) != 8 {
		t.Errorf("%d cutters, %d machines, %d materials", len(b.Cutters), len(b.Machines), len(b.Materials))
	}
}
