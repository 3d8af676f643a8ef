package mesh

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
)

// Limits bounds what a reader takes in, so that a hostile or mistaken file cannot use up the machine.
// A zero field means the default beside it.
type Limits struct {
	Triangles int   // most triangles; 20 million
	Bytes     int64 // most bytes of file, for packed formats also of what is unpacked; 4 GiB
}

// Defaults of Limits.
const (
	DefaultTriangles = 20_000_000
	DefaultBytes     = 4 << 30
)

// MaxCoordinate is the greatest coordinate a reader accepts, in the file's own unit. Beyond it a file
// is damaged, not large: a thousand kilometres in mm.
const MaxCoordinate = 1e9

// Or fills zero fields with the defaults.
func (l Limits) Or() Limits {
	if l.Triangles <= 0 {
		l.Triangles = DefaultTriangles
	}
	if l.Bytes <= 0 {
		l.Bytes = DefaultBytes
	}
	l.Triangles = min(l.Triangles, math.MaxInt32/3)
	return l
}

// Need is about how many bytes of memory reading n triangles and looking them over takes at its peak:
// indices, the vertices of a closed mesh with slack for the growing of slices, the welding table; then
// the pairing of edges and the boxes of the search for crossings. Measured at about 100 bytes a triangle; half
// as much again is left to the collector.
func Need(n int) int64 { return int64(n) * 150 }

// GiB writes a number of bytes in words.
func GiB(n int64) string { return fmt.Sprintf("%.2g GiB", float64(n)/(1<<30)) }

// CheckTriangles returns the error for more than l.Triangles triangles.
func (l Limits) CheckTriangles(n int, where string) error {
	if n <= l.Triangles {
		return nil
	}
	return finding.Bad("mesh-limit", where,
		fmt.Sprintf("%d triangles or more, at most %d are allowed; reading them and looking them over takes about %s of memory",
			n, l.Triangles, GiB(Need(n))),
		"simplify the model; or raise the limit where there is the memory: most_triangles in a job, --most-triangles on the command line")
}

// CheckBytes returns the error for a file, or what is unpacked from it, of more than l.Bytes bytes.
func (l Limits) CheckBytes(n int64, where string) error {
	if n <= l.Bytes {
		return nil
	}
	return finding.Bad("mesh-limit", where,
		fmt.Sprintf("%d bytes or more, at most %d are allowed", n, l.Bytes),
		"simplify the model, or raise the limit on bytes")
}

// CheckVertex returns the error for a coordinate that is not finite or beyond MaxCoordinate.
func CheckVertex(v geom.Vec3, where func() string) error {
	if max(math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)) <= MaxCoordinate {
		return nil
	}
	if !v.Finite() {
		return finding.Bad("mesh-not-finite", where(),
			fmt.Sprintf("vertex (%.6g, %.6g, %.6g) is not a finite number", v.X, v.Y, v.Z),
			"export the model again")
	}
	return finding.Bad("mesh-huge", where(),
		fmt.Sprintf("vertex (%.6g, %.6g, %.6g): coordinates to ±%g are allowed", v.X, v.Y, v.Z, float64(MaxCoordinate)),
		"the file is damaged or far from its origin: export the model again")
}

// Info is what a reader can tell of a file beyond its triangles.
type Info struct {
	Format    string  // words for a reader, such as 'binary STL'
	Unit      string  // the unit the file states; empty where it states none
	UnitMM    float64 // mm of that unit; 0 where the file states none. The mesh is in the file's unit
	Facets    int     // faces in the file, before polygons are split
	Collapsed int     // triangles left out because two of their corners are one point
	Unwelded  int     // vertices in the file; the mesh has fewer where places were equal to the bit
}

// Empty is the error for a file without a triangle.
func Empty(format string) error {
	return finding.Bad("mesh-empty", "", "the "+format+" file holds no triangle", "export a triangle mesh, not points or curves")
}
