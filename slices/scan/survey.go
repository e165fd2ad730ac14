package scan

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"slices"
	"sync"
)

// Survey looks at every file below the root of files, reading headers only, and returns the series found, each in true
// order along its normal and with its warnings. Files that cannot be used go to skip (which may be nil) with a path and
// a reason that wraps one of the package's errors; Survey itself fails only when ctx ends or the root cannot be read.
// files may be a folder, a zip archive or a disc with a DICOMDIR. skip is never called from two goroutines at once.
func Survey(ctx context.Context, files fs.FS, skip func(path string, err error)) ([]Series, error) {
	return SurveyProgress(ctx, files, skip, nil)
}

// SurveyProgress is Survey with a running count: done (which may be nil) hears how many of the files found were looked
// at. The total is final from the first call.
func SurveyProgress(ctx context.Context, files fs.FS, skip func(path string, err error), done func(read, total int)) ([]Series, error) {
	if skip == nil {
		skip = func(string, error) {}
	}
	paths, err := listFiles(ctx, files, skip)
	if err != nil {
		return nil, fmt.Errorf("scan: %w", err)
	}
	looks, err := lookAll(ctx, files, paths, done)
	if err != nil {
		return nil, fmt.Errorf("scan: %w", err)
	}
	var shots []shot
	var list []Series
	used := map[string]bool{} // the voxels of a NIfTI pair, which are no scan by themselves
	for _, l := range looks {
		shots, list = append(shots, l.shots...), append(list, l.series...)
		for _, s := range l.series {
			used[s.Files[len(s.Files)-1]] = true
		}
	}
	for i, l := range looks {
		if l.err != nil && !used[paths[i]] {
			skip(paths[i], l.err)
		}
	}
	for _, k := range stacksOf(shots, func(s shot, reason string) {
		skip(s.path, fmt.Errorf("%w: %s", ErrSetAside, reason))
	}) {
		list = append(list, k.series())
	}
	settleUIDs(list)
	return list, nil
}

// listFiles names every file below the root, in order. Folders that cannot be read are skipped.
func listFiles(ctx context.Context, files fs.FS, skip func(string, error)) (paths []string, err error) {
	err = fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && path == ".":
			return err
		case err != nil:
			skip(path, err)
			return nil
		case d.IsDir():
			return nil
		case !d.Type().IsRegular() && d.Type()&fs.ModeSymlink == 0: // opening a pipe would wait for ever
			skip(path, fmt.Errorf("%w: not a plain file", ErrNotScan))
			return nil
		}
		paths = append(paths, path)
		return nil
	})
	return paths, err
}

// look is what one file turned out to be.
type look struct {
	shots  []shot
	series []Series
	err    error
}

// lookAll reads the headers of all files on every core.
func lookAll(ctx context.Context, files fs.FS, paths []string, done func(read, total int)) ([]look, error) {
	looks := make([]look, len(paths))
	var mu sync.Mutex
	read := 0
	err := each(ctx, len(paths), func(scratch *[]byte, i int) error {
		looks[i] = lookAt(files, paths[i], scratch)
		if done != nil {
			mu.Lock()
			defer mu.Unlock()
			read++
			done(read, len(paths))
		}
		return nil
	})
	return looks, err
}

// each runs work for 0..n-1 on every core and stops at the first error or when ctx ends. scratch belongs to the
// running worker and is kept from one call to the next.
func each(ctx context.Context, n int, work func(scratch *[]byte, i int) error) error {
	next := make(chan int)
	var wait sync.WaitGroup
	var once sync.Once
	var failed error
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			var scratch []byte
			for i := range next {
				if err := work(&scratch, i); err != nil {
					once.Do(func() { failed = err; cancel(err) })
				}
			}
		}()
	}
	for i := 0; i < n && ctx.Err() == nil; i++ {
		select {
		case next <- i:
		case <-ctx.Done():
		}
	}
	close(next)
	wait.Wait()
	if failed != nil {
		return failed
	}
	return ctx.Err()
}

