package practice

import "math"

// noise is a source of chance that gives the same value for the same place and seed on every machine.
type noise uint64

func (n noise) hash(x, y, z int64) uint64 {
	h := uint64(n)*0x9E3779B97F4A7C15 + uint64(x)*0xBF58476D1CE4E5B9 + uint64(y)*0x94D049BB133111EB + uint64(z)*0xD6E8FEB86659FD93
	h ^= h >> 32
	h *= 0xD6E8FEB86659FD93
	h ^= h >> 32
	h *= 0xD6E8FEB86659FD93
	return h ^ h>>32
}

// flat is even between 0 and 1.
func (n noise) flat(x, y, z int64) float64 { return float64(n.hash(x, y, z)>>11) / (1 << 53) }

// bell is near a normal deviate: the sum of four even ones, mean 0, standard deviation 1.
func (n noise) bell(x, y, z int64) float64 {
	h := n.hash(x, y, z)
	s := float64(h&0xFFFF) + float64(h>>16&0xFFFF) + float64(h>>32&0xFFFF) + float64(h>>48)
	return (s/65535 - 2) * math.Sqrt(3)
}

// smooth wanders between 0 and 1 over about one unit of x and y.
func (n noise) smooth(x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	ix, iy := int64(fx), int64(fy)
	tx, ty := ease(x-fx), ease(y-fy)
	a := n.flat(ix, iy, 0)*(1-tx) + n.flat(ix+1, iy, 0)*tx
	b := n.flat(ix, iy+1, 0)*(1-tx) + n.flat(ix+1, iy+1, 0)*tx
	return a*(1-ty) + b*ty
}

// rough adds finer and finer wandering, between 0 and 1.
func (n noise) rough(x, y float64) float64 {
	return (n.smooth(x, y)*4 + (n+1).smooth(x*2.1, y*2.1)*2 + (n+2).smooth(x*4.3, y*4.3)) / 7
}

func ease(t float64) float64 { return t * t * (3 - 2*t) }
