package bench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// againRoom is a face being photographed anew: both pictures, the ties between them, and the last exchange of pictures of this sitting.
type againRoom struct {
	laying bool // a new picture is being laid; else earlier pictures are looked at
	old    atlas.Plate
	next   atlas.Plate // as it will be once it is in the lab, for a file; as it lies in the tray, else
	file   []byte      // of a picture that is in the lab only once it is accepted
	name   string      // of the file, for errors alone
	was    *photo.Image
	is     *photo.Image
	ties   []annotate.PictureTie
	half   struct{ old, now *geom.Px }
	offers []photo.Pair // proposed by comparing the pictures
	asked  bool         // the proposal was asked for
	seek   *job
	hidden bool // outlines are not shown on the new picture
	found  atlas.Succession
	fault  error
	exams  []string
	keep   *job

	last   *pictureSwap // of this sitting, to be taken back
	shown  string       // the earlier picture that is looked at
	chosen int          // of the list of what waits to be looked at
}

// pictureSwap is one accepted new picture, to be taken back or done again as one step.
type pictureSwap struct {
	kept   atlas.Succession
	before atlas.Plate // the new picture as it lay in the tray
	doc    *faceDoc    // of the old picture
	ties   []annotate.PictureTie
	by     annotate.Stamp
	undone bool
	at     int // where the ruler's history stood
	stood  int // where the old picture's history stood
}

// AgainTie is one tie between both pictures, the worst first.
type AgainTie struct {
	N       int     // its number on both pictures, from 1
	MM      float64 // how far it is off, mm; NaN where it cannot be told
	Px      float64 // its distance on the new picture, px; NaN below four ties
	LeftOut bool
	Words   string
}

// AgainInfo is what the screen of a new picture shows.
type AgainInfo struct {
	Laying       bool // a new picture is being laid; else earlier pictures are shown
	Face         string
	Old, Now     string // when both were photographed
	Ties         []AgainTie
	State        string // how the ties fit, in words
	Warn         bool
	Next         string   // what to do next
	Outcome      []string // what will come over, a line each
	Exams        []string // stations made from the old picture
	Offers       int      // proposed ties
	Seeking      bool
	Ready        bool
	Why          string // it cannot be accepted yet
	AsksMirrored bool
	Mirrored     atlas.Answer
	Outlines     bool // shown on the new picture
}

// succeeder is what of a library changes the picture of a face.
type succeeder interface {
	Keep(s atlas.Succession) (atlas.Succession, error)
	TakeBack(s atlas.Succession, before atlas.Plate) (old, next atlas.Plate, err error)
	MakeCurrent(id string) (atlas.Plate, error)
	EarlierPhotos(f section.Face) ([]atlas.Entry, error)
	KnownPhoto(sum photo.Hash) (plate string, known bool)
}

func (b *Bench) pictures() succeeder {
	l, _ := b.lab.lib.(succeeder)
	return l
}

// needAgain says why no new picture can be laid on the chosen face.
func needAgain(b *Bench) string {
	switch {
	case b.doc == nil:
		return Word("err.nophoto")
	case b.readOnly():
		return Word("saved.readonly")
	case b.pictures() == nil:
		return Word("err.nolab")
	}
	return ""
}

// NewPicture begins to lay a photograph in a file as the new picture of the chosen face. The file is in the lab only once it is accepted.
func (b *Bench) NewPicture(path string) {
	if why := needAgain(b); why != "" {
		b.hint(why, true)
		return
	}
	b.saveNow()
	d, lib := b.doc, b.pictures()
	donor := d.plate().Donor
	b.start(Word("job.newpicture"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		file, p, m, err := readPicture(ctx, path, donor)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
		id, known := lib.KnownPhoto(p.Photo.SHA256)
		return func() {
			if b.doc != d {
				return
			}
			if known {
				b.knownAgain(id)
				return
			}
			b.beginAgain(p, m)
			b.again.file, b.again.name = file, filepath.Base(path)
		}, nil
	})
}

// readPicture reads and decodes a photograph that is not in the lab yet.
func readPicture(ctx context.Context, path, donor string) (file []byte, p atlas.Plate, m *photo.Image, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, p, nil, err
	}
	defer f.Close()
	return atlas.ReadPicture(ctx, donor, f)
}

