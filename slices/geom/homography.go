package geom

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Homography is a row-major 3x3 matrix from picture pixels to face millimetres.
type Homography [9]float64

// MM returns the face point under pixel p. A point on the horizon of the map gives infinities.
func (h Homography) MM(p Px) MM {
	x, y := h.apply(p.X, p.Y)
	return MM{x, y}
}

// Px returns the pixel that shows face point p, or NaN when the map cannot be turned round.
func (h Homography) Px(p MM) Px {
	x, y := h.adjugate().apply(p.X, p.Y)
	return Px{x, y}
}

// Jacobian returns how face mm change with a step of one pixel at p, row-major 2x2.
func (h Homography) Jacobian(p Px) [4]float64 {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	m := h.MM(p)
	return [4]float64{
		(h[0] - m.X*h[6]) / w, (h[1] - m.X*h[7]) / w,
		(h[3] - m.Y*h[6]) / w, (h[4] - m.Y*h[7]) / w,
	}
}

// Scaled returns the map with every face length multiplied by s.
func (h Homography) Scaled(s float64) Homography {
	for i := range 6 {
		h[i] *= s
	}
	return h
}

func (h Homography) apply(x, y float64) (float64, float64) {
	w := h[6]*x + h[7]*y + h[8]
	return (h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w
}

// adjugate is the inverse up to a factor, which a homography does not feel.
func (h Homography) adjugate() Homography {
	return Homography{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
}

// Times returns the map that does g first and then h.
func (h Homography) Times(g Homography) (p Homography) {
	for r := range 3 {
		for c := range 3 {
			for k := range 3 {
				p[3*r+c] += h[3*r+k] * g[3*k+c]
			}
		}
	}
	return p
}

// FitHomography finds the map that carries px onto mm by the normalised direct linear transform
// (Hartley 1997; Hartley & Zisserman 2004, algorithm 4.2). Four points fit exactly, more in the least
// squares sense. Residuals are in mm. It fails with ErrTooFewPoints below four and with
// ErrDegenerate when the points do not fix the map (three of four on one line, or repeated points).
func FitHomography(px []Px, mm []MM) (Homography, Residuals, error) {
	if len(px) != len(mm) {
		return Homography{}, Residuals{}, fmt.Errorf("geom: %d pixels for %d face points", len(px), len(mm))
	}
	if len(px) < 4 {
		return Homography{}, Residuals{}, fmt.Errorf("%w: a plane needs 4 points, got %d", ErrTooFewPoints, len(px))
	}
	from, to := make([][2]float64, len(px)), make([][2]float64, len(mm))
	for i := range px {
		from[i], to[i] = [2]float64{px[i].X, px[i].Y}, [2]float64{mm[i].X, mm[i].Y}
	}
	tf, err := normaliser(from)
	if err != nil {
		return Homography{}, Residuals{}, err
	}
	tt, err := normaliser(to)
	if err != nil {
		return Homography{}, Residuals{}, err
	}
	core, err := directLinear(from, to, tf, tt)
	if err != nil {
		return Homography{}, Residuals{}, err
	}
	h := tt.adjugate().Times(core).Times(tf)
	if h[8] == 0 || !finite(h[:]...) {
		return Homography{}, Residuals{}, ErrDegenerate
	}
	for i, last := 0, h[8]; i < 9; i++ {
		h[i] /= last
	}
	return h.judged(px, mm, 2*len(px)-8)
}

// judged is a fitted h with what it leaves at its points; ErrDegenerate where one is carried nowhere.
func (h Homography) judged(px []Px, mm []MM, freedom int) (Homography, Residuals, error) {
	off := make([]float64, len(px))
	for i := range px {
		off[i] = h.MM(px[i]).Dist(mm[i])
	}
	res := ResidualsOf(off, freedom)
	if !finite(res.RMS) {
		return Homography{}, Residuals{}, ErrDegenerate
	}
	return h, res, nil
}

// normaliser moves the centroid to 0 and the mean distance to the square root of 2.
func normaliser(ps [][2]float64) (Homography, error) {
	var cx, cy, d float64
	n := float64(len(ps))
	for _, p := range ps {
		cx, cy = cx+p[0]/n, cy+p[1]/n
	}
	for _, p := range ps {
		d += math.Hypot(p[0]-cx, p[1]-cy) / n
	}
	if !finite(cx, cy, d) || d == 0 {
		return Homography{}, ErrDegenerate
	}
	s := math.Sqrt2 / d
	return Homography{s, 0, -s * cx, 0, s, -s * cy, 0, 0, 1}, nil
}

func directLinear(from, to [][2]float64, tf, tt Homography) (Homography, error) {
	rows := max(2*len(from), 9) // padded with zero rows so that the null vector is always among the nine
	a := mat.NewDense(rows, 9, nil)
	for i := range from {
		x, y := tf.apply(from[i][0], from[i][1])
		u, v := tt.apply(to[i][0], to[i][1])
		a.SetRow(2*i, []float64{-x, -y, -1, 0, 0, 0, u * x, u * y, u})
		a.SetRow(2*i+1, []float64{0, 0, 0, -x, -y, -1, v * x, v * y, v})
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return Homography{}, ErrDegenerate
	}
	s := svd.Values(nil)
	if s[7] < 1e-7*s[0] { // a second null direction: the points leave the map open
		return Homography{}, ErrDegenerate
	}
	var v mat.Dense
	svd.VTo(&v)
	var h Homography
	for i := range h {
		h[i] = v.At(i, 8)
	}
	if det := h.Times(h.adjugate())[0]; math.Abs(det) < 1e-9 {
		return Homography{}, ErrDegenerate
	}
	return h, nil
}

// Inverse returns the map turned round, with its last number 1: from face mm to pixels.
func (h Homography) Inverse() Homography {
	g := h.adjugate()
	for i, last := 0, g[8]; i < 9; i++ {
		g[i] /= last
	}
	return g
}
