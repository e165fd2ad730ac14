package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"sectionary/slices/section"
)

// tests runs the tests and clears away the practice lab they shared.
type tests struct{ m *testing.M }

func (t tests) Run() int {
	defer func() { os.RemoveAll(sharedLab.dir) }()
	return t.m.Run()
}

// The scripts start this very binary under the name sectionary.
func TestMain(m *testing.M) {
	testscript.Main(tests{m}, map[string]func(){"sectionary": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:  "../../testdata/cli",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": cmdStatus, "field": cmdField, "picture": cmdPicture, "damage": cmdDamage},
		Setup: func(e *testscript.Env) error {
			root, err := filepath.Abs("../..")
			e.Setenv("DATA", filepath.Join(root, "../shared/data"))
			e.Setenv("OURS", filepath.Join(root, "testdata/cli/real"))
			if err == nil && strings.HasPrefix(filepath.Base(e.WorkDir), "script-practice") {
				err = sharedLab.into(e)
			}
			return err
		},
		Condition: func(cond string) (bool, error) {
			if cond != "data" {
				return false, fmt.Errorf("unknown condition %q", cond)
			}
			_, err := os.Stat("../../../shared/data")
			return err == nil, nil
		},
	})
}

// sharedLab is the practice material, made once when a script first asks for it.
var sharedLab lab

type lab struct {
	once sync.Once
	dir  string
	err  error
}

func (l *lab) into(e *testscript.Env) error {
	l.once.Do(func() {
		if l.dir, l.err = os.MkdirTemp("", "sectionary-practice-"); l.err != nil {
			return
		}
		if _, notes, status := prompt("practice", "-seed", "7", filepath.Join(l.dir, "material")); status != statusDone {
			l.err = errors.New(notes)
		}
	})
	e.Setenv("PRACTICE", filepath.Join(l.dir, "material"))
	if l.err != nil {
		return l.err
	}
	return oneFace(filepath.Join(l.dir, "material", "truth.json"), filepath.Join(e.WorkDir, "face.json"))
}

// oneFace copies what the truth says of one face.
func oneFace(truth, to string) error {
	b, err := os.ReadFile(truth)
	if err != nil {
		return err
	}
	var all struct{ Faces []json.RawMessage }
	if err := json.Unmarshal(b, &all); err != nil {
		return err
	}
	for _, raw := range all.Faces {
		var f struct{ Face section.Face }
		if err := json.Unmarshal(raw, &f); err != nil {
			return err
		}
		if f.Face == (section.Face{Run: "trunk", Slab: 9, Facing: section.Superior}) {
			return os.WriteFile(to, raw, 0o644)
		}
	}
	return errors.New("the practice lab has no such face")
}

// cmdStatus runs a command and wants its exit status: status 2 sectionary letters. A failure must say one sentence.
func cmdStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command...")
	}
	got := 0
	err := ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
	said := strings.TrimSpace(ts.ReadFile("stderr"))
	if last := said[strings.LastIndexByte(said, '\n')+1:]; got != 0 && !strings.HasPrefix(last, "sectionary: ") {
		ts.Fatalf("a failure must end with a sentence of the program's, got %q", last)
	}
}

// cmdField wants a value in the one JSON document on standard output: field PATH WANT [TOLERANCE]. PATH is names and
// indices parted by dots; a last len is the length of a list. WANT is a number, null, true, false, text, ~pattern, or @file:path for what stands in another document.
func cmdField(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 || len(args) > 3 {
		ts.Fatalf("usage: field PATH WANT [TOLERANCE]")
	}
	got, err := lookUp(ts.ReadFile("stdout"), args[0])
	ts.Check(err)
	tolerance := 0.0
	if len(args) == 3 {
		tolerance, err = strconv.ParseFloat(args[2], 64)
		ts.Check(err)
	}
	want := args[1]
	if file, path, ok := strings.Cut(want, ":"); ok && strings.HasPrefix(file, "@") {
		v, err := lookUp(ts.ReadFile(file[1:]), path)
		ts.Check(err)
		want = fmt.Sprint(v)
	}
	if ok := fits(got, want, tolerance); ok == neg {
		ts.Fatalf("%s is %v; want %s (not: %v)", args[0], got, want, neg)
	}
}

