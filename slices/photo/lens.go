package photo

import (
	"errors"
	"fmt"
	"image"
	"math"
	"time"

	"sectionary/slices/geom"
)

var (
	// ErrLens says that pictures of a chequer sheet do not tell the lens.
	ErrLens = errors.New("photo: the lens cannot be told from these pictures of the sheet")
	// ErrOtherLens says that a lens was measured on photographs of another size, or does not reach their corners.
	ErrOtherLens = errors.New("photo: this lens does not fit the photograph")
)

// Lens bends straight lines as a camera does: the radial and tangential model of Brown (Photogrammetric Engineering 37,
// 855, 1971). FX, FY, CX and CY are pixels of the upright photograph. A stand's lens is measured once from a chequer
// sheet and holds while focus and zoom stay. The zero value bends nothing.
type Lens struct {
	FX float64 `json:"fx"`
	FY float64 `json:"fy"`
	CX float64 `json:"cx"`
	CY float64 `json:"cy"`
	K1 float64 `json:"k1"`
	K2 float64 `json:"k2"`
	P1 float64 `json:"p1,omitempty"`
	P2 float64 `json:"p2,omitempty"`
	K3 float64 `json:"k3,omitempty"`

	Size  image.Point `json:"size"`  // of the photographs it was measured on; others are not corrected by it
	RMS   float64     `json:"rms"`   // px, of the corners
	Views int         `json:"views"` // pictures of the sheet
	Reach float64     `json:"reach"` // how far from the middle corners were seen, as a share of the way to the picture's corners
	Set   time.Time   `json:"set,omitzero"`
}

// Check refuses what cannot be a lens.
func (l Lens) Check() error {
	if l == (Lens{}) {
		return nil
	}
	for _, v := range []float64{l.FX, l.FY, l.CX, l.CY, l.K1, l.K2, l.K3, l.P1, l.P2} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%w: its figures are not finite", ErrLens)
		}
	}
	if !(l.FX > 0) || !(l.FY > 0) {
		return fmt.Errorf("%w: focal lengths %g and %g px are not above zero", ErrLens, l.FX, l.FY)
	}
	return nil
}

// bend carries a point of the plane one focal length before the lens to where the lens throws it.
func (l Lens) bend(x, y float64) (float64, float64) {
	r := x*x + y*y
	k := 1 + r*(l.K1+r*(l.K2+r*l.K3))
	return x*k + 2*l.P1*x*y + l.P2*(r+2*x*x), y*k + l.P1*(r+2*y*y) + 2*l.P2*x*y
}

// Bent returns where a lens without distortion's pixel p really lies in the photograph.
func (l Lens) Bent(p geom.Px) geom.Px {
	if l.FX == 0 {
		return p
	}
	x, y := l.bend((p.X-l.CX)/l.FX, (p.Y-l.CY)/l.FY)
	return geom.Px{X: l.CX + l.FX*x, Y: l.CY + l.FY*y}
}

// jacobian is how bend's point changes with x and y: the symmetric matrix a b, b d.
func (l Lens) jacobian(x, y float64) (a, b, d float64) {
	r := x*x + y*y
	k := 1 + r*(l.K1+r*(l.K2+r*l.K3))
	dk := 2 * (l.K1 + r*(2*l.K2+3*r*l.K3)) // by x, over x
	return k + x*x*dk + 2*l.P1*y + 6*l.P2*x, x*y*dk + 2*l.P1*x + 2*l.P2*y, k + y*y*dk + 6*l.P1*y + 2*l.P2*x
}

// Straight is the inverse of Bent, by Newton's method. ok is false where the model folds back, beyond what it can describe.
func (l Lens) Straight(p geom.Px) (q geom.Px, ok bool) {
	if l.FX == 0 {
		return p, true
	}
	wx, wy := (p.X-l.CX)/l.FX, (p.Y-l.CY)/l.FY
	x, y := wx, wy
	for range 30 {
		gx, gy := l.bend(x, y)
		ex, ey := gx-wx, gy-wy
		a, b, d := l.jacobian(x, y)
		det := a*d - b*b
		if !(det > 0) { // folded
			return p, false
		}
		dx, dy := (d*ex-b*ey)/det, (a*ey-b*ex)/det
		x, y = x-dx, y-dy
		if math.Abs(dx)+math.Abs(dy) < 1e-13 {
			return geom.Px{X: l.CX + l.FX*x, Y: l.CY + l.FY*y}, true
		}
	}
	return p, false
}

// Covers reports whether the model holds up to the corners of the photographs. Fitted where the sheet did not reach, it
// may fold back there: then the sheet must be photographed nearer to the corners.
func (l Lens) Covers() bool {
	for _, p := range pictureCorners(l.Size) {
		if _, ok := l.Straight(p); !ok {
			return false
		}
	}
	return true
}

// Fits fails with ErrOtherLens where l does not belong to photographs of that size, or folds back within them. No lens fits all.
func (l *Lens) Fits(size image.Point) error {
	switch {
	case l == nil:
		return nil
	case l.Size != size:
		return fmt.Errorf("%w: it was measured on pictures of %dx%d pixels, this one has %dx%d", ErrOtherLens, l.Size.X, l.Size.Y, size.X, size.Y)
	case l.Check() != nil || !l.Covers():
		return fmt.Errorf("%w: it says nothing of the corners of the picture; photograph the sheet nearer to them and measure again", ErrOtherLens)
	}
	return nil
}