// knownAgain says where a picture lies that is in the lab already; one of the tray can be laid all the same.
func (b *Bench) knownAgain(id string) {
	if p, err := b.lab.lib.Plate(id); err == nil && p.Face == (section.Face{}) {
		b.NewPictureFrom(id)
		return
	}
	b.Report(&atlas.KnownPhoto{Plate: id})
}

// NewPictureFrom begins to lay a photograph of the tray as the new picture of the chosen face.
func (b *Bench) NewPictureFrom(id string) {
	if why := needAgain(b); why != "" {
		b.hint(why, true)
		return
	}
	b.saveNow()
	d, lib := b.doc, b.lab.lib
	b.start(Word("job.newpicture"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		p, err := lib.Plate(id)
		if err != nil {
			return nil, err
		}
		m, err := lib.Photo(ctx, id)
		return func() {
			if err == nil && b.doc == d {
				b.beginAgain(p, m)
			}
		}, err
	})
}

// OfferAgain asks whether a single photograph that came to a face that has one is its new picture. lay begins that, tray is what else
// becomes of it.
func (b *Bench) OfferAgain(lay, tray func()) {
	b.say(Message{Title: Word("again.offer", upperFirst(b.Face().Name())), Hint: Word("again.offer.hint"), Choices: []Choice{
		{Word("again.offer.lay"), lay}, {Word("again.offer.tray"), tray}}})
}

// beginAgain puts both pictures side by side.
func (b *Bench) beginAgain(next atlas.Plate, is *photo.Image) {
	last := b.again.last
	b.again = againRoom{laying: true, old: b.doc.plate(), next: next, is: is, was: b.doc.picture, last: last}
	b.again.old.Rev = b.doc.rev
	if !b.doc.whole {
		b.wantOld(b.again.old.ID)
	}
	b.againOld.reset()
	b.againNow.reset()
	if board, ok := b.board(); ok {
		uses, err := board.UsesOf(b.again.old.ID)
		b.Report(err)
		b.again.exams = useWords(uses)
	}
	b.hint("", false)
	b.enter(AgainScreen)
	b.fitAgain()
}

// someOf joins the first few of a list and says how many more there are.
func someOf(list []string) string {
	const most = 6
	if len(list) <= most {
		return strings.Join(list, "; ")
	}
	return Word("again.more", strings.Join(list[:most], "; "), len(list)-most)
}

func useWords(uses []quiz.Use) []string {
	out := make([]string, len(uses))
	for i, u := range uses {
		out[i] = u.Words()
	}
	return out
}

// wantOld reads the picture on the left.
func (b *Bench) wantOld(id string) {
	lib := b.lab.lib
	b.start(Word("job.photo"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		m, err := lib.Photo(ctx, id)
		return func() {
			if err == nil && b.again.old.ID == id {
				b.again.was = m
				b.changed(ViewChanged)
			}
		}, err
	})
}

// AgainWaits reports whether a new picture of the chosen face was begun and left without a word.
func (b *Bench) AgainWaits() bool {
	a := &b.again
	return a.laying && b.doc != nil && b.screen != AgainScreen && a.old.ID == b.doc.plate().ID
}

// ResumeAgain goes on with it, by the face as it stands now.
func (b *Bench) ResumeAgain() {
	if !b.AgainWaits() {
		return
	}
	b.saveNow()
	b.again.old = b.doc.plate()
	b.again.old.Rev = b.doc.rev
	b.enter(AgainScreen)
	b.fitAgain()
}

// fitAgain lays the outlines by the ties there are.
func (b *Bench) fitAgain() {
	a := &b.again
	a.found, a.fault = atlas.Succession{}, nil
	if a.laying {
		a.found, a.fault = a.old.Succeed(a.next, a.ties, b.stamp())
	}
	b.changed(SelectionChanged | ViewChanged)
}

