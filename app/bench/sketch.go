package bench

import (
	"image"
	"image/color"
	"math"
	"strings"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// Outlines of a standing body in a box 100 high, x from the middle: one half from the front, and the whole from its
// right side looking left. They only tell where a slab lies; drawn by us, no proportions are claimed.
var (
	bodyHalf = []geom.Px{{X: 2.2, Y: 12}, {X: 2.6, Y: 15}, {X: 9.5, Y: 18}, {X: 12, Y: 22}, {X: 13.6, Y: 32}, {X: 15.6, Y: 44}, {X: 16, Y: 50.5},
		{X: 14, Y: 51}, {X: 13, Y: 44}, {X: 11, Y: 34}, {X: 9.4, Y: 26.5}, {X: 8.4, Y: 36}, {X: 9.9, Y: 46}, {X: 10.2, Y: 53}, {X: 9, Y: 66}, {X: 7.6, Y: 76},
		{X: 6.6, Y: 92}, {X: 8.2, Y: 97.5}, {X: 3.6, Y: 98.5}, {X: 3.2, Y: 92}, {X: 3, Y: 76}, {X: 2, Y: 62}, {X: 0.6, Y: 53.5}}
	bodySide = []geom.Px{{X: -1.8, Y: 12}, {X: -2.2, Y: 15}, {X: -5.6, Y: 22}, {X: -6.2, Y: 29}, {X: -5.2, Y: 35}, {X: -6.4, Y: 44}, {X: -5, Y: 52}, {X: -4.6, Y: 64},
		{X: -3.4, Y: 74}, {X: -2.6, Y: 91}, {X: -8, Y: 97}, {X: -8, Y: 98.6}, {X: 3.6, Y: 98.6}, {X: 2.8, Y: 91}, {X: 4.6, Y: 80}, {X: 3.2, Y: 72}, {X: 5.6, Y: 60}, {X: 6.8, Y: 51},
		{X: 3.8, Y: 41}, {X: 5.8, Y: 27}, {X: 4.4, Y: 17}, {X: 2.6, Y: 12}}
)

// partSpans says which share of the body's height, from the top, the words for a body part mean. Rough on purpose.
var partSpans = []struct {
	word     string
	from, to float64
}{
	{"head", 0, 13}, {"neck", 11, 17}, {"thorax", 17, 34}, {"chest", 17, 34}, {"abdomen", 33, 45}, {"pelvis", 43, 54},
	{"trunk", 17, 53}, {"leg", 53, 98}, {"thigh", 53, 74}, {"knee", 70, 78}, {"foot", 92, 99}, {"arm", 18, 50}, {"hand", 44, 51}, {"body", 0, 98},
}

func partSpan(part string) (from, to float64) {
	part = strings.ToLower(part)
	from, to = 100, 0
	for _, s := range partSpans {
		if strings.Contains(part, s.word) {
			from, to = math.Min(from, s.from), math.Max(to, s.to)
		}
	}
	if from > to {
		return 17, 53
	}
	return from, to
}

// sketchSize is how large the sketch may be in a pane, px.
func (r brush) sketchSize(in image.Rectangle) (w, h int) {
	k := math.Min(1, math.Min(float64(in.Dx())/r.u(92*6.5), float64(in.Dy())/r.u(132*4)))
	return r.n(92 * k), r.n(132 * k)
}

// sketch draws, in box, a small body with the slab of face f and the eye that sees it.
func (r brush) sketch(box image.Rectangle, run section.Run, f section.Face) {
	w, h := box.Dx(), box.Dy()
	if w < 44 || run.Plane == section.UnknownPlane {
		return
	}
	ink.RoundRect(r.dst, box, r.u(4), dark())
	k := float64(h) / 112
	cx, top := float64(box.Min.X+box.Max.X)/2, float64(box.Min.Y)+6*k
	at := func(x, y float64) geom.Px { return geom.Px{X: cx + k*x, Y: top + k*y} }
	r.body(at, k, run.Plane == section.Frontal)

	depth, _, err := run.Depth(f)
	if err != nil {
		return
	}
	share := depth / math.Max(run.Extent(), 1)
	if run.First != run.Plane.Faces()[0] {
		share = 1 - share // counted from the upper, front or left end
	}
	i, _ := indexOf(run, f.Slab)
	thick := run.Slabs[i].Mean() / math.Max(run.Extent(), 1)
	inward := -1.0 // the slab lies behind the face as seen by the eye
	if f.Facing == run.Plane.Faces()[0] {
		inward = 1
	}
	c := r.pal.ChosenOnDark
	from, to := partSpan(run.Part)
	switch run.Plane {
	case section.Transverse:
		y := from + share*(to-from)
		t := math.Max(thick*(to-from), 1.2)
		left, right := pieceSpan(run)
		r.slabMark(at(left, y), at(right, y), at(0, y+inward*t), at(21, y-inward*9), k, c)
	case section.Frontal: // seen from the right side, front at the left
		x := -6.5 + share*13
		t := math.Max(thick*13, 1.2)
		r.slabMark(at(x, from-3), at(x, to+3), at(x+inward*t, 0), at(x-inward*14, (from+to)/2), k, c)
	case section.Sagittal: // seen from the front, the donor's left at the right
		left, right := -10.0, 10.0
		if run.Half != section.UnknownFacing || run.Limb != section.NoLimb {
			left, right = pieceSpan(run)
		}
		x := right - share*(right-left)
		t := math.Max(thick*(right-left), 1.2)
		r.slabMark(at(x, from-3), at(x, to+3), at(x-inward*t, 0), at(x+inward*14, (from+to)/2), k, c)
	}
}

// pieceSpan is how far, in the box of the body seen from the front, the run reaches across: the donor's right is at the left.
func pieceSpan(run section.Run) (from, to float64) {
	from, to = 0, 17.5
	switch run.Limb {
	case section.RightUpper, section.LeftUpper:
		from = 8
	case section.RightLower, section.LeftLower:
		to = 11
	case section.NoLimb:
		if run.Half == section.UnknownFacing {
			return -17.5, 17.5
		}
	}
	if run.Half == section.Right || run.Limb.Side() == section.Right {
		return -to, -from
	}
	return from, to
}

// body draws the outline of a body.
func (r brush) body(at func(x, y float64) geom.Px, k float64, side bool) {
	line, fill := ink.Fade(r.pal.OnDarkLo, 0.9), ink.Fade(r.pal.OnDarkLo, 0.22)
	var ring, head []geom.Px
	rx, ry, hx := 4.4, 6.2, 0.0
	if side {
		rx, hx = 5.2, -0.6
		for _, p := range bodySide {
			ring = append(ring, at(p.X, p.Y))
		}
	} else {
		for _, p := range bodyHalf {
			ring = append(ring, at(p.X, p.Y))
		}
		for i := len(bodyHalf) - 1; i >= 0; i-- {
			ring = append(ring, at(-bodyHalf[i].X, bodyHalf[i].Y))
		}
	}
	for i := range 24 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 24)
		head = append(head, at(hx+rx*cos, 6.4+ry*sin))
	}
	for _, p := range [2][]geom.Px{head, ring} {
		ink.Fill(r.dst, [][]geom.Px{p}, fill)
		ink.Stroke(r.dst, p, true, math.Max(1, 0.7*k), line, nil)
	}
}

