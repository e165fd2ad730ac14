package atlas

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// BackupCopy is one copy of the catalogue under backups/.
type BackupCopy struct {
	Path string    `json:"path"`
	Time time.Time `json:"time,omitzero"` // UTC; zero for a copy made before a change of format
}

// BackupCopies lists the copies of the catalogue in the library folder dir, the newest first. The library need not open.
func BackupCopies(dir string) ([]BackupCopy, error) {
	l := &Library{dir: dir}
	times, err := l.backups()
	if err != nil {
		return nil, err
	}
	var out []BackupCopy
	for _, t := range times {
		out = append(out, BackupCopy{Path: filepath.Join(dir, backupsName, backupPrefix+t.Format(backupStamp)+".db"), Time: t})
	}
	older, err := filepath.Glob(filepath.Join(dir, backupsName, "format-*.db"))
	for _, path := range older {
		out = append(out, BackupCopy{Path: path})
	}
	return out, err
}

// RestoreCatalogue puts a copy of the catalogue in the place of the one of the library in dir, which must be open nowhere. The copy is
// checked first; the catalogue that was there is kept under backups/ as replaced-<time>.db with what lay beside it. Originals
// and volumes that came in since stay where they are.
func RestoreCatalogue(dir string, copy BackupCopy) (err error) {
	if dir, err = usable(dir); err != nil {
		return err
	}
	k := newLock(dir)
	if err := k.take(); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, k.drop()) }()
	part := filepath.Join(dir, catalogueName+partSuffix+"-copy")
	if err := copyFile(copy.Path, part); err != nil {
		return err
	}
	defer os.Remove(part)
	aside := filepath.Join(dir, backupsName, "replaced-"+time.Now().UTC().Format(backupStamp)+".db")
	for _, with := range []string{"", "-wal"} {
		if err := copyFile(filepath.Join(dir, catalogueName+with), aside+with); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	if err := syncDir(filepath.Join(dir, backupsName)); err != nil {
		return err
	}
	if err := settleCatalogue(part, dir); err != nil {
		return fmt.Errorf("%s cannot be gone back to: %w", strings.TrimPrefix(copy.Path, dir+string(filepath.Separator)), err)
	}
	return nil
}

// copyFile copies a file, flushed.
func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return diskError(err)
	}
	_, err = io.Copy(out, in)
	if err := errors.Join(err, out.Sync(), out.Close()); err != nil {
		os.Remove(to)
		return diskError(err)
	}
	return nil
}