// pickAgain takes a place clicked on the old picture or the new one; a tie is made once both halves are there, whichever came first.
func (b *Bench) pickAgain(old bool, px geom.Px) {
	a := &b.again
	if !a.laying {
		return
	}
	if old {
		a.half.old = &px
	} else {
		a.half.now = &px
	}
	if a.half.old != nil && a.half.now != nil {
		a.ties = append(slices.Clone(a.ties), annotate.PictureTie{Old: *a.half.old, New: *a.half.now})
		a.half.old, a.half.now = nil, nil
		b.fitAgain()
	}
	b.changed(SelectionChanged)
}

// moveAgain moves one end of tie n, from 0.
func (b *Bench) moveAgain(n int, old bool, px geom.Px) {
	a := &b.again
	if n < 0 || n >= len(a.ties) {
		return
	}
	a.ties = slices.Clone(a.ties)
	if old {
		a.ties[n].Old = px
	} else {
		a.ties[n].New = px
	}
	b.fitAgain()
}

// RemoveAgainTie removes tie n, from 1.
func (b *Bench) RemoveAgainTie(n int) {
	if a := &b.again; n >= 1 && n <= len(a.ties) {
		a.ties = slices.Delete(slices.Clone(a.ties), n-1, n)
		b.fitAgain()
	}
}

// backAgain takes back the half of a tie, or the last tie, and reports whether there was any.
func (b *Bench) backAgain() bool {
	a := &b.again
	switch {
	case a.half.old != nil || a.half.now != nil:
		a.half.old, a.half.now = nil, nil
		b.changed(SelectionChanged)
	case len(a.ties) > 0 && a.laying:
		b.RemoveAgainTie(len(a.ties))
	default:
		return false
	}
	return true
}

// SeekTies proposes ties by comparing the pictures, as a job: from two ties on by them, else as if both were taken from the same stand.
func (b *Bench) SeekTies() {
	a := &b.again
	if !a.laying || a.seek != nil || a.was == nil || a.is == nil || a.was.Size() != a.old.Photo.Size {
		return // one of them is still being read
	}
	guess, reach := guessBetween(a.ties, a.was, a.is)
	if a.fault == nil {
		guess, reach = affineAt(a.found.Fit.Map, a.old.MiddlePx()), 0.02
	}
	was, is, inside := a.was, a.is, insideOf(a.old, a.ties)
	a.seek = b.start(Word("job.seekties"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		found := photo.AlikePlaces(ctx, was, is, guess, reach, inside, 8)
		return func() {
			a := &b.again
			if a.seek = nil; a.is == is {
				a.offers, a.asked = found, true
				b.changed(SelectionChanged)
			}
		}, nil
	})
	b.changed(SelectionChanged)
}

// insideOf is where places of the face lie on the old picture: within its border, else within the box of its ties.
func insideOf(p atlas.Plate, ties []annotate.PictureTie) func(geom.Px) bool {
	if len(p.Border) > 0 {
		return func(q geom.Px) bool {
			return slices.ContainsFunc(p.Border, func(x annotate.Polygon) bool { return x.Contains(q) })
		}
	}
	if len(ties) < 3 {
		return nil
	}
	lo, hi := ties[0].Old, ties[0].Old
	for _, t := range ties {
		lo = geom.Px{X: math.Min(lo.X, t.Old.X), Y: math.Min(lo.Y, t.Old.Y)}
		hi = geom.Px{X: math.Max(hi.X, t.Old.X), Y: math.Max(hi.Y, t.Old.Y)}
	}
	return func(q geom.Px) bool { return q.X >= lo.X && q.Y >= lo.Y && q.X <= hi.X && q.Y <= hi.Y }
}

// guessBetween is about how the old picture lies on the new: by the first and the last tie (a turn and one scale), else from the same stand.
func guessBetween(ties []annotate.PictureTie, was, is *photo.Image) (guess [6]float64, reach float64) {
	if n := len(ties); n >= 2 {
		o, e := ties[0], ties[n-1]
		dx, dy, l := e.Old.X-o.Old.X, e.Old.Y-o.Old.Y, 0.0
		if l = dx*dx + dy*dy; l > 0 {
			ux, uy := e.New.X-o.New.X, e.New.Y-o.New.Y
			c, s := (ux*dx+uy*dy)/l, (uy*dx-ux*dy)/l
			return [6]float64{c, -s, o.New.X - c*o.Old.X + s*o.Old.Y, s, c, o.New.Y - s*o.Old.X - c*o.Old.Y}, 0.04
		}
	}
	k := float64(is.Size().X) / math.Max(1, float64(was.Size().X))
	return [6]float64{k, 0, 0, 0, k, 0}, 0.08
}

