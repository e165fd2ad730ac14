package quiz

import (
	"image"
	"image/color"
	"math"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// ratios are the sizes a face is shown at, paper to face, so that a ruler on paper reads easily.
var ratios = []float64{1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 3, 3.5, 4, 5, 6, 8, 10, 15, 20, 30, 50}

// faceView is a face on its way to paper: from pixels of the upright photograph to mm of the turned view, and
// on to a place on a page. Without a scale the mm are pixels.
type faceView struct {
	plate    atlas.Plate
	picture  *photo.Image
	toMM     photo.Mapping // squared: picture right is +x
	scaled   bool
	l        [4]float64 // row-major 2x2: turn and mirrors of the view
	mirrored bool       // against the bench
	box      area       // what is shown, in mm of the view
	at       area       // where it stands on the page
	per      float64    // paper mm per view mm
}

// newFaceView prepares a plate for a view. The error is atlas.ErrNotOriented while left and right are unknown.
func newFaceView(p atlas.Plate, m *photo.Image, v section.View) (*faceView, error) {
	unmirror, turns, mirror, err := p.Turn(v)
	if err != nil {
		return nil, err
	}
	f := &faceView{plate: p, picture: m, mirrored: mirror, scaled: p.Calibration.Status != photo.Nominal}
	f.toMM.ToMM = geom.Homography{1, 0, 0, 0, 1, 0, 0, 0, 1}
	if f.scaled {
		f.toMM = p.Calibration.Squared(p.MiddlePx()).Map()
	}
	f.l = [4]float64{1, 0, 0, 1}
	flip := func() { f.l[0], f.l[1] = -f.l[0], -f.l[1] }
	if unmirror {
		flip()
	}
	for range turns { // a quarter clockwise, y down: (x, y) becomes (-y, x)
		f.l = [4]float64{-f.l[2], -f.l[3], f.l[0], f.l[1]}
	}
	if mirror {
		flip()
	}
	f.box = f.shown()
	return f, nil
}

// view is a pixel's place in mm of the turned view.
func (f *faceView) view(p geom.Px) spot {
	m := f.toMM.MM(p)
	return spot{f.l[0]*m.X + f.l[1]*m.Y, f.l[2]*m.X + f.l[3]*m.Y}
}

// px is the pixel at a place of the turned view; l is its own inverse but for its order of turning.
func (f *faceView) px(s spot) geom.Px {
	return f.toMM.Px(geom.MM{X: f.l[0]*s.X + f.l[2]*s.Y, Y: f.l[1]*s.X + f.l[3]*s.Y})
}

// shown is the box of the border, else of the whole picture, in mm of the view.
func (f *faceView) shown() area {
	var pts []spot
	for _, b := range f.plate.Border {
		for _, q := range b.Outer {
			pts = append(pts, f.view(q))
		}
	}
	if len(pts) == 0 {
		w, h := float64(f.plate.Photo.Size.X), float64(f.plate.Photo.Size.Y)
		for _, q := range []geom.Px{{X: -0.5, Y: -0.5}, {X: w / 2, Y: -0.5}, {X: w - 0.5, Y: -0.5}, {X: w - 0.5, Y: h / 2}, {X: w - 0.5, Y: h - 0.5},
			{X: w / 2, Y: h - 0.5}, {X: -0.5, Y: h - 0.5}, {X: -0.5, Y: h / 2}} { // a lens may bend the sides outward
			pts = append(pts, f.view(q))
		}
	}
	lo, hi := pts[0], pts[0]
	for _, s := range pts {
		lo, hi = spot{math.Min(lo.X, s.X), math.Min(lo.Y, s.Y)}, spot{math.Max(hi.X, s.X), math.Max(hi.Y, s.Y)}
	}
	return area{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y}
}

// fit gives the face its place, as large as fits into room at one of the ratios (at any size without a scale), and
// returns the ratio, 0 without a scale.
func (f *faceView) fit(room area) (ratio float64) {
	f.per = math.Min(room.W/f.box.W, room.H/f.box.H)
	if f.scaled {
		for _, r := range ratios {
			if ratio = r; 1/r <= f.per {
				break
			}
		}
		f.per = math.Min(f.per, 1/ratio)
	}
	f.fitTo(f.per, room)
	return ratio
}

// fitTo gives the face its place in the middle of room at per paper mm for each mm of the view.
func (f *faceView) fitTo(per float64, room area) {
	f.per = per
	w, h := f.box.W*per, f.box.H*per
	f.at = area{room.middle().X - w/2, room.middle().Y - h/2, w, h}
}

// paper is where a pixel lies on the page.
func (f *faceView) paper(p geom.Px) spot { return f.onPaper(f.view(p)) }

func (f *faceView) onPaper(s spot) spot {
	return spot{f.at.X + (s.X-f.box.X)*f.per, f.at.Y + (s.Y-f.box.Y)*f.per}
}

func (f *faceView) ring(ring []geom.Px) []spot {
	out := make([]spot, len(ring))
	for i, q := range ring {
		out[i] = f.paper(q)
	}
	return out
}

func (f *faceView) rings(all []annotate.Polygon) (out [][]spot) {
	for _, p := range all {
		for n := range p.Rings() {
			out = append(out, f.ring(p.Ring(n)))
		}
	}
	return out
}

// put paints the face on a page: the turned picture, paper outside its border, tags covered.
func (f *faceView) put(p *page) {
	p.do(func(b brush) { b.picture(f.at, f.render) })
}

// corrected reports whether the picture leaves with its colours corrected, as the bench shows it. Sheets and packs say so.
func (f *faceView) corrected() bool { return f.plate.Colour != nil }

// render paints the face alone into a picture of w x h pixels.
func (f *faceView) render(w, h int) *image.RGBA {
	b := newPixels(w, h, f.at)
	f.resample(b)
	if f.corrected() {
		f.plate.Colour.Apply(b.m)
	}
	if len(f.plate.Border) > 0 {
		outside := [][]spot{f.at.inset(-1).corners()}
		for _, border := range f.plate.Border {
			outside = append(outside, f.ring(border.Outer))
		}
		b.fill(outside, paperWhite)
	}
	for _, r := range f.rings(f.plate.Mask) {
		b.fill([][]spot{r}, cover)
		b.line(r, true, 0.6, cover) // no blurred rim of what lies below
	}
	return b.m
}

// tile is the side in pixels of the pieces that a picture taken at a tilt is painted in; within one the map is
// as good as straight.
const tile = 32

// resample paints the photograph into b. A map without tilt or lens is one straight step; else each tile has its own.
func (f *faceView) resample(b *pixels) {
	size := b.m.Rect.Size()
	step := size
	if f.plate.Calibration.Status == photo.Rectified || f.toMM.Lens != nil {
		step = image.Pt(tile, tile)
	}
	source := func(x, y int) geom.Px {
		return f.px(spot{f.box.X + (float64(x)+0.5)/b.x/f.per, f.box.Y + (float64(y)+0.5)/b.y/f.per})
	}
	for y := 0; y < size.Y; y += step.Y {
		for x := 0; x < size.X; x += step.X {
			r := image.Rect(x, y, x+step.X, y+step.Y).Intersect(b.m.Rect)
			o, u, v := source(x, y), source(x+step.X, y), source(x, y+step.Y)
			w, h := float64(step.X), float64(step.Y)
			a := [6]float64{(u.X - o.X) / w, (v.X - o.X) / h, 0, (u.Y - o.Y) / w, (v.Y - o.Y) / h, 0}
			a[2] = o.X - a[0]*float64(x) - a[1]*float64(y)
			a[5] = o.Y - a[3]*float64(x) - a[4]*float64(y)
			f.picture.Draw(b.m.SubImage(r).(*image.RGBA), a)
		}
	}
}

// outlines draws the outlines of labels thinly, dark with a light rim, so that they show on any tissue.
func (f *faceView) outlines(p *page, marks []mark) {
	for _, c := range []struct {
		width float64
		c     color.RGBA
	}{{0.5, paperWhite}, {0.2, black}} {
		for _, m := range marks {
			for _, r := range f.rings(m.label.Regions) {
				p.do(func(b brush) { b.line(r, true, c.width, c.c) })
			}
		}
	}
}
