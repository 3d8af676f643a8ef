package barwise

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/stl"
	"barwise/job"
	"barwise/plan/cl"
	"barwise/plan/reach"
	"barwise/proof"
	"barwise/stock"
)

// oddPitch is that of both stacks where the model has flats. It shares no multiple with the lengths models
// are made of: on a lattice whose planes hold a model's flats the thinnest skin counts for half a pitch or
// for nothing. Elsewhere it is the plan's own, by which the plan decides what is too deep for the flutes.
const oddPitch = 0.0971

// agreed is what stays after one cutter, mm³, by distance from the model.
type agreed struct {
	cutter            string
	predicted, proved []float64
}

var agreeOff = []float64{0, 0.02, 0.1}

// agreement plans a job, proves what was planned, and predicts it without planning, after every cutter or
// after the last alone. Both are counted by one function over one zone, on the same lattice.
func agreement(t *testing.T, file string, all bool, pitch float64) (out []agreed, judged float64) {
	t.Helper()
	ctx := context.Background()
	j, err := job.Load(file, job.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := newRun(j, Options{NoPictures: true})
	if err := r.prepare(ctx); err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	res, stages := proveStages(t, ctx, r, pitch)
	t.Logf("planned and proved in %.1f s: %.1f mm² judged, %.1f left, %.1f out of reach", time.Since(start).Seconds(),
		res.Area.Judged, res.Area.Left, res.Area.Unreachable)
	s := cl.NewSurface(r.placed.Mesh)
	params := r.predictParams(pitch)
	params.Exact = true
	cuts := params.Cuts
	for k := range cuts {
		if k+1 < len(cuts) && !all {
			continue
		}
		params.Cuts = cuts[:k+1]
		start = time.Now()
		p, err := reach.Predict(ctx, s, params, &patch.Set{})
		if err != nil {
			t.Fatal(err)
		}
		took := time.Since(start)
		a := agreed{cutter: cuts[k].Cutter.ID, predicted: volumes(t, p.Stack, r, params.Zone), proved: volumes(t, stages[k], r, params.Zone)}
		var b strings.Builder
		for n, o := range agreeOff {
			fmt.Fprintf(&b, "; beyond %g mm %.3f predicted, %.3f proved", o, a.predicted[n], a.proved[n])
		}
		t.Logf("after %s, predicted in %.1f s, mm³%s", a.cutter, took.Seconds(), b.String())
		out = append(out, a)
	}
	return out, res.Area.Judged
}

// proveStages plans and proves a job, and keeps the stack as each cutter leaves it.
func proveStages(t *testing.T, ctx context.Context, r *run, pitch float64) (*proof.Result, []*stock.Stack) {
	t.Helper()
	texts, err := r.programs(ctx)
	if err != nil {
		t.Fatal(err)
	}
	progs, err := r.readBack(ctx, texts)
	if err != nil {
		t.Fatal(err)
	}
	setup := r.setup(ctx, newAlbum(r))
	setup.Pitch = pitch
	var stages []*stock.Stack
	setup.After = func(i int, s *stock.Stack) {
		if i+1 == len(progs) || progs[i+1].cutter.ID != progs[i].cutter.ID {
			stages = append(stages, s.Clone())
		}
	}
	res, err := proof.Judge(ctx, setup, asPrograms(progs), nil)
	if err != nil {
		t.Fatal(err)
	}
	return res, stages
}

func volumes(t *testing.T, s *stock.Stack, r *run, z stock.Zone) []float64 {
	t.Helper()
	b, err := s.Beyond(context.Background(), r.placed.Mesh, z, agreeOff)
	if err != nil {
		t.Fatal(err)
	}
	return b.Volume
}

// within fails where a prediction is off by more than a share of what is proved, and by more than skin mm
// over all that is judged: cusps and path tolerances are no more than a micrometre thick.
func within(t *testing.T, a agreed, share, skin, judged float64) {
	t.Helper()
	for n, o := range agreeOff {
		slack := share * a.proved[n]
		if o == 0 {
			slack += skin * judged
		}
		if d := a.predicted[n] - a.proved[n]; math.Abs(d) > slack+0.01 {
			t.Errorf("after %s, beyond %g mm: %.3f mm³ predicted, %.3f proved, %+.1f %%", a.cutter, o, a.predicted[n], a.proved[n], 100*d/a.proved[n])
		}
	}
}

// turned is a closed body of revolution about y, 10 mm high.
func turned(radius func(y float64) float64) *mesh.Mesh {
	const high, wide = 160, 64
	b := mesh.NewBuilder(0)
	at := func(i, k int) int32 {
		y := 10 * float64(i) / high
		r := radius(y)
		if i == 0 || i == high {
			r = 0 // the middle of an end, at the height of its rim
		}
		sin, cos := math.Sincos(2 * math.Pi * float64(k%wide) / wide)
		if i == 0 {
			y = 10.0 / high
		} else if i == high {
			y = 10 * float64(high-1) / high
		}
		return b.Vertex(geom.Vec3{X: r * sin, Y: y, Z: r * cos})
	}
	for i := range high {
		for k := range wide {
			if i > 0 {
				b.Triangle(at(i, k), at(i, k+1), at(i+1, k+1))
			}
			if i < high-1 {
				b.Triangle(at(i, k), at(i+1, k+1), at(i+1, k))
			}
		}
	}
	m, _ := b.Mesh()
	return m
}

// A post with two grooves narrower than the ball: what stays in them, predicted and proved.
func TestReachAgreesOnGrooves(t *testing.T) {
	groove := func(y, at float64) float64 { return math.Exp(-math.Pow((y-at)/0.3, 4)) }
	var b bytes.Buffer
	if err := stl.Write(&b, turned(func(y float64) float64 { return 3.03 - 1.1*groove(y, 4.6) - 0.7*groove(y, 7.1) }), "grooves"); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	job := `model: model.stl
material: tooling-board
machine: small-mill
bar: {size: 10, length: 24, grip: 5}
lay: {along: +y, end: 2}
rough: {cutter: flat-3, stepdown: 1}
finish: {cutter: ball-1, cusp: 5 um}
tolerance: 20 um
`
	for name, data := range map[string][]byte{"model.stl": b.Bytes(), "job.yaml": []byte(job)} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	got, judged := agreement(t, filepath.Join(dir, "job.yaml"), false, oddPitch)
	for _, a := range got {
		within(t, a, 0.05, 1e-3, judged)
		if a.proved[1] < 1 {
			t.Errorf("only %g mm³ stay: nothing to compare", a.proved[1])
		}
	}
}

// The demo leaves nothing beyond its tolerance, and the prediction says so. What its roughing cutter and its
// first ball leave is there to compare.
func TestReachAgreesOnTheDemo(t *testing.T) {
	if os.Getenv("BARWISE_SOAK") == "" {
		t.Skip("BARWISE_SOAK is not set")
	}
	if _, err := os.Stat("demo/rook.stl"); err != nil {
		t.Skip("demo/rook.stl is not made: make demo")
	}
	got, judged := agreement(t, "demo/rook.yaml", true, oddPitch)
	for _, a := range got {
		within(t, a, 0.05, 5e-4, judged)
	}
}

// openJob is the job of the dragon's benchmark for another model.
const openJob = `model: MODEL
material: tooling-board
machine: small-mill
bar: {shape: square, size: 40, length: 95, grip: 22}
lay: {along: ALONG, fit: true, spigot: {diameter: 10}}
rough: {cutter: flat-3, stepover: 45 %, stepdown: 1, allowance: 0.2}
finish: {cutter: ball-1, cusp: 2 um, direction: along}
tolerance: 10 um
`

func TestReachAgreesOnOpenMeshes(t *testing.T) {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" || os.Getenv("BARWISE_SOAK") == "" {
		t.Skip("BARWISE_MESHES and BARWISE_SOAK are not set")
	}
	dragon, err := filepath.Abs(filepath.Join(dir, "dragon.ply"))
	if err != nil {
		t.Fatal(err)
	}
	off := func(name string) string { return openOFF(t, filepath.Join(dir, "meshes/data/meshes", name)) }
	for _, c := range []struct {
		name, model, lay string
		share            float64
	}{
		{"dragon", dragon, "+x", 0.05},
		{"elephant", off("elephant.off"), "+y", 0.05},
		// Why more is predicted to stay in the camel's narrow places than does is not known.
		{"camel", off("camel.off"), "+y", 0.1},
		// The bunny's base is nearly level with a row of the grid. Whether the small ball may follow there, past
		// stock that is deeper than its flutes, hangs on a few hundredths of a millimetre of where roughing
		// stopped: 6 mm³ of the 90 that stay.
		{"bunny", off("bunny00.off"), "+y", 0.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), c.name+".yaml")
			text := strings.NewReplacer("MODEL", c.model, "ALONG", c.lay).Replace(openJob)
			if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
			got, judged := agreement(t, file, false, 0.1)
			for _, a := range got {
				within(t, a, c.share, 5e-4, judged)
			}
		})
	}
}

// openOFF writes a mesh of the Object File Format as OBJ and returns the file's name.
func openOFF(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Skip(err)
	}
	var out bytes.Buffer
	f := strings.Fields(string(data))
	var nv, nf int
	fmt.Sscan(f[1]+" "+f[2], &nv, &nf)
	f = f[4:]
	for range nv {
		fmt.Fprintln(&out, "v", f[0], f[1], f[2])
		f = f[3:]
	}
	for range nf {
		var n, v int
		fmt.Sscan(f[0], &n)
		out.WriteString("f")
		for _, s := range f[1 : n+1] {
			fmt.Sscan(s, &v)
			fmt.Fprintf(&out, " %d", v+1)
		}
		out.WriteByte('\n')
		f = f[n+1:]
	}
	obj := filepath.Join(t.TempDir(), "mesh.obj")
	if err := os.WriteFile(obj, out.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	return obj
}