func lookUp(text, path string) (any, error) {
	d := json.NewDecoder(strings.NewReader(text))
	var v any
	if err := d.Decode(&v); err != nil {
		return nil, fmt.Errorf("standard output is not JSON: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("standard output holds more than one JSON document")
	}
	for _, step := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			var ok bool
			if v, ok = x[step]; !ok {
				return nil, fmt.Errorf("%s: there is no %q", path, step)
			}
		case []any:
			if step == "len" {
				v = float64(len(x))
				continue
			}
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(x) {
				return nil, fmt.Errorf("%s: no element %q of %d", path, step, len(x))
			}
			v = x[i]
		default:
			return nil, fmt.Errorf("%s: %q leads nowhere", path, step)
		}
	}
	return v, nil
}

func fits(got any, want string, tolerance float64) bool {
	if pattern, ok := strings.CutPrefix(want, "~"); ok {
		return regexp.MustCompile(pattern).MatchString(fmt.Sprint(got))
	}
	if x, ok := got.(float64); ok {
		y, err := strconv.ParseFloat(want, 64)
		return err == nil && math.Abs(x-y) <= tolerance
	}
	if got == nil {
		return want == "null"
	}
	return fmt.Sprint(got) == want
}

// cmdPicture writes a grey PNG: picture NAME WIDTH HEIGHT.
func cmdPicture(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: picture NAME WIDTH HEIGHT")
	}
	w, err := strconv.Atoi(args[1])
	ts.Check(err)
	h, err := strconv.Atoi(args[2])
	ts.Check(err)
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = 150
	}
	var b bytes.Buffer
	ts.Check(png.Encode(&b, m))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o644))
}

// cmdDamage turns over one byte in the middle of the Nth file that matches a pattern: damage PATTERN N.
func cmdDamage(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: damage PATTERN N")
	}
	hits, err := filepath.Glob(ts.MkAbs(args[0]))
	ts.Check(err)
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	if n >= len(hits) {
		ts.Fatalf("%d files match %s", len(hits), args[0])
	}
	b, err := os.ReadFile(hits[n])
	ts.Check(err)
	b[len(b)/2] ^= 0xff
	ts.Check(os.WriteFile(hits[n], b, 0o644))
}

// prompt runs a verb in this process.
func prompt(args ...string) (out, notes string, status int) {
	var o, n bytes.Buffer
	status = run(args, &o, &n)
	return o.String(), n.String(), status
}

// Every row of the project's laterality tables (18 core and 72 photograph rows, derived from DICOM's patient axes and
// the law right x up = outward normal), asked at the prompt.
func TestLettersTables(t *testing.T) {
	views := map[string]string{"radiology": "scan", "opposite": "otherside", "bench": "bench"}
	rows := readTable(t, "../../testdata/laterality/photo_ops.csv")
	if len(rows) != 72 {
		t.Fatalf("72 rows are wanted, got %d", len(rows))
	}
	for _, r := range rows {
		out, _, status := prompt("letters", "-plane", r["plane"], "-face", r["face"], "-up", r["photo_up"], "-view", views[r["convention"]], "-json")
		var l letters
		if err := json.Unmarshal([]byte(out), &l); err != nil || status != 0 {
			t.Fatalf("%v: status %d, %v", r, status, err)
		}
		got := fmt.Sprint(l.Left, l.Right, l.Up, l.Down, 90*l.QuarterTurns, l.Mirror)
		want := fmt.Sprint(r["out_left"], r["out_right"], r["out_up"], r["out_down"], " ", r["rotate_cw_deg"], " ", r["then_mirror_lr"])
		if strings.ReplaceAll(got, " ", "") != strings.ReplaceAll(want, " ", "") {
			t.Errorf("%s %s, %s up, %s: got %s, want %s", r["plane"], r["face"], r["photo_up"], r["convention"], got, want)
		}
	}
	core := readTable(t, "../../testdata/laterality/core.csv")
	if len(core) != 18 {
		t.Fatalf("18 rows are wanted, got %d", len(core))
	}
	for _, r := range core {
		out, _, _ := prompt("letters", "-plane", r["plane"], "-face", r["face"], "-up", r["image_up"], "-view", views[r["convention"]], "-json")
		var l letters
		if err := json.Unmarshal([]byte(out), &l); err != nil {
			t.Fatal(err)
		}
		if l.Left != r["image_left"] || l.Right != r["image_right"] || l.Up != r["image_up"] || l.Down != r["image_down"] {
			t.Errorf("%s %s in %s: got %v", r["plane"], r["face"], r["convention"], l)
		}
		if fmt.Sprint(l.Mirror) != r["picture_is_mirror_of_the_face"] {
			t.Errorf("%s %s in %s: mirror %v", r["plane"], r["face"], r["convention"], l.Mirror)
		}
	}
}

