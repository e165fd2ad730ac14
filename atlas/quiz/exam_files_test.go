package quiz

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/csv"
	"encoding/xml"
	"image"
	"image/png"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/photo"
)

// allFiles reads a folder of released files by their paths below it.
func allFiles(t testing.TB, dir string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		if info, err := e.Info(); err != nil || !info.ModTime().Equal(Neutral) {
			t.Errorf("%s bears a time of its own", path)
		}
		name, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(name)], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Row EX2: what leaves is flat, bears random codes, names no answer outside the key, holds no metadata, and is the same
// byte for byte when made again. Row PS4: every page and every item says what it is for. Row PS1: the donor stands nowhere.
func TestEX2ExamFiles(t *testing.T) {
	b, x := examLab(t, Plan{Title: "Übung – Mārķējums 3", Seed: 11, Items: 3, Respect: "Our own words.", Marker: Marker{Style: Ring}})
	slip, dir := render(t, b, x, Release{})
	if !slip.Allowed || !slip.LeakScan.Clean() || slip.LeakScan.Files != len(slip.Files) {
		t.Fatalf("%+v", slip)
	}
	files := allFiles(t, dir)
	if len(files) != len(slip.Files) {
		t.Errorf("%d files in the folder, %d on the slip", len(files), len(slip.Files))
	}
	again, second := render(t, b, x, Release{})
	for name, body := range allFiles(t, second) {
		if !bytes.Equal(body, files[name]) {
			t.Errorf("%s differs when made again as %s", name, again.Code)
		}
	}
	answers := map[string]bool{}
	for _, s := range x.Stations {
		for _, a := range s.Asks {
			for _, q := range a.Questions {
				answers[q.Answer] = true
				for _, n := range append(q.Accept, q.Half...) {
					answers[n] = len(n) > 4
				}
			}
		}
		if len(s.Code) != 6 || !slices.ContainsFunc(slip.Files, func(f File) bool { return f.Name == slip.Code+"-pictures/"+s.Code+".png" }) {
			t.Errorf("no picture %s", s.Code)
		}
	}
	for name, body := range files {
		isKey := strings.Contains(name, "-key") || strings.HasSuffix(name, ".zip")
		text := string(body)
		if strings.HasSuffix(name, ".pdf") {
			text += pdfText(t, body)
			if strings.Count(text, NotForDiagnosis) < 1 || !strings.Contains(text, "Our own words.") {
				t.Errorf("%s lacks a line of respect or purpose", name)
			}
		}
		for n, count := range answers {
			if count && !isKey && strings.Contains(strings.ToLower(text), strings.ToLower(n)) {
				t.Errorf("%s holds the answer %q", name, n)
			}
		}
		if strings.HasSuffix(name, ".png") {
			pngChunks(t, name, body)
		}
	}
	for name, body := range unzip(t, filepath.Join(dir, slip.Code+"-qti.zip")) {
		switch {
		case strings.HasSuffix(name, ".png"):
			pngChunks(t, name, body)
			code := strings.TrimSuffix(filepath.Base(name), ".png")
			if !bytes.Equal(body, files[slip.Code+"-pictures/"+code+".png"]) {
				t.Errorf("%s is another picture than the one in the folder", name)
			}
		case strings.HasPrefix(name, "items/") && !bytes.Contains(body, []byte(NotForDiagnosis)):
			t.Errorf("%s does not say what it is for", name)
		}
		if strings.HasSuffix(name, ".xml") {
			wellFormed(t, name, body)
		}
	}
	rows, err := csv.NewReader(bytes.NewReader(files[slip.Code+"-key.csv"])).ReadAll()
	if err != nil || len(rows) != 4 || rows[1][7] != x.Stations[0].Asks[0].Questions[0].Answer {
		t.Errorf("the key: %q, %v", rows, err)
	}
}

// pngChunks lets pass only what shows a picture at its size (PNG 2nd edition, 11.2 and 11.3.5.3): no text, no time, no
// colour profile.
func pngChunks(t *testing.T, name string, b []byte) {
	t.Helper()
	for at := 8; at+8 <= len(b); {
		n, kind := int(binary.BigEndian.Uint32(b[at:])), string(b[at+4:at+8])
		if !slices.Contains([]string{"IHDR", "pHYs", "IDAT", "IEND"}, kind) {
			t.Errorf("%s has a chunk %s", name, kind)
		}
		at += n + 12
	}
	if c, err := png.DecodeConfig(bytes.NewReader(b)); err != nil || c.Width != 1890 || c.Height != 1417 {
		t.Errorf("%s: %+v, %v", name, c, err)
	}
}

func wellFormed(t *testing.T, name string, b []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(b))
	for {
		if _, err := d.Token(); err != nil {
			if err.Error() != "EOF" {
				t.Errorf("%s: %v", name, err)
			}
			return
		}
	}
}

