package atlas

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/slices/section"
)

func TestPS5TwoOpeners(t *testing.T) {
	l, r := lab(t)
	_, err := Open(l.Dir(), ReadWrite)
	wantErr(t, err, ErrLocked)
	reader, err := Open(l.Dir(), ReadOnly)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	p := add(t, l, upper(r, 1), 1) // the reader sees what is written meanwhile
	if got, err := reader.Plate(p.ID); err != nil || got.Rev != 1 {
		t.Errorf("%v", err)
	}
}

// dead returns the number of a process that has ended.
func dead(t *testing.T) int {
	c := exec.Command(os.Args[0], "-test.run", "^$")
	if err := c.Run(); err != nil {
		t.Fatal(err)
	}
	return c.Process.Pid
}

func TestWhoseLockStands(t *testing.T) {
	host, _ := os.Hostname()
	own := processStart(os.Getpid())
	now := time.Now()
	long := now.Add(-staleAfter - time.Second)
	for name, c := range map[string]struct {
		m       lockMark
		touched time.Time
		stands  bool
	}{
		"living process here":                 {lockMark{Host: host, Process: os.Getpid(), Started: own}, long, true},
		"dead process here":                   {lockMark{Host: host, Process: dead(t), Started: own}, now, false},
		"another machine, touched just now":   {lockMark{Host: "elsewhere", Process: 1, Started: "b 1 2"}, now, true},
		"another machine, 5 minutes silent":   {lockMark{Host: "elsewhere", Process: os.Getpid(), Started: own}, long, false},
		"another machine, far in the future":  {lockMark{Host: "elsewhere"}, now.Add(time.Hour), false},
		"another machine, clocks a bit apart": {lockMark{Host: "elsewhere"}, now.Add(time.Minute), true},
	} {
		if got := c.m.stands(host, c.touched, now); got != c.stands {
			t.Errorf("%s: stands %v", name, got)
		}
	}
	if own == "" {
		t.Skip("this system does not say when a process began")
	}
	words := strings.Fields(own)
	reused := lockMark{Host: host, Process: os.Getpid(), Started: words[0] + " " + words[1] + " 1"}
	if reused.stands(host, now, now) {
		t.Error("a reused process number holds the lock")
	}
	rebooted := lockMark{Host: host, Process: os.Getpid(), Started: "another-boot " + words[1] + " " + words[2]}
	if rebooted.stands(host, now, now) {
		t.Error("a process from before the restart holds the lock")
	}
	otherSpace := lockMark{Host: host, Process: dead(t), Started: words[0] + " pid:[1] 5"}
	if !otherSpace.stands(host, now, now) || otherSpace.stands(host, long, now) {
		t.Error("a process of another process space must count by its last touch")
	}
}

func TestTakeover(t *testing.T) {
	l, _ := lab(t)
	l.Close()
	path := filepath.Join(l.Dir(), lockName)
	host, _ := os.Hostname()
	put := func(m lockMark, touched time.Time) {
		b, _ := json.Marshal(m)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		os.Chtimes(path, touched, touched)
	}
	put(lockMark{Host: host, Process: dead(t), Started: processStart(os.Getpid()), Token: "t"}, time.Now())
	l, err := Open(l.Dir(), ReadWrite)
	if err != nil {
		t.Fatalf("a dead process's lock was not taken over: %v", err)
	}
	l.Close()
	put(lockMark{Host: "elsewhere", Process: 4711, Time: time.Now(), Token: "t"}, time.Now())
	_, err = Open(l.Dir(), ReadWrite)
	wantErr(t, err, ErrLocked)
	if !strings.Contains(err.Error(), "elsewhere") || !strings.Contains(err.Error(), "4711") {
		t.Errorf("the message does not say who: %v", err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error("the refused opener took the other's lock away")
	}
	os.WriteFile(path, []byte("{"), 0o600)
	_, err = Open(l.Dir(), ReadWrite)
	wantErr(t, err, ErrLocked)
	old := time.Now().Add(-staleAfter - time.Second)
	os.Chtimes(path, old, old)
	if l, err = Open(l.Dir(), ReadWrite); err != nil {
		t.Fatalf("a silent machine's lock was not taken over: %v", err)
	}
	l.Close()
}

// A writer that slept through a takeover must not write over the new one.
func TestASleeperCannotWrite(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	old := time.Now().Add(-time.Hour)
	path := filepath.Join(l.Dir(), lockName)
	b, _ := json.Marshal(lockMark{Host: "elsewhere", Token: l.lock.mark.Token})
	os.WriteFile(path, b, 0o600)
	os.Chtimes(path, old, old)
	second, err := Open(l.Dir(), ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	_, err = l.Save(p)
	wantErr(t, err, ErrLost)
	_, err = l.SaveRun(section.Run{Donor: code, Plane: section.Sagittal, First: section.Right})
	wantErr(t, err, ErrLost)
	if err := l.Close(); err != nil {
		t.Error(err)
	}
	if !second.lock.ours() {
		t.Error("closing took the new writer's lock away")
	}
	if _, err := second.Save(p); err != nil {
		t.Error(err)
	}
	second.Close()
}

func TestNetworkSharesByMagicNumber(t *testing.T) {
	// statfs(2) lists NFS_SUPER_MAGIC 0x6969 and SMB2_MAGIC_NUMBER 0xfe534d42.
	if kind := shareKind(t.TempDir()); kind != "" {
		t.Skipf("the temporary folder lies on a share: %s", kind)
	}
	if kind := shareKind("/no/such/folder/anywhere"); kind != "" {
		t.Errorf("a folder not made yet: %s", kind)
	}
}
