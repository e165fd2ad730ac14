package bench

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// GlareInfo tells about a second picture with the lamp moved, and of what was made of both.
type GlareInfo struct {
	Offered bool   // the picture check found glare
	Seeking bool   // both are being laid on each other, or the result is being kept
	Made    bool   // a picture made of both is looked at
	First   bool   // while its key is held the first picture is shown
	Words   string // what was made, or of what the picture on the bench was made
}

// unshone is a picture freed of glare that is looked at and not kept yet.
type unshone struct {
	found  photo.Unshined
	shown  *photo.Image
	second string // plate of the second picture, "" while it is a file
	file   []byte
	name   string
}

// composer is what of a library keeps pictures made of two.
type composer interface {
	KeepComposed(ctx context.Context, first atlas.Plate, second string, m atlas.Composed, picture io.Reader) (atlas.Plate, error)
	KnownPhoto(sum photo.Hash) (plate string, known bool)
}

func needLamp(b *Bench) string {
	switch _, keeps := b.lab.lib.(composer); {
	case b.doc == nil:
		return Word("err.nophoto")
	case b.readOnly():
		return Word("saved.readonly")
	case !keeps:
		return Word("err.nolab")
	case !b.doc.whole:
		return Word("face.reading")
	}
	return ""
}

// Glare tells how far the freeing from glare is on the face of the bench.
func (b *Bench) Glare() (out GlareInfo) {
	p, there := b.Plate()
	if !there {
		return out
	}
	for _, f := range b.judged(p.ID, p.Calibration).Findings {
		out.Offered = out.Offered || f.Fault == photo.Glare
	}
	out.Seeking = b.doc.laying
	switch u := b.doc.unshone; {
	case u != nil:
		out.Made, out.First = true, b.held[firstKey]
		out.Words = Word("glare.made", 100*u.found.Share, 100*u.found.Before, 100*u.found.After, u.found.Alignment.Turn, u.found.Alignment.Shift)
	case p.Composed != nil:
		out.Words = Word("glare.composed", 100*p.Composed.Share)
		if p.Composed.Elsewhere {
			out.Words += " " + Word("glare.elsewhere")
		}
	}
	return out
}

// firstKey shows the first picture while it is held.
const firstKey = "B"

// TakeLampFile lays a photograph in a file, of this face with the lamp moved, on the picture of the bench, as a job. The file is in
// the lab only once the result is accepted.
func (b *Bench) TakeLampFile(path string) {
	here, _ := b.Plate()
	donor, lib := here.Donor, b.lab.lib
	b.takeLamp(func(ctx context.Context) (*unshone, *photo.Image, error) {
		file, p, m, err := readPicture(ctx, path, donor)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
		u := &unshone{file: file, name: filepath.Base(path)}
		if id, known := lib.(composer).KnownPhoto(p.Photo.SHA256); known {
			u.second, u.file = id, nil
		}
		return u, m, nil
	})
}

// TakeLampPrint is TakeLampFile with a print of the tray.
func (b *Bench) TakeLampPrint(id string) {
	lib := b.lab.lib
	b.takeLamp(func(ctx context.Context) (*unshone, *photo.Image, error) {
		m, err := lib.Photo(ctx, id)
		return &unshone{second: id}, m, err
	})
}

func (b *Bench) takeLamp(second func(ctx context.Context) (*unshone, *photo.Image, error)) {
	if why := needLamp(b); why != "" {
		b.hint(why, true)
		return
	}
	d := b.doc
	if d.laying {
		return
	}
	d.laying, d.unshone = true, nil
	first, border := d.picture, d.plate().Border
	b.start(Word("job.glare"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
		u, m, err := second(ctx)
		if err == nil {
			u.found, err = photo.RemoveGlare(ctx, first, m, borderOf(border, first))
		}
		if err == nil {
			u.shown = photo.NewImage(u.found.Picture)
		}
		return func() {
			d.laying = false
			if err == nil && b.doc == d {
				d.unshone = u
				b.SetTool(ToolPan)
			}
			b.changed(ViewChanged | SelectionChanged | PlateChanged)
		}, err
	})
	b.changed(SelectionChanged)
}

// AcceptGlare keeps the made picture as the current one of the face, as a job; both pictures that it was made of stay as earlier ones.
func (b *Bench) AcceptGlare() {
	if b.doc == nil || b.doc.unshone == nil || b.doc.laying {
		return
	}
	if why := needLamp(b); why != "" {
		b.hint(why, true)
		return
	}
	b.saveNow()
	d, lib := b.doc, b.lab.lib
	u, first, by := d.unshone, d.plate(), b.stamp().Author
	first.Rev = d.rev
	d.laying = true
	b.start(Word("job.glarekeep"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
		kept, err := keepUnshone(ctx, lib, u, first, by)
		return func() {
			d.laying = false
			if err == nil {
				d.unshone = nil
				b.composedCame(first.ID, kept)
			}
			b.changed(SelectionChanged)
		}, err
	})
	b.changed(SelectionChanged)
}

// keepUnshone brings the second picture into the lab, if it is a file, and then the made one.
func keepUnshone(ctx context.Context, lib library, u *unshone, first atlas.Plate, by string) (atlas.Plate, error) {
	var png bytes.Buffer
	if err := photo.EncodePNG(&png, u.found.Picture); err != nil {
		return first, err
	}
	if u.second == "" {
		p, err := lib.TakePhoto(ctx, section.Face{}, first.Donor, u.name, bytes.NewReader(u.file), nil)
		if err != nil {
			return first, err
		}
		u.second, u.file = p.ID, nil
	}
	return lib.(composer).KeepComposed(ctx, first, u.second, atlas.Composed{Why: atlas.Unshone, Share: u.found.Share, By: by}, &png)
}

// composedCame follows on the bench once the library has the made picture.
func (b *Bench) composedCame(left string, kept atlas.Plate) {
	said := Word("glare.kept.hint")
	if stations := b.stationsOf(left); len(stations) > 0 {
		said += "\n" + Word("again.exams", someOf(stations))
	}
	b.exchangedPictures(left)
	b.say(Message{Title: Word("glare.kept", upperFirst(b.FaceName(kept.Face))), Hint: said})
}

// DropGlare leaves the picture as it was.
func (b *Bench) DropGlare() {
	if b.doc != nil && b.doc.unshone != nil {
		b.doc.unshone = nil
		b.changed(ViewChanged | SelectionChanged)
	}
}

// shownPicture is what the face pane paints: the made picture while it is looked at, but the first while its key is held.
func (b *Bench) shownPicture(d *faceDoc) *photo.Image {
	if u := d.unshone; u != nil && b.screen == FaceScreen && !b.held[firstKey] {
		return u.shown
	}
	return d.picture
}

// paintGlare marks on the made picture what was taken from the second, and says which of both is shown.
func (f *facePane) paintGlare(r brush, d *faceDoc) {
	u := d.unshone
	if u == nil || f.b.screen != FaceScreen {
		return
	}
	words := Word("glare.shown.first")
	if !f.b.held[firstKey] {
		words = Word("glare.shown.made")
	}
	for _, box := range u.found.Where {
		markBox(r.dst, d.view.Device, box.Inset(-4), r.u(1))
	}
	w, h := r.plateSize(words)
	r.plate((f.in.Min.X+f.in.Max.X-w)/2, f.in.Max.Y-h-r.n(8), r.pal.ChosenOnDark, dark(), words)
}
