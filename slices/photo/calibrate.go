package photo

import (
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// TwoTicks scales by one length known in mm between two pixels of a scale. The map has one scale, no turn, and its
// origin at pixel (0, 0); it is blind to a tilt of the camera.
func TwoTicks(a, b geom.Px, length float64) (Calibration, error) {
	px := a.Dist(b)
	if !(px > 0) || !(length > 0) || math.IsInf(px, 0) || math.IsInf(length, 0) {
		return Calibration{}, fmt.Errorf("%w: two different ticks and a length above zero are needed", geom.ErrDegenerate)
	}
	s := length / px
	h := geom.Homography{s, 0, 0, 0, s, 0, 0, 0, 1}
	return scaledBy(h, Tie{a, h.MM(a)}, Tie{b, h.MM(b)}), nil
}

// TwoTies lays two pixels on two face points by one scale, a turn and a shift.
func TwoTies(a, b Tie) (Calibration, error) {
	c, err := TwoTicks(a.Px, b.Px, a.MM.Dist(b.MM))
	if err != nil {
		return Calibration{}, err
	}
	s := c.ToMM[0]
	turn := math.Atan2(b.MM.Y-a.MM.Y, b.MM.X-a.MM.X) - math.Atan2(b.Px.Y-a.Px.Y, b.Px.X-a.Px.X)
	sin, cos := math.Sincos(turn)
	h := geom.Homography{s * cos, -s * sin, 0, s * sin, s * cos, 0, 0, 0, 1}
	p := h.MM(a.Px)
	h[2], h[5] = a.MM.X-p.X, a.MM.Y-p.Y
	return scaledBy(h, a, b), nil
}

func scaledBy(h geom.Homography, a, b Tie) Calibration {
	return Calibration{ToMM: h, Status: Scaled, Ties: []Tie{a, b}, Fit: geom.Residuals{Each: []float64{0, 0}}}
}

// Grid rectifies from four ties or more by the normalised direct linear transform. It fails with
// geom.ErrTooFewPoints, geom.ErrDegenerate, ErrMirroredTies, or ErrHorizon when the plane's horizon
// passes between the ties.
func Grid(ties []Tie) (Calibration, error) {
	px, mm := split(ties)
	h, fit, err := geom.FitHomography(px, mm)
	if err != nil {
		return Calibration{}, fmt.Errorf("photo: scale from %d ties: %w", len(ties), err)
	}
	above := 0
	for _, p := range px {
		if depth(h, p) > 0 {
			above++
		}
	}
	if above != 0 && above != len(px) {
		return Calibration{}, fmt.Errorf("%w; check the order of the ties", ErrHorizon)
	}
	if j := h.Jacobian(centroid(px)); j[0]*j[3]-j[1]*j[2] <= 0 {
		return Calibration{}, fmt.Errorf("%w: going round them in the picture is going back in mm; check their order, "+
			"or whether the photograph is mirrored", ErrMirroredTies)
	}
	return Calibration{ToMM: h, Status: Rectified, Ties: slices.Clone(ties), Fit: fit}, nil
}

// depth is the denominator of h at p: its sign changes on the horizon.
func depth(h geom.Homography, p geom.Px) float64 { return h[6]*p.X + h[7]*p.Y + h[8] }

func split(ties []Tie) ([]geom.Px, []geom.MM) {
	px, mm := make([]geom.Px, len(ties)), make([]geom.MM, len(ties))
	for i, t := range ties {
		px[i], mm[i] = t.Px, t.MM
	}
	return px, mm
}

func centroid(px []geom.Px) (c geom.Px) {
	for _, p := range px {
		c.X += p.X / float64(len(px))
		c.Y += p.Y / float64(len(px))
	}
	return c
}

// FromTies calibrates from two ties by TwoTies or from four and more by Grid.
func FromTies(ties []Tie) (Calibration, error) {
	switch {
	case len(ties) == 2:
		return TwoTies(ties[0], ties[1])
	case len(ties) < 4:
		return Calibration{}, fmt.Errorf("%w: a scale needs two ties, or four and more, got %d", geom.ErrTooFewPoints, len(ties))
	}
	return Grid(ties)
}

// Through calibrates by ties seen through a lens, with FromTies, Grid or the like: their pixels are straightened for the fit and
// kept as photographed. Without a lens it is fit alone. It fails with ErrOtherLens where the lens says nothing of a tie,
// and as fit.
func Through(l *Lens, ties []Tie, fit func([]Tie) (Calibration, error)) (Calibration, error) {
	if l == nil {
		return fit(ties)
	}
	straight, err := l.straighten(ties)
	if err != nil {
		return Calibration{}, err
	}
	seen := make(map[geom.Px]geom.Px, len(ties))
	for i, t := range straight {
		seen[t.Px] = ties[i].Px
	}
	c, err := fit(straight)
	for i, t := range c.Ties { // those that fit kept
		c.Ties[i].Px = seen[t.Px]
	}
	c.Lens = l
	return c, err
}

func (l *Lens) straighten(ties []Tie) ([]Tie, error) {
	out := make([]Tie, len(ties))
	for i, t := range ties {
		p, ok := l.Straight(t.Px)
		if !ok {
			return nil, fmt.Errorf("%w: tie %d at %.0f,%.0f lies beyond what it describes", ErrOtherLens, i+1, t.Px.X, t.Px.Y)
		}
		out[i] = Tie{p, t.MM}
	}
	return out, nil
}

// WithLens returns c laid anew on its ties through l, nil: through none. Scale height, doubts and date stay. It fails as Through, and
// with geom.ErrTooFewPoints where c was kept without its ties.
func (c Calibration) WithLens(l *Lens) (Calibration, error) {
	if c.Status == Nominal || c.Map().Equal(Mapping{c.ToMM, l}) {
		return c, nil
	}
	n, err := Through(l, c.Ties, FromTies)
	if err == nil && c.Height != (ScaleHeight{}) {
		n, err = n.WithHeight(c.Height)
	}
	if err != nil {
		return c, err
	}
	n.Set, n.Doubts = c.Set, c.Doubts
	return n, nil
}

// Check refuses with ErrHorizon a calibration whose plane vanishes inside a picture of that size in pixels, and with ErrOtherLens one whose
// lens is not of such pictures.
func (c Calibration) Check(size image.Point) error {
	if err := c.Lens.Fits(size); err != nil {
		return err
	}
	if c.Status != Rectified {
		return nil
	}
	above := 0
	corners := pictureCorners(size)
	for _, p := range corners {
		if depth(c.ToMM, c.Map().straight(p)) > 0 {
			above++
		}
	}
	if above != 0 && above != len(corners) {
		return fmt.Errorf("%w; check the ties, or put the camera square above the face", ErrHorizon)
	}
	return nil
}

// pictureCorners are the outer corners of the corner pixels: top left, top right, bottom right, bottom left.
func pictureCorners(size image.Point) [4]geom.Px {
	r, b := float64(size.X)-0.5, float64(size.Y)-0.5
	return [4]geom.Px{{X: -0.5, Y: -0.5}, {X: r, Y: -0.5}, {X: r, Y: b}, {X: -0.5, Y: b}}
}

// Check reports whether the heights make sense: finite, the camera above the face and above the scale.
func (h ScaleHeight) Check() error {
	if h == (ScaleHeight{}) {
		return nil
	}
	if !(h.Camera > 0) || !(h.Camera+h.Drop > 0) || math.IsInf(h.Camera, 0) || math.IsInf(h.Drop, 0) {
		return fmt.Errorf("photo: scale height: the camera must stand above the face and the scale, got %g mm and drop %g mm",
			h.Camera, h.Drop)
	}
	return nil
}

// Factor is what lengths measured with the scale are multiplied by to be lengths on the face: by similar
// triangles 1/(1 + Drop/Camera).
func (h ScaleHeight) Factor() float64 {
	if h == (ScaleHeight{}) {
		return 1
	}
	return 1 / (1 + h.Drop/h.Camera)
}

// WithHeight corrects c for a scale out of the plane of the face, in place of any earlier correction.
func (c Calibration) WithHeight(h ScaleHeight) (Calibration, error) {
	if c.Status == Nominal {
		return c, ErrNoScale
	}
	if err := h.Check(); err != nil {
		return c, err
	}
	c.ToMM = c.ToMM.Scaled(h.Factor() / c.Height.Factor())
	c.Height = h
	return c, nil
}

// Squared returns c with the face's axes turned about the face point under centre so that there one pixel to the
// right runs along +x. Lengths and areas stay as they are; ties turn along. Use it before a face is placed
// square to its picture, where ties were given in the axes of a board lying askew.
func (c Calibration) Squared(centre geom.Px) Calibration {
	if c.Status == Nominal {
		return c
	}
	j, o := c.Map().Jacobian(centre), c.Map().MM(centre)
	n := math.Hypot(j[0], j[2])
	if !(n > 0) || math.IsInf(n, 0) {
		return c
	}
	cos, sin := j[0]/n, -j[2]/n
	turn := func(p, about geom.MM) geom.MM {
		x, y := p.X-about.X, p.Y-about.Y
		return geom.MM{X: about.X + cos*x - sin*y, Y: about.Y + sin*x + cos*y}
	}
	h := c.ToMM
	for k := range 3 { // rows of R(H - o w) + o w, w the last row
		x, y := h[k]-o.X*h[6+k], h[3+k]-o.Y*h[6+k]
		c.ToMM[k], c.ToMM[3+k] = cos*x-sin*y+o.X*h[6+k], sin*x+cos*y+o.Y*h[6+k]
	}
	f := c.Height.Factor() // ties lie in the plane of the scale
	c.Ties = slices.Clone(c.Ties)
	for i, t := range c.Ties {
		c.Ties[i].MM = turn(t.MM, geom.MM{X: o.X / f, Y: o.Y / f})
	}
	return c
}

// MM returns the face point under p. A Nominal calibration gives NaN.
func (c Calibration) MM(p geom.Px) geom.MM {
	if c.Status == Nominal {
		return geom.MM{X: math.NaN(), Y: math.NaN()}
	}
	return c.Map().MM(p)
}

// Px returns the pixel that shows face point p. A Nominal calibration gives NaN.
func (c Calibration) Px(p geom.MM) geom.Px {
	if c.Status == Nominal {
		return geom.Px{X: math.NaN(), Y: math.NaN()}
	}
	return c.Map().Px(p)
}

// PerPixel returns the mm on the face covered by a step of one pixel along x and along y at p, NaN without a scale.
func (c Calibration) PerPixel(p geom.Px) (x, y float64) {
	if c.Status == Nominal {
		return math.NaN(), math.NaN()
	}
	j := c.Map().Jacobian(p)
	return math.Hypot(j[0], j[2]), math.Hypot(j[1], j[3])
}

// PixelSize is the square root of the area in mm2 that one pixel covers at p, NaN without a scale.
func (c Calibration) PixelSize(p geom.Px) float64 {
	if c.Status == Nominal {
		return math.NaN()
	}
	j := c.Map().Jacobian(p)
	return math.Sqrt(math.Abs(j[0]*j[3] - j[1]*j[2]))
}

// Report tells what the prompt prints about a calibration of a picture of that size in pixels.
func (c Calibration) Report(size image.Point) ScaleReport {
	r := ScaleReport{Homography: c.ToMM, Status: c.Status, RMS: c.Fit.RMS, Max: c.Fit.Max, Factor: c.Height.Factor()}
	r.Lens, r.Doubts = c.Lens, c.Doubts
	centre := geom.Px{X: float64(size.X-1) / 2, Y: float64(size.Y-1) / 2}
	if r.Spread = c.ScaleSpread(centre); math.IsNaN(r.Spread) {
		r.Spread = 0 // of a scale kept without its ties
	}
	r.MMPerPixel.Centre = c.PixelSize(centre)
	for i, p := range pictureCorners(size) {
		r.MMPerPixel.Corners[i] = c.PixelSize(p)
	}
	return r
}
