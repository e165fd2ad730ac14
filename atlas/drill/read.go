package drill

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"io"
	"os"
	"regexp"
	"time"
)

// Bounds of a pack. A full one (200 faces with a cut each) is some 200 MB.
const (
	maxPack     = 1 << 30
	maxMembers  = 4096
	maxManifest = 32 << 20
	maxPicture  = 64 << 20
	maxPixels   = 64 << 20
)

// member is what files in a pack may be called.
var member = regexp.MustCompile(`^(manifest\.json|README\.txt|(faces|cuts)/[A-Z0-9-]{1,40}\.(jpg|png))$`)

// Pack is an open study pack. It is read-only, and safe for several goroutines.
type Pack struct {
	Manifest
	// Today is the day the pack was opened for: the clock's, or a later one that is known to have been.
	Today time.Time
	// ClockBack says that the computer's clock stands before a day that has already been.
	ClockBack bool

	files map[string]*zip.File
	close func() error
}

// Open opens a pack for a day. latest is the last day the program is known to have run here (Progress.Latest), zero when
// not known: a clock set back behind it, or behind the day the pack was made, counts as that day. Errors: ErrNotAPack,
// ErrNewerPack, ErrDamaged, ErrTooLarge, ErrExpired.
func Open(path string, now, latest time.Time) (*Pack, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("drill: %w", err)
	}
	info, err := f.Stat()
	if err == nil {
		var p *Pack
		if p, err = Read(f, info.Size(), now, latest); err == nil {
			p.close = f.Close
			return p, nil
		}
	}
	f.Close()
	return nil, err
}

// Read is Open for a pack in memory or in an open file.
func Read(r io.ReaderAt, size int64, now, latest time.Time) (*Pack, error) {
	if size > maxPack {
		return nil, ErrTooLarge
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNotAPack, err)
	}
	if len(z.File) > maxMembers {
		return nil, fmt.Errorf("%w: %d files", ErrTooLarge, len(z.File))
	}
	p := &Pack{files: map[string]*zip.File{}, close: func() error { return nil }}
	for _, f := range z.File {
		switch {
		case !member.MatchString(f.Name):
			return nil, fmt.Errorf("%w: it holds a file that no pack has", ErrNotAPack)
		case p.files[f.Name] != nil:
			return nil, fmt.Errorf("%w: %s stands twice", ErrDamaged, f.Name)
		case f.Name != "manifest.json" && f.UncompressedSize64 > maxPicture:
			return nil, fmt.Errorf("%w: %s", ErrTooLarge, f.Name)
		}
		p.files[f.Name] = f
	}
	if err := p.readManifest(); err != nil {
		return nil, err
	}
	return p, p.open(now, latest)
}

func (p *Pack) readManifest() error {
	b, err := p.member("manifest.json", maxManifest)
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%w: it has no manifest.json", ErrNotAPack)
	}
	if err != nil {
		return err
	}
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	switch err := json.Unmarshal(b, &head); {
	case err != nil:
		return fmt.Errorf("%w: manifest.json: %w", ErrDamaged, err)
	case head.Format != Format:
		return ErrNotAPack
	case head.Version > Version:
		return ErrNewerPack
	}
	if err := json.Unmarshal(b, &p.Manifest); err != nil {
		return fmt.Errorf("%w: manifest.json: %w", ErrDamaged, err)
	}
	if err := p.Manifest.Check(); err != nil {
		return err
	}
	for name := range p.Files {
		if p.files[name] == nil {
			return fmt.Errorf("%w: %s is missing", ErrDamaged, name)
		}
	}
	return nil
}

// open reckons the day and refuses a pack that has ended.
func (p *Pack) open(now, latest time.Time) error {
	p.Today = now
	made, _ := time.Parse(Day, p.Made) // checked
	for _, been := range []time.Time{made, latest} {
		if been.Format(Day) > p.Today.Format(Day) {
			p.Today, p.ClockBack = been, true
		}
	}
	if p.Expired(p.Today) {
		on, _ := time.Parse(Day, p.Expires)
		return fmt.Errorf("%w: its last day was %s", ErrExpired, on.Format("2 January 2006"))
	}
	return nil
}

// member unpacks one file, no more than limit bytes of it whatever it claims.
func (p *Pack) member(name string, limit int64) ([]byte, error) {
	f := p.files[name]
	if f == nil {
		return nil, fmt.Errorf("%s: %w", name, os.ErrNotExist)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrDamaged, name, err)
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, limit+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %s: %w", ErrDamaged, name, err)
	case int64(len(b)) > limit:
		return nil, fmt.Errorf("%w: %s", ErrTooLarge, name)
	}
	return b, nil
}

// Picture reads one picture, checked against its hash. Errors: ErrDamaged, ErrTooLarge.
func (p *Pack) Picture(name string) (image.Image, error) {
	want, listed := p.Files[name]
	if !listed {
		return nil, fmt.Errorf("%w: there is no picture %q", ErrDamaged, name)
	}
	b, err := p.member(name, maxPicture)
	if err != nil {
		return nil, err
	}
	if sum := sha256.Sum256(b); hex.EncodeToString(sum[:]) != want {
		return nil, fmt.Errorf("%w: %s", ErrDamaged, name)
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrDamaged, name, err)
	}
	if c.Width <= 0 || c.Height <= 0 || int64(c.Width)*int64(c.Height) > maxPixels {
		return nil, fmt.Errorf("%w: %s", ErrTooLarge, name)
	}
	m, _, err := image.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrDamaged, name, err)
	}
	return m, nil
}

// Close lets go of the file.
func (p *Pack) Close() error { return p.close() }
