package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
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
	b.say(Message{Title: Word("again.offer", upperFirst(b.FaceName(b.Face()))), Hint: Word("again.offer.hint"), Choices: []Choice{
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
	b.again.exams = b.stationsOf(b.again.old.ID)
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

// stationsOf are the exam stations made from a plate, a line each.
func (b *Bench) stationsOf(plate string) []string {
	board, ok := b.board()
	if !ok {
		return nil
	}
	uses, err := board.UsesOf(plate)
	b.Report(err)
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
