package survey

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// Three solids with whole numbers for corners.
func wholeSolids() (box, octa, tetra *mesh.Mesh) {
	box = sample.Box(v(0, 0, 0), v(12, 10, 8))
	octa = &mesh.Mesh{Vertices: []geom.Vec3{v(18, 6, 5), v(4, 6, 5), v(11, 11, 5), v(11, 1, 5), v(11, 6, 11), v(11, 6, -1)},
		Triangles: [][3]int32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}}}
	tetra = &mesh.Mesh{Vertices: []geom.Vec3{v(-3, -2, -1), v(15, 1, 3), v(2, 14, 4), v(4, 3, 17)},
		Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}}
	return box, octa, tetra
}

// libraryScript has the solid library manifold-3d (npm, 3.5.4) unite the same solids two by two; run as
//
//	node --input-type=module -e "$SCRIPT" node_modules/manifold-3d/manifold.js
//
// it prints what libraryFigures holds, and the united meshes. A curve is the edges between triangles
// that come from different solids.
const libraryScript = `
const {default: Module} = await import(process.argv[1]);
const w = await Module(); w.setup();
const {Manifold, Mesh} = w;
const solid = (v, t) => Manifold.ofMesh(new Mesh({numProp: 3, vertProperties: Float32Array.from(v.flat()), triVerts: Uint32Array.from(t.flat())})).asOriginal();
const box = (a, b) => { const v = []; for (let i = 0; i < 8; i++) v.push([0,1,2].map(k => i >> k & 1 ? b[k] : a[k]));
  return solid(v, [[0,2,3,1],[4,5,7,6],[0,1,5,4],[2,6,7,3],[0,4,6,2],[1,3,7,5]].flatMap(q => [[q[0],q[1],q[2]],[q[0],q[2],q[3]]])); };
const octa = (c, r) => { const v = []; for (let k = 0; k < 3; k++) for (const s of [1,-1]) v.push(c.map((x, i) => x + (i == k ? s * r[k] : 0)));
  return solid(v, [[0,2,4],[2,1,4],[1,3,4],[3,0,4],[2,0,5],[1,2,5],[3,1,5],[0,3,5]]); };
const tetra = v => solid(v, [[0,2,1],[0,1,3],[0,3,2],[1,2,3]]);
const curve = g => { const seen = new Map(); let sum = 0;
  for (let r = 0; r + 1 < g.runIndex.length; r++) for (let i = g.runIndex[r]; i < g.runIndex[r+1]; i += 3) for (let k = 0; k < 3; k++) {
    const p = [k, (k+1)%3].map(j => Array.from(g.vertProperties.slice(3*g.triVerts[i+j], 3*g.triVerts[i+j]+3)));
    const key = p.map(q => q.join()).sort().join('|'), id = g.runOriginalID[r];
    if (seen.has(key) && seen.get(key) != id) sum += Math.hypot(...p[0].map((x, d) => x - p[1][d]));
    seen.set(key, id); }
  return sum; };
const A = box([0,0,0],[12,10,8]), B = octa([11,6,5],[7,5,6]), C = tetra([[-3,-2,-1],[15,1,3],[2,14,4],[4,3,17]]);
const out = [[A, B], [A, C], [B, C]].map(([a, b]) => { const u = a.add(b), g = u.getMesh();
  return {union: u.volume(), less: a.subtract(b).volume(), both: a.intersect(b).volume(), curve: curve(g), area: u.surfaceArea(),
    vertices: Array.from(g.vertProperties), triangles: Array.from(g.triVerts)}; });
const n = A.subtract(octa([6,5,4],[2,2,2])).subtract(box([3,-1,6],[5,11,7])).getMesh();
out.push({union: A.subtract(octa([6,5,4],[2,2,2])).subtract(box([3,-1,6],[5,11,7])).volume(), vertices: Array.from(n.vertProperties), triangles: Array.from(n.triVerts)});
console.log(JSON.stringify(out));
`

type libraryFigure struct {
	Union, Less, Both, Curve, Area float64
	Vertices                       []float64
	Triangles                      []int32
}

// libraryFigures are the volumes of union, difference and what both have, and the length of the curve
// in which the surfaces meet: box and octahedron, box and tetrahedron, octahedron and tetrahedron.
var libraryFigures = []libraryFigure{
	{Union: 1064.2286318972033, Less: 784.2286318972033, Both: 175.77136810279666, Curve: 42.64208706763813},
	{Union: 1187.315438362541, Less: 483.8154383625412, Both: 476.1845616374588, Curve: 96.81610014791656},
	{Union: 925.9844911021495, Less: 222.48449110214946, Both: 57.51550889785051, Curve: 25.071400321098466},
}

