package atlas

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
)

// ErrNotACopy says that a folder holds something else than a copy of this library.
var ErrNotACopy = errors.New("atlas: not a copy of this lab")

// CopyTo writes a copy of the whole library into dir: it can be opened there as it is, and is what to go back to when this
// disk is lost. dir must be empty, absent or an earlier copy of this library, which is brought up to date: originals and
// volumes that lie there whole are not copied again. Every byte is checked against its hash on the way, and the catalogue
// appears last, whole or not at all. Damaged files go to report (may be nil), each named, and the rest is copied. done (may
// be nil) hears how many files are there of how many.
func (l *Library) CopyTo(ctx context.Context, dir string, report func(error), done func(copied, total int)) error {
	if report == nil {
		report = func(error) {}
	}
	if done == nil {
		done = func(int, int) {}
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	if err := l.mayCopyTo(dir); err != nil {
		return err
	}
	for _, f := range folders {
		if err := os.MkdirAll(filepath.Join(dir, f), 0o755); err != nil {
			return diskError(err)
		}
	}
	// The catalogue is taken first, so that every file it names is there already.
	if err := sweep(filepath.Join(dir, originalsName), filepath.Join(dir, volumesName)); err != nil {
		return err
	}
	part := filepath.Join(dir, catalogueName+partSuffix+"-copy")
	if err := os.Remove(part); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("atlas: %w", err)
	}
	if err := l.db.Backup(ctx, part); err != nil {
		return fmt.Errorf("atlas: copy: %w", err)
	}
	defer os.Remove(part)
	files, err := l.blobs(ctx)
	if err != nil {
		return err
	}
	for i, f := range files {
		if err := f.copy(ctx, l.dir, dir); errors.Is(err, ErrDamaged) {
			report(err)
		} else if err != nil {
			return err
		}
		done(i+1, len(files))
	}
	return settleCatalogue(part, dir)
}

// settleCatalogue gives a checked catalogue its name in a library folder. What an older one left beside it goes first: a
// write-ahead file must never meet another catalogue.
func settleCatalogue(part, dir string) error {
	if err := store.Sound(context.Background(), part); err != nil {
		return fmt.Errorf("%w: the copy of the catalogue: %w", ErrDamaged, err)
	}
	for _, with := range []string{"-wal", "-shm"} {
		if err := os.Remove(filepath.Join(dir, catalogueName+with)); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("atlas: %w", err)
		}
	}
	if err := syncDir(dir); err != nil {
		return err
	}
	if err := disk.rename(part, filepath.Join(dir, catalogueName)); err != nil {
		return diskError(err)
	}
	return syncDir(dir)
}

// mayCopyTo refuses a folder that holds anything but a copy of this library, and one within it.
func (l *Library) mayCopyTo(dir string) error {
	if within, err := filepath.Rel(l.dir, dir); err == nil && filepath.IsLocal(within) {
		return fmt.Errorf("%w: %s lies in the lab itself; choose a folder on another disk", ErrNotACopy, dir)
	}
	path := filepath.Join(dir, catalogueName)
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return diskError(err)
		}
		if err := checkEmpty(dir); err != nil {
			return fmt.Errorf("%w: %w", ErrNotACopy, err)
		}
		return nil
	}
	there, err := store.OpenReadOnly(path)
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrNotACopy, dir, err)
	}
	defer there.Close()
	mine, err1 := l.db.Meta("secret")
	theirs, err2 := there.Meta("secret")
	if err := errors.Join(err1, err2); err != nil || mine != theirs {
		return fmt.Errorf("%w: %s holds another lab", ErrNotACopy, dir)
	}
	if k := newLock(dir); k.free(time.Now()) != nil {
		return fmt.Errorf("%w: the copy in %s is open in a program; close it there", ErrLocked, dir)
	}
	return nil
}

// blob is one file that the catalogue names, by its place in the library folder.
type blob struct{ name, sha256, what string }

// blobs lists every original and volume.
func (l *Library) blobs(ctx context.Context) (out []blob, err error) {
	photos, err := l.db.Photos(ctx)
	if err != nil {
		return nil, err
	}
	series, err := l.db.Series(ctx)
	if err != nil {
		return nil, err
	}
	add := func(path, sum, what string) {
		name, err := filepath.Rel(l.dir, path)
		if err == nil {
			out = append(out, blob{name, sum, what})
		}
	}
	for _, p := range photos {
		add(l.original(p), p.SHA256, "the original "+filepath.Base(l.original(p)))
	}
	for _, s := range series {
		add(l.volume(s, ".nii"), s.Volume, "series "+s.UID)
		add(l.volume(s, ".json"), s.Side, "the facts of series "+s.UID)
	}
	return out, nil
}

// copy brings b from one library folder into another, unless it lies there whole.
func (b blob) copy(ctx context.Context, from, to string) error {
	path := filepath.Join(to, b.name)
	if h, err := hashFile(ctx, path); err == nil && h.String() == b.sha256 {
		return nil
	} else if ctx.Err() != nil {
		return ctx.Err()
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return diskError(err)
	}
	in, err := os.Open(filepath.Join(from, b.name))
	if err != nil {
		return fmt.Errorf("%w: %s cannot be read: %w", ErrDamaged, b.what, err)
	}
	defer in.Close()
	top, _, _ := strings.Cut(filepath.ToSlash(b.name), "/") // where sweep looks
	p, err := newPart(filepath.Join(to, top))
	if err != nil {
		return err
	}
	defer p.discard()
	source, sum := &faulty{r: reading{ctx, in}}, sha256.New()
	if _, err := io.Copy(io.MultiWriter(p.file, sum), source); err != nil {
		if source.err != nil && ctx.Err() == nil {
			return fmt.Errorf("%w: %s cannot be read: %w", ErrDamaged, b.what, err)
		}
		return diskError(err)
	}
	if photo.Hash(sum.Sum(nil)).String() != b.sha256 {
		return fmt.Errorf("%w: the bytes of %s are not those that came in; an older copy of it is kept if there is one", ErrDamaged, b.what)
	}
	return p.settle(path)
}

// faulty remembers that it was reading that failed.
type faulty struct {
	r   io.Reader
	err error
}

func (f *faulty) Read(b []byte) (int, error) {
	n, err := f.r.Read(b)
	if err != nil && err != io.EOF {
		f.err = err
	}
	return n, err
}
