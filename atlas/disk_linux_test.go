package atlas

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"sectionary/slices/section"
)

// work does one of each kind of change; what fails must say that it is the disk.
func work(t *testing.T, l *Library, plate string, n int) (failed int) {
	t.Helper()
	ctx := context.Background()
	for name, do := range map[string]func() error{
		"save": func() error {
			p, err := l.Plate(plate)
			if err != nil {
				return err
			}
			p.Labels, err = p.Labels.Add(outline(fmt.Sprintf("x%d", p.Rev), float64(p.Rev%20), float64(n%20)))
			if err == nil {
				_, err = l.Save(p)
			}
			return err
		},
		"ledger": func() error {
			_, err := l.Enter(ctx, LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "rack", Made: []Made{{Kind: Debris, Name: "dust", Mass: 1}}})
			return err
		},
		"photograph": func() error {
			_, err := l.AddPhoto(ctx, section.Face{}, code, "x.jpg", bytes.NewReader(noise()))
			return err
		},
		"backup": func() error { _, err := l.Backup(ctx); return err },
		"copy":   func() error { return l.CopyTo(ctx, l.Dir()+" copy", nil, nil) },
	} {
		if err := do(); err != nil {
			failed++
			if !errors.Is(err, ErrFull) && !errors.Is(err, ErrDisk) {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	return failed
}

// Row PS5: writes that stop short in the middle, as at a limit on the size of files: setrlimit(2) lets a write through up to
// the limit and fails the next, in SQLite's files as in ours.
func TestPS5ShortWritesOfTheSystem(t *testing.T) {
	c := exec.Command(os.Args[0], "-test.run=^TestInsideShortWrites$", "-test.v")
	c.Env = append(os.Environ(), "ATLAS_INSIDE=x")
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	} else if strings.Contains(string(out), "--- SKIP") {
		t.Skip(string(out))
	}
}

func TestInsideShortWrites(t *testing.T) {
	if os.Getenv("ATLAS_INSIDE") == "" {
		t.Skip("run by TestPS5ShortWritesOfTheSystem")
	}
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	var old syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		t.Skip(err)
	}
	total := 0
	for _, limit := range []uint64{0, 1, 700, 4096, 33_000, 70_001, 150_000, 300_003} {
		l, r := lab(t)
		p := add(t, l, upper(r, 1), 1)
		before := custody(t, l).Len()
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: limit, Max: old.Max}); err != nil {
			t.Skip(err)
		}
		failed := 0
		for n := range 4 {
			failed += work(t, l, p.ID, n)
		}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
			t.Fatal(err)
		}
		total += failed
		if limit < 4096 && failed < 16 {
			t.Errorf("limit %d: only %d changes failed", limit, failed)
		}
		clean(t, l, fmt.Sprint("limit ", limit))
		if n := work(t, l, p.ID, 9); n > 0 { // and goes on when there is room again
			t.Errorf("limit %d lifted: %d changes still fail", limit, n)
		}
		if custody(t, l).Len() <= before {
			t.Error("the last line is not there")
		}
		l.Close()
		verified(t, l.Dir())
		verified(t, l.Dir()+" copy")
	}
	t.Logf("%d changes failed", total)
}

// inside runs one test of this binary in a mount space of its own; it skips where the system does not allow that.
func inside(t *testing.T, test, dir string) {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run=^"+test+"$", "-test.v")
	c.Env = append(os.Environ(), "ATLAS_INSIDE="+dir)
	c.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
	if os.Getuid() != 0 {
		c.SysProcAttr.Cloneflags |= syscall.CLONE_NEWUSER
		c.SysProcAttr.UidMappings = []syscall.SysProcIDMap{{HostID: os.Getuid(), Size: 1}}
		c.SysProcAttr.GidMappings = []syscall.SysProcIDMap{{HostID: os.Getgid(), Size: 1}}
	}
	out, err := c.CombinedOutput()
	if errors.Is(err, syscall.EPERM) || errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EINVAL) {
		t.Skipf("a mount space of its own is not allowed here: %v", err)
	}
	if strings.Contains(string(out), "--- SKIP") {
		t.Skip(string(out))
	}
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// small mounts a disk of so many kB at dir.
func small(t *testing.T, dir string, kB int) {
	t.Helper()
	if err := syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""); err != nil {
		t.Skip("mounting is not allowed here: ", err)
	}
	if err := syscall.Mount("none", dir, "tmpfs", 0, fmt.Sprintf("size=%dk", kB)); err != nil {
		t.Skip("mounting is not allowed here: ", err)
	}
}

// labIn makes a lab in dir with one donor, their run and a photograph of its first face.
func labIn(t *testing.T, dir string, d Donor) (*Library, Plate) {
	t.Helper()
	l, err := Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.AddDonor(d); err != nil {
		t.Fatal(err)
	}
	r, err := l.SaveRun(trunk(d.Code))
	if err != nil {
		t.Fatal(err)
	}
	return l, add(t, l, upper(r, 1), 1)
}

// Row PS5: a disk that is really full.
func TestPS5FullDisk(t *testing.T) { inside(t, "TestInsideFullDisk", t.TempDir()) }

