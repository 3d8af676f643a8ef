package cl

import (
	"bufio"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// globe is a closed sphere of radius r round c with its vertices moved out or in by up to rough.
func globe(r *rand.Rand, c geom.Vec3, radius float64, rings, sectors int, rough float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	put := func(lat, lon float64) {
		k := radius * (1 + rough*(2*r.Float64()-1))
		m.Vertices = append(m.Vertices, c.Add(geom.Vec3{X: k * math.Cos(lat) * math.Cos(lon), Y: k * math.Cos(lat) * math.Sin(lon), Z: k * math.Sin(lat)}))
	}
	put(math.Pi/2, 0)
	put(-math.Pi/2, 0)
	for i := 1; i < rings; i++ {
		for j := range sectors {
			put(math.Pi/2-math.Pi*float64(i)/float64(rings), 2*math.Pi*float64(j)/float64(sectors))
		}
	}
	at := func(i, j int) int32 {
		switch i {
		case 0:
			return 0
		case rings:
			return 1
		}
		return int32(2 + (i-1)*sectors + j%sectors)
	}
	for i := range rings {
		for j := range sectors {
			if i > 0 {
				m.Triangles = append(m.Triangles, [3]int32{at(i, j), at(i+1, j), at(i, j+1)})
			}
			if i < rings-1 {
				m.Triangles = append(m.Triangles, [3]int32{at(i, j+1), at(i+1, j), at(i+1, j+1)})
			}
		}
	}
	return m
}

// sampleMeshes are small meshes of every kind that can come: closed, open, turned inside out, degenerate,
// doubled, not manifold.
func sampleMeshes(r *rand.Rand) map[string]*mesh.Mesh {
	rough := globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 1.5, 9, 13, 0.3)
	out := map[string]*mesh.Mesh{
		"soup":    randomSoup(r, 12),
		"sphere":  globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 1.5, 24, 40, 0),
		"rough":   rough,
		"spiky":   globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 1.5, 8, 9, 0.9),
		"block":   sample.Box(geom.Vec3{X: 1, Y: 1.2, Z: 0}, geom.Vec3{X: 3.1, Y: 2.9, Z: 1.3}),
		"blocks":  mesh.Join(sample.Box(geom.Vec3{X: 1, Y: 1.2}, geom.Vec3{X: 3.1, Y: 2.9, Z: 1.3}), sample.Box(geom.Vec3{X: 2, Y: 2, Z: 1.3}, geom.Vec3{X: 2.5, Y: 2.5, Z: 2})),
		"terrain": terrain(r, 14, 4, 0.6),
		"steps":   steppedTerrain(r, 9, 4),
	}
	inside := &mesh.Mesh{Vertices: rough.Vertices}
	for _, t := range rough.Triangles {
		inside.Triangles = append(inside.Triangles, [3]int32{t[0], t[2], t[1]})
	}
	out["inside out"] = inside
	open := &mesh.Mesh{Vertices: rough.Vertices}
	mixed := &mesh.Mesh{Vertices: rough.Vertices}
	for _, t := range rough.Triangles {
		if r.Float64() < 0.7 {
			open.Triangles = append(open.Triangles, t)
		}
		switch k := r.Float64(); {
		case k < 0.1:
			mixed.Triangles = append(mixed.Triangles, t, t)
		case k < 0.2:
			mixed.Triangles = append(mixed.Triangles, [3]int32{t[0], t[2], t[1]})
		case k < 0.25:
			mixed.Triangles = append(mixed.Triangles, t, [3]int32{t[0], t[1], int32(r.IntN(len(rough.Vertices)))})
		case k < 0.3:
			mixed.Triangles = append(mixed.Triangles, t, [3]int32{t[0], t[1], t[1]})
		default:
			mixed.Triangles = append(mixed.Triangles, t)
		}
	}
	out["open"], out["mixed"] = open, mixed
	out["flat bits"] = collapsed(r, rough)
	return out
}

