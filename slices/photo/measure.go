package photo

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
)

// Standard uncertainties taken where a picture does not tell better. They are common practice, no source:
// a trained hand on a picture at 100 %.
const (
	TickSpread  = 0.5 // px, placing a tick of the scale
	ClickSpread = 0.8 // px, placing an end of what is measured
	RulerSpread = 0.1 // mm, length of the scale itself
)

// Length returns the distance between two pixels in mm on the face and its standard uncertainty (GUM, JCGM
// 100:2008, 5.1.2): the ticks, the scale's own length, what is in doubt of the scale as a whole, and the two clicks. That of
// a measured lens is far below them and left out. It fails with ErrNoScale.
func (c Calibration) Length(a, b geom.Px) (mm, sd float64, err error) {
	if c.Status == Nominal {
		return 0, 0, ErrNoScale
	}
	return c.lengthWith(a, b, RulerSpread, TickSpread, ClickSpread)
}

func (c Calibration) lengthWith(a, b geom.Px, ruler, tick, click float64) (mm, sd float64, err error) {
	to := c.Map()
	p, q := to.MM(a), to.MM(b)
	mm = p.Dist(q)
	if mm == 0 {
		x, y := c.PerPixel(a)
		return 0, click * math.Hypot(x, y), nil
	}
	ux, uy := (q.X-p.X)/mm, (q.Y-p.Y)/mm
	clicks := 0.0
	for _, end := range [2]geom.Px{a, b} { // how a click off by one pixel along x or y changes the length
		j := to.Jacobian(end)
		gx, gy := ux*j[0]+uy*j[2], ux*j[1]+uy*j[3]
		clicks += click * click * (gx*gx + gy*gy)
	}
	return mm, math.Sqrt(clicks + c.scaleVariance(a, b, mm, ruler, tick)), nil
}

// scaleVariance is the part of a length's variance in mm2 that comes from the scale.
func (c Calibration) scaleVariance(a, b geom.Px, mm, ruler, tick float64) float64 {
	longest, pixels := 0.0, 0.0
	to := c.Map()
	for i, s := range c.Ties {
		for _, t := range c.Ties[:i] {
			if d := s.MM.Dist(t.MM); d > longest {
				longest, pixels = d, to.straight(s.Px).Dist(to.straight(t.Px))
			}
		}
	}
	relative := c.doubt()
	if longest == 0 { // a calibration stored without its ties
		return mm * mm * relative * relative
	}
	relative = math.Hypot(relative, ruler/longest)
	if c.Status == Scaled {
		relative = math.Hypot(relative, tick*math.Sqrt2/pixels)
		return mm * mm * relative * relative
	}
	return mm*mm*relative*relative + c.fitVariance(a, b, tick)
}

// fitVariance carries the noise of four ties or more through the fit to the length from a to b, to first order.
// The noise is the residuals' own when ten numbers or more are left over, else tick.
func (c Calibration) fitVariance(a, b geom.Px, tick float64) float64 {
	normal := mat.NewSymDense(8, nil)
	scale, to := c.ToMM, c.Map()
	a, b = to.straight(a), to.straight(b)
	for _, t := range c.Ties {
		at := to.straight(t.Px)
		w := depth(scale, at)
		m := scale.MM(at)
		noise := tick * c.PixelSize(t.Px)
		if c.Fit.Freedom >= 10 {
			noise = c.Fit.RMS * math.Sqrt(float64(len(c.Ties))/float64(c.Fit.Freedom)) * c.Height.Factor()
		}
		if noise == 0 {
			return 0
		}
		for axis := range 2 {
			g := gradient(at, m, w, axis)
			for i := range 8 {
				g[i] /= noise
			}
			normal.SymRankOne(normal, 1, mat.NewVecDense(8, g[:]))
		}
	}
	p, q := scale.MM(a), scale.MM(b)
	mm := p.Dist(q)
	var g [8]float64
	ga, gb := [2][8]float64{}, [2][8]float64{}
	for axis := range 2 {
		ga[axis], gb[axis] = gradient(a, p, depth(scale, a), axis), gradient(b, q, depth(scale, b), axis)
	}
	for i := range g {
		g[i] = ((q.X-p.X)*(gb[0][i]-ga[0][i]) + (q.Y-p.Y)*(gb[1][i]-ga[1][i])) / mm
	}
	return quadraticInverse(normal, g)
}

