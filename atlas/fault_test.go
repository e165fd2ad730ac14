package atlas

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"sectionary/slices/section"
)

// fault is what goes wrong with a disk.
type fault struct {
	name  string
	err   error
	short bool // half of what was to be written goes through, and no error is told
}

var faultsOfDisks = []fault{{"disk full", syscall.ENOSPC, false}, {"fault of the device", syscall.EIO, false}, {"short write", nil, true}}

// failing counts what is done to a disk and fails at one of it.
type failing struct {
	fault
	at, n int
}

func (f *failing) now() bool { f.n++; return f.n == f.at }

type failingFile struct {
	partFile
	f *failing
}

func (x failingFile) Write(b []byte) (int, error) {
	if !x.f.now() {
		return x.partFile.Write(b)
	}
	n, err := x.partFile.Write(b[:len(b)/2])
	if err == nil {
		err = x.f.err
	}
	return n, err
}

func (x failingFile) Sync() error {
	if x.f.now() && x.f.err != nil {
		return &fs.PathError{Op: "sync", Path: x.Name(), Err: x.f.err}
	}
	return x.partFile.Sync()
}

// onto makes the disk fail at its nth deed while do runs, and returns how much was done to it.
func (f fault) onto(nth int, do func()) int {
	whole := disk
	defer func() { disk = whole }()
	x := &failing{fault: f, at: nth}
	disk.create = func(dir, pattern string) (partFile, error) {
		if x.now() && f.err != nil {
			return nil, &fs.PathError{Op: "open", Path: dir, Err: f.err}
		}
		file, err := whole.create(dir, pattern)
		return failingFile{file, x}, err
	}
	disk.rename = func(from, to string) error {
		if x.now() && f.err != nil {
			return &os.LinkError{Op: "rename", Old: from, New: to, Err: f.err}
		}
		return whole.rename(from, to)
	}
	do()
	return x.n
}

// Row PS5: whichever deed on the disk fails, and however, either all of it is there afterwards or nothing; the next try
// succeeds.
func TestPS5FaultyDisk(t *testing.T) {
	for _, f := range faultsOfDisks {
		t.Run(f.name, func(t *testing.T) {
			for nth, done := 1, false; !done; nth++ {
				done = faultyRound(t, f, nth)
				if nth > 200 {
					t.Fatal("the fault never comes too late")
				}
			}
		})
	}
}

// faultyRound tries everything that writes files, with the nth deed on the disk failing; it reports whether nothing failed
// any more.
func faultyRound(t *testing.T, f fault, nth int) (none bool) {
	l, r := lab(t)
	defer l.Close()
	none = true
	shade := uint8(0)
	for name, do := range map[string]func() error{
		"photograph": func() error {
			shade++
			_, err := l.AddPhoto(context.Background(), upper(r, int(shade)), "", "x.jpg", bytes.NewReader(picture(t, shade)))
			if err != nil {
				shade--
			}
			return err
		},
		"series": func() error {
			_, err := l.AddSeries(context.Background(), code, scanFolder(t, 3, 4), nil, nil)
			return err
		},
		"copy": func() error { return l.CopyTo(context.Background(), l.Dir()+" copy", nil, nil) },
	} {
		var err error
		deeds := f.onto(nth, func() { err = do() })
		none = none && deeds < nth
		if err != nil && !errors.Is(err, ErrFull) && !errors.Is(err, ErrDisk) {
			t.Errorf("%s, deed %d: %v", name, nth, err)
		}
		if err != nil && errors.Is(f.err, syscall.ENOSPC) != errors.Is(err, ErrFull) {
			t.Errorf("%s, deed %d: said as %v", name, nth, err)
		}
		clean(t, l, name)
		if err != nil {
			if err := do(); err != nil {
				t.Errorf("%s again after deed %d: %v", name, nth, err)
			}
		}
		clean(t, l, name)
	}
	verified(t, l.Dir()+" copy")
	return none
}

func clean(t *testing.T, l *Library, what string) {
	t.Helper()
	if err := l.Verify(context.Background(), func(err error) { t.Errorf("%s: %v", what, err) }); err != nil {
		t.Error(err)
	}
	for _, dir := range folders {
		if left, _ := filepath.Glob(filepath.Join(l.Dir(), dir, "*"+partSuffix)); len(left) > 0 {
			t.Errorf("%s left %v", what, left)
		}
	}
}

