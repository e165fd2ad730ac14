package atlas

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/section"
)

// child edits the library at dir until it is killed. After each change is safe it says so on standard output:
// "rev N" for the plate, "photo ID" for an import, "line N" for the ledger.
func child(dir string) {
	if os.Getenv("ATLAS_TELLS") == tellsAgain {
		succeeding(dir)
	}
	if os.Getenv("ATLAS_TELLS") != "" {
		fmt.Println("open") // before opening, so that bringing it to the present format can be met
	}
	l, err := Open(dir, ReadWrite)
	if err != nil {
		fmt.Println("fail", err)
		os.Exit(1)
	}
	fail := func(err error) {
		if err != nil {
			fmt.Println("fail", err)
			os.Exit(1)
		}
	}
	id, err := l.db.Meta("test-plate")
	fail(err)
	if os.Getenv("ATLAS_TELLS") == "" {
		fmt.Println("open")
	}
	for n := 0; ; n++ {
		p, err := l.Plate(id)
		fail(err)
		x := outline(fmt.Sprintf("x%d", p.Rev), float64(p.Rev%20), float64(n%20))
		p.Labels, err = p.Labels.Add(x)
		fail(err)
		p, err = l.Save(p)
		fail(err)
		fmt.Println("rev", p.Rev)
		switch n % 8 {
		case 0:
			e, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "rack", Made: []Made{{Kind: Debris, Name: "dust", Mass: 1}}})
			fail(err)
			fmt.Println("line", e.Number)
		case 2:
			q, err := l.AddPhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(noise()))
			fail(err)
			fmt.Println("photo", q.ID)
		case 4:
			_, err := l.Backup(context.Background())
			fail(err)
		case 6:
			fail(l.CopyTo(context.Background(), dir+" copy", nil, nil))
		case 7:
			d, err := l.Donor(code)
			fail(err)
			d.Agreement.Reference = RandomCode(8)
			fail(l.Agree("AB", d))
		case 5:
			fail(l.Record(HandOut{ID: RandomCode(8), When: time.Now(), Purpose: Teaching, Donor: code, Allowed: true}))
		}
	}
}

func noise() []byte {
	m := image.NewGray(image.Rect(0, 0, 200, 150))
	for i := range m.Pix {
		m.Pix[i] = uint8(rand.Uint32())
	}
	var b bytes.Buffer
	jpeg.Encode(&b, m, nil)
	return b.Bytes()
}

// killRounds is how often a program is killed at a random moment while it works, and while it brings an old library to the
// present format: 200 together.
func killRounds() (working, migrating int) {
	if testing.Short() {
		return 5, 3
	}
	return 150, 50
}

