package barwise

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"barwise/job"
)

// BenchmarkDragonJob is the whole job on the Stanford dragon in a 40 mm square bar: plan and proof from
// four sides, Ø3 flat roughing, Ø1 ball finishing at 2 µm cusp, 10 µm tolerance.
//
//	make meshes && BARWISE_MESHES=.meshes go test -run '^$' -bench DragonJob -benchtime 1x .
func BenchmarkDragonJob(b *testing.B) {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		b.Skip("BARWISE_MESHES names no folder with dragon.ply")
	}
	model, err := filepath.Abs(filepath.Join(dir, "dragon.ply"))
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(b.TempDir(), "dragon.yaml")
	text := `model: ` + model + `
material: tooling-board
machine: small-mill
bar: {shape: square, size: 40, length: 95, grip: 22}
lay: {along: +x, fit: true, spigot: {diameter: 10}}
rough: {cutter: flat-3, stepover: 45 %, stepdown: 1, allowance: 0.2}
finish: {cutter: ball-1, cusp: 2 um, direction: along}
tolerance: 10 um
`
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		j, err := job.Load(file, job.Options{})
		if err != nil {
			b.Fatal(err)
		}
		o, err := Plan(context.Background(), j, Options{})
		if err != nil {
			b.Fatal(err)
		}
		f := o.Facts
		for stage, s := range f.Stages {
			b.ReportMetric(s, "s-"+stage[:min(len(stage), 4)])
		}
		b.ReportMetric(f.PeakMemoryMB, "MB-peak")
		b.ReportMetric(float64(f.Moves), "moves")
		b.Logf("%s: gouge %.2f µm, left-over p99 %.2f µm, %.4f in tolerance, %.1f mm² out of reach, %.0f s at the machine",
			f.Verdict, f.Gouge.Max, f.Leftover.P99, f.AreaInTolerance, f.Area.Unreachable, f.Time.Total)
	}
}

// BenchmarkDragonBefore plans the dragon as cuts were made before roughing was bounded and ways of finishing were
// tried, and as they are made now, and tells the times at the machine of both.
//
//	make meshes && BARWISE_MESHES=.meshes go test -run '^$' -bench DragonBefore -benchtime 1x .
func BenchmarkDragonBefore(b *testing.B) {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		b.Skip("BARWISE_MESHES names no folder with dragon.ply")
	}
	model, err := filepath.Abs(filepath.Join(dir, "dragon.ply"))
	if err != nil {
		b.Fatal(err)
	}
	head := "model: " + model + `
material: tooling-board
machine: small-mill
bar: {shape: square, size: 40, length: 95, grip: 22}
lay: {along: +x, fit: true, spigot: {diameter: 10}}
tolerance: 10 um
`
	for b.Loop() {
		var sum [2]float64
		for i, cuts := range [2]string{
			"rough: {cutter: flat-3, engage: 180 deg, stepover: 45 %, stepdown: 1, allowance: 0.2}\nfinish: {cutter: ball-1, cusp: 2 um, direction: along, passes: raster}\nshares: wedge\norder: same-way\n",
			"rough: {cutter: flat-3, stepover: 45 %, stepdown: 1, allowance: 0.2}\nfinish: {cutter: ball-1, cusp: 2 um, direction: along}\n",
		} {
			j, err := job.Read(filepath.Join(b.TempDir(), "dragon.yaml"), []byte(head+cuts), job.Options{})
			if err != nil {
				b.Fatal(err)
			}
			o, err := Plan(context.Background(), j, Options{NoPictures: true})
			if err != nil {
				b.Fatal(err)
			}
			f := o.Facts
			sum[i] = f.Roughing.Seconds + f.Finishing.Seconds
			b.Logf("roughing %.0f s, finishing %.0f s, ridges %.2f and %.2f µm", f.Roughing.Seconds, f.Finishing.Seconds, f.Finishing.Cusp.P50, f.Finishing.Cusp.P99)
		}
		b.ReportMetric(sum[1]/sum[0], "of-before")
	}
}
