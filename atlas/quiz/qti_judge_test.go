package quiz

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// givenAnswer is one answer that the judge gives to one interaction.
type givenAnswer struct {
	Response string  `json:"response"`
	Form     Form    `json:"form"`
	Value    string  `json:"value,omitempty"`
	X        float64 `json:"x,omitempty"` // pixels of the picture
	Y        float64 `json:"y,omitempty"`
}

// trial is one item answered in one way, and the score that the key gives for it.
type trial struct {
	Item    string        `json:"item"`
	Trial   string        `json:"trial"`
	Answers []givenAnswer `json:"answers"`
	want    float64
}

// trials answers every item right, wrong and, where a side is asked for, without it. They come from the exam, not from
// its package.
func trials(t *testing.T, b Board, x Spotter) (out []trial) {
	t.Helper()
	for _, s := range x.Stations {
		item := "items/" + s.Code + ".xml"
		right, wrong, half := trial{Item: item, Trial: "right"}, trial{Item: item, Trial: "wrong"}, trial{Item: item, Trial: "half"}
		n, some := 0, false
		for _, a := range s.Asks {
			for _, q := range a.Questions {
				n++
				g := givenAnswer{Response: fmt.Sprintf("RESPONSE%d", n), Form: q.Form, Value: q.Answer}
				w, h := g, g
				switch q.Form {
				case Pointed:
					g.X, g.Y, w.X, w.Y = pointAt(t, b, s, a)
					h = g
				case Choice:
					w.Value = q.Options[(slices.Index(q.Options, q.Answer)+1)%len(q.Options)]
				default:
					g.Value = strings.ToUpper(q.Answer) // letters small or large
					w.Value = "nothing of the kind"
					h.Value = q.Answer
					if len(q.Half) > 0 {
						h.Value, some = q.Half[0], true
						half.want -= q.Marks / 2
					}
				}
				right.Answers, wrong.Answers, half.Answers = append(right.Answers, g), append(wrong.Answers, w), append(half.Answers, h)
				right.want += q.Marks
			}
		}
		half.want += right.want
		out = append(out, right, wrong)
		if some {
			out = append(out, half)
		}
	}
	return out
}

// pointAt finds on the finished picture a pixel inside the structure asked for, and one inside another.
func pointAt(t *testing.T, b Board, s Station, a Ask) (x, y, wx, wy float64) {
	t.Helper()
	view, err := b.outlineSight(s.Picture, true)
	if err != nil {
		t.Fatal(err)
	}
	view.face.fit(pictureRoom.inset(headRoom + 0.6))
	const per = dotsPerInch / 25.4
	at := func(id string) (float64, float64) {
		for _, l := range view.labels {
			if l.ID == id {
				p := view.face.paper(l.Inside())
				return p.X*per - 0.5, p.Y*per - 0.5
			}
		}
		t.Fatalf("no label %s", id)
		return 0, 0
	}
	x, y = at(a.Label)
	for _, h := range view.hotspots(s) {
		if h.label != a.Label {
			wx, wy = at(h.label)
			return x, y, wx, wy
		}
	}
	t.Fatal("nothing else to point at")
	return
}

// The acceptance of issue's QTI package: a component library that is not ours (testdata/quiz/judge) opens every item in
// headless Chromium; every picture shows, and right, wrong and half answers score as keyed.
func TestQTIJudgedByAnIndependentLibrary(t *testing.T) {
	if testing.Short() {
		t.Skip("fetches a library and starts a browser")
	}
	library := judgeLibrary(t)
	browser := browserPath(t)
	b, x := examLab(t, Plan{Title: "Week 3", Seed: 3, Items: 12, Forms: []Form{Typed, Choice, Pointed}, Second: true})
	slip, dir := render(t, b, x, Release{NoCards: true, NoKey: true, NoFolder: true})
	if !slip.Allowed {
		t.Fatal(slip.Reason)
	}
	pack := map[string][]byte{}
	for name, body := range unzip(t, filepath.Join(dir, slip.Code+"-qti.zip")) {
		pack["/package/"+name] = body
	}
	plan := trials(t, b, x)
	results := judge(t, browser, library, pack, plan)
	if len(results) != len(plan) {
		t.Fatalf("%d of %d trials came back", len(results), len(plan))
	}
	forms := map[Form]int{}
	for i, r := range results {
		want := plan[i]
		switch {
		case r.Item != want.Item || r.Trial != want.Trial || r.Error != "":
			t.Errorf("%s, %s: %s", want.Item, want.Trial, r.Error)
		case r.Width != 1890 || r.Height != 1417:
			t.Errorf("%s: its picture is %d x %d", r.Item, r.Width, r.Height)
		case r.Score != want.want:
			t.Errorf("%s, %s: %g, the key says %g (%+v)", r.Item, r.Trial, r.Score, want.want, want.Answers)
		}
		for _, a := range want.Answers {
			forms[a.Form]++
		}
	}
	for _, f := range Forms {
		if forms[f] < 2 {
			t.Errorf("%s was tried %d times", f, forms[f])
		}
	}
	t.Logf("%d trials of %d items, answers by form: %v", len(results), len(x.Stations), forms)
}

