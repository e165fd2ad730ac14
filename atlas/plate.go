package atlas

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"os"
	"path/filepath"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// PreviewSize is the longer side of a preview in pixels.
const PreviewSize = 1086

// previewQuality is that of the JPEG files in the cache.
const previewQuality = 88

// KnownPhoto is an ErrKnownPhoto with the plate that holds the photograph.
type KnownPhoto struct{ Plate string }

func (k *KnownPhoto) Error() string { return ErrKnownPhoto.Error() + " (" + k.Plate + ")" }

// Unwrap returns ErrKnownPhoto.
func (k *KnownPhoto) Unwrap() error { return ErrKnownPhoto }

// extensions of originals, by the format that the bytes themselves say.
var extensions = map[string]string{"jpeg": ".jpg", "png": ".png", "tiff": ".tif", "webp": ".webp", "heic": ".heic"}

// AddPhoto keeps a photograph's bytes unchanged and begins its plate. A zero face is the unplaced tray, for
// which donor must be given; else donor may be "". name is only spoken of in errors and not kept: it may say
// whose body it is. Errors: a *KnownPhoto for bytes already here, ErrFaceTaken, section.ErrNotAFace, those of
// photo.Open; nothing is kept then.
func (l *Library) AddPhoto(ctx context.Context, f section.Face, donor, name string, r io.Reader) (Plate, error) {
	return l.TakePhoto(ctx, f, donor, name, r, nil)
}

// TakePhoto is AddPhoto that shows the decoded photograph to look, unless that is nil, so that one decoding serves the
// preview that is kept and whatever else wants to see the picture. look is called once, before the plate is kept, for a
// photograph that is new here. Many may be taken in at the same time: of equal bytes one is kept, the others are a
// *KnownPhoto of its plate.
func (l *Library) TakePhoto(ctx context.Context, f section.Face, donor, name string, r io.Reader, look func(*photo.Image)) (Plate, error) {
	if err := l.writable(); err != nil {
		return Plate{}, err
	}
	donor, synthetic, err := l.placeable(f, donor)
	if err != nil {
		return Plate{}, err
	}
	if f != (section.Face{}) {
		if taken, err := l.db.CurrentPlate(f.Run, f.Slab, f.Facing.String()); err == nil {
			return Plate{}, naming(f.Name()+", "+taken, ErrFaceTaken)
		}
	}
	p := Plate{ID: "P" + RandomCode(10), Donor: donor, Face: f, Synthetic: synthetic}
	defer l.let(p.ID)
	row, picture, err := l.keepOriginal(ctx, &p, r)
	if err == nil && look != nil {
		look(picture)
	}
	if err != nil {
		return Plate{}, fmt.Errorf("atlas: %s: %w", filepath.Base(name), err)
	}
	p.Rev, p.Saved = 1, now()
	plateRow, err := rowOf(p)
	if err != nil {
		return Plate{}, err
	}
	return p, l.db.AddPlate(plateRow, row)
}

// placeable checks face and donor, and returns the donor's code and whether it is practice material.
func (l *Library) placeable(f section.Face, donor string) (code string, synthetic bool, err error) {
	if f != (section.Face{}) {
		r, err := l.Run(f.Run)
		if err != nil {
			return "", false, err
		}
		if err := checkFace(r, f); err != nil {
			return "", false, err
		}
		if donor != "" && donor != r.Donor {
			return "", false, fmt.Errorf("atlas: %s belongs to another donor than %s", f.Name(), donor)
		}
		donor = r.Donor
	}
	d, err := l.Donor(donor)
	return d.Code, d.Synthetic, err
}

// keepOriginal copies the bytes under originals/ while hashing them, decodes them once to be sure of them, and
// fills p.Photo.
func (l *Library) keepOriginal(ctx context.Context, p *Plate, r io.Reader) (store.Photo, *photo.Image, error) {
	part, err := newPart(filepath.Join(l.dir, originalsName))
	if err != nil {
		return store.Photo{}, nil, err
	}
	defer part.discard()
	row, err := l.copyOriginal(ctx, p, part.file, r)
	if err != nil {
		return row, nil, err
	}
	if err := l.claim(ctx, row.SHA256, p.ID); err != nil {
		return row, nil, err
	}
	if known, err := l.db.PlateOfPhoto(row.SHA256); err == nil {
		return row, nil, &KnownPhoto{known}
	}
	if _, err := part.file.Seek(0, io.SeekStart); err != nil {
		return row, nil, err
	}
	picture, err := photo.Open(ctx, part.file, photo.Limit{})
	if err != nil {
		return row, nil, err
	}
	if picture.Info().SHA256 != p.Photo.SHA256 {
		return row, nil, fmt.Errorf("%w: the disk gave back other bytes than were written", ErrDamaged)
	}
	said := picture.Info()
	p.Photo.Size, p.Photo.Profile, p.Photo.Unused = picture.Size(), said.Profile, said.Unused
	path := l.original(row)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return row, nil, diskError(err)
	}
	if err := part.settle(path); err != nil {
		return row, nil, err
	}
	l.cachePreview(row.SHA256, picture.Preview(PreviewSize)) // the cache may fail; it is made again when asked for
	return row, picture, syncDir(filepath.Join(l.dir, originalsName))
}

