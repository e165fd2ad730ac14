package bench

import (
	"image"
	"image/color"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// offFaceWords says where a cut lies that was stepped off the face.
func (b *Bench) offFaceWords() string {
	run := b.Run()
	depth, _, err := run.Depth(b.Face())
	if err != nil {
		return ""
	}
	at := depth + b.ScanStep()
	in, ok := run.Inside(at)
	switch {
	case ok:
		return Word("off.inside", upperFirst(in.Words(run.First)))
	case at < 0:
		return Word("off.before", -at)
	}
	return Word("off.after", at-run.Extent())
}

// offFace reports whether the cut shown lies off the face, so that the photograph does not show it.
func (b *Bench) offFace() bool { return b.screen == PairingScreen && b.pair.step != 0 }

// paintFaded takes the photograph back while the scan shows a place that was never photographed, and says so on a hatched
// strip.
func (f *facePane) paintFaded(r brush) {
	dst := &f.part
	ink.Bands(dst, func(part *image.RGBA) { ink.FillRect(part, part.Rect, ink.Fade(f.b.pal.Surround, 0.66)) })
	r.hatchedNote(f.in, f.b.offFaceWords())
}

// hatchedNote writes words on a hatched strip across the middle of in, as wide as they need.
func (r brush) hatchedNote(in image.Rectangle, words string) {
	size := float64(bodyText)
	width := 0.8 * float64(in.Dx())
	lines := r.wrap(r.bold, size, width-r.u(28), words)
	wide := 0.0
	for _, l := range lines {
		wide = max(wide, r.width(r.bold, size, l))
	}
	h := r.lineHeight(size)
	box := image.Rect(0, 0, int(wide+r.u(28)), int(h*float64(len(lines))+r.u(16)))
	box = box.Add(image.Pt((in.Min.X+in.Max.X-box.Dx())/2, in.Min.Y+in.Dy()/4)).Intersect(in)
	x0, y0, x1, y1 := float64(box.Min.X), float64(box.Min.Y), float64(box.Max.X), float64(box.Max.Y)
	rings := [][]geom.Px{{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}}
	ink.FillHatched(r.dst, rings, ink.Fade(color.RGBA{0x14, 0x13, 0x12, 255}, 0.9), ink.Rising, r.u(9), ink.Fade(r.pal.OnDarkLo, 0.22))
	y := y0 + r.u(8) + h/2
	for _, l := range lines {
		r.centred(r.bold, (x0+x1)/2, y, size, r.pal.OnDark, l)
		y += h
	}
}
