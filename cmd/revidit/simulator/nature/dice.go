package nature

import "math/rand/v2"

// purpose keeps chance for one thing apart from chance for another.
type purpose uint64

const (
	relative purpose = iota + 1
	wrongCell
	mixture
	character
	specimenOf
	misledOn
	readingOf
	glance
	lookingAt
	namingOf
	habit
	turnOf
	locally
	photographed
	clarity
	accountOf
)

// dice are thrown for one thing, always with the same result for the same world.
func (w *World) dice(p purpose, keys ...int) *rand.Rand {
	return rand.New(rand.NewPCG(w.Seed, mixed(uint64(p), keys)))
}

// mixed is the finaliser of SplitMix64 (Steele, Lea and Flood 2014, Fast splittable pseudorandom number generators) over
// all keys in turn.
func mixed(hash uint64, keys []int) uint64 {
	for _, k := range append([]int{0}, keys...) {
		hash += uint64(k) + 0x9e3779b97f4a7c15
		hash = (hash ^ hash>>30) * 0xbf58476d1ce4e5b9
		hash = (hash ^ hash>>27) * 0x94d049bb133111eb
		hash ^= hash >> 31
	}
	return hash
}

// pick is an index, by weights of which one is above 0.
func pick(d *rand.Rand, weights []float64) int {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	x := d.Float64() * total
	last := 0
	for i, w := range weights {
		if w <= 0 {
			continue
		}
		last = i
		if x -= w; x < 0 {
			return i
		}
	}
	return last
}
