package bench

import (
	"context"
	"math"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// pairRoom is the scan beside the chosen run and how the two are tied.
type pairRoom struct {
	series  string
	volume  *scan.Volume // nil until read
	reading string       // UID being read
	tied    atlas.LevelTies
	levels  register.Levels
	free    float64 // LPS mm along the cut shown while no level is tied
	step    int     // slices off the face, + further along the run
	window  scan.Window
	half    halfTie
	view    Viewport // of the scan pane in mm, while face and scan are not at one scale
	moved   bool
	where   *geom.MM // the linked pointer on the face, mm

	fromScan bool // it is over the scan
	whole    *wholeRun
	spans    scanSpans // of the labels of the scan, once brought in
	measure  scanMeasure
	bare     bool    // the cut is shown without the outlines of the face
	seam     float64 // how the seam is turned, degrees clockwise from upright
}

// halfTie is a landmark clicked on one picture and not yet on the other.
type halfTie struct {
	face *geom.Px
	scan *geom.LPS
}

func (p *pairRoom) inHand() bool { return p.half.face != nil || p.half.scan != nil }

// chooseFirstSeries pairs a run with the series it is tied to, else with the first of its donor.
func (b *Bench) chooseFirstSeries() {
	var first string
	for _, s := range b.lab.series {
		t, err := b.lab.lib.LevelTies(b.Run().ID, s.UID)
		if err == nil && len(t.Levels) > 0 {
			b.ChooseSeries(s.UID)
			return
		}
		if first == "" && b.ownSeries(s.UID) && !s.Localizer {
			first = s.UID
		}
	}
	if first != "" {
		b.ChooseSeries(first)
	}
}

// ChooseSeries pairs with this series.
func (b *Bench) ChooseSeries(uid string) {
	if uid == b.pair.series || b.Run().ID == "" {
		return
	}
	b.pair = pairRoom{series: uid}
	if s, ok := b.series(); !ok {
		b.pair.series = ""
	} else {
		b.pair.free = register.Along(b.Run().Plane, middleOf(s))
		t, err := b.lab.lib.LevelTies(b.Run().ID, uid)
		if err != nil {
			t = atlas.LevelTies{Run: b.Run().ID, Series: uid, SameBody: false, Centre: middleOf(s)}
		}
		b.setLevels(t)
	}
	b.wantVolume()
	b.changed(ScanChanged | RunChanged | LabChanged)
}

// wantVolume reads the chosen series as a job once the pairing is looked at.
func (b *Bench) wantVolume() {
	p := &b.pair
	if b.screen != PairingScreen || p.series == "" || p.volume != nil || p.reading == p.series {
		return
	}
	p.reading = p.series
	uid, lib := p.series, b.lab.lib
	b.start(Word("job.volume"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		v, err := lib.Volume(ctx, uid)
		return func() {
			if b.pair.reading == uid {
				b.pair.reading = ""
			}
			if err != nil || b.pair.series != uid {
				return // another series was chosen meanwhile
			}
			b.pair.volume = v
			if b.pair.window.Width == 0 {
				b.pair.window = v.StartWindow()
			}
			b.changed(ScanChanged)
		}, err
	})
}

// PairingReady tells whether landmarks can be laid on face and scan, and why not.
func (b *Bench) PairingReady() (ok bool, why string) {
	p, has := b.Plate()
	_, scaled := b.hasScale()
	switch {
	case b.pair.series == "":
		return false, Word("pair.noscan")
	case !has:
		return false, Word("pair.nophoto")
	case !lettersKnown(p):
		return false, Word("pair.noletters")
	case !scaled:
		return false, Word("pair.noscale")
	case b.readOnly():
		return false, Word("saved.readonly")
	case !b.pair.tied.SameBody:
		return false, Word("pair.otherbody")
	case b.pair.volume != nil && b.pair.volume.Unoriented:
		return false, Word("pair.unoriented")
	}
	return true, ""
}

// Ways in which the cut of the scan is placed.
const (
	freely  = "free" // nothing tied: the level is the person's choice
	byLevel = register.ByLevel
	byTies  = register.ByTies
	byFit   = register.ByRefined
)

// basePose places the chosen face in the scan, steps left out, along the axes of its picture.
func (b *Bench) basePose() (pose geom.Pose, how string, ok bool) {
	p, _ := b.Plate()
	return b.poseOf(p, b.Face())
}

// poseOf places a face, whose plate is p, as basePose does.
func (b *Bench) poseOf(p atlas.Plate, f section.Face) (pose geom.Pose, how string, ok bool) {
	s, has := b.series()
	if !has || f == (section.Face{}) {
		return pose, "", false
	}
	r := p.Registration
	if b.held["A"] {
		r = unfitted(p)
	}
	if r != nil && r.Series == s.UID && laidTruly(r, f) {
		pose, how = r.Pose, byTies
		if r.Method == register.ByRefined {
			how = byFit
		}
		if f, scaled := frameOfFace(p); scaled {
			pose = f.pose(pose)
		}
		return pose, how, true
	}
	_, up := honestFacing(p)
	if up == section.UnknownFacing {
		up = usualUp(f.Facing)
	}
	middle := geom.MM{}
	if h, scaled := faceMM(p); scaled {
		middle = h.MM(p.MiddlePx())
	}
	if pose, ok := b.wholePose(f, up, middle); ok {
		return pose, byRun, true
	}
	if r, err := register.FromLevel(s.UID, b.pair.levels, b.Run(), f, up, middle, b.pair.tied.Centre); err == nil {
		return r.Pose, byLevel, true
	}
	pose, err := section.SquarePose(f.Facing, up, b.pair.tied.Centre)
	if err != nil {
		return pose, "", false
	}
	axis := f.Facing.Axis()
	axis = geom.Vec{X: math.Abs(axis.X), Y: math.Abs(axis.Y), Z: math.Abs(axis.Z)}
	pose = pose.Shift(axis.Mul(b.pair.free - register.Along(b.Run().Plane, b.pair.tied.Centre)))
	return pose.Shift(pose.X.Mul(-middle.X)).Shift(pose.Y.Mul(-middle.Y)), freely, true
}

// laidTruly reports whether a registration, right side up, rests on more than a level.
func laidTruly(r *register.Registration, f section.Face) bool {
	known := r.Method == register.ByRefined || r.Method == register.ByTies && len(r.Ties) >= 3
	return known && !section.TurnedOver(r.Pose, f.Facing)
}

// usualUp is what stands at the top of a face in bench view.
func usualUp(f section.Facing) section.Facing {
	if f.Plane() == section.Transverse {
		return section.Anterior
	}
	return section.Superior
}

// cutPose is the pose of the cut shown, steps included.
func (b *Bench) cutPose() (pose geom.Pose, how string, ok bool) {
	pose, how, ok = b.basePose()
	if !ok || b.pair.step == 0 {
		return pose, how, ok
	}
	return pose.Shift(b.along(pose).Mul(float64(b.pair.step) * b.sliceStep())), how, ok
}

// along is the direction at right angles to the cut that leads further along the run.
func (b *Bench) along(pose geom.Pose) geom.Vec {
	n := pose.Normal()
	if n.Dot(b.Run().First.Axis()) > 0 {
		return n.Neg()
	}
	return n
}

// sliceStep is the step of one scan slice along the run in mm: the spacing of the voxels in the direction that runs most
// nearly along it.
func (b *Bench) sliceStep() float64 {
	step, most := 1.0, 0.0
	if s, ok := b.series(); ok {
		for i, d := range s.Spacing() {
			if along := math.Abs(s.ToLPS.Column(i).Unit().Dot(b.Run().First.Axis())); along > most && d > 0 {
				step, most = d, along
			}
		}
	}
	return step
}

// StepScan moves the cut n slices along its normal, off the face: + further along the run.
func (b *Bench) StepScan(n int) {
	if _, _, ok := b.cutPose(); !ok {
		return
	}
	b.pair.step += n
	b.changed(ScanChanged)
}

// ScanHome brings the cut back onto the face.
func (b *Bench) ScanHome() { b.pair.step = 0; b.changed(ScanChanged) }

// ScanStep is how many mm the cut shown lies off the face, + further along the run.
func (b *Bench) ScanStep() float64 { return float64(b.pair.step) * b.sliceStep() }

// Band says in plain words how face and scan stand to each other.
func (b *Bench) Band() string {
	f := b.Face()
	if f == (section.Face{}) {
		return ""
	}
	p, has := b.Plate()
	parts := []string{upperFirst(b.Run().SeenFrom(f.Facing)) + ".", Word("view." + b.draw.view.String())}
	switch {
	case !has:
		parts = append(parts, Word("pair.nophoto"))
	case !lettersKnown(p):
		parts = append(parts, Word("band.unknown"))
	case b.MirroredShown():
		parts = append(parts, Word("band.mirrored"))
	default:
		parts = append(parts, Word("band.notmirrored"))
	}
	pose, how, ok := b.basePose()
	switch {
	case !ok:
		return strings.Join(append(parts, Word("pair.noscan")), " ")
	case how == byFit:
		parts = append(parts, Word("band.fit"), b.tiltWords(p, pose))
	case how == byTies:
		parts = append(parts, b.tiltWords(p, pose))
	case how == byRun:
		parts = append(parts, Word("band.run"), b.tiltWords(p, pose))
	case how == byLevel && b.pair.tied.SameBody:
		parts = append(parts, Word("band.level"))
	case how == byLevel:
		parts = append(parts, Word("band.otherbody"))
	case b.pair.tied.SameBody:
		parts = append(parts, Word("band.free"))
	default:
		parts = append(parts, Word("band.free.otherbody"))
	}
	if r := p.Registration; r != nil && r.Series == b.pair.series && r.Method != byLevel && section.TurnedOver(r.Pose, f.Facing) {
		parts = append(parts, Word("band.stale"))
	}
	if b.pair.step != 0 {
		parts = append(parts, b.offFaceWords())
	}
	return strings.Join(parts, " ")
}

func (b *Bench) tiltWords(p atlas.Plate, pose geom.Pose) string {
	facing, up := honestFacing(p)
	t, err := section.TiltOf(pose, facing, up)
	if err != nil {
		return ""
	}
	w, h := 300.0, 200.0
	if m, ok := faceMM(p); ok {
		size := p.Photo.Size
		w = m.MM(geom.Px{}).Dist(m.MM(geom.Px{X: float64(size.X)}))
		h = m.MM(geom.Px{}).Dist(m.MM(geom.Px{Y: float64(size.Y)}))
	}
	if up != usualUp(facing) && up != usualUp(facing).Opposite() {
		w, h = h, w
	}
	return upperFirst(t.Words(facing.Plane(), w, h)) + "."
}