// collapsed moves some vertices onto others or onto edges, so that triangles without area arise.
func collapsed(r *rand.Rand, m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: append([]geom.Vec3(nil), m.Vertices...), Triangles: m.Triangles}
	for range len(m.Triangles) / 10 {
		t := m.Triangles[r.IntN(len(m.Triangles))]
		if r.IntN(2) == 0 {
			out.Vertices[t[0]] = out.Vertices[t[1]]
		} else {
			out.Vertices[t[0]] = out.Vertices[t[1]].Lerp(out.Vertices[t[2]], r.Float64())
		}
	}
	return out
}

// terrain is an open sheet of n×n squares over [0,size]², its heights random.
func terrain(r *rand.Rand, n int, size, high float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for j := 0; j <= n; j++ {
		for i := 0; i <= n; i++ {
			m.Vertices = append(m.Vertices, geom.Vec3{X: size * float64(i) / float64(n), Y: size * float64(j) / float64(n), Z: high * r.Float64()})
		}
	}
	at := func(i, j int) int32 { return int32(j*(n+1) + i) }
	for j := range n {
		for i := range n {
			m.Triangles = append(m.Triangles, [3]int32{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]int32{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return m
}

// steppedTerrain has heights of a few levels, so that many facets are level and many coplanar.
func steppedTerrain(r *rand.Rand, n int, size float64) *mesh.Mesh {
	m := terrain(r, n, size, 1)
	for i := range m.Vertices {
		m.Vertices[i].Z = math.Floor(m.Vertices[i].Z*3) / 4
	}
	return m
}

// openMesh reads an ascii PLY from the folder that BARWISE_MESHES names and scales it so that its largest extent
// is size, its least corner at 0; coordinates are rounded to float32 on the way, as the peer's are.
func openMesh(t testing.TB, name string, size float32) *mesh.Mesh {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		t.Skip("BARWISE_MESHES does not name a folder of open meshes")
	}
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		t.Skip(err)
	}
	defer f.Close()
	sc := bufio.NewScanner(f)
	nv, nf := 0, 0
	for sc.Scan() && sc.Text() != "end_header" {
		w := strings.Fields(sc.Text())
		if len(w) == 3 && w[0] == "element" {
			n, _ := strconv.Atoi(w[2])
			if w[1] == "vertex" {
				nv = n
			} else {
				nf = n
			}
		}
	}
	raw := make([][3]float32, 0, nv)
	weld := map[[3]float32]int32{}
	ids := make([]int32, 0, nv)
	for range nv {
		sc.Scan()
		var p [3]float32
		for k, w := range strings.Fields(sc.Text())[:3] {
			x, _ := strconv.ParseFloat(w, 32)
			p[k] = float32(x) + 0
		}
		id, ok := weld[p]
		if !ok {
			id = int32(len(raw))
			weld[p] = id
			raw = append(raw, p)
		}
		ids = append(ids, id)
	}
	m := &mesh.Mesh{}
	for range nf {
		sc.Scan()
		w := strings.Fields(sc.Text())
		var tr [3]int32
		for k := range tr {
			i, _ := strconv.Atoi(w[k+1])
			tr[k] = ids[i]
		}
		m.Triangles = append(m.Triangles, tr)
	}
	var lo, hi [3]float32
	for k := range 3 {
		lo[k], hi[k] = float32(math.Inf(1)), float32(math.Inf(-1))
	}
	for _, t := range m.Triangles {
		for _, i := range t {
			for k := range 3 {
				lo[k], hi[k] = min(lo[k], raw[i][k]), max(hi[k], raw[i][k])
			}
		}
	}
	e := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2])
	for _, p := range raw {
		m.Vertices = append(m.Vertices, geom.Vec3{
			X: float64((p[0] - lo[0]) / e * size), Y: float64((p[1] - lo[1]) / e * size), Z: float64((p[2] - lo[2]) / e * size)})
	}
	return m
}