func readTable(t *testing.T, path string) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	all, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func TestLongFlags(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"cut -window -600,1500 -o x.png", "cut --window -600,1500 -o x.png"},
		{"cut --window 40,400 -json", "cut --window 40,400 --json"},
		{"scale -height -3,800", "scale --height -3,800"},
		{"terms find -- -odd", "terms find -- -odd"},
		{"-h", "-h"},
		{"-help", "--help"},
		{"pose -at=3,4", "pose --at=3,4"},
	} {
		if got := strings.Join(longFlags(strings.Fields(c.in)), " "); got != c.want {
			t.Errorf("%s: got %s, want %s", c.in, got, c.want)
		}
	}
}

// Every verb of the documented table is there, explains itself, and is misused by a flag nobody knows.
func TestVerbsAreThere(t *testing.T) {
	for _, verb := range strings.Fields("practice letters survey cut scale measure pose levels refine runcheck outline terms new add-photo add-series label list show handout verify place calibrate orient tie level agree run border mask") {
		out, _, status := prompt(verb, "-help")
		if status != statusDone || !strings.Contains(out, "sectionary "+verb) {
			t.Errorf("%s -help: status %d, %q", verb, status, out)
		}
		_, notes, status := prompt(verb, "-no-such-flag")
		if status != statusMisused || strings.Count(notes, "\n") != 1 {
			t.Errorf("%s -no-such-flag: status %d, %q", verb, status, notes)
		}
	}
}

// An interrupted verb leaves nothing behind.
func TestStoppedLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var out, notes bytes.Buffer
	root := newRoot(&tool{out: &out, notes: &notes})
	root.SetArgs([]string{"practice", filepath.Join(dir, "lab")})
	err := root.ExecuteContext(ctx)
	if !errors.Is(err, context.Canceled) || statusOf(err) != statusFailed {
		t.Fatalf("got %v", err)
	}
	if !strings.HasPrefix(sentence(err), "stopped") {
		t.Errorf("says %q", sentence(err))
	}
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestWriteWholeLeavesNothingHalf(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.json")
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	err := writeWhole(path, func(w io.Writer) error {
		fmt.Fprint(w, "half")
		return errors.New("broke off")
	})
	if err == nil || !strings.Contains(err.Error(), "a.json") {
		t.Errorf("got %v", err)
	}
	b, _ := os.ReadFile(path)
	if entries, _ := os.ReadDir(dir); string(b) != "old" || len(entries) != 1 {
		t.Errorf("file holds %q, folder %v", b, entries)
	}
}

func TestSentence(t *testing.T) {
	for in, want := range map[string]string{
		"atlas: photo: picture is damaged":               "picture is damaged",
		"a.dcm: scan: not a scan: neither":               "a.dcm: not a scan: neither",
		"one\nregister: two":                             "one; two",
		"x.csv: register: line 3: \"a\" is not a number": "x.csv: line 3: \"a\" is not a number",
	} {
		if got := sentence(errors.New(in)); got != want {
			t.Errorf("%q: got %q", in, got)
		}
	}
}
