package bench

import (
	"context"
	"image"
	"image/color"
	"math"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
)

// fitSpacing is the pixel of the picture handed to the fit, mm: the fit's finest step is one mm.
const fitSpacing = 0.7

// needFit says why the face cannot be fitted by content now.
func needFit(b *Bench) string {
	if ok, why := b.PairingReady(); !ok {
		return why
	}
	if b.pair.volume == nil || b.doc.picture == nil || !b.doc.whole {
		return Word("fit.reading")
	}
	return ""
}

// FitByContent lays the chosen face by what face and scan both show, from where the cut shown lies, as a job. It is one step
// to take back, and landmarks that it would leave worse than they are stay.
func (b *Bench) FitByContent() { b.fitContent(false) }

// FollowSag fits the chosen face again from its fit by content, now letting it bend within its plane. The landmarks have the last
// word, as for FitByContent, and a bend stronger than sag can be is not kept.
func (b *Bench) FollowSag() { b.fitContent(true) }

// needSag says why sag cannot be followed now: it is a second step.
func needSag(b *Bench) string {
	if why := needFit(b); why != "" {
		return why
	}
	return when(!b.Fitted(), "sag.first")
}

// nearby is how far off a fit by content may still be when the face is let bend.
var nearby = register.Rough{Shift: 2, Level: 1.5, Tilt: 1.5 * math.Pi / 180, Turn: math.Pi / 180, Stretch: 0.01}

func (b *Bench) fitContent(bend bool) {
	need := needFit
	if bend {
		need = needSag
	}
	if why := need(b); why != "" {
		b.hint(why, true)
		return
	}
	d := b.doc
	if d.fitting != nil {
		b.hint(Word("fit.running"), true)
		return
	}
	p := d.plate()
	start, ok := b.startOfFit(p)
	if !ok {
		b.hint(Word("hint.level"), true)
		return
	}
	picture, volume := d.picture, b.pair.volume
	o, name := register.Options{}, Word("job.fit")
	if bend {
		o, name = register.Options{Bend: true, Rough: nearby}, Word("job.sag")
	}
	d.fitting = b.startTelling(name, func(ctx context.Context, say func(share float64, doing string)) (func(), error) {
		r, err := fitPlate(ctx, p, start, picture, volume, o, say)
		return func() {
			d.fitting = nil
			if err == nil {
				b.fitted(d, p, start, r, bend)
			}
			b.changed(ScanChanged)
		}, err
	})
	b.changed(ScanChanged)
}

// startOfFit is where the cut shown lies, as a registration of the face's own mm.
func (b *Bench) startOfFit(p atlas.Plate) (r register.Registration, ok bool) {
	pose, how, ok := b.cutPose()
	f, scaled := frameOfFace(p)
	if !ok || !scaled || how == freely && b.pair.step == 0 && len(b.pair.tied.Levels) == 0 {
		return r, false
	}
	if p.Registration != nil && p.Registration.Series == b.pair.series {
		r = *p.Registration
	}
	r.Series = b.pair.series
	r.Pose = f.back(pose)
	return r, true
}

// back turns a pose of picture mm into one of the face's mm; it undoes pose.
func (f pictureFrame) back(p geom.Pose) geom.Pose {
	return pictureFrame{right: geom.MM{X: f.right.X, Y: -f.right.Y}}.pose(p)
}

// fitted keeps what a fit found, unless the landmarks speak against it or the face changed meanwhile.
func (b *Bench) fitted(d *faceDoc, was atlas.Plate, start, r register.Registration, bend bool) {
	p := d.plate()
	switch {
	case b.docs[p.ID] != d || b.writable() != nil:
		return
	case p.Registration != was.Registration || p.Face != was.Face || !p.Calibration.Map().Equal(was.Calibration.Map()) ||
		p.PhotoUp != was.PhotoUp || p.Mirrored != was.Mirrored:
		b.hint(Word("fit.moved"), true)
		return
	case r.Method != register.ByRefined || r.Pose == start.Pose:
		b.hint(Word("fit.keptties", upperFirst(r.Status)), true)
		return
	}
	step, done := Word("step.fit"), Word("fit.done", r.Steps)
	if bend {
		if words := sagRefused(start, r); words != "" {
			b.hint(words, true)
			return
		}
		step, done = Word("step.sag"), b.sagWords(p, r)
	}
	p.Registration = &r
	d.hist.Do(step, "", d.full(p))
	b.rule.facts[p.Face] = factOf(p)
	b.relaidOf(p)
	b.touch(d)
	if d == b.doc {
		b.pair.step = 0
		b.hint(done, false)
	}
	b.changed(PlateChanged | RunChanged | ScanChanged | SelectionChanged | SavedChanged | PreviewChanged)
}