// affineAt is a map as it goes about p.
func affineAt(h geom.Homography, p geom.Px) [6]float64 {
	j, at := h.Jacobian(p), h.MM(p)
	return [6]float64{j[0], j[1], at.X - j[0]*p.X - j[1]*p.Y, j[2], j[3], at.Y - j[2]*p.X - j[3]*p.Y}
}

// TakeOffers makes the proposed ties ties like any other.
func (b *Bench) TakeOffers() {
	a := &b.again
	if len(a.offers) == 0 {
		return
	}
	a.ties = slices.Clone(a.ties)
	for _, o := range a.offers {
		near := slices.ContainsFunc(a.ties, func(t annotate.PictureTie) bool { return t.Old.Dist(o.Old) < 0.02*float64(a.old.Photo.Size.X) })
		if !near {
			a.ties = append(a.ties, annotate.PictureTie{Old: o.Old, New: o.New})
		}
	}
	b.DropOffers()
	b.fitAgain()
}

// DropOffers puts the proposed ties away.
func (b *Bench) DropOffers() {
	b.again.offers, b.again.asked = nil, false
	b.changed(SelectionChanged)
}

// AnswerNewMirrored answers whether the new picture is mirrored, as its camera's tag says.
func (b *Bench) AnswerNewMirrored(a atlas.Answer) {
	b.again.next.Mirrored = a
	b.fitAgain()
}

// SetAgainOutlines shows or hides outlines on both pictures.
func (b *Bench) SetAgainOutlines(on bool) {
	b.again.hidden = !on
	b.changed(SelectionChanged)
}

// TurnNewPicture turns the new picture by a quarter, for looking at only.
func (b *Bench) TurnNewPicture() {
	b.againNow.view.Turns = (b.againNow.view.Turns + 1) & 3
	b.againNow.moved = false
	b.changed(ViewChanged)
}

// fitAgainViews shows both pictures whole again.
func (b *Bench) fitAgainViews() {
	b.againOld.moved, b.againNow.moved = false, false
	b.changed(ViewChanged)
}

func needLaying(b *Bench) string { return when(!b.again.laying, "again.notlaying") }
func needOffers(b *Bench) string { return when(len(b.again.offers) == 0, "again.nooffers") }

func needAccept(b *Bench) string {
	if !b.again.laying {
		return Word("again.notlaying")
	}
	return b.again.why()
}

// AcceptAgain makes the new picture the face's own, as one step: the old one is kept as an earlier picture, and outlines, scale and landmarks
// come over. A picture from a file is taken into the lab first, as a job.
func (b *Bench) AcceptAgain() error {
	a := &b.again
	if err := b.writable(); err != nil {
		return err
	}
	if !a.laying || a.keep != nil {
		return nil
	}
	if a.fault != nil {
		return a.fault
	}
	if a.file == nil {
		return b.keepAgain(a.next)
	}
	lib, donor, name, file, next := b.lab.lib, a.old.Donor, a.name, a.file, a.next
	a.keep = b.start(Word("job.keeppicture"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		p, err := lib.TakePhoto(ctx, section.Face{}, donor, name, bytes.NewReader(file), nil)
		return func() {
			a := &b.again
			if a.keep = nil; err != nil || a.next.Photo.SHA256 != next.Photo.SHA256 {
				b.changed(LabChanged)
				return
			}
			p.Mirrored = a.next.Mirrored
			a.next, a.file = p, nil
			b.Report(b.keepAgain(p))
		}, err
	})
	b.changed(SelectionChanged)
	return nil
}

