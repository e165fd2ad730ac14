package quiz

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

const (
	cutStep   = 0.5 // mm of face from one pixel of a scan cut to the next
	cutMost   = 1600
	cutMargin = 5.0 // mm of scan shown round the face
	crossHalf = 130 // mm to either side of the tip in a cut that crosses the face
)

// sight is what a station shows, ready to be painted: a face, or a scan cut dressed as one.
type sight struct {
	plate   atlas.Plate // of the label that is asked
	run     section.Run
	face    *faceView
	to      func(geom.Px) geom.Px // from pixels of the upright photograph to those of the picture
	labels  []annotate.Label      // in pixels of the picture; of a crossing cut none but the tips are known
	crosses bool
	pose    geom.Pose // of a cut: its first pixel at the origin
	step0   float64   // of a cut: mm of face from one pixel to the next
	donor   atlas.Donor
}

// darkroom develops the pictures of an exam one after the other; it holds the scan used last.
type darkroom struct {
	Board
	noTags bool
	scans  lastScan
}

// sight prepares the picture of a station with all its pixels.
func (d *darkroom) sight(ctx context.Context, p Picture) (*sight, error) {
	s, err := d.outlineSight(p, d.noTags)
	if err != nil {
		return nil, err
	}
	if p.Kind == FacePicture {
		s.face.picture, err = d.Lib.Photo(ctx, p.Plate)
		return s, err
	}
	v, err := d.scans.volume(ctx, d.Lib, p.Series)
	if err != nil {
		return nil, err
	}
	return s, s.expose(v, p.Window)
}

// lastScan holds the scan used last.
type lastScan struct{ held *scan.Volume }

func (l *lastScan) volume(ctx context.Context, lib *atlas.Library, uid string) (v *scan.Volume, err error) {
	if l.held == nil || l.held.UID != uid {
		l.held = nil // before the next is read, so that never two are held
		if v, err = lib.Volume(ctx, uid); err != nil {
			return nil, err
		}
		l.held = v
	}
	return l.held, nil
}

// outlineSight is a picture without its pixels: where everything lies.
func (b Board) outlineSight(p Picture, noTags bool) (*sight, error) {
	s, err := b.plan(p, noTags)
	if err != nil {
		return nil, err
	}
	if p.Kind == ScanPicture {
		err = s.dress(p)
	} else {
		s.face, err = newFaceView(s.plate, nil, p.View)
	}
	if err != nil {
		return nil, err
	}
	s.crop(p.Crop)
	return s, nil
}

// plan reads what a picture shows without decoding it, and refuses what may not be shown.
func (b Board) plan(p Picture, noTags bool) (*sight, error) {
	plate, err := b.Lib.Plate(p.Plate)
	if errors.Is(err, atlas.ErrNotFound) {
		return nil, refusal("There is no face " + p.Plate + " in this lab.")
	}
	if err != nil {
		return nil, err
	}
	s := &sight{plate: plate, to: func(q geom.Px) geom.Px { return q }, labels: slices.Collect(plate.Labels.All()), crosses: p.Pose != nil}
	if err := showable(plate, noTags || p.Kind == ScanPicture); err != nil {
		return nil, err
	}
	if s.donor, err = b.Lib.Donor(plate.Donor); err != nil {
		return nil, err
	}
	if s.run, err = b.Lib.Run(plate.Face.Run); err != nil {
		return nil, err
	}
	if p.Kind != FacePicture && p.Kind != ScanPicture {
		return nil, refusal(fmt.Sprintf("%q is no kind of picture; there are face and scan.", p.Kind))
	}
	return s, nil
}

// label is a label in pixels of the picture.
func (s *sight) label(id string) (annotate.Label, bool) {
	i := slices.IndexFunc(s.labels, func(x annotate.Label) bool { return x.ID == id })
	if i < 0 {
		return annotate.Label{}, false
	}
	return s.labels[i], true
}

// candidate is a label of the picture as it is asked there.
func (s *sight) candidate(p Picture, x annotate.Label, term annotate.Term) Candidate {
	return Candidate{Picture: p, Label: x.ID, Donor: s.plate.Donor, Face: s.plate.Face, Plane: s.face.plate.Face.Facing.Plane(), Term: term, Side: x.Side}
}

// crop narrows what is shown.
func (s *sight) crop(c *Crop) {
	if c == nil {
		return
	}
	var lo, hi spot
	for i, q := range []geom.Px{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}} {
		v := s.face.view(s.to(q))
		if i == 0 {
			lo, hi = v, v
		}
		lo, hi = spot{math.Min(lo.X, v.X), math.Min(lo.Y, v.Y)}, spot{math.Max(hi.X, v.X), math.Max(hi.Y, v.Y)}
	}
	box := s.face.box
	lo, hi = spot{math.Max(lo.X, box.X), math.Max(lo.Y, box.Y)}, spot{math.Min(hi.X, box.right()), math.Min(hi.Y, box.bottom())}
	if hi.X-lo.X > 1 && hi.Y-lo.Y > 1 {
		s.face.box = area{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y}
	}
}

// placing is how a face lies in a series, well enough to carry its outlines there.
func placing(p atlas.Plate, series string) (register.Registration, error) {
	r := p.Registration
	name := capital(p.Face.Name())
	switch {
	case r == nil || r.Series != series:
		return register.Registration{}, refusal(name + ": it is not laid in that scan by landmarks.")
	case r.Method == register.ByLevel:
		return register.Registration{}, refusal(name + ": it is placed in the scan by level alone, so its outlines cannot be carried there.")
	}
	return *r, nil
}