// split runs work over parts of 0..n-1 on every core.
func split(n int, work func(from, to int)) {
	parts := min(n, runtime.GOMAXPROCS(0)*4) // more parts than cores: some are lighter than others
	if parts < 2 || n < 16 {
		work(0, n)
		return
	}
	var wait sync.WaitGroup
	limit := make(chan struct{}, runtime.GOMAXPROCS(0))
	for p := range parts {
		limit <- struct{}{}
		wait.Add(1)
		go func() {
			defer func() { <-limit; wait.Done() }()
			work(n*p/parts, n*(p+1)/parts)
		}()
	}
	wait.Wait()
}

const firstLook = 16 << 10 // bytes: most headers fit

// maxHeader bounds the bytes read in search of a picture.
const maxHeader = 256 << 20

// lookAt reads the header of one file, growing the part read until the header is complete.
func lookAt(files fs.FS, path string, scratch *[]byte) look {
	f, err := files.Open(path)
	if err != nil {
		return look{err: err}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return look{err: err}
	}
	if !info.Mode().IsRegular() {
		return look{err: fmt.Errorf("%w: not a plain file", ErrNotScan)}
	}
	data := (*scratch)[:0]
	for want := firstLook; ; want *= 4 {
		data, err = readTo(f, data, want)
		*scratch = data
		whole := err == io.EOF
		if err != nil && !whole {
			return look{err: fmt.Errorf("%w: %w", ErrDamaged, err)}
		}
		if kind := otherKind(data); kind != nil {
			return lookNIfTI(files, path, info.Size(), kind)
		}
		parsed, err := parseFile(data, whole)
		if errors.Is(err, errMore) {
			if len(data) >= maxHeader {
				return look{err: fmt.Errorf("%w: no picture in the first %d MB", ErrTooLarge, maxHeader>>20)}
			}
			continue
		}
		if err != nil {
			return look{err: err}
		}
		shots, err := shotsOf(path, parsed)
		if err == nil && whole {
			err = enoughPixels(parsed, shots)
		} else if err == nil {
			err = enoughBytes(info.Size(), int64(len(data)), shots)
		}
		if err != nil {
			return look{err: err}
		}
		return look{shots: shots}
	}
}

// readTo reads on until data holds want bytes. At the end of the file it returns io.EOF.
func readTo(r io.Reader, data []byte, want int) ([]byte, error) {
	data = slices.Grow(data, max(0, want-len(data)))
	for len(data) < want {
		n, err := r.Read(data[len(data):want])
		data = data[:len(data)+n]
		if err != nil {
			return data, err
		}
	}
	return data, nil
}

// enoughPixels holds the bytes of a small file against the pictures it promises.
func enoughPixels(f *file, shots []shot) error {
	l := shots[0].layout
	if want := (l.frameBits()*int64(l.frames) + 7) / 8; l.coding == native && int64(len(f.pixels.value)) < want {
		return fmt.Errorf("%w: cut short, %d of %d picture bytes are there", ErrDamaged, len(f.pixels.value), want)
	}
	return nil
}

// enoughBytes holds the size of a file that was not read to its end against the pictures it promises.
func enoughBytes(size, read int64, shots []shot) error {
	l := shots[0].layout
	want := (l.frameBits()*int64(l.frames) + 7) / 8
	if l.coding == native && l.syntax != syntaxDeflated && size >= read && size < want {
		return fmt.Errorf("%w: cut short, the file has %d bytes and its pictures take %d", ErrDamaged, size, want)
	}
	return nil
}

// settleUIDs puts the series in order and makes their UIDs unique: the largest of a UID keeps it.
func settleUIDs(list []Series) {
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := list[a], list[b]
		if x.Localizer != y.Localizer {
			if x.Localizer {
				return 1
			}
			return -1
		}
		return y.Size[0]*y.Size[1]*y.Size[2] - x.Size[0]*x.Size[1]*x.Size[2]
	})
	seen := map[string]int{}
	for _, i := range order {
		uid := list[i].UID
		if seen[uid]++; seen[uid] > 1 {
			list[i].UID = fmt.Sprintf("%s-%d", uid, seen[uid])
		}
	}
	slices.SortStableFunc(list, func(a, b Series) int {
		switch {
		case a.Localizer == b.Localizer:
			return 0
		case a.Localizer:
			return 1
		}
		return -1
	})
}
