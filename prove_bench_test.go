package barwise

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"barwise/job"
)

// BenchmarkProof is the proof alone, from program text, on a result that a plan has written.
//
//	BARWISE_RESULT=demo-out/rook BARWISE_JOB=demo/rook.yaml go test -run '^$' -bench Proof -benchtime 1x .
func BenchmarkProof(b *testing.B) {
	dir, file := os.Getenv("BARWISE_RESULT"), os.Getenv("BARWISE_JOB")
	if dir == "" || file == "" {
		b.Skip("BARWISE_RESULT names no planned folder, or BARWISE_JOB no job")
	}
	names, err := filepath.Glob(filepath.Join(dir, "programs", "*.nc"))
	if err != nil || len(names) == 0 {
		b.Fatalf("%s: %v, %d programs", dir, err, len(names))
	}
	texts, err := ReadTexts(names)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		j, err := job.Load(file, job.Options{})
		if err != nil {
			b.Fatal(err)
		}
		o, err := Prove(context.Background(), j, texts, Options{NoPictures: true})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(o.Facts.Moves)/o.Facts.Stages["prove"], "moves/s")
	}
}