type verdict struct {
	Item, Trial, Error string
	Width, Height      int
	Score              float64
}

// judge serves page, library, package and plan on the loopback and waits for the browser's verdict.
func judge(t *testing.T, browser string, library []byte, pack map[string][]byte, plan []trial) []verdict {
	t.Helper()
	page, err := os.ReadFile("../../testdata/quiz/judge/judge.html")
	if err != nil {
		t.Fatal(err)
	}
	planned, err := json.Marshal(plan)
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan []byte, 1)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		kinds := map[string]string{".html": "text/html", ".js": "text/javascript", ".xml": "application/xml", ".png": "image/png", ".json": "application/json"}
		w.Header().Set("Content-Type", kinds[filepath.Ext(r.URL.Path)])
		body, ok := pack[r.URL.Path]
		switch {
		case r.URL.Path == "/result":
			b, _ := io.ReadAll(io.LimitReader(r.Body, 1<<20))
			done <- b
		case r.URL.Path == "/judge.html":
			w.Write(page)
		case r.URL.Path == "/library.js":
			w.Write(library)
		case r.URL.Path == "/plan.json":
			w.Write(planned)
		case ok:
			w.Write(body)
		default:
			http.NotFound(w, r)
		}
	}))
	defer s.Close()
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	defer stop()
	c := exec.CommandContext(ctx, browser, "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-dev-shm-usage",
		"--user-data-dir="+t.TempDir(), s.URL+"/judge.html")
	c.WaitDelay = 5 * time.Second
	var said bytes.Buffer
	c.Stderr = &said
	if err := c.Start(); err != nil {
		t.Skip("the browser does not start: ", err)
	}
	defer func() { stop(); c.Wait() }()
	select {
	case b := <-done:
		var out []verdict
		if err := json.Unmarshal(b, &out); err != nil {
			t.Fatal(err)
		}
		return out
	case <-ctx.Done():
		t.Fatalf("no verdict in five minutes: %s", said.String())
	}
	return nil
}

func browserPath(t *testing.T) string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Skip("no Chromium here; install it to have the package judged")
	return ""
}

// judgeLibrary fetches the library named in testdata/quiz/judge/package.json into a temporary folder.
func judgeLibrary(t *testing.T) []byte {
	npm, err := exec.LookPath("npm")
	if err != nil {
		t.Skip("no npm here; install it to have the package judged")
	}
	pinned, err := os.ReadFile("../../testdata/quiz/judge/package.json")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "package.json"), pinned, 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithTimeout(context.Background(), 2*time.Minute)
	defer stop()
	c := exec.CommandContext(ctx, npm, "install", "--no-audit", "--no-fund", "--ignore-scripts", "--no-package-lock")
	c.Dir = dir
	c.WaitDelay = 5 * time.Second
	if out, err := c.CombinedOutput(); err != nil {
		t.Skipf("the judge's library cannot be fetched here: %v\n%s", err, out)
	}
	built, err := filepath.Glob(filepath.Join(dir, "node_modules", "@*", "*", "cdn", "index.global.js"))
	if err != nil || len(built) != 1 {
		t.Skipf("the judge's library has no bundle: %v, %v", built, err)
	}
	b, err := os.ReadFile(built[0])
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func unzip(t testing.TB, path string) map[string][]byte {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
		r.Close()
	}
	return out
}
