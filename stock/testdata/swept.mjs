// node swept.mjs SEGMENTS: a second opinion on the volume that straight moves of a ball and of a flat
// end of radius 1.5 mm (tips in moves.txt) take from the bar 20 x 30 x 20, by a general-purpose solid
// library: each move is the hull of the cutter's body at both ends, drawn up out of the bar.
// Run with manifold-3d 3.x installed where node finds it from the folder BARWISE_MESHES:
//     BARWISE_MESHES=/path/with/node_modules node swept.mjs 256
import fs from 'fs'
import path from 'path'
const root = path.join(process.env.BARWISE_MESHES, 'node_modules/manifold-3d/')
const { default: Module } = await import(root + 'manifold.js')
const wasm = await Module()
wasm.setup()
const { Manifold } = wasm
const here = path.dirname(new URL(import.meta.url).pathname)
const tips = fs.readFileSync(path.join(here, 'moves.txt'), 'utf8').trim().split('\n').map(l => l.split(' ').map(Number))
const seg = +process.argv[2], R = 1.5
const bar = Manifold.cube([20, 30, 20]).translate([-10, 0, -10])
// the prism over 0..12 mm above the widest circle, so that hulls reach out of the bar
const shank = Manifold.cylinder(12, R, R, seg)
const bodies = {
  ball: Manifold.hull([Manifold.sphere(R, seg).translate([0, 0, R]), shank.translate([0, 0, R])]),
  flat: shank,
}
const out = { version: JSON.parse(fs.readFileSync(root + 'package.json')).version, segments: seg }
for (const [name, body] of Object.entries(bodies)) {
  const hulls = tips.slice(1).map((b, i) => Manifold.hull([body.translate(tips[i]), body.translate(b)]))
  out[name] = bar.volume() - bar.subtract(Manifold.union(hulls)).volume()
}
console.log(JSON.stringify(out))