// copyOriginal writes the bytes of r to file, and says in p.Photo and the row what they are.
func (l *Library) copyOriginal(ctx context.Context, p *Plate, file partFile, r io.Reader) (row store.Photo, err error) {
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(file, sum), io.LimitReader(reading{ctx, r}, photo.DefaultBytes+1))
	if err != nil {
		return row, diskError(err)
	}
	if n > photo.DefaultBytes {
		return row, photo.ErrTooLarge
	}
	if p.Photo, err = photo.Probe(file); err != nil {
		return row, err
	}
	if int64(p.Photo.Size.X)*int64(p.Photo.Size.Y) > photo.DefaultPixels {
		return row, photo.ErrTooLarge
	}
	p.Photo.SHA256, p.Photo.Bytes = photo.Hash(sum.Sum(nil)), n
	return store.Photo{SHA256: p.Photo.SHA256.String(), Ext: extensions[p.Photo.Format], Bytes: n}, nil
}

func (l *Library) original(p store.Photo) string {
	return filepath.Join(l.dir, originalsName, p.SHA256[:2], p.SHA256+p.Ext)
}

func now() time.Time { return time.Now().UTC().Truncate(time.Millisecond) }

// Place says which face an unplaced or misplaced photograph shows. What was known of its pose in a scan falls
// away. Errors as AddPhoto.
func (l *Library) Place(id string, f section.Face) (Plate, error) {
	return l.change(id, func(p *Plate) error {
		if f == (section.Face{}) {
			return fmt.Errorf("%w: no face was named", ErrUnplaced)
		}
		if p.Retired {
			return naming(p.Face.Name(), ErrRetired)
		}
		if _, _, err := l.placeable(f, p.Donor); err != nil {
			return err
		}
		if p.Face != f {
			p.Face, p.Registration = f, nil
		}
		return nil
	})
}

// PlaceAll is Place for many photographs as one step: all of them or, with an error, none. The zero face is the tray.
// Photographs may change places with each other.
func (l *Library) PlaceAll(on map[string]section.Face) error {
	if err := l.writable(); err != nil {
		return err
	}
	runs := map[string]section.Run{}
	var rows []store.Plate
	for id, f := range on {
		p, err := l.Plate(id)
		if err != nil {
			return err
		}
		if p.Face == f {
			continue
		}
		if err := l.mayLie(runs, p, f); err != nil {
			return err
		}
		p.Face, p.Registration = f, nil
		if f == (section.Face{}) {
			p.Picks = nil
		}
		p.Rev, p.Saved = p.Rev+1, now()
		row, err := rowOf(p)
		if err != nil {
			return err
		}
		rows = append(rows, row)
	}
	if err := l.db.MovePlates(rows); err != nil {
		return fmt.Errorf("atlas: laying %d photographs: %w", len(rows), err)
	}
	return nil
}

// mayLie checks a face against its run, read once, and the photograph's donor.
func (l *Library) mayLie(runs map[string]section.Run, p Plate, f section.Face) (err error) {
	if p.Retired {
		return naming(p.Face.Name(), ErrRetired)
	}
	if f == (section.Face{}) {
		return nil
	}
	r, known := runs[f.Run]
	if !known {
		if r, err = l.Run(f.Run); err != nil {
			return err
		}
		runs[f.Run] = r
	}
	if r.Donor != p.Donor {
		return fmt.Errorf("atlas: %s belongs to another donor than %s", f.Name(), p.Donor)
	}
	return checkFace(r, f)
}

