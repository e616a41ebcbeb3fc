package phantom

import "math/rand/v2"

// Every purpose has a random stream of its own, so that adding a cyst does not
// move the noise, and slices can be made in any order.
const (
	streamMotion uint64 = iota + 1
	streamShape
	streamWobble
	streamDrusen
	streamFeatures
	streamColumns
	streamDots
	streamNoise // last: slices add their index
)

func newStream(seed, stream uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, stream*0x9e3779b97f4a7c15+1))
}

// hash returns a well-mixed number for a lattice point.
func hash(x, y, z int32, seed uint64) uint64 {
	h := seed ^ uint64(uint32(x))*0x9e3779b97f4a7c15 ^ uint64(uint32(y))*0xc2b2ae3d27d4eb4f ^ uint64(uint32(z))*0x165667b19e3779f9
	h ^= h >> 29
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 32
	h *= 0x94d049bb133111eb
	return h ^ h>>31
}

// valueNoise is smooth noise of mean 0 in −1 to 1 with unit cells.
func valueNoise(x, y, z float64, seed uint64) float64 {
	ix, iy, iz := floor(x), floor(y), floor(z)
	fx, fy, fz := ease(x-float64(ix)), ease(y-float64(iy)), ease(z-float64(iz))
	corner := func(dx, dy, dz int32) float64 {
		return float64(hash(ix+dx, iy+dy, iz+dz, seed)>>40)/(1<<23) - 1
	}
	mix := func(a, b, t float64) float64 { return a + (b-a)*t }
	near := mix(mix(corner(0, 0, 0), corner(1, 0, 0), fx), mix(corner(0, 1, 0), corner(1, 1, 0), fx), fy)
	far := mix(mix(corner(0, 0, 1), corner(1, 0, 1), fx), mix(corner(0, 1, 1), corner(1, 1, 1), fx), fy)
	return mix(near, far, fz)
}

func floor(x float64) int32 {
	i := int32(x)
	if x < float64(i) {
		i--
	}
	return i
}

func ease(t float64) float64 { return t * t * (3 - 2*t) }