// Row EX2, judged by poppler's tools: the pages are A4 or Letter, hold the words with their Latin diacritics, one picture
// a card and no word of the answers; and the face is shown at the size that the card says, to 1 %.
func TestEX2PagesJudgedFromOutside(t *testing.T) {
	for _, tool := range []string{"pdfinfo", "pdftotext", "pdfimages", "pdftoppm"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip("no ", tool, " here; install poppler-utils")
		}
	}
	run := func(name string, args ...string) string {
		out, err := exec.Command(name, args...).CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v: %s", name, err, out)
		}
		return string(out)
	}
	for paper, size := range map[Paper]string{A4: "841.89 x 595.28 pts", Letter: "792 x 612 pts"} {
		b, x := examLab(t, Plan{Title: "Übung Žāģēšana ōū", Seed: 11, Items: 2, Paper: paper, FaceView: 1})
		slip, dir := render(t, b, x, Release{NoQTI: true, NoFolder: true})
		cards, key := filepath.Join(dir, slip.Code+"-cards.pdf"), filepath.Join(dir, slip.Code+"-key.pdf")
		if info := run("pdfinfo", cards); !strings.Contains(info, size) || !regexp.MustCompile(`Pages:\s+2\n`).MatchString(info) || !strings.Contains(info, "Metadata Stream: no") {
			t.Errorf("%s: %s", paper, info)
		}
		text := run("pdftotext", "-layout", cards, "-")
		if strings.Count(text, "Übung Žāģēšana ōū: station") != 2 || strings.Count(text, NotForDiagnosis) != 2 || strings.Contains(text, x.Stations[0].Asks[0].Questions[0].Answer) {
			t.Errorf("%s: %s", paper, text)
		}
		if text := run("pdftotext", "-layout", key, "-"); !strings.Contains(text, x.Stations[0].Asks[0].Questions[0].Answer) {
			t.Errorf("the key lacks the answer: %s", text)
		}
		list := strings.Split(strings.TrimSpace(run("pdfimages", "-list", cards)), "\n")
		if len(list) != 4 { // two lines of heading
			t.Fatalf("%q", list)
		}
		for _, line := range list[2:] {
			f := strings.Fields(line)
			if ppi, err := strconv.Atoi(f[12]); err != nil || math.Abs(float64(ppi)-pictureDots) > 3 || f[8] != "jpeg" {
				t.Errorf("%s: %q", paper, line)
			}
		}
		said := regexp.MustCompile(`1 mm on paper is ([0-9.]+) mm on the face`).FindStringSubmatch(text)
		if said == nil {
			t.Fatalf("no size is said: %s", text)
		}
		ratio, _ := strconv.ParseFloat(said[1], 64)
		page := filepath.Join(dir, "page")
		run("pdftoppm", "-r", "200", "-f", "1", "-l", "1", "-png", "-singlefile", cards, page)
		if got, want := faceWidth(t, page+".png")*ratio, 346.0; math.Abs(got-want) > want/100 {
			t.Errorf("%s: the face is 346 mm wide and measures %.1f mm on the page at 1:%g", paper, got, ratio)
		}
	}
}

// faceWidth is how wide the painted face (a border of half-axis 173 mm, outside it paper) stands on a page of 200 dpi, in
// mm of paper: the widest row of its own colour, in the left two thirds where the picture stands.
func faceWidth(t *testing.T, path string) float64 {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	b := m.Bounds()
	most := 0
	for y := b.Dy() / 4; y < b.Dy()*3/4; y++ {
		lo, hi := -1, -1
		for x := 0; x < b.Dx()*7/10; x++ {
			if r, g, bl, _ := m.At(x, y).RGBA(); r>>8 > g>>8+15 && g>>8 > bl>>8+10 { // the fat under the skin, no grey
				if lo < 0 {
					lo = x
				}
				hi = x
			}
		}
		most = max(most, hi-lo+1)
	}
	return float64(most) / 200 * 25.4
}