// Row PS5: one step makes a copy of everything that opens as it is, and another brings it up to date.
func TestPS5CopyTo(t *testing.T) {
	l, r := lab(t)
	p, q := add(t, l, upper(r, 1), 1), add(t, l, upper(r, 2), 2)
	series, err := l.AddSeries(context.Background(), code, scanFolder(t, 3, 4), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	slab := receive(t, l, "slab 1", 1600)
	dir := filepath.Join(t.TempDir(), "Sicherung – バックアップ", "Lab")
	steps := 0
	if err := l.CopyTo(context.Background(), dir, nil, func(n, total int) { steps = n; wantSame(t, total, 4) }); err != nil || steps != 4 {
		t.Fatalf("%d files, %v", steps, err)
	}
	verified(t, dir)
	// More work, and again: what lies there whole is not written again.
	enter(t, l, LedgerEntry{Deed: Move, Piece: slab, To: "box 3"})
	name := p.Photo.SHA256.String()
	kept := filepath.Join(dir, originalsName, name[:2], name+".jpg")
	before, err := os.Stat(kept)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.CopyTo(context.Background(), dir, nil, nil); err != nil {
		t.Fatal(err)
	}
	if after, err := os.Stat(kept); err != nil || !os.SameFile(before, after) {
		t.Errorf("an original that lay there was written anew, %v", err)
	}
	// An original damaged here does not replace the sound one there, and is named.
	here := l.original(must1(l.db.Photos(context.Background()))[0])
	os.WriteFile(here, []byte("spoiled"), 0o644)
	var said []string
	if err := l.CopyTo(context.Background(), dir+" 2", func(err error) { wantErr(t, err, ErrDamaged); said = append(said, err.Error()) }, nil); err != nil || len(said) != 1 || !strings.Contains(said[0], filepath.Base(here)) {
		t.Errorf("%q, %v", said, err)
	}
	if err := l.CopyTo(context.Background(), dir, func(err error) { t.Error(err) }, nil); err != nil {
		t.Error(err)
	}
	there, err := Open(dir, ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	wantErr(t, l.CopyTo(context.Background(), dir, nil, nil), ErrLocked) // open there
	if got, _ := custody(t, there).Piece(slab); got.Place != "box 3" {
		t.Errorf("%+v", got)
	}
	for _, id := range []string{p.ID, q.ID} {
		if _, err := there.Photo(context.Background(), id); err != nil {
			t.Error(err)
		}
	}
	if _, err := there.Volume(context.Background(), series[0].UID); err != nil {
		t.Error(err)
	}
	there.Close()
	full := t.TempDir()
	os.WriteFile(filepath.Join(full, "letter.txt"), []byte("x"), 0o644)
	other, err := Create(filepath.Join(t.TempDir(), "Other"))
	if err != nil {
		t.Fatal(err)
	}
	other.Close()
	for _, no := range []string{full, other.Dir(), l.Dir(), filepath.Join(l.Dir(), "backups")} {
		wantErr(t, l.CopyTo(context.Background(), no, nil, nil), ErrNotACopy)
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	if err := l.CopyTo(stopped, dir+" 3", nil, nil); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func must1[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func wantSame(t *testing.T, got, want int) {
	t.Helper()
	if got != want {
		t.Errorf("%d, want %d", got, want)
	}
}

// Row PS5: going back to a copy of the catalogue is tried: what is restored verifies, and what was replaced is kept.
func TestPS5Restore(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	slab := receive(t, l, "slab 1", 1600)
	copied, err := l.Backup(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	enter(t, l, LedgerEntry{Deed: Move, Piece: slab, To: "box 3"})
	all, err := BackupCopies(l.Dir())
	if err != nil || len(all) != 2 || all[0].Path != copied { // the first was made when the library was opened
		t.Fatalf("%+v, %v", all, err)
	}
	wantErr(t, RestoreCatalogue(l.Dir(), all[0]), ErrLocked) // while it is open
	l.Close()
	path := filepath.Join(l.Dir(), catalogueName)
	b, _ := os.ReadFile(path)
	for i := range b[:8192] {
		b[i] ^= 0x55
	}
	os.WriteFile(path, b, 0o644)
	_, err = Open(l.Dir(), ReadWrite)
	wantErr(t, err, ErrNotOurs)
	if err == nil || !strings.Contains(err.Error(), "copies of the catalogue lie in") {
		t.Error(err)
	}
	bad := filepath.Join(l.Dir(), backupsName, backupPrefix+"20990101-000000.000.db")
	os.WriteFile(bad, b, 0o644)
	if err := RestoreCatalogue(l.Dir(), BackupCopy{Path: bad}); !errors.Is(err, ErrDamaged) {
		t.Errorf("a damaged copy was put in place: %v", err)
	}
	if now, _ := os.ReadFile(path); !bytes.Equal(now, b) {
		t.Error("a refused copy changed the catalogue")
	}
	if err := RestoreCatalogue(l.Dir(), all[0]); err != nil {
		t.Fatal(err)
	}
	verified(t, l.Dir())
	l, err = Open(l.Dir(), ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if got, _ := custody(t, l).Piece(slab); got.Place != "rack 1" {
		t.Errorf("%+v", got)
	}
	if _, err := l.Photo(context.Background(), p.ID); err != nil {
		t.Error(err)
	}
	kept, _ := filepath.Glob(filepath.Join(l.Dir(), backupsName, "replaced-*.db"))
	if len(kept) != 2 {
		t.Errorf("%v", kept)
	}
}

// Row PS5: a copy is made by itself when the newest is a day old, and old ones go.
func TestPS5BackupsByThemselves(t *testing.T) {
	l, _ := lab(t)
	start := time.Now().UTC()
	for d := range 100 {
		if err := l.backupWhenDue(start.Add(time.Duration(d)*13*time.Hour + time.Minute)); err != nil {
			t.Fatal(err)
		}
	}
	all, err := BackupCopies(l.Dir())
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < keepNewest || len(all) > keepNewest+3 {
		t.Errorf("%d copies", len(all))
	}
	for i, c := range all[:keepNewest-1] {
		if gap := c.Time.Sub(all[i+1].Time); gap < 24*time.Hour || gap > 26*time.Hour+time.Minute {
			t.Errorf("%v between copies", gap)
		}
	}
}

// Row PS5: a path with names of any script, spaces and characters that mean something elsewhere.
func TestPS5AnyPath(t *testing.T) {
	for _, name := range []string{"解剖学教室 標本", "Παθολογία", "مختبر التشريح", "Präparate №3 – Öl", "a b?c#d%20e&f;g'h", "🦴", strings.Repeat("長い", 28)} {
		l, err := Create(filepath.Join(t.TempDir(), name, name))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := l.AddDonor(Donor{Code: code}); err != nil {
			t.Fatal(err)
		}
		r, err := l.SaveRun(trunk(code))
		if err != nil {
			t.Fatal(err)
		}
		p := add(t, l, upper(r, 1), 1)
		if _, err := l.Backup(context.Background()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		l.Close()
		verified(t, l.Dir())
		if l, err = Open(l.Dir(), ReadOnly); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if _, err := l.Photo(context.Background(), p.ID); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		l.Close()
	}
}

func TestPathsThatAreTooLong(t *testing.T) {
	dir := t.TempDir()
	for range 8 {
		dir = filepath.Join(dir, strings.Repeat("長い", 10))
	}
	if _, err := Create(dir); err == nil || !strings.Contains(err.Error(), "too long") {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Dir(dir)); err == nil {
		t.Error("folders were made for it")
	}
}

// Row PS5: a library carried to another machine opens there: nothing in it says where it lay, a killed program's changes
// come along, and a lock from elsewhere is said until it is old.
func TestPS5MovedBetweenMachines(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	if err := l.db.SetMeta("test-plate", p.ID); err != nil {
		t.Fatal(err)
	}
	l.Close()
	rev := 0
	for _, line := range runAndKill(t, l.Dir(), "", 400*time.Millisecond) {
		fmt.Sscanf(line, "rev %d", &rev)
	}
	if info, err := os.Stat(filepath.Join(l.Dir(), catalogueName+"-wal")); err != nil || info.Size() == 0 {
		t.Fatalf("nothing waits in the write-ahead file: the test proves little (%v)", err)
	}
	os.Remove(filepath.Join(l.Dir(), catalogueName+"-shm"))
	moved := filepath.Join(t.TempDir(), "elsewhere", "Labor")
	if err := os.CopyFS(moved, os.DirFS(l.Dir())); err != nil {
		t.Fatal(err)
	}
	mark := `{"host":"another","process":1,"started":"","time":"2026-01-02T03:04:05Z","token":"X"}`
	lock := filepath.Join(moved, lockName)
	os.WriteFile(lock, []byte(mark), 0o644)
	_, err := Open(moved, ReadWrite)
	wantErr(t, err, ErrLocked)
	if err == nil || !strings.Contains(err.Error(), "on another by process 1") {
		t.Error(err)
	}
	old := time.Now().Add(-staleAfter - time.Minute)
	os.Chtimes(lock, old, old)
	verified(t, moved)
	l2, err := Open(moved, ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := l2.Plate(p.ID); err != nil || got.Rev < rev || rev == 0 {
		t.Errorf("revision %d, told %d, %v", got.Rev, rev, err)
	}
	l2.Close()
	err = filepath.WalkDir(moved, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		for _, where := range []string{l.Dir(), moved} {
			if bytes.Contains(b, []byte(where)) {
				t.Errorf("%s says where it lies", d.Name())
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Row PS5: a damaged ledger is named; faces, photographs and permits go on.
func TestPS5DamagedLedgerIsIsolated(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	for i := range 5 {
		receive(t, l, "piece", float64(i+1))
	}
	l.Close()
	path := filepath.Join(l.Dir(), catalogueName)
	b, _ := os.ReadFile(path)
	at := bytes.LastIndex(b, []byte(`"line":3,`))
	if at < 0 {
		t.Fatal("line 3 is not in the file as text")
	}
	b[at+bytes.Index(b[at:], []byte("piece"))] = 'P'
	os.WriteFile(path, b, 0o644)
	l, err := Open(l.Dir(), ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, err = l.Custody(context.Background())
	wantErr(t, err, ErrDamaged)
	if err == nil || !strings.Contains(err.Error(), "line 3 of the ledger") {
		t.Error(err)
	}
	_, err = l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "x", Made: []Made{{Kind: Debris, Name: "d", Mass: 1}}})
	wantErr(t, err, ErrDamaged) // nothing is built on a damaged ledger
	if _, err := l.Photo(context.Background(), p.ID); err != nil {
		t.Error(err)
	}
	if err := l.Permits(code, Teaching, time.Now()); err != nil {
		t.Error(err)
	}
	if _, err := l.Place(p.ID, section.Face{Run: r.ID, Slab: 2, Facing: section.Superior}); err != nil {
		t.Error(err)
	}
}