// unfitted is how a plate lay before it was fitted by content: by its landmarks, nil when by its level at most.
func unfitted(p atlas.Plate) *register.Registration {
	if p.Registration == nil || p.Registration.Method != register.ByRefined {
		return p.Registration
	}
	if p.Registration.Warp != nil { // as it lay before it was let bend
		flat := *p.Registration
		flat.Warp = nil
		return &flat
	}
	q, err := p.Lay(p.Registration.Series, p.Registration.Ties, false)
	if err != nil {
		return nil
	}
	return q.Registration
}

// Fitted reports whether the chosen face lies as it was fitted by content.
func (b *Bench) Fitted() bool {
	r := b.kept()
	return r != nil && r.Method == register.ByRefined
}

// fittedWords tell how good a fit by content is; the landmarks, which it was not fitted to, are the check.
func (b *Bench) fittedWords(r register.Registration) string {
	words := Word("fit.content", r.Steps, r.Score)
	if r.Warp != nil {
		p, _ := b.Plate()
		words = b.sagWords(p, r)
	}
	if len(r.Fit.Each) == 0 {
		return words + " " + Word("fit.content.noties")
	}
	return words + " " + Word("fit.content.ties", r.Fit.RMS, r.Fit.Max)
}

// sagRefused says why a face that was let bend stays flat: it would not bend, or its landmarks would lie worse than without.
func sagRefused(flat, r register.Registration) string {
	const slack = 0.1 // mm: less than a landmark can be picked to
	switch {
	case r.Warp == nil:
		return Word("sag.flat")
	case len(r.Fit.Each) > 0 && r.Fit.RMS > flat.Fit.RMS+slack:
		return Word("sag.worse", r.Fit.RMS, flat.Fit.RMS)
	}
	return ""
}

// sagWords tell how far a face bends within its plane, over its edge and middle, and how much its lengths change at most.
func (b *Bench) sagWords(p atlas.Plate, r register.Registration) string {
	far, strain := 0.0, 0.0
	for _, m := range bentPlaces(p) {
		far = math.Max(far, r.Warp.At(m).Dist(m)*r.Pose.Scale)
		strain = math.Max(strain, r.Warp.Strain(m))
	}
	return Word("sag.done", far, 100*strain, 100*register.StrainLimit)
}

// bentPlaces are places over the face of a plate, in face mm: a grid over the inner part of its picture.
func bentPlaces(p atlas.Plate) (out []geom.MM) {
	h, ok := p.FaceMM()
	if !ok {
		return nil
	}
	size := p.Photo.Size
	in := func(q geom.Px) bool { return true }
	if len(p.Border) > 0 {
		in = func(q geom.Px) bool {
			return slices.ContainsFunc(p.Border, func(x annotate.Polygon) bool { return x.Contains(q) })
		}
	}
	const across = 24
	for j := range across {
		for i := range across {
			q := geom.Px{X: (0.2 + 0.6*float64(i)/(across-1)) * float64(size.X), Y: (0.2 + 0.6*float64(j)/(across-1)) * float64(size.Y)}
			if in(q) {
				out = append(out, h.MM(q))
			}
		}
	}
	return out
}

// fitPlate fits a face to a volume by content. It runs away from the event loop and touches nothing of the bench.
func fitPlate(ctx context.Context, p atlas.Plate, from register.Registration, picture *photo.Image, v *scan.Volume, o register.Options, say func(share float64, doing string)) (register.Registration, error) {
	grey, inside, corner, err := greyFace(p, picture, fitSpacing)
	if err != nil {
		return from, err
	}
	o.Corner, o.Inside, o.Advance = corner, inside, say
	return register.Refine(ctx, from, grey, fitSpacing, v, o)
}

// mostGrey bounds the side of the grey picture of a face in pixels.
const mostGrey = 2000

