package register

import (
	"context"
	"math"
)

// The seven numbers a search moves, all in mm: shift along the face's axes, level along its normal, and pitch, roll, turn
// and stretch as the way a point at radius goes.
const (
	shiftX = iota
	shiftY
	level
	pitch
	roll
	turn
	stretch
	freedoms
)

type move [freedoms]float64

// motion is a move made ready to carry points: a face point (x, y) from the middle goes to t + x*u + y*v in the block.
// du and dv are the derivatives of u and v by each of the four turning and stretching numbers.
type motion struct {
	t, u, v point
	du, dv  [4]point
}

// motionOf builds u and v as columns of scale * Rz(turn) * Rx(pitch) * Ry(roll).
func motionOf(m move, radius float64) motion {
	sp, cp := math.Sincos(m[pitch] / radius)
	sr, cr := math.Sincos(m[roll] / radius)
	st, ct := math.Sincos(m[turn] / radius)
	s := math.Exp(m[stretch] / radius)
	rz := func(p point) point { return point{ct*p[0] - st*p[1], st*p[0] + ct*p[1], p[2]} }
	dz := func(p point) point { return point{-st*p[0] - ct*p[1], ct*p[0] - st*p[1], 0} }
	times := func(p point, k float64) point { return point{p[0] * k, p[1] * k, p[2] * k} }

	// Rx * Ry * ex = (cr, sp*sr, -cp*sr) and Rx * ey = (0, cp, sp)
	ux, vx := point{cr, sp * sr, -cp * sr}, point{0, cp, sp}
	out := motion{t: point{m[shiftX], m[shiftY], m[level]}, u: times(rz(ux), s), v: times(rz(vx), s)}
	k := s / radius
	out.du[0], out.dv[0] = times(rz(point{0, cp * sr, sp * sr}), k), times(rz(point{0, -sp, cp}), k)
	out.du[1], out.dv[1] = times(rz(point{-sr, sp * cr, -cp * cr}), k), point{}
	out.du[2], out.dv[2] = times(dz(ux), k), times(dz(vx), k)
	out.du[3], out.dv[3] = times(out.u, 1/radius), times(out.v, 1/radius)
	return out
}

func (m *motion) at(x, y float64) point {
	return point{m.t[0] + x*m.u[0] + y*m.v[0], m.t[1] + x*m.u[1] + y*m.v[1], m.t[2] + x*m.u[2] + y*m.v[2]}
}

// goal is a function to be made small, with its slope when grad is not nil.
type goal func(m []float64, grad []float64) float64

// descend makes f small from m by the quasi-Newton steps of Broyden, Fletcher, Goldfarb and Shanno with a halving line
// search (Nocedal and Wright, Numerical Optimization, 2006, chapter 6). It ends when a step gains or moves less than
// tiny, after most steps, or when ctx ends, and returns the value there and the steps made. first is the length of the first step.
func descend(ctx context.Context, f goal, m []float64, first, tiny float64, most int) (value float64, steps int) {
	n := len(m)
	grad, next, nextGrad, dir := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	inverse := make([]float64, n*n)
	value = f(m, grad)
	fresh := true
	for steps = 0; steps < most && ctx.Err() == nil; steps++ {
		slope := norm(grad)
		if slope == 0 || math.IsInf(value, 0) {
			break
		}
		if fresh {
			clear(inverse)
			for i := range n {
				inverse[i*n+i] = first / slope
			}
		}
		down := 0.0
		for i := range n {
			dir[i] = 0
			for j := range n {
				dir[i] -= inverse[i*n+j] * grad[j]
			}
			down += dir[i] * grad[i]
		}
		if down >= 0 {
			if fresh {
				break
			}
			fresh = true
			continue
		}
		if long := norm(dir); long > 4*first {
			for i := range dir {
				dir[i] *= 4 * first / long
			}
			down *= 4 * first / long
		}
		length, found := 1.0, false
		var there float64
		for range 12 {
			for i := range n {
				next[i] = m[i] + length*dir[i]
			}
			if there = f(next, nextGrad); there <= value+1e-4*length*down {
				found = true
				break
			}
			length /= 2
		}
		if !found {
			if fresh {
				break
			}
			fresh = true
			continue
		}
		gain, way := value-there, length*norm(dir)
		update(inverse, m, next, grad, nextGrad)
		fresh = false
		copy(m, next)
		copy(grad, nextGrad)
		value = there
		if way < tiny || gain < 1e-7*math.Abs(value) {
			steps++
			break
		}
	}
	return value, steps
}

// update is the BFGS formula for the inverse of the second derivatives.
func update(inverse, m, next, grad, nextGrad []float64) {
	n := len(m)
	s, y, hy := make([]float64, n), make([]float64, n), make([]float64, n)
	var sy, yhy float64
	for i := range n {
		s[i], y[i] = next[i]-m[i], nextGrad[i]-grad[i]
		sy += s[i] * y[i]
	}
	if sy <= 1e-12*norm(s)*norm(y) {
		return
	}
	for i := range n {
		for j := range n {
			hy[i] += inverse[i*n+j] * y[j]
		}
		yhy += y[i] * hy[i]
	}
	for i := range n {
		for j := range n {
			inverse[i*n+j] += (1+yhy/sy)*s[i]*s[j]/sy - (hy[i]*s[j]+s[i]*hy[j])/sy
		}
	}
}

func norm(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum)
}
