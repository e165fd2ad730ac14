package bench

import (
	"image"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// The seam is a straight line through the pointer, held by D: the face lies on one side of it, the cut of the scan on the
// other. The wheel or the arrows turn it; it keeps its turn when let go.
const (
	seamStep = 5 // degrees, one notch or one arrow
	seamSnap = 7 // degrees from upright or level within which it lies along the edge letters
)

// seamTurn is how the seam is turned, as shown: degrees clockwise from upright, 0 to 360, drawn to the letters where near one.
func (b *Bench) seamTurn() float64 {
	a := math.Mod(math.Mod(b.pair.seam, 360)+360, 360)
	if near := math.Round(a/90) * 90; math.Abs(a-near) < seamSnap {
		return math.Mod(near, 360)
	}
	return a
}

// TurnSeam turns the seam by degrees, clockwise as shown.
func (b *Bench) TurnSeam(degrees float64) {
	b.pair.seam = math.Mod(b.pair.seam+degrees, 360)
	b.changed(ViewChanged)
}

// seamKey takes the arrows while the seam is held; up and down turn it by a quarter.
func (b *Bench) seamKey(name string) bool {
	by, ok := map[string]float64{"Left": -seamStep, "Right": seamStep, "Up": -90, "Down": 90}[name]
	if !ok || !b.held["D"] {
		return false
	}
	b.TurnSeam(by)
	return true
}

// seamAt is a point of the seam and the direction along it; the scan lies to the right of that direction as shown.
func (f *facePane) seamAt() (at, along geom.Px) {
	at = geom.Px{X: float64(f.in.Min.X+f.in.Max.X) / 2, Y: float64(f.in.Min.Y+f.in.Max.Y) / 2}
	if f.here != nil {
		at = *f.here
	}
	s, c := math.Sincos(f.b.seamTurn() * math.Pi / 180)
	return at, geom.Px{X: s, Y: -c}
}

// paintSeam shows, while D is held, the scan on one side of the seam. The cut is painted once for the whole face, so that
// moving or turning the seam only copies pixels.
func (f *facePane) paintSeam(r brush, d *faceDoc) {
	if !f.b.held["D"] {
		return
	}
	if f.beside == nil || f.beside.Rect != f.in {
		f.beside = image.NewRGBA(f.in)
	}
	if !f.paintScan(f.beside, d) {
		return
	}
	at, along := f.seamAt()
	ink.Bands(&f.part, func(part *image.RGBA) {
		for y := part.Rect.Min.Y; y < part.Rect.Max.Y; y++ {
			from, to := rightOf(at, along, y, part.Rect.Min.X, part.Rect.Max.X)
			if from < to {
				copy(part.Pix[part.PixOffset(from, y):][:4*(to-from)], f.beside.Pix[f.beside.PixOffset(from, y):])
			}
		}
	})
	long := float64(f.in.Dx() + f.in.Dy())
	a, z := geom.Px{X: at.X - long*along.X, Y: at.Y - long*along.Y}, geom.Px{X: at.X + long*along.X, Y: at.Y + long*along.Y}
	ink.Line(&f.part, a, z, r.u(3), rgb(0x141312))
	ink.Line(&f.part, a, z, r.u(1.4), r.pal.ChosenOnDark)
}

// rightOf are the pixels from <= x < to of row y, within lo to hi, that lie to the right of the line through at along along, as shown
// with y down.
func rightOf(at, along geom.Px, y, lo, hi int) (from, to int) {
	// to the right: along x (p - at) > 0, that is along.X (y - at.Y) - along.Y (x - at.X) > 0
	const level = 1e-9
	if math.Abs(along.Y) < level {
		if along.X*(float64(y)-at.Y) > 0 {
			return lo, hi
		}
		return lo, lo
	}
	x := at.X + along.X*(float64(y)-at.Y)/along.Y
	edge := min(max(int(math.Ceil(math.Max(-1e6, math.Min(1e6, x)))), lo), hi)
	if along.Y < 0 { // upward: right of it is at greater x
		return edge, hi
	}
	return lo, edge
}