// Unplace lays a photograph back in the tray. Its outlines stay with it.
func (l *Library) Unplace(id string) (Plate, error) {
	return l.change(id, func(p *Plate) error {
		if p.Retired {
			return naming(p.Face.Name(), ErrRetired)
		}
		p.Face, p.Registration, p.Picks = section.Face{}, nil, nil
		return nil
	})
}

// Retire keeps a photograph as an earlier one, so that its face can get a new current one.
func (l *Library) Retire(id string) (Plate, error) {
	return l.change(id, func(p *Plate) error {
		if p.Face == (section.Face{}) {
			return naming("photograph "+id, ErrUnplaced)
		}
		p.Retired = true
		return nil
	})
}

// Restore makes a retired photograph its face's current one again; ErrFaceTaken when there is another.
func (l *Library) Restore(id string) (Plate, error) {
	return l.change(id, func(p *Plate) error { p.Retired = false; return nil })
}

// change reads, edits and writes a plate.
func (l *Library) change(id string, edit func(*Plate) error) (Plate, error) {
	p, err := l.Plate(id)
	if err != nil {
		return p, err
	}
	if err := edit(&p); err != nil {
		return p, err
	}
	return l.put(p)
}

// Plate reads one plate.
func (l *Library) Plate(id string) (Plate, error) {
	row, err := l.db.Plate(id)
	if err != nil {
		return Plate{}, naming("face "+id, err)
	}
	return plateOf(row)
}

// PlateOf reads the current plate of a face, or ErrNotFound.
func (l *Library) PlateOf(f section.Face) (Plate, error) {
	id, err := l.db.CurrentPlate(f.Run, f.Slab, f.Facing.String())
	if err != nil {
		return Plate{}, naming(f.Name(), err)
	}
	return l.Plate(id)
}

// Save replaces a plate and returns it with Rev+1. It fails with ErrChanged if the disk moved on, and with
// ErrUnplaced when outlines were drawn on a photograph that lies in the tray. Donor, face and photograph do not
// change here; see Place and Retire. An earlier photograph is not changed at all (ErrRetired).
func (l *Library) Save(p Plate) (Plate, error) {
	if err := l.mayReplace(p); err != nil {
		return p, err
	}
	return l.put(p)
}

// SaveAll is Save for many plates as one step: all of them or, with an error, none. It returns them with their new Rev.
func (l *Library) SaveAll(plates ...Plate) ([]Plate, error) {
	for _, p := range plates {
		if err := l.mayReplace(p); err != nil {
			return nil, err
		}
	}
	return l.putAll(plates...)
}

// mayReplace checks a plate against the one on disk.
func (l *Library) mayReplace(p Plate) error {
	old, err := l.db.Plate(p.ID)
	if err != nil {
		return naming("face "+p.ID, err)
	}
	if old.Rev != p.Rev {
		return naming(p.Face.Name(), ErrChanged)
	}
	if faceOf(old) != p.Face || old.Donor != p.Donor || old.Photo != p.Photo.SHA256.String() || old.Retired != p.Retired {
		return fmt.Errorf("atlas: face %s: donor, face and photograph are not changed by saving", p.ID)
	}
	if old.Retired {
		return naming(p.Face.Name(), ErrRetired)
	}
	if p.Face == (section.Face{}) {
		before, err := plateOf(old)
		if err != nil {
			return err
		}
		if p.Labels.Len() > before.Labels.Len() {
			return naming("photograph "+p.ID, ErrUnplaced)
		}
	}
	return nil
}

func (l *Library) put(p Plate) (Plate, error) {
	next, err := l.putAll(p)
	if err != nil {
		return p, err
	}
	return next[0], nil
}

// facts are the few things of a plate that lists show.
type facts struct {
	Status   photo.Status   `json:"status"`
	PhotoUp  section.Facing `json:"photoUp"`
	Mirrored Answer         `json:"mirrored"`
	Asked    bool           `json:"asked,omitempty"` // the camera's tag holds a mirror
	Series   string         `json:"series,omitempty"`
	Size     image.Point    `json:"size"`
	Again    int            `json:"again,omitempty"` // to be looked at since the face was photographed anew
}

