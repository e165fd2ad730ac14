package photo

import (
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Fault is something about a picture that could be better next time.
type Fault uint8

const (
	Glare      Fault = iota // white shine that hides tissue
	Blur                    // softer than the other pictures of the sitting
	Clipped                 // brighter than the camera can tell apart
	Coarse                  // too few pixels to a millimetre
	CutByFrame              // the face runs out of the picture
)

// Limits beyond which a picture gets advice; common practice, no source.
const (
	GlareLimit   = 0.005 // of the face
	ClippedLimit = 0.01  // of the face
	CoarseLimit  = 0.2   // mm per pixel
	BlurLimit    = 0.35  // of the sitting's median focus
)

var faultAdvice = [...]string{
	Glare:      "Dry the face, move the lamps lower and to the sides, or use crossed polarisers.",
	Blur:       "Focus on the face itself, close the lens by a stop or two, and use the self-timer.",
	Clipped:    "Expose less: the brightest tissue must stay below white.",
	Coarse:     "Bring the camera nearer, or take the face in the largest picture size.",
	CutByFrame: "Leave a finger's breadth of tray on every side of the face.",
}

// Advice says what to change at the stand.
func (f Fault) Advice() string {
	if int(f) < len(faultAdvice) {
		return faultAdvice[f]
	}
	return ""
}

// Finding is one fault of one picture. Value and Limit are in the units of the limit above it; Where holds the places,
// in pixels of the upright photograph, for marking.
type Finding struct {
	Fault Fault             `json:"fault"`
	Value float64           `json:"value"`
	Limit float64           `json:"limit"`
	Where []image.Rectangle `json:"where,omitempty"`
}

// Check is what was seen on a picture. It is advice only and bars nothing.
type Check struct {
	Glare    float64   `json:"glare"`   // share of the face
	Clipped  float64   `json:"clipped"` // share of the face
	Focus    float64   `json:"focus"`   // focusScore
	Findings []Finding `json:"findings,omitempty"`

	shine, white []image.Rectangle // places
	face         image.Rectangle   // bounds, px
	cut          []image.Rectangle // strips of the frame that the face runs into
}

const (
	checkSide  = 1000 // px, longer side of the picture that glare is sought in
	mostMarks  = 12   // places marked for one fault
	whiteLevel = 240  // brightest part from which a colourless pixel counts as glare
	colourless = 0.10 // HSV saturation
)

// Examine looks at the face within border (the whole picture when it has no rings) and judges it; see Judged.
func Examine(m *Image, border Border, c Calibration, sitting []float64) Check {
	return Measure(m, border).Judged(c, sitting)
}

// Measure looks at the face within border without judging it. It is the slow half of Examine, and needs nothing of
// what becomes known later: the scale, and the other pictures of the sitting.
func Measure(m *Image, border Border) Check {
	small := m.draft(checkSide)
	w, h := small.Rect.Dx(), small.Rect.Dy()
	scale := float64(m.size.X) / float64(w)
	face := fillRings(border.Rings, w, h, scale)
	shine, white := newMask(w, h), newMask(w, h)
	var area, glare, clipped float64
	for i, in := range face.in {
		if !in {
			continue
		}
		area++
		p := small.Pix[4*i:][:3]
		if shines(p) {
			shine.in[i] = true
			glare++
		}
		if max(p[0], p[1], p[2]) >= 254 {
			white.in[i] = true
			clipped++
		}
	}
	return Check{Glare: glare / max(area, 1), Clipped: clipped / max(area, 1), Focus: focusScore(m, face, scale),
		shine: shine.places(scale), white: white.places(scale), face: face.bounds(scale), cut: cutSides(border.Cut, m.size)}
}

// shines reports whether the pixel that p begins with counts as glare: bright and colourless.
func shines(p []uint8) bool {
	top, low := max(p[0], p[1], p[2]), min(p[0], p[1], p[2])
	return top >= whiteLevel && float64(top-low) <= colourless*float64(top)
}

// Judged holds what Measure saw against the limits. calibration may be Nominal: then coarseness is not judged. sitting
// holds the focus of the other pictures taken on the same stand; with fewer than three of them blur is not judged.
func (c Check) Judged(calibration Calibration, sitting []float64) Check {
	c.Findings = nil
	find := func(f Fault, value, limit float64, where []image.Rectangle) {
		c.Findings = append(c.Findings, Finding{f, value, limit, where})
	}
	if c.Glare > GlareLimit {
		find(Glare, c.Glare, GlareLimit, c.shine)
	}
	if len(sitting) >= 3 {
		if usual := median(sitting); c.Focus < BlurLimit*usual {
			find(Blur, c.Focus/usual, BlurLimit, []image.Rectangle{c.face})
		}
	}
	if c.Clipped > ClippedLimit {
		find(Clipped, c.Clipped, ClippedLimit, c.white)
	}
	middle := geom.Px{X: float64(c.face.Min.X+c.face.Max.X) / 2, Y: float64(c.face.Min.Y+c.face.Max.Y) / 2}
	if size := calibration.PixelSize(middle); size > CoarseLimit {
		find(Coarse, size, CoarseLimit, nil)
	}
	if c.cut != nil {
		find(CutByFrame, float64(len(c.cut)), 0, c.cut)
	}
	return c
}

// cutSides are strips along the sides of the frame, a fiftieth of the picture deep.
func cutSides(cut [4]bool, size image.Point) (where []image.Rectangle) {
	d := max(1, max(size.X, size.Y)/50)
	for side, r := range [4]image.Rectangle{
		image.Rect(0, 0, d, size.Y), image.Rect(0, 0, size.X, d),
		image.Rect(size.X-d, 0, size.X, size.Y), image.Rect(0, size.Y-d, size.X, size.Y),
	} {
		if cut[side] {
			where = append(where, r)
		}
	}
	return where
}

// fillRings marks the pixels of a small picture whose centres lie inside the rings (even-odd), scale photo pixels to
// one of the small; all of them when there is no ring.
func fillRings(rings [][]geom.Px, w, h int, scale float64) mask {
	m := newMask(w, h)
	if len(rings) == 0 {
		for i := range m.in {
			m.in[i] = true
		}
		return m
	}
	var cross []float64
	for y := range h {
		cross = cross[:0]
		at := (float64(y)+0.5)*scale - 0.5
		for _, ring := range rings {
			for i, p := range ring {
				q := ring[(i+1)%len(ring)]
				if (p.Y > at) != (q.Y > at) {
					x := p.X + (at-p.Y)/(q.Y-p.Y)*(q.X-p.X)
					cross = append(cross, (x+0.5)/scale-0.5)
				}
			}
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			for x := int(max(0, math.Ceil(cross[i]))); x < w && float64(x) < cross[i+1]; x++ {
				m.in[y*w+x] = true
			}
		}
	}
	return m
}

// places are the bounds of the largest connected parts in photo pixels.
func (m mask) places(scale float64) (where []image.Rectangle) {
	for _, p := range m.grown(1).pieces() {
		if where = append(where, p.photo(scale)); len(where) == mostMarks {
			break
		}
	}
	return where
}

func (p facePiece) photo(scale float64) image.Rectangle {
	at := func(v int) int { return int(float64(v) * scale) }
	return image.Rect(at(p.x0), at(p.y0), at(p.x1+1), at(p.y1+1))
}

func (m mask) bounds(scale float64) image.Rectangle {
	p := facePiece{x0: m.w, y0: m.h, x1: -1, y1: -1}
	for i, in := range m.in {
		if in {
			x, y := i%m.w, i/m.w
			p.x0, p.y0, p.x1, p.y1 = min(p.x0, x), min(p.y0, y), max(p.x1, x), max(p.y1, y)
		}
	}
	if p.x1 < 0 {
		return image.Rectangle{}
	}
	return p.photo(scale)
}

const focusTile = 48 // px of the photograph

// focusScore is the variance of the Laplacian of luma, relative to the brightness, in tiles of the face at full
// resolution; of the tiles the upper quartile counts, so that smooth fat does not pass for blur (variance of the
// Laplacian as a focus measure: Pech-Pacheco and others, ICPR 2000). Scores compare within one stand only.
func focusScore(m *Image, face mask, scale float64) float64 {
	var scores []float64
	step := max(1, min(face.w, face.h)/16)
	tile := image.NewRGBA(image.Rect(0, 0, focusTile, focusTile))
	for y := step / 2; y < face.h; y += step {
		for x := step / 2; x < face.w; x += step {
			if !face.at(x, y) {
				continue
			}
			left, top := math.Round(float64(x)*scale)-focusTile/2, math.Round(float64(y)*scale)-focusTile/2
			if left < 0 || top < 0 || int(left)+focusTile > m.size.X || int(top)+focusTile > m.size.Y {
				continue
			}
			m.Draw(tile, [6]float64{1, 0, left, 0, 1, top})
			scores = append(scores, laplaceVariance(tile))
		}
	}
	if len(scores) == 0 {
		return 0
	}
	slices.Sort(scores)
	return scores[len(scores)*3/4]
}

func laplaceVariance(m *image.RGBA) float64 {
	g := greyOf(m)
	var n, sum, squares, light float64
	for y := 1; y < g.h-1; y++ {
		for x := 1; x < g.w-1; x++ {
			c := g.at(x, y)
			d := g.at(x-1, y) + g.at(x+1, y) + g.at(x, y-1) + g.at(x, y+1) - 4*c
			n, sum, squares, light = n+1, sum+d, squares+d*d, light+c
		}
	}
	mean := sum / n
	bright := light/n + 8 // dark tiles are mostly noise
	return (squares/n - mean*mean) / (bright * bright)
}
