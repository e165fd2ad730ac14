package atlas

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
)

// partSuffix ends the names of files not yet whole.
const partSuffix = ".part"

// writeFile puts text at path so that it is there whole or not at all.
func writeFile(path string, text []byte) error {
	_, err := writeWith(path, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
	return err
}

// writeWith is writeFile for what write writes; it returns the SHA-256 of the bytes.
func writeWith(path string, write func(io.Writer) error) (photo.Hash, error) {
	p, err := newPart(filepath.Dir(path))
	if err != nil {
		return photo.Hash{}, err
	}
	defer p.discard()
	sum := sha256.New()
	if err := write(io.MultiWriter(p.file, sum)); err != nil {
		return photo.Hash{}, diskError(err)
	}
	return photo.Hash(sum.Sum(nil)), p.settle(path)
}

// partFile is an open file that is being written.
type partFile interface {
	io.ReadWriteSeeker
	io.Closer
	Sync() error
	Name() string
}

// disk is how files come to be. Tests put one in its place that fails.
var disk = struct {
	create func(dir, pattern string) (partFile, error)
	rename func(from, to string) error
}{
	create: func(dir, pattern string) (partFile, error) { return os.CreateTemp(dir, pattern) },
	rename: os.Rename,
}

// diskError makes what the system says of a disk one of our own errors.
func diskError(err error) error {
	if err == nil {
		return nil
	}
	if said := store.DiskError(err); errors.Is(said, ErrFull) || errors.Is(said, ErrDisk) {
		return said
	}
	return fmt.Errorf("atlas: %w", err)
}

// part is a file being written.
type part struct {
	file partFile
	done bool
}

func newPart(dir string) (*part, error) {
	f, err := disk.create(dir, "new-*"+partSuffix)
	if err != nil {
		return nil, diskError(err)
	}
	return &part{file: f}, nil
}

// settle gives the file its name: flushed, renamed, and the folder flushed too.
func (p *part) settle(path string) error {
	if err := errors.Join(p.file.Sync(), p.file.Close()); err != nil {
		return diskError(err)
	}
	if err := disk.rename(p.file.Name(), path); err != nil {
		return diskError(err)
	}
	p.done = true
	return syncDir(filepath.Dir(path))
}

// discard removes a file that was not settled.
func (p *part) discard() {
	if !p.done {
		p.file.Close()
		os.Remove(p.file.Name())
	}
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, os.ErrInvalid) && !errors.Is(err, os.ErrPermission) {
		return diskError(err) // some systems cannot flush a folder, and need not
	}
	return nil
}

// sweep removes what a killed writer left half written.
func sweep(dirs ...string) error {
	for _, dir := range dirs {
		there, err := os.ReadDir(dir)
		if err != nil {
			return fmt.Errorf("atlas: %w", err)
		}
		for _, e := range there {
			ours := strings.HasPrefix(e.Name(), "new-") || strings.HasPrefix(e.Name(), backupPrefix) || strings.HasPrefix(e.Name(), "format-")
			if ours && strings.HasSuffix(e.Name(), partSuffix) {
				if err := os.Remove(filepath.Join(dir, e.Name())); err != nil && !errors.Is(err, os.ErrNotExist) {
					return fmt.Errorf("atlas: %w", err)
				}
			}
		}
	}
	return nil
}

// hashFile returns the SHA-256 of a file.
func hashFile(ctx context.Context, path string) (photo.Hash, error) {
	f, err := os.Open(path)
	if err != nil {
		return photo.Hash{}, err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, reading{ctx, f}); err != nil {
		return photo.Hash{}, err
	}
	return photo.Hash(sum.Sum(nil)), nil
}

// readWhole reads a file whose size was checked when it came in.
func readWhole(ctx context.Context, path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var b bytes.Buffer
	if info, err := f.Stat(); err == nil && info.Size() <= photo.DefaultBytes {
		b.Grow(int(info.Size()) + bytes.MinRead)
	}
	_, err = b.ReadFrom(io.LimitReader(reading{ctx, f}, photo.DefaultBytes+1))
	return b.Bytes(), err
}

// reading stops a long read when its context ends.
type reading struct {
	ctx context.Context
	r   io.Reader
}

func (r reading) Read(b []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.r.Read(b)
}
