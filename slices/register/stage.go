package register

import "math"

// stage is the search at one resolution: samples of the face, the block of the scan, and how likeness falls with a move.
type stage struct {
	x, y   []float64 // face points in patient mm from the middle, before bending
	photo  []float32
	block  *block
	like   *shared
	radius float64
	prior  prior
	bend   *bend // when not nil, the numbers of a move are followed by how far each knot goes

	bx, by []float64 // face points after bending
	values []float32
	slopes [][3]float32
	grads  []float32
}

// prior is what is known before looking: how far each number of a move is expected to go, and landmarks.
type prior struct {
	share  float64 // of one standard deviation's price in the measure's nats
	weight move    // 1/sd² of each number
	pull   float64 // 1/variance per axis of a landmark; 0 without any
	face   [][2]float64
	scan   []point
}

// newStage takes every pixel of p that counts.
func newStage(p *picture, b *block, middle [2]float64, scale, radius float64, bins int) *stage {
	s := &stage{block: b, radius: radius}
	for j := range p.h {
		for i := range p.w {
			if v := p.v[j*p.w+i]; v == v {
				s.x = append(s.x, scale*(p.first+float64(i)*p.step-middle[0]))
				s.y = append(s.y, scale*(p.first+float64(j)*p.step-middle[1]))
				s.photo = append(s.photo, v)
			}
		}
	}
	n := len(s.x)
	s.bx, s.by = s.x, s.y
	s.values, s.slopes, s.grads = make([]float32, n), make([][3]float32, n), make([]float32, n)
	s.like = newShared(s.photo, bins)
	s.like.lo, s.like.hi = spanOf(b.v)
	return s
}

// free lets the face bend.
func (s *stage) free(b *bend) {
	b.cover(s.x, s.y)
	s.bend = b
	s.bx, s.by = make([]float64, len(s.x)), make([]float64, len(s.x))
}

// sample carries the face into the block and reads the scan there.
func (s *stage) sample(m []float64) motion {
	mo := motionOf(move(m[:freedoms]), s.radius)
	if s.bend != nil {
		s.shape(m[freedoms:])
	}
	for i := range s.x {
		s.values[i], s.slopes[i] = s.block.at(mo.at(s.bx[i], s.by[i]))
	}
	return mo
}

// shape moves the face points by the bend.
func (s *stage) shape(z []float64) {
	n := len(s.bend.knots)
	for i := range s.x {
		var dx, dy float64
		for k, w := range s.bend.basis[i*n : (i+1)*n] {
			dx += float64(w) * z[k]
			dy += float64(w) * z[n+k]
		}
		s.bx[i], s.by[i] = s.x[i]+dx, s.y[i]+dy
	}
}

// likeness is the information the face shares with the scan after a move, in nats.
func (s *stage) likeness(m []float64) float64 {
	s.sample(m)
	return s.like.measure(s.values, nil)
}

// cost is what the search makes small: minus the shared information, plus the price of moving.
func (s *stage) cost(m []float64, grad []float64) float64 {
	mo := s.sample(m)
	var g []float32
	if grad != nil {
		g = s.grads
	}
	value := -s.like.measure(s.values, g)
	if grad != nil {
		s.chain(&mo, grad)
	}
	value += s.prior.cost(&mo, m, grad)
	if s.bend != nil {
		var tail []float64
		if grad != nil {
			tail = grad[freedoms:]
		}
		value += s.bend.cost(m[freedoms:], tail, s.prior.share)
	}
	return value
}

// chain carries the slope by every value to the slope by every number of the move.
func (s *stage) chain(mo *motion, grad []float64) {
	clear(grad)
	var t, tx, ty point // sums of the slope along the axes: plain, times x, times y
	for i, g := range s.grads {
		if g == 0 {
			continue
		}
		var d point
		for k := range 3 {
			d[k] = -float64(g * s.slopes[i][k])
			t[k] += d[k]
			tx[k] += d[k] * s.bx[i]
			ty[k] += d[k] * s.by[i]
		}
		if s.bend != nil {
			u := d[0]*mo.u[0] + d[1]*mo.u[1] + d[2]*mo.u[2]
			v := d[0]*mo.v[0] + d[1]*mo.v[1] + d[2]*mo.v[2]
			n := len(s.bend.knots)
			for k, w := range s.bend.basis[i*n : (i+1)*n] {
				grad[freedoms+k] += float64(w) * u
				grad[freedoms+n+k] += float64(w) * v
			}
		}
	}
	copy(grad, t[:])
	turned(mo, tx, ty, grad)
}

// turned adds to the slope by the turning and stretching numbers what a slope times x and y brings.
func turned(mo *motion, tx, ty point, grad []float64) {
	for r := range 4 {
		for k := range 3 {
			grad[pitch+r] += tx[k]*mo.du[r][k] + ty[k]*mo.dv[r][k]
		}
	}
}

// cost is the price of a move by what was known before, and adds its slope.
func (p *prior) cost(mo *motion, m, grad []float64) (sum float64) {
	for k, w := range p.weight {
		sum += p.share * w * m[k] * m[k] / 2
		if grad != nil {
			grad[k] += p.share * w * m[k]
		}
	}
	for i, f := range p.face {
		at := mo.at(f[0], f[1])
		var d, dx, dy point
		for k := range 3 {
			off := at[k] - p.scan[i][k]
			sum += p.share * p.pull * off * off / 2
			d[k] = p.share * p.pull * off
			dx[k], dy[k] = d[k]*f[0], d[k]*f[1]
		}
		if grad != nil {
			for k := range 3 {
				grad[k] += d[k]
			}
			turned(mo, dx, dy, grad)
		}
	}
	return sum
}

// radiusOf is the root mean square distance of the samples from the middle: what turning numbers are counted at.
func radiusOf(x, y []float64) float64 {
	var sum float64
	for i := range x {
		sum += x[i]*x[i] + y[i]*y[i]
	}
	return math.Sqrt(sum / math.Max(1, float64(len(x))))
}