// Row PS5: a killed program must leave the library as it was before or after its last change, open to the next at once.
func TestPS5KilledAtAnyMoment(t *testing.T) {
	rounds, _ := killRounds()
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	if err := l.db.SetMeta("test-plate", p.ID); err != nil {
		t.Fatal(err)
	}
	dir := l.Dir()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	rev, ledger, photos := 1, 0, map[string]bool{}
	copied := func() bool { _, err := os.Stat(filepath.Join(dir+" copy", catalogueName)); return err == nil } // its catalogue comes last
	for round := 0; round < rounds || !copied() && round < rounds+60; round++ {                               // a slow machine needs more, and longer, to finish a copy
		seen := runAndKill(t, dir, "", time.Duration(rand.IntN(150+50*max(0, round-rounds)))*time.Millisecond)
		lastRev := rev
		for _, line := range seen {
			var id string
			if n, _ := fmt.Sscanf(line, "rev %d", &lastRev); n == 1 {
				continue
			}
			if n, _ := fmt.Sscanf(line, "line %d", &ledger); n == 1 {
				continue
			}
			if n, _ := fmt.Sscanf(line, "photo %s", &id); n == 1 {
				photos[id] = true
			}
			if strings.HasPrefix(line, "fail") {
				t.Fatalf("round %d: %s", round, line)
			}
		}
		l, err := Open(dir, ReadWrite)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		got, err := l.Plate(p.ID)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		// What was said to be safe is there; one more change may have become so unsaid.
		if got.Rev < lastRev || got.Rev > lastRev+1 || got.Labels.Len() != got.Rev-1 {
			t.Fatalf("round %d: rev %d with %d labels, last told %d", round, got.Rev, got.Labels.Len(), lastRev)
		}
		rev = got.Rev
		if c := custody(t, l); c.Len() < ledger || c.Len() > ledger+1 {
			t.Fatalf("round %d: %d lines in the ledger, last told %d", round, c.Len(), ledger)
		}
		for id := range photos {
			if _, err := l.Photo(context.Background(), id); err != nil {
				t.Fatalf("round %d: %v", round, err)
			}
		}
		if err := l.Verify(context.Background(), func(err error) { t.Errorf("round %d: %v", round, err) }); err != nil {
			t.Fatal(err)
		}
		for _, f := range folders {
			if left, _ := filepath.Glob(filepath.Join(dir, f, "*"+partSuffix)); len(left) > 0 {
				t.Errorf("round %d: %v", round, left)
			}
		}
		ledger = custody(t, l).Len()
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if rev < rounds/2 {
		t.Errorf("only %d changes in %d rounds: the test proves little", rev, rounds)
	}
	t.Logf("%d rounds, %d changes, %d photographs, %d lines", rounds, rev-1, len(photos), ledger)
	// The copy was being written in many of the rounds; it is there whole, as of one moment.
	verified(t, dir+" copy")
}

// verified opens a library and fails for every fault in it.
func verified(t *testing.T, dir string) {
	t.Helper()
	l, err := Open(dir, ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if err := l.Verify(context.Background(), func(err error) { t.Errorf("%s: %v", filepath.Base(dir), err) }); err != nil {
		t.Fatal(err)
	}
}

// Row PS5: a program killed while it brings an old library to the present format leaves it in one of the formats, whole.
func TestPS5KilledWhileMigrating(t *testing.T) {
	_, rounds := killRounds()
	formatsSeen := map[int]int{}
	for round := range rounds {
		dir := filepath.Join(t.TempDir(), "Lab")
		if err := os.CopyFS(dir, os.DirFS(filepath.Join(formats, "format-2"))); err != nil {
			t.Fatal(err)
		}
		runAndKill(t, dir, "before opening", time.Duration(rand.IntN(16_000))*time.Microsecond)
		if db, err := store.Open(filepath.Join(dir, catalogueName)); err != nil {
			t.Fatal(err)
		} else {
			n, err := db.Meta("format")
			if err != nil {
				t.Fatal(err)
			}
			formatsSeen[int(n[0]-'0')]++
			db.Close()
		}
		verified(t, dir)
		l, err := Open(dir, ReadWrite)
		if err != nil {
			t.Fatal(err)
		}
		if c := custody(t, l); c.Len() < 2 {
			t.Errorf("round %d: %d lines", round, c.Len())
		}
		l.Close()
	}
	t.Logf("killed in %d rounds, found in these formats: %v", rounds, formatsSeen)
}

// runAndKill starts the child, kills it some time after it has opened, and returns what it said.
func runAndKill(t *testing.T, dir, tells string, after time.Duration) (said []string) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "ATLAS_CHILD="+dir, "ATLAS_TELLS="+tells)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() || lines.Text() != "open" {
		c.Process.Kill()
		c.Wait()
		t.Fatalf("the program did not open at once: %q", lines.Text())
	}
	time.AfterFunc(after, func() { c.Process.Kill() })
	for lines.Scan() {
		said = append(said, lines.Text())
	}
	var exit *exec.ExitError
	if err := c.Wait(); !errors.As(err, &exit) && tells == "" {
		t.Fatalf("the program ended by itself: %v", err)
	}
	return said
}