// gradient is how the mapped x (axis 0) or y (axis 1) changes with the first eight numbers of the map.
func gradient(p geom.Px, m geom.MM, w float64, axis int) [8]float64 {
	x, y := p.X/w, p.Y/w
	if axis == 0 {
		return [8]float64{x, y, 1 / w, 0, 0, 0, -m.X * x, -m.X * y}
	}
	return [8]float64{0, 0, 0, x, y, 1 / w, -m.Y * x, -m.Y * y}
}

// quadraticInverse is g' inverse(n) g; the numbers of a map differ by orders, so n is scaled to a unit diagonal.
func quadraticInverse(n *mat.SymDense, g [8]float64) float64 {
	var d [8]float64
	for i := range d {
		d[i] = math.Sqrt(n.At(i, i))
		if d[i] == 0 {
			return 0
		}
	}
	for i := range d {
		for k := i; k < 8; k++ {
			n.SetSym(i, k, n.At(i, k)/(d[i]*d[k]))
		}
		g[i] /= d[i]
	}
	var factor mat.Cholesky
	if !factor.Factorize(n) {
		return math.NaN()
	}
	v := mat.NewVecDense(8, g[:])
	var x mat.VecDense
	_ = factor.SolveVecTo(&x, v) // a poor condition number is part of the answer
	return mat.Dot(v, &x)
}

// ScaleSpread returns the relative standard uncertainty of lengths near p that comes from the scale alone,
// judged on a length of a third of the ties' extent. It is NaN without a scale.
func (c Calibration) ScaleSpread(p geom.Px) float64 {
	if c.Status == Nominal || len(c.Ties) < 2 {
		return math.NaN()
	}
	px, _ := split(c.Ties)
	far := 0.0
	for _, q := range px {
		far = math.Max(far, q.Dist(px[0]))
	}
	var sum float64
	for _, d := range [2]geom.Px{{X: far / 6}, {Y: far / 6}} { // along x and y
		a, b := geom.Px{X: p.X - d.X, Y: p.Y - d.Y}, geom.Px{X: p.X + d.X, Y: p.Y + d.Y}
		mm, sd, _ := c.lengthWith(a, b, RulerSpread, TickSpread, 0)
		sum += sd / mm / 2
	}
	return sum
}

// RingArea returns the area inside a ring of pixels in mm2 on the face and its standard uncertainty, from the
// scale and from ClickSpread at each corner. Straight edges stay straight on the plane, so the shoelace formula on the
// mapped corners is exact; edges bent by a lens are followed in the pieces of Mapping.Path. It fails with ErrNoScale.
func (c Calibration) RingArea(ring []geom.Px) (mm2, sd float64, err error) {
	if c.Status == Nominal {
		return 0, 0, ErrNoScale
	}
	if len(ring) < 3 {
		return 0, 0, nil
	}
	n, to := len(ring), c.Map()
	mm := make([]geom.MM, n)
	for i, p := range ring {
		mm[i] = to.MM(p)
	}
	var corners float64
	for i, p := range ring {
		before, next := mm[(i+n-1)%n], mm[(i+1)%n]
		edge := to.Path(p, ring[(i+1)%n])
		for k, a := range edge[1:] {
			b := edge[k]
			mm2 += ((b.X-mm[0].X)*(a.Y-mm[0].Y) - (a.X-mm[0].X)*(b.Y-mm[0].Y)) / 2
		}
		// moving one corner changes the area by half the chord between its neighbours
		shift := ClickSpread * c.PixelSize(p) * before.Dist(next) / 2
		corners += shift * shift
	}
	mm2 = math.Abs(mm2)
	return mm2, math.Hypot(math.Sqrt(corners), 2*mm2*c.ScaleSpread(centroid(ring))), nil
}