// greyFace is the face in grey on the grid of its own mm, spacing mm a pixel, from corner on, and which pixels show the body:
// inside the border that was drawn, else inside the one that stands out from the tray, without the tags.
func greyFace(p atlas.Plate, m *photo.Image, spacing float64) (grey *image.Gray, inside *image.Alpha, corner geom.MM, err error) {
	h, ok := p.FaceMM()
	if !ok {
		return nil, nil, corner, photo.ErrNoScale
	}
	border := p.Border
	if len(border) == 0 {
		found, err := photo.FaceBorder(m)
		if err != nil {
			return nil, nil, corner, err
		}
		for _, ring := range found.Rings {
			border = append(border, annotate.Polygon{Outer: ring})
		}
	}
	lo, hi := geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	toGrid := func(q geom.Px) geom.Px {
		at := h.MM(q)
		return geom.Px{X: (at.X - corner.X) / spacing, Y: (at.Y - corner.Y) / spacing}
	}
	for _, poly := range border {
		for _, q := range poly.Outer {
			at := h.MM(q)
			lo = geom.MM{X: math.Min(lo.X, at.X), Y: math.Min(lo.Y, at.Y)}
			hi = geom.MM{X: math.Max(hi.X, at.X), Y: math.Max(hi.Y, at.Y)}
		}
	}
	const margin = 4.0 // mm of tray round the face: where the body ends is content too
	corner = geom.MM{X: lo.X - margin, Y: lo.Y - margin}
	w, high := (hi.X-lo.X+2*margin)/spacing, (hi.Y-lo.Y+2*margin)/spacing
	if !(w >= 8 && high >= 8 && w <= mostGrey && high <= mostGrey) {
		return nil, nil, corner, register.ErrNothingToSee
	}
	box := image.Rect(0, 0, int(w), int(high))
	shapes := make([]annotate.Polygon, len(border))
	for i, poly := range border {
		shapes[i] = poly.Map(toGrid)
	}
	body := annotate.Rasterise(shapes, box).SignedDistance(spacing, spacing)
	tags := make([]annotate.Polygon, len(p.Mask))
	for i, poly := range p.Mask {
		tags[i] = poly.Map(toGrid)
	}
	covered := annotate.Rasterise(tags, box)
	grey, inside = image.NewGray(box), image.NewAlpha(box)
	size := p.Photo.Size
	per := math.Sqrt(math.Abs(determinant(h.Jacobian(p.MiddlePx())))) // mm a pixel of the photograph
	small := m.Preview(max(64, int(float64(max(size.X, size.Y))*math.Min(1, per/spacing))))
	kx, ky := float64(small.Rect.Dx())/float64(size.X), float64(small.Rect.Dy())/float64(size.Y)
	for y := range box.Max.Y {
		for x := range box.Max.X {
			q := h.Px(geom.MM{X: corner.X + float64(x)*spacing, Y: corner.Y + float64(y)*spacing})
			grey.SetGray(x, y, greyAt(small, (q.X+0.5)*kx-0.5, (q.Y+0.5)*ky-0.5))
			if body[y*box.Max.X+x] > -margin && !covered.At(x, y) {
				inside.SetAlpha(x, y, color.Alpha{A: 255})
			}
		}
	}
	return grey, inside, corner, nil
}

func determinant(j [4]float64) float64 { return j[0]*j[3] - j[1]*j[2] }

// greyAt is the brightness of m between its pixels; beyond the edge the edge goes on.
func greyAt(m *image.RGBA, x, y float64) color.Gray {
	if math.IsNaN(x + y) {
		return color.Gray{}
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	x, y = math.Max(0, math.Min(x, float64(w-1))), math.Max(0, math.Min(y, float64(h-1)))
	i, j := int(x), int(y)
	u, v := x-float64(i), y-float64(j)
	at := func(i, j int) float64 {
		c := m.Pix[m.PixOffset(min(i, w-1), min(j, h-1)):][:3]
		return 0.299*float64(c[0]) + 0.587*float64(c[1]) + 0.114*float64(c[2]) // Rec. 601 luma
	}
	return color.Gray{Y: uint8((1-v)*((1-u)*at(i, j)+u*at(i+1, j)) + v*((1-u)*at(i, j+1)+u*at(i+1, j+1)) + 0.5)}
}