func TestInsideFullDisk(t *testing.T) {
	dir := os.Getenv("ATLAS_INSIDE")
	if dir == "" {
		t.Skip("run by TestPS5FullDisk")
	}
	small(t, dir, 3000)
	l, p := labIn(t, filepath.Join(dir, "Lab"), Donor{Code: code})
	failed := 0
	for n := range 60 { // until the disk is full, and beyond
		failed += work(t, l, p.ID, n)
	}
	if failed < 30 {
		t.Errorf("only %d changes failed on a full disk", failed)
	}
	clean(t, l, "full")
	l.Close()
	l, err := Open(l.Dir(), ReadOnly)
	if err != nil {
		t.Fatalf("a lab on a full disk does not open for reading: %v", err)
	}
	if _, err := l.Photo(context.Background(), p.ID); err != nil {
		t.Error(err)
	}
	l.Close()
	if err := os.RemoveAll(l.Dir() + " copy"); err != nil { // room again
		t.Fatal(err)
	}
	verified(t, l.Dir())
	if l, err = Open(l.Dir(), ReadWrite); err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if n := work(t, l, p.ID, 99); n > 1 { // the copy may still be too large
		t.Errorf("with room again %d changes fail", n)
	}
}

// Row PS5: read-only media open for reading, and say so when they are to be written.
func TestPS5ReadOnlyMedia(t *testing.T) { inside(t, "TestInsideReadOnlyMedia", t.TempDir()) }

func TestInsideReadOnlyMedia(t *testing.T) {
	dir := os.Getenv("ATLAS_INSIDE")
	if dir == "" {
		t.Skip("run by TestPS5ReadOnlyMedia")
	}
	small(t, dir, 20_000)
	l, p := labIn(t, filepath.Join(dir, "Lab Ā"), Donor{Code: code, Agreement: Agreement{Permitted: map[Purpose]bool{Teaching: true}}})
	slab := receive(t, l, "slab 1", 1600)
	l.Close()
	if err := syscall.Mount("none", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Skip("mounting is not allowed here: ", err)
	}
	if _, err := Open(l.Dir(), ReadWrite); !errors.Is(err, ErrDisk) {
		t.Errorf("for writing: %v", err)
	}
	if _, err := Create(filepath.Join(dir, "New")); !errors.Is(err, ErrDisk) {
		t.Errorf("a new one: %v", err)
	}
	l, err := Open(l.Dir(), ReadOnly)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if _, err := l.Photo(context.Background(), p.ID); err != nil {
		t.Error(err)
	}
	if h := custody(t, l).History(slab); len(h) != 1 {
		t.Errorf("%+v", h)
	}
	if err := l.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
		t.Error(err)
	}
	if _, err := l.Save(p); !errors.Is(err, ErrReadOnly) {
		t.Errorf("saving: %v", err)
	}
	to := filepath.Join(t.TempDir(), "Copy")
	if err := l.CopyTo(context.Background(), to, nil, nil); err != nil { // from read-only media onto a disk
		t.Error(err)
	}
	verified(t, to)
}

// Row PS5: the system fails SQLite's own reads and writes (strace(1) puts the fault in): what was told safe stays, what failed
// is said, and the library verifies.
func TestPS5FaultsUnderTheCatalogue(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("strace is not installed")
	}
	rounds := []int{1, 2, 3, 5, 8, 13, 21, 34}
	if testing.Short() {
		rounds = rounds[:3]
	}
	failed := 0
	for _, call := range []string{"pwrite64:error=EIO", "pwrite64:error=ENOSPC", "fsync:error=EIO", "fdatasync:error=EIO", "ftruncate:error=EIO"} {
		for _, n := range rounds {
			l, r := lab(t)
			p := add(t, l, upper(r, 1), 1)
			if err := l.db.SetMeta("test-plate", p.ID); err != nil {
				t.Fatal(err)
			}
			l.Close()
			name, _, _ := strings.Cut(call, ":")
			c := exec.Command(strace, "-f", "-qq", "-o", filepath.Join(t.TempDir(), "calls"), "-e", "trace="+name, "-e", fmt.Sprintf("inject=%s:when=%d..%d", call, 3*n, 4*n+2),
				os.Args[0], "-test.run=^TestInsideFaults$")
			c.Env = append(os.Environ(), "ATLAS_INSIDE="+l.Dir())
			out, err := c.CombinedOutput()
			if strings.Contains(string(out), "ptrace") || strings.Contains(string(out), "Operation not permitted") {
				t.Skipf("tracing is not allowed here: %s", out)
			}
			if err != nil {
				t.Errorf("%s, call %d: %v\n%s", call, n, err, out)
			}
			var told, bad int
			for _, line := range strings.Split(string(out), "\n") {
				fmt.Sscanf(line, "rev %d", &told)
				fmt.Sscanf(line, "failed %d", &bad)
			}
			failed += bad
			verified(t, l.Dir())
			l, err = Open(l.Dir(), ReadOnly)
			if err != nil {
				t.Fatal(err)
			}
			if got, err := l.Plate(p.ID); err != nil || got.Rev < told {
				t.Errorf("%s, call %d: revision %d, told %d, %v", call, n, got.Rev, told, err)
			}
			l.Close()
		}
	}
	if failed < 10 {
		t.Errorf("only %d changes failed: the test proves little", failed)
	}
	t.Logf("%d changes failed", failed)
}

func TestInsideFaults(t *testing.T) {
	dir := os.Getenv("ATLAS_INSIDE")
	if dir == "" {
		t.Skip("run by TestPS5FaultsUnderTheCatalogue")
	}
	l, err := Open(dir, ReadWrite)
	if errors.Is(err, ErrDisk) || errors.Is(err, ErrFull) {
		fmt.Println("failed 1")
		return // said, and nothing to do
	}
	if err != nil {
		t.Fatal(err)
	}
	id, err := l.db.Meta("test-plate")
	if err != nil {
		t.Fatal(err)
	}
	failed := 0
	for n := range 8 {
		failed += work(t, l, id, n)
		if p, err := l.Plate(id); err == nil {
			fmt.Println("rev", p.Rev)
		}
	}
	fmt.Println("failed", failed)
	l.Close() // may fail too; the next opener makes up for it
}