func wholePairs() [][2]*mesh.Mesh {
	a, b, c := wholeSolids()
	return [][2]*mesh.Mesh{{a, b}, {a, c}, {b, c}}
}

func checkFigures(t *testing.T, figures []libraryFigure) {
	t.Helper()
	for i, p := range wholePairs() {
		f := figures[i]
		a, b := p[0].Health().Volume, p[1].Health().Volume
		// what is counted twice is what both have
		if math.Abs(a+b-f.Both-f.Union) > 1e-4 || math.Abs(a-f.Both-f.Less) > 1e-4 {
			t.Errorf("pair %d: volumes %g and %g do not agree with %g, %g, %g", i, a, b, f.Union, f.Less, f.Both)
		}
		m := mesh.Join(p[0], p[1])
		r := look(t, m, mesh.Info{}, Params{UnitMM: 1})
		length := 0.0
		for _, c := range r.Crossings {
			for _, l := range c.Lines {
				length += l[1].Sub(l[0]).Len()
			}
		}
		if math.Abs(length-f.Curve) > 1e-4 {
			t.Errorf("pair %d: the shells meet along %g mm, by the solid library %g", i, length, f.Curve)
		}
		// winding numbers of overlapping shells: places counted on a grid of 60³
		const n = 60
		either, both, s := 0, 0, r.Health.Box.Size()
		for k := range n * n * n {
			q := r.Health.Box.Min.Add(v(s.X*(float64(k%n)+0.5)/n, s.Y*(float64(k/n%n)+0.5)/n, s.Z*(float64(k/n/n)+0.5)/n))
			switch w := m.Winding(q); {
			case w > 1.5:
				both++
				either++
			case w > 0.5:
				either++
			}
		}
		cell := s.X * s.Y * s.Z / (n * n * n)
		if math.Abs(float64(either)*cell-f.Union) > 0.01*f.Union || math.Abs(float64(both)*cell-f.Both) > 0.02*f.Both {
			t.Errorf("pair %d: by winding %g and %g, by the solid library %g and %g", i, float64(either)*cell, float64(both)*cell, f.Union, f.Both)
		}
	}
}

func TestAgainstASolidLibrary(t *testing.T) { checkFigures(t, libraryFigures) }

// The library itself, and the meshes it makes: sound ones, of the volume it says.
func TestAgainstASolidLibraryAsItRuns(t *testing.T) {
	lib := filepath.Join(sample.Folder(t), "node_modules", "manifold-3d", "manifold.js")
	if _, err := os.Stat(lib); err != nil {
		t.Skip(err)
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip(err)
	}
	if lib, err = filepath.Abs(lib); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), node, "--input-type=module", "-e", libraryScript, lib).Output()
	if err != nil {
		t.Fatal(err)
	}
	var figures []libraryFigure
	if err := json.Unmarshal(out, &figures); err != nil || len(figures) != 4 {
		t.Fatal(err, len(figures))
	}
	checkFigures(t, figures)
	for i, f := range figures {
		b := mesh.NewBuilder(len(f.Triangles) / 3)
		at := func(k int32) int32 { return b.Vertex(v(f.Vertices[3*k], f.Vertices[3*k+1], f.Vertices[3*k+2])) }
		for k := 0; k < len(f.Triangles); k += 3 {
			b.Triangle(at(f.Triangles[k]), at(f.Triangles[k+1]), at(f.Triangles[k+2]))
		}
		m, _ := b.Mesh()
		r := look(t, m, mesh.Info{}, Params{UnitMM: 1})
		if !r.Closed() || r.Cross.Through != 0 || math.Abs(r.Health.Volume-f.Union) > 1e-4*f.Union || f.Area > 0 && math.Abs(r.Health.Area-f.Area) > 1e-4*f.Area {
			t.Errorf("mesh %d: %v, volume %g, want %g", i, r.Findings, r.Health.Volume, f.Union)
		}
		// the last has a tunnel through it and a cavity inside
		if i == 3 && (len(r.Health.Shells) != 2 || r.Health.Shells[0].Genus() != 1 || r.Health.Shells[1].Inside != 0 || codes(r)["mesh-cavity"] != 0) {
			t.Errorf("%+v", r.Health.Shells)
		}
	}
}