// keepAgain exchanges the pictures in the library and follows on the bench.
func (b *Bench) keepAgain(next atlas.Plate) error {
	a := &b.again
	by := b.stamp()
	s, err := a.old.Succeed(next, a.ties, by)
	if err != nil {
		return err
	}
	before := next
	kept, err := b.pictures().Keep(s)
	if errors.Is(err, atlas.ErrChanged) {
		b.readFaces()
	}
	if err != nil {
		return err
	}
	x := &pictureSwap{kept: kept, before: before, ties: a.ties, by: by}
	if x.doc = b.docs[kept.Old.ID]; x.doc != nil {
		x.stood = x.doc.hist.at
	}
	said := b.outcome(kept)
	exams := a.exams
	b.exchangedPictures(kept.Old.ID)
	x.at = b.rule.hist.at
	b.again = againRoom{last: x}
	b.enter(FaceScreen)
	m := Message{Title: Word("again.done", upperFirst(kept.New.Face.Name())), Hint: strings.Join(said, "\n")}
	if len(exams) > 0 {
		m.Hint += "\n" + Word("again.exams", someOf(exams))
	}
	b.say(m)
	return nil
}

// exchangedPictures follows a face that has another picture now; left is the plate that is no longer current.
func (b *Bench) exchangedPictures(left string) {
	delete(b.docs, left)
	b.readFaces()
	b.doc = nil
	b.draw.chosen = ""
	b.openDoc()
	b.changed(Everything)
}

// CancelAgain leaves everything as it was.
func (b *Bench) CancelAgain() {
	if b.screen == AgainScreen {
		b.dropAgain()
		b.enter(FaceScreen)
	}
}

func (b *Bench) dropAgain() {
	if b.again.seek != nil {
		b.again.seek.stop()
	}
	b.again = againRoom{last: b.again.last}
}

// leaveAgain leaves the new picture; ties that were made fall away only after asking.
func (b *Bench) leaveAgain() {
	if !b.again.laying || len(b.again.ties) == 0 {
		b.CancelAgain()
		return
	}
	b.say(Message{Title: Word("again.leave"), Hint: count("again.leave.hint", len(b.again.ties)), Choices: []Choice{
		{Word("again.leave.stay"), nil}, {Word("again.leave.leave"), b.CancelAgain}}})
}

// undoAgain is the exchange of pictures that Undo would take back now: the last thing done to this face and to the run.
func (b *Bench) undoAgain() *pictureSwap {
	x := b.again.last
	if x == nil || x.undone || b.writable() != nil || b.doc == nil || b.doc.plate().ID != x.kept.New.ID || b.doc.hist.at != 0 {
		return nil
	}
	switch b.screen {
	case FaceScreen, PairingScreen:
		return x
	case RunScreen:
		if b.rule.hist != nil && b.rule.hist.at == x.at {
			return x
		}
	}
	return nil
}

// redoAgain is the exchange of pictures that Redo would do again.
func (b *Bench) redoAgain() *pictureSwap {
	x := b.again.last
	if x == nil || !x.undone || b.writable() != nil || b.doc == nil || b.doc.plate().ID != x.kept.Old.ID || b.doc.hist.at != x.stood {
		return nil
	}
	if b.screen == FaceScreen || b.screen == PairingScreen || b.screen == RunScreen && b.rule.hist != nil && b.rule.hist.at == x.at {
		return x
	}
	return nil
}

// takeBackAgain puts the earlier picture back in its place; the new one goes to the tray as it was.
func (b *Bench) takeBackAgain(x *pictureSwap) {
	b.saveNow()
	x.kept.New.Rev = b.doc.rev
	old, next, err := b.pictures().TakeBack(x.kept, x.before)
	if err != nil {
		b.Report(err)
		return
	}
	x.kept.Old, x.before, x.undone = old, next, true
	if x.doc != nil {
		x.doc.rev = old.Rev
		b.docs[old.ID] = x.doc
	}
	b.exchangedPictures(next.ID)
	x.at = b.rule.hist.at
	b.hint(Word("again.undone"), false)
}

// doAgain exchanges the pictures once more.
func (b *Bench) doAgain(x *pictureSwap) {
	b.saveNow()
	old := b.doc.plate()
	old.Rev = b.doc.rev
	s, err := old.Succeed(x.before, x.ties, x.by)
	if err == nil {
		s, err = b.pictures().Keep(s)
	}
	if err != nil {
		b.Report(err)
		return
	}
	x.kept, x.undone, x.doc = s, false, b.doc
	b.exchangedPictures(s.Old.ID)
	x.at = b.rule.hist.at
}