func rowOf(p Plate) (store.Plate, error) {
	row := store.Plate{ID: p.ID, Donor: p.Donor, Photo: p.Photo.SHA256.String(), Retired: p.Retired, Synthetic: p.Synthetic,
		Rev: p.Rev, Saved: p.Saved}
	if p.Face != (section.Face{}) {
		row.Run, row.Slab, row.Facing = p.Face.Run, p.Face.Slab, p.Face.Facing.String()
	}
	for x := range p.Labels.All() {
		row.Labels = append(row.Labels, store.Label{ID: x.ID, Term: string(x.Term), Side: x.Side.String(), Sure: x.Sure.String()})
	}
	f := facts{Status: p.Calibration.Status, PhotoUp: p.PhotoUp, Mirrored: p.Mirrored, Asked: p.Photo.Mirrored, Size: p.Photo.Size,
		Again: len(p.LookAgain())}
	if p.Registration != nil {
		f.Series = p.Registration.Series
	}
	var err1, err2 error
	row.Facts, err1 = json.Marshal(f)
	row.Doc, err2 = json.Marshal(p)
	if err := errors.Join(err1, err2); err != nil {
		return row, fmt.Errorf("atlas: face %s holds a number that cannot be kept: %w", p.ID, err)
	}
	return row, nil
}

func faceOf(row store.Plate) section.Face {
	if row.Run == "" {
		return section.Face{}
	}
	facing, err := section.ParseFacing(row.Facing)
	if err != nil {
		return section.Face{} // the catalogue's own constraint allows no other word
	}
	return section.Face{Run: row.Run, Slab: row.Slab, Facing: facing}
}

// plateOf reads a row's document and checks that both speak of the same plate.
func plateOf(row store.Plate) (Plate, error) {
	var p Plate
	if err := json.Unmarshal(row.Doc, &p); err != nil {
		return Plate{}, fmt.Errorf("%w: what is known of face %s: %w", ErrDamaged, row.ID, err)
	}
	if p.ID != row.ID || p.Donor != row.Donor || p.Face != faceOf(row) || p.Rev != row.Rev || p.Photo.SHA256.String() != row.Photo {
		return Plate{}, fmt.Errorf("%w: what is known of face %s does not agree with its row", ErrDamaged, row.ID)
	}
	return p, nil
}

// Photo decodes the original of a plate, after checking its bytes against their hash.
func (l *Library) Photo(ctx context.Context, id string) (*photo.Image, error) {
	b, what, err := l.originalBytes(ctx, id)
	if err != nil {
		return nil, err
	}
	m, err := photo.Open(ctx, bytes.NewReader(b), photo.Limit{})
	return m, naming(what, err)
}

// originalBytes reads and checks an original; what names it for people.
func (l *Library) originalBytes(ctx context.Context, id string) (b []byte, what string, err error) {
	row, err := l.db.Plate(id)
	if err != nil {
		return nil, "", naming("face "+id, err)
	}
	what = "photo of " + faceOf(row).Name()
	if row.Run == "" {
		what = "unplaced photo " + id
	}
	kept, err := l.db.Photo(row.Photo)
	if err != nil {
		return nil, what, naming(what, err)
	}
	path := l.original(kept)
	b, err = readWhole(ctx, path)
	if ctx.Err() != nil {
		return nil, what, ctx.Err()
	}
	if err != nil || photo.Hash(sha256.Sum256(b)).String() != row.Photo {
		return nil, what, fmt.Errorf("%w: %s (%s)", ErrDamaged, what, filepath.Base(path))
	}
	return b, what, nil
}

// Preview returns the upright photograph of a plate, its longer side at most PreviewSize pixels.
func (l *Library) Preview(ctx context.Context, id string) (image.Image, error) {
	row, err := l.db.Plate(id)
	if err != nil {
		return nil, naming("face "+id, err)
	}
	if f, err := os.Open(l.previewPath(row.Photo)); err == nil {
		m, err := jpeg.Decode(f)
		f.Close()
		if err == nil && m.Bounds().Dx() <= PreviewSize && m.Bounds().Dy() <= PreviewSize {
			return m, nil
		}
	}
	m, err := l.Photo(ctx, id)
	if err != nil {
		return nil, err
	}
	small := m.Preview(PreviewSize)
	if l.mode == ReadWrite {
		l.cachePreview(row.Photo, small)
	}
	return small, nil
}

func (l *Library) previewPath(sha256 string) string {
	return filepath.Join(l.dir, cacheName, fmt.Sprintf("%s-%d.jpg", sha256, PreviewSize))
}

// cachePreview keeps a preview. Failing is no fault: the cache may be full or gone, and is never relied on.
func (l *Library) cachePreview(sha256 string, m image.Image) {
	_, _ = writeWith(l.previewPath(sha256), func(w io.Writer) error { return photo.EncodeJPEG(w, m, previewQuality) })
}
