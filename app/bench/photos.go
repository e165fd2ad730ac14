package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

var pictureEndings = []string{".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif"}

func isPicture(path string) bool {
	return slices.Contains(pictureEndings, strings.ToLower(filepath.Ext(path)))
}

// AddPhotos takes photographs in, as a job: a single one goes onto the chosen face when that has none, all others
// into the tray in the order they were taken. One that cannot be read is named and does not stop the others.
func (b *Bench) AddPhotos(paths []string) {
	if err := b.writable(); err != nil {
		b.Report(err)
		return
	}
	run := b.Run()
	if run.ID == "" {
		b.say(Message{Title: Word("show.norun"), Hint: Word("show.norun.hint")})
		return
	}
	var on section.Face
	if _, taken := b.rule.facts[b.rule.face]; len(paths) == 1 && !taken {
		on = b.rule.face
	}
	lib := b.lab.lib
	b.start(Word("job.photos"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var faults []error
		var last atlas.Plate
		var ids []string
		for i, path := range paths {
			if ctx.Err() != nil {
				break
			}
			p, err := addPhoto(ctx, lib, on, run.Donor, path)
			if err != nil {
				faults = append(faults, fmt.Errorf("%s: %w", filepath.Base(path), err))
			} else {
				last, ids = p, append(ids, p.ID)
			}
			tell(i+1, len(paths))
		}
		return func() {
			b.photosCame(run.ID, last, len(paths)-len(faults))
			if b.Run().ID == run.ID {
				b.checkPhotos(ids)
			}
			for _, err := range faults {
				b.Report(err)
			}
		}, nil
	})
}

func addPhoto(ctx context.Context, lib library, f section.Face, donor, path string) (atlas.Plate, error) {
	r, err := os.Open(path)
	if err != nil {
		return atlas.Plate{}, err
	}
	defer r.Close()
	return lib.AddPhoto(ctx, f, donor, filepath.Base(path), r)
}

// photosCame shows what was taken in, if its run is still the chosen one.
func (b *Bench) photosCame(run string, last atlas.Plate, n int) {
	if b.Run().ID != run {
		_ = b.readLab()
		b.changed(LabChanged)
		return
	}
	b.readFaces()
	if last.Face == b.rule.face && last.Face != (section.Face{}) {
		b.openDoc()
	}
	if last.Photo.Mirrored && last.Face == b.rule.face {
		b.askMirrored()
	}
	if n > 0 {
		b.hint(count("photos.came", n, len(b.lab.tray)), false)
	}
	b.changed(LabChanged | RunChanged | PlateChanged | ViewChanged)
}

func (b *Bench) trayPhoto(e atlas.Entry) TrayPhoto {
	t := TrayPhoto{ID: e.Plate}
	for _, old := range b.lab.tray {
		if old.ID == e.Plate {
			return old
		}
	}
	return t
}

// setTray shows the tray and reads what is not known of it as a job.
func (b *Bench) setTray(tray []TrayPhoto) {
	b.lab.tray = tray
	var unread []string
	for _, t := range tray {
		if t.Preview == nil {
			unread = append(unread, t.ID)
		}
	}
	if len(unread) == 0 {
		b.sortTray()
		return
	}
	lib := b.lab.lib
	b.start(Word("job.tray"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		got := map[string]TrayPhoto{}
		for i, id := range unread {
			if ctx.Err() != nil {
				break
			}
			p, err := lib.Plate(id)
			if err != nil {
				continue
			}
			t := TrayPhoto{ID: id, Taken: p.Photo.Taken, size: p.Photo.Size}
			if m, err := lib.Preview(ctx, id); err == nil {
				t.Preview = photo.NewImage(m).Preview(320)
			}
			got[id] = t
			tell(i+1, len(unread))
		}
		return func() {
			for i, t := range b.lab.tray {
				if x, ok := got[t.ID]; ok {
					b.remark(&x)
					b.lab.tray[i] = x
				}
			}
			b.sortTray()
			b.changed(LabChanged)
		}, nil
	})
}

// sortTray puts the tray in the order the photographs were taken, those without a time last, and words them.
func (b *Bench) sortTray() {
	b.lab.tray = slices.Clone(b.lab.tray)
	slices.SortStableFunc(b.lab.tray, func(x, y TrayPhoto) int {
		if x.Taken.IsZero() != y.Taken.IsZero() {
			if x.Taken.IsZero() {
				return 1
			}
			return -1
		}
		return x.Taken.Compare(y.Taken)
	})
	for i := range b.lab.tray {
		t := &b.lab.tray[i]
		t.Words = Word("tray.notime", i+1)
		if !t.Taken.IsZero() {
			t.Words = Word("tray.time", i+1, t.Taken.Format("2006-01-02 15:04:05"))
		}
	}
}

// Tray lists photographs not yet laid on a face, in the order they were taken.
func (b *Bench) Tray() []TrayPhoto { return slices.Clone(b.lab.tray) }

// Place lays a photograph of the tray on a face.
func (b *Bench) Place(id string, f section.Face) error {
	if x, taken := b.rule.facts[f]; taken && x.plate != id {
		return fmt.Errorf("%w: %s", atlas.ErrFaceTaken, b.FaceName(f))
	}
	if _, _, err := b.Run().Depth(f); err != nil {
		return err
	}
	return b.lay(Word("step.place", b.FaceName(f)), map[string]section.Face{id: f})
}

// Unplace takes the photograph off the chosen face and back into the tray.
func (b *Bench) Unplace() error {
	x, there := b.rule.facts[b.rule.face]
	if !there {
		return ErrNoPhoto
	}
	return b.lay(Word("step.unplace", b.FaceName(b.rule.face)), map[string]section.Face{x.plate: {}})
}

// LayTwoPerCut lays the tray on the run's empty faces in order, two for each cut. What is left over stays in the tray.
func (b *Bench) LayTwoPerCut() error {
	on := map[string]section.Face{}
	tray := b.Tray()
	for _, f := range b.Run().Faces() {
		if _, taken := b.rule.facts[f]; taken || len(tray) == 0 {
			continue
		}
		on[tray[0].ID] = f
		tray = tray[1:]
	}
	if len(on) == 0 {
		return fmt.Errorf("%w: %s", ErrForm, Word("tray.nothing"))
	}
	if err := b.lay(Word("step.twopercut", len(on)), on); err != nil {
		return err
	}
	b.say(Message{Title: Word("tray.laid", len(on), len(tray)), Hint: Word("tray.look")})
	return nil
}
