package atlas

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/scan"
)

// The parts of a library folder.
const (
	catalogueName = "catalogue.db"
	originalsName = "originals"
	volumesName   = "volumes"
	cacheName     = "cache"
	backupsName   = "backups"
)

var folders = []string{originalsName, volumesName, cacheName, backupsName}

// Library is an open library folder. Its methods may be used from any goroutine.
type Library struct {
	dir  string
	mode Mode
	db   *store.DB
	lock *lock // nil when open for reading

	taking struct { // photographs being taken in now: plates by hash
		sync.Mutex
		by map[string]claim
	}

	custody struct { // what the ledger says, as far as it was read
		sync.Mutex
		Custody
	}
}

// Create makes a new library folder at dir, which must be empty or absent, and opens it for writing. A folder
// that an earlier attempt left half made is finished.
func Create(dir string) (*Library, error) {
	dir, err := usable(dir)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, diskError(err)
	}
	if err := checkEmpty(dir); err != nil {
		return nil, err
	}
	for _, f := range folders {
		if err := os.MkdirAll(filepath.Join(dir, f), 0o755); err != nil {
			return nil, diskError(err)
		}
	}
	// The catalogue gets its name only once it is whole.
	part := filepath.Join(dir, catalogueName+".part")
	for _, old := range []string{part, part + "-wal", part + "-shm", part + "-journal"} {
		if err := os.Remove(old); err != nil && !errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("atlas: %w", err)
		}
	}
	db, err := store.Create(part)
	if err != nil {
		return nil, fmt.Errorf("atlas: %s: %w", dir, err)
	}
	if err := db.Close(); err != nil {
		return nil, fmt.Errorf("atlas: %s: %w", dir, err)
	}
	if err := os.Rename(part, filepath.Join(dir, catalogueName)); err != nil {
		return nil, diskError(err)
	}
	if err := syncDir(dir); err != nil {
		return nil, err
	}
	return Open(dir, ReadWrite)
}

// checkEmpty allows only what Create itself puts into a folder.
func checkEmpty(dir string) error {
	there, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	ours := map[string]bool{}
	for _, f := range folders {
		ours[f] = true
	}
	for _, e := range there {
		switch name := e.Name(); {
		case name == catalogueName:
			return fmt.Errorf("%w: %s holds a lab; open it instead", ErrExists, dir)
		case !ours[name] && !strings.HasPrefix(name, catalogueName+".part"):
			return fmt.Errorf("%w: %s is not empty (%s); choose a new folder", ErrExists, dir, name)
		}
	}
	return nil
}

// mostPath is how long the path of a library may be, in bytes: SQLite takes names up to 512, and copies need room for theirs.
const mostPath = 440

// usable makes dir absolute and refuses network shares.
func usable(dir string) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", fmt.Errorf("atlas: %w", err)
	}
	if len(abs) > mostPath {
		return "", fmt.Errorf("atlas: the path of this folder is too long (%d bytes, %d at most); choose one nearer to the top of the disk", len(abs), mostPath)
	}
	if kind := shareKind(abs); kind != "" {
		return "", fmt.Errorf("%w: %s lies on a network share (%s), where the catalogue cannot be kept safe; move the folder to a local disk", ErrShare, abs, kind)
	}
	return abs, nil
}

// Open opens the library folder at dir. For writing, it fails with ErrLocked while another program holds it.
func Open(dir string, m Mode) (*Library, error) {
	dir, err := usable(dir)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, catalogueName)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("%w: there is no lab in %s", ErrNotFound, dir)
	}
	l := &Library{dir: dir, mode: m}
	if m == ReadOnly {
		if l.db, err = store.OpenReadOnly(path); err != nil {
			return nil, fmt.Errorf("atlas: %s: %w", dir, err)
		}
		return l, nil
	}
	if l.db, err = store.Open(path); err != nil {
		return nil, fmt.Errorf("atlas: %s: %w; copies of the catalogue lie in %s", dir, err, filepath.Join(dir, backupsName))
	}
	if err := l.take(); err != nil {
		return nil, errors.Join(err, l.db.Close())
	}
	if err := l.prepare(); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

// take makes this process the library's writer.
func (l *Library) take() error {
	l.lock = newLock(l.dir)
	err := l.db.Claim(l.lock.mark.Token, l.lock.take)
	if err != nil {
		return errors.Join(err, l.lock.drop())
	}
	l.lock.keep()
	return nil
}

// prepare does what a library opened for writing needs before use.
func (l *Library) prepare() error {
	for _, f := range folders {
		if err := os.MkdirAll(filepath.Join(l.dir, f), 0o755); err != nil {
			return diskError(err)
		}
	}
	err := l.db.Upgrade(func(format int) error {
		return l.db.Backup(context.Background(), filepath.Join(l.dir, backupsName, fmt.Sprintf("format-%d-%s.db", format, time.Now().UTC().Format(backupStamp))))
	})
	if err != nil {
		return fmt.Errorf("atlas: %s: %w", l.dir, err)
	}
	if _, err := l.db.Meta("secret"); errors.Is(err, ErrNotFound) {
		if err := l.db.SetMeta("secret", hex.EncodeToString(randomBytes(32))); err != nil {
			return err
		}
	} else if err != nil {
		return err
	}
	if err := sweep(filepath.Join(l.dir, originalsName), filepath.Join(l.dir, volumesName), filepath.Join(l.dir, cacheName), filepath.Join(l.dir, backupsName)); err != nil {
		return err
	}
	return l.backupWhenDue(time.Now())
}

// Close lets go of the library: the catalogue is folded into one file and the lock is taken away.
func (l *Library) Close() error {
	err := l.db.Close()
	if l.lock != nil {
		err = errors.Join(err, l.lock.drop())
	}
	return err
}

// Dir is the library's folder, absolute.
func (l *Library) Dir() string { return l.dir }

// Mode is how the library was opened.
func (l *Library) Mode() Mode { return l.mode }

// writable fails with ErrReadOnly.
func (l *Library) writable() error {
	if l.mode == ReadOnly {
		return ErrReadOnly
	}
	return nil
}

// cleaner replaces identifiers by this library's secret.
func (l *Library) cleaner() (*scan.Cleaner, error) {
	text, err := l.db.Meta("secret")
	if err != nil {
		return nil, err
	}
	secret, err := hex.DecodeString(text)
	if err != nil {
		return nil, fmt.Errorf("%w: the catalogue's secret", ErrDamaged)
	}
	return scan.NewCleaner(secret), nil
}

func randomBytes(n int) []byte {
	b := make([]byte, n)
	rand.Read(b) // never fails
	return b
}

// Crockford's letters: none of I, L, O, U, so that a code read aloud or typed is not mistaken.
const codeLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// RandomCode returns n random letters and digits that are hard to mistake for one another.
func RandomCode(n int) string { return CodeOf(randomBytes(n), n) }

// CodeOf writes the first n of some bytes as letters and digits of the same kind.
func CodeOf(b []byte, n int) string {
	out := make([]byte, n)
	for i := range out {
		out[i] = codeLetters[b[i%len(b)]%32]
	}
	return string(out)
}