// slabMark draws the chosen face from a to z, its slab up to the line through back, and the eye looking at it.
func (r brush) slabMark(a, z, back, eye geom.Px, k float64, c color.RGBA) {
	b, y := a, z
	if a.Y == z.Y {
		b.Y, y.Y = back.Y, back.Y
	} else {
		b.X, y.X = back.X, back.X
	}
	ink.Fill(r.dst, [][]geom.Px{{a, z, y, b}}, ink.Fade(c, 0.45))
	ink.Line(r.dst, a, z, r.u(2), c)
	r.eye(eye, 5*k, c)
}

// eye draws an eye of half width s.
func (r brush) eye(at geom.Px, s float64, c color.RGBA) {
	lid := make([]geom.Px, 0, 26)
	for i := range 13 {
		t := float64(i)/6 - 1
		lid = append(lid, geom.Px{X: at.X + s*t, Y: at.Y - 0.62*s*(1-t*t)})
	}
	for i := range 13 {
		t := 1 - float64(i)/6
		lid = append(lid, geom.Px{X: at.X + s*t, Y: at.Y + 0.62*s*(1-t*t)})
	}
	ink.Stroke(r.dst, lid, true, math.Max(1, s/5), c, nil)
	ink.Disc(r.dst, at, s*0.3, c)
}