// Row EX2: with NeedLooks nothing leaves before somebody looked at every finished picture, and a picture that changed since
// was not looked at.
func TestEX2FreshEyes(t *testing.T) {
	b, x := examLab(t, Plan{Seed: 2, Items: 2})
	quick := Release{NeedLooks: true, NoCards: true, NoKey: true, NoQTI: true}
	if s, dir := render(t, b, x, quick); s.Allowed || !strings.HasPrefix(s.Reason, "Station 1: nobody looked") || exists(dir) {
		t.Errorf("%+v", s)
	}
	for i := range x.Stations {
		p, err := b.Proof(context.Background(), x, i)
		if err != nil {
			t.Fatal(err)
		}
		if x, err = x.Accept(i, "EF", examDay, p); err != nil {
			t.Fatal(err)
		}
	}
	s, dir := render(t, b, x, quick)
	if !s.Allowed {
		t.Fatal(s.Reason)
	}
	// What was looked at is what left, pixel for pixel.
	p, _ := b.Proof(context.Background(), x, 1)
	m, err := png.Decode(bytes.NewReader(allFiles(t, dir)[s.Code+"-pictures/"+x.Stations[1].Code+".png"]))
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []image.Point{{945, 700}, {300, 500}, {1200, 900}} {
		r1, g1, b1, _ := m.At(at.X, at.Y).RGBA()
		r2, g2, b2, _ := p.Picture.At(at.X, at.Y).RGBA()
		if r1 != r2 || g1 != g2 || b1 != b2 {
			t.Errorf("at %v another colour left than was looked at", at)
		}
	}
	x.Stations[1].Asks[0].Marker.From = FromRight
	x.Stations[1].Asks[0].Questions[0].Text += " Spell it out."
	if s, _ := render(t, b, x, quick); s.Allowed || !strings.HasPrefix(s.Reason, "Station 2: nobody looked at the finished picture as it is now") {
		t.Errorf("%+v", s)
	}
	if x, err = b.Save(x); err != nil || x.Rev != 1 {
		t.Fatal(err)
	}
	if kept, err := b.Load(x.ID); err != nil || kept.Stations[0].Look == nil || kept.Stations[0].Look.By != "EF" {
		t.Errorf("the look was not kept: %+v, %v", kept.Stations, err)
	}
}

// Row EX2: a station shows its own markers and no other's; the tag is covered in every picture.
func TestEX2OnlyItsOwnMarkers(t *testing.T) {
	l := signAll(t, newLab(t, straight(), photo.Scaled))
	l.plate.Mask = []annotate.Polygon{{Outer: []photoPx{{X: 700, Y: 420}, {X: 760, Y: 420}, {X: 760, Y: 460}, {X: 700, Y: 460}}}}
	var err error
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	b := l.board(t)
	both := draftExam(t, b, Plan{Seed: 2, Labels: one(l, "L06", "L10")})
	alone := both
	alone.Stations = both.Stations[1:]
	p, err1 := b.Proof(context.Background(), both, 1)
	q, err2 := b.Proof(context.Background(), alone, 0)
	if err1 != nil || err2 != nil || !bytes.Equal(p.Picture.Pix, q.Picture.Pix) {
		t.Errorf("a station shows what it does not show alone: %v %v", err1, err2)
	}
	view, err := b.outlineSight(both.Stations[1].Picture, true)
	if err != nil {
		t.Fatal(err)
	}
	view.face.fit(pictureRoom.inset(headRoom + 0.6))
	at := view.face.paper(photoPx{X: 730, Y: 440})
	if c := p.Picture.RGBAAt(int(at.X*dotsPerInch/25.4), int(at.Y*dotsPerInch/25.4)); c != cover {
		t.Errorf("the tag is %v", c)
	}
}

// Row PS1: words that must not leave keep an exam from leaving wherever they stand in it, and the try is recorded.
func TestPS1ExamLeaks(t *testing.T) {
	b, base := examLab(t, Plan{Seed: 2, Items: 1, Words: []string{"Miller"}})
	for name, change := range map[string]func(*Spotter){
		"the donor's code in the title": func(x *Spotter) { x.Title = "Trunk of " + donorCode },
		"without its hyphen":            func(x *Spotter) { x.Title = "sh31m" },
		"a name in a question":          func(x *Spotter) { x.Stations[0].Asks[0].Questions[0].Text = "Name what Prof. MILLER marked at A." },
		"a name in an accepted answer":  func(x *Spotter) { x.Stations[0].Asks[0].Questions[0].Accept = []string{"Miller's muscle"} },
		"a name that XML writes as a reference": func(x *Spotter) {
			x.Words = []string{"O'Neil"}
			x.Stations[0].Asks[0].Questions[0].Accept = []string{"O'Neil's muscle"}
		},
		"a name at the foot": func(x *Spotter) { x.Respect = "Thanks to miller." },
	} {
		x := base
		x.Stations = slices.Clone(base.Stations)
		x.Stations[0].Asks = slices.Clone(x.Stations[0].Asks)
		x.Stations[0].Asks[0].Questions = slices.Clone(x.Stations[0].Asks[0].Questions)
		change(&x)
		s, dir := render(t, b, x, Release{NoFolder: true})
		if s.Allowed || !strings.HasPrefix(s.Reason, "Found in the finished files: donor code or word") || len(s.Files) > 0 {
			t.Errorf("%s: %+v", name, s)
		}
		if there, _ := os.ReadDir(dir); len(there) > 0 {
			t.Errorf("%s: %v was left behind", name, there)
		}
		if strings.Contains(s.Reason, "iller") || strings.Contains(s.Reason, "31M") {
			t.Errorf("%s: the reason repeats the word: %s", name, s.Reason)
		}
	}
	lines, err := b.Lib.HandOuts()
	if err != nil || len(lines) != 6 || lines[0].Allowed {
		t.Errorf("%d lines on record, %v", len(lines), err)
	}
}