// dress lays a cut of the scan along the face, or across it, and dresses it as a face: a plate of its own with a scale,
// letters and the outlines carried over.
func (s *sight) dress(p Picture) error {
	reg, err := placing(s.plate, p.Series)
	if err != nil {
		return err
	}
	toMM, scaled := s.plate.FaceMM()
	if !scaled {
		return refusal(capital(s.run.Name(s.plate.Face)) + ": it has no scale.")
	}
	pose, box, facing, up := s.along(reg, toMM)
	if p.Pose != nil {
		pose, facing = *p.Pose, p.Facing
		box, up = area{-crossHalf, -crossHalf, 2 * crossHalf, 2 * crossHalf}, usualUp(facing)
	}
	step := math.Max(cutStep, math.Max(box.W, box.H)/cutMost)
	if !(step < 10) { // of a pose or a scale that cannot be
		return refusal(capital(s.run.Name(s.plate.Face)) + ": its place in the scan cannot be.")
	}
	s.step0, s.pose = step, pose
	s.pose.Origin = pose.At(geom.MM{X: box.X, Y: box.Y})
	dressed := atlas.Plate{ID: s.plate.ID, Donor: s.plate.Donor, Face: s.plate.Face, PhotoUp: up, Mirrored: atlas.No, Synthetic: s.plate.Synthetic,
		Calibration: photo.Calibration{Status: photo.Scaled, ToMM: geom.Homography{step, 0, box.X, 0, step, box.Y, 0, 0, 1}}}
	dressed.Face.Facing = facing
	dressed.Photo.Size = image.Pt(int(math.Ceil(box.W/step)), int(math.Ceil(box.H/step)))
	s.to = func(q geom.Px) geom.Px {
		foot, _ := pose.Project(reg.At(toMM.MM(q)))
		return geom.Px{X: (foot.X - box.X) / step, Y: (foot.Y - box.Y) / step}
	}
	s.carry()
	s.face, err = newFaceView(dressed, nil, p.View)
	return err
}

// expose fills a dressed cut with the scan.
func (s *sight) expose(v *scan.Volume, w *scan.Window) error {
	window, err := windowOf(v, w)
	if err != nil {
		return err
	}
	size := s.face.plate.Photo.Size
	values := make([]float32, size.X*size.Y)
	v.Slice(values, size.X, size.Y, s.pose, s.step0)
	s.face.picture = photo.NewImage(window.Gray(values, size.X, size.Y))
	return nil
}

// windowOf is the window wished for, nil: the scan's own.
func windowOf(v *scan.Volume, wish *scan.Window) (scan.Window, error) {
	w := v.StartWindow()
	if wish != nil {
		w = *wish
	}
	if err := w.Check(); err != nil {
		return w, refusal("The window of the scan cannot be used: " + err.Error() + ".")
	}
	return w, nil
}

// along is a pose on the face with axes along the picture's right and down, and the box of the face in it.
func (s *sight) along(reg register.Registration, toMM photo.Mapping) (pose geom.Pose, box area, facing, up section.Facing) {
	mid := s.plate.MiddlePx()
	o := toMM.MM(mid)
	j := toMM.Jacobian(mid)
	right := geom.MM{X: j[0], Y: j[2]}
	if s.plate.Mirrored == atlas.Yes { // picture right of the picture turned back
		right = geom.MM{X: -right.X, Y: -right.Y}
	}
	n := math.Hypot(right.X, right.Y)
	right = geom.MM{X: right.X / n, Y: right.Y / n}
	x, y := reg.Pose.X, reg.Pose.Y
	pose = geom.Pose{Origin: reg.Pose.At(o), X: x.Mul(right.X).Add(y.Mul(right.Y)), Y: x.Mul(-right.Y).Add(y.Mul(right.X)), Scale: reg.Pose.Scale}
	lo, hi := geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, q := range s.frame() {
		m, _ := pose.Project(reg.At(toMM.MM(q)))
		lo, hi = geom.MM{X: math.Min(lo.X, m.X), Y: math.Min(lo.Y, m.Y)}, geom.MM{X: math.Max(hi.X, m.X), Y: math.Max(hi.Y, m.Y)}
	}
	box = area{lo.X - cutMargin, lo.Y - cutMargin, hi.X - lo.X + 2*cutMargin, hi.Y - lo.Y + 2*cutMargin}
	return pose, box, s.plate.Face.Facing, s.plate.PhotoUp
}

// frame is the border of the face, else the corners of its picture.
func (s *sight) frame() (out []geom.Px) {
	for _, b := range s.plate.Border {
		out = append(out, b.Outer...)
	}
	if len(out) == 0 {
		w, h := float64(s.plate.Photo.Size.X-1), float64(s.plate.Photo.Size.Y-1)
		out = []geom.Px{{}, {X: w}, {X: w, Y: h}, {Y: h}}
	}
	return out
}

// carry brings the outlines to the picture. In a cut across the face they mean nothing.
func (s *sight) carry() {
	carried := make([]annotate.Label, 0, len(s.labels))
	for _, x := range s.labels {
		if s.crosses {
			x.Regions = nil
		} else {
			regions := make([]annotate.Polygon, len(x.Regions))
			for i, r := range x.Regions {
				regions[i] = r.Map(s.to)
			}
			x.Regions = regions
		}
		carried = append(carried, x)
	}
	s.labels = carried
}

// usualUp is what stands at the top of a cut of a plane.
func usualUp(f section.Facing) section.Facing {
	if f.Plane() == section.Transverse {
		return section.Anterior
	}
	return section.Superior
}
