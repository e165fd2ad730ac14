package scan

import (
	"archive/zip"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Open returns the files to survey at a path of the disk: a folder, a zip archive or a single file. Close it when done;
// the files are only ever read.
func Open(path string) (files fs.FS, close func() error, err error) {
	nothing := func() error { return nil }
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, fmt.Errorf("scan: %w", err)
	}
	if info.IsDir() {
		return os.DirFS(path), nothing, nil
	}
	z, err := zip.OpenReader(path)
	if err == nil {
		return z, z.Close, nil
	}
	if !errors.Is(err, zip.ErrFormat) {
		return nil, nil, fmt.Errorf("scan: %s: %w: %w", path, ErrDamaged, err)
	}
	return oneFile{os.DirFS(filepath.Dir(path)), filepath.Base(path)}, nothing, nil
}

// oneFile shows a folder as if one file (with the voxels beside a .hdr) were all it holds.
type oneFile struct {
	fs.FS
	name string
}

// ReadDir lists the one file at the root; fs.WalkDir asks for it.
func (o oneFile) ReadDir(name string) ([]fs.DirEntry, error) {
	if name != "." {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	info, err := fs.Stat(o.FS, o.name)
	if err != nil {
		return nil, err
	}
	return []fs.DirEntry{fs.FileInfoToDirEntry(info)}, nil
}
