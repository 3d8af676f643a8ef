package cusp

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"barwise/geom"
	meshes "barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/shop/cutter"
)

// libraryScript has the solid library manifold-3d (npm, 3.5.4) cut a block by balls of radius 0.5 that run
// along x about a convex and a concave bend of radius 2, at the angles given: of hulls of two spheres of 512
// segments, with what stands above them. Run as
//
//	node --input-type=module -e "$SCRIPT" node_modules/manifold-3d/manifold.js
//
// it prints the heights, µm, of what is left between each two of them: libraryRidges.
const libraryScript = `
const {default: Module} = await import(process.argv[1]);
const w = await Module(); w.setup();
const {Manifold} = w;
const R = 0.5, s = Manifold.sphere(R, 512), ang = [-0.2, -0.13, -0.07, 0.02, 0.14];
for (const sign of [1, -1]) {
  let r = Manifold.cube([0.4, 1.2, 0.6], true).translate([0, 0, sign > 0 ? 1.85 : -2.05]);
  for (const a of ang) {
    const y = (2 + sign * R) * Math.sin(a), z = sign * (2 + sign * R) * Math.cos(a);
    r = r.subtract(Manifold.hull([s.translate([-1, y, z]), s.translate([1, y, z])]));
    r = r.subtract(Manifold.cube([2, 2 * R, 4], true).translate([0, y, z + 2]));
  }
  const m = r.getMesh(), out = [];
  for (let k = 0; k + 1 < ang.length; k++) {
    let h = -1;
    for (let i = 0; i < m.numVert; i++) {
      const y = m.vertProperties[3*i+1], z = m.vertProperties[3*i+2], a = Math.atan2(y, sign * z), d = Math.hypot(y, z) - 2;
      if (a > ang[k] && a < ang[k+1] && Math.abs(d) < 0.05) h = Math.max(h, sign * d);
    }
    out.push((h * 1000).toFixed(3));
  }
  console.log(out.join(' '));
}`

var (
	libraryAngles = []float64{-0.2, -0.13, -0.07, 0.02, 0.14}
	libraryRidges = []string{"6.187 4.537 10.291 18.512", "3.684 2.711 6.094 10.863"} // convex, concave
)

// Left-over of a small case by a general solid library; a sphere of 512 segments stands 0.01 µm within the
// true one at most.
func TestAgainstASolidLibrary(t *testing.T) {
	const r = 0.5
	for side, sign := range []float64{1, -1} {
		var want [4]float64
		if _, err := fmt.Sscan(libraryRidges[side], &want[0], &want[1], &want[2], &want[3]); err != nil {
			t.Fatal(err)
		}
		f := func(x, y float64) float64 { return sign * math.Sqrt(4-y*y) }
		m := surface(f, -0.2, 0.2, 2*math.Sin(-0.26), 2*math.Sin(0.2), 0.004)
		var lines [][]geom.Vec3
		for _, a := range libraryAngles {
			s, c := math.Sincos(a)
			lines = append(lines, []geom.Vec3{{X: -1, Y: (2 + sign*r) * s, Z: sign * (2 + sign*r) * c}, {X: 1, Y: (2 + sign*r) * s, Z: sign * (2 + sign*r) * c}})
		}
		got := measure(t, m, Params{Cusp: 0.01, Touched: 0.02, Places: 300}, passes(r, 0, lines...))
		var n [4]int
		for _, p := range got.Places {
			// the ridge whose pair of passes the place lies between; outside them it has none
			a := math.Atan2(p.Point.Y, sign*p.Point.Z)
			for k := range n {
				if a > libraryAngles[k]+0.001 && a < libraryAngles[k+1]-0.001 { // in the valley itself either ridge will do
					n[k]++
					near(t, fmt.Sprintf("ridge %d at %g", k, a), p.Height*1000, want[k], 0.02+0.004*want[k])
				}
			}
		}
		for k, c := range n {
			if c < 10 {
				t.Errorf("only %d places in gap %d", c, k)
			}
		}
	}
}

// The library still says what is written above. It is asked where BARWISE_MESHES names a folder that has it.
func TestSolidLibraryAgain(t *testing.T) {
	lib := filepath.Join(meshes.Folder(t), "node_modules", "manifold-3d", "manifold.js")
	if _, err := os.Stat(lib); err != nil {
		t.Skip("no manifold-3d")
	}
	lib, err := filepath.Abs(lib)
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("node", "--input-type=module", "-e", libraryScript, lib).Output()
	if err != nil {
		t.Skip("node: ", err)
	}
	if got := strings.TrimSpace(string(out)); got != strings.Join(libraryRidges, "\n") {
		t.Errorf("the library says\n%s\nwritten down are\n%s", got, strings.Join(libraryRidges, "\n"))
	}
}

// On a ball of radius 2, circles of latitude as arcs of the program: between two of them the ridge is that of
// their section through the pole.
func TestSphereByArcs(t *testing.T) {
	const r, rho, step = 0.5, 2.0, 0.06
	m := surface(func(x, y float64) float64 { return math.Sqrt(rho*rho - x*x - y*y) }, -0.7, 0.7, -0.7, 0.7, 0.008)
	p := Program{Cutter: cutter.Cutter{Profile: cutter.Ball(r)}}
	p.Start = geom.Vec3{Z: 9}
	for k := 1; k < 10; k++ {
		s, c := math.Sincos(step * float64(k))
		at := geom.Vec3{X: (rho + r) * s, Z: (rho+r)*c - r}
		p.Moves = append(p.Moves, path.Move{To: at}, path.Move{To: at, Mode: path.ArcCCW, Feed: 5, Centre: geom.Vec3{Z: at.Z}})
	}
	a, big := step/2, rho+r
	want := big*math.Cos(a) - math.Sqrt(r*r-sq(big*math.Sin(a))) - rho
	got := measure(t, m, Params{Cusp: want, Skip: func(q geom.Vec3) bool { return math.Hypot(q.X, q.Y) < 0.3 || math.Hypot(q.X, q.Y) > 0.65 }}, p)
	if len(got.Places) < 180 {
		t.Errorf("%d places, %d rim, %d skipped", len(got.Places), got.Rim, got.Skipped)
	}
	near(t, "p50", got.P50, want, 0.01*want)
	near(t, "p99", got.P99, want, 0.03*want)
}
