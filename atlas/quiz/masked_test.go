package quiz

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	_ "image/jpeg"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// tagBox is where a tag lies on the face of these tests, within its border.
var tagBox = image.Rect(560, 380, 740, 470)

// taggedLab is a lab with one signed face on which a tag of a colour that no tissue has lies; covered tells whether the tag mask does.
func taggedLab(t *testing.T, covered bool) lab {
	t.Helper()
	l := newLab(t, straight(), photo.Scaled)
	m, _, err := image.Decode(bytes.NewReader(straight().paint()))
	must(t, err)
	img := image.NewRGBA(m.Bounds())
	photo.NewImage(m).Draw(img, [6]float64{1, 0, 0, 0, 1, 0})
	ink.FillRect(img, tagBox, color.RGBA{255, 0, 255, 255})
	ink.Bold().Text(img, geom.Px{X: 575, Y: 440}, 40, color.RGBA{0, 0, 0, 255}, "M 1234")
	var b bytes.Buffer
	must(t, photo.EncodePNG(&b, img))
	f := section.Face{Run: l.run.ID, Slab: 6, Facing: section.Superior}
	p, err := l.AddPhoto(context.Background(), f, "", "tagged.png", &b)
	must(t, err)
	was := l.plate
	p.PhotoUp, p.Border, p.Calibration, p.Labels = was.PhotoUp, was.Border, was.Calibration, was.Labels
	if covered {
		x0, y0, x1, y1 := float64(tagBox.Min.X), float64(tagBox.Min.Y), float64(tagBox.Max.X), float64(tagBox.Max.Y)
		p.Mask = []annotate.Polygon{{Outer: []geom.Px{{X: x0 - 1, Y: y0 - 1}, {X: x1, Y: y0 - 1}, {X: x1, Y: y1}, {X: x0 - 1, Y: y1}}}}
	}
	if l.plate, err = l.Save(p); err != nil {
		t.Fatal(err)
	}
	return signAll(t, l)
}

// tagPixels counts pixels of the tag's colour in every picture among files, looking into archives, and into paper where pdfimages
// (poppler) is installed.
func tagPixels(t *testing.T, files map[string][]byte) (n, pictures int) {
	t.Helper()
	for name, b := range files {
		switch filepath.Ext(name) {
		case ".png", ".jpg", ".jpeg":
			m, _, err := image.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			pictures++
			flat := image.NewRGBA(m.Bounds())
			draw.Draw(flat, flat.Rect, m, flat.Rect.Min, draw.Src)
			for i := 0; i < len(flat.Pix); i += 4 {
				if p := flat.Pix[i:]; p[0] > 170 && p[2] > 170 && p[1] < 110 {
					n++
				}
			}
		case ".zip", ".pack":
			at := filepath.Join(t.TempDir(), "a.zip")
			must(t, os.WriteFile(at, b, 0o600))
			k, p := tagPixels(t, unzip(t, at))
			n, pictures = n+k, pictures+p
		case ".pdf":
			if _, err := exec.LookPath("pdfimages"); err != nil {
				continue
			}
			dir := t.TempDir()
			at := filepath.Join(dir, "a.pdf")
			must(t, os.WriteFile(at, b, 0o600))
			out, err := exec.Command("pdfimages", "-png", at, filepath.Join(dir, "p")).CombinedOutput()
			if err != nil {
				t.Fatalf("%s: %v %s", name, err, out)
			}
			inside := map[string][]byte{}
			list, _ := filepath.Glob(filepath.Join(dir, "p*.png"))
			for _, f := range list {
				inside[f], err = os.ReadFile(f)
				must(t, err)
			}
			k, p := tagPixels(t, inside)
			n, pictures = n+k, pictures+p
		}
	}
	return n, pictures
}

// A tag under its mask is in nothing that leaves: hand-outs as PNG and PDF, study pack, exam folder, cards, key and QTI package. The same
// tag without a mask shows in each of them, so the search would find it.
func TestMaskedTagIsInNoProduct(t *testing.T) {
	if testing.Short() {
		t.Skip("whole pages are made and searched")
	}
	for _, covered := range []bool{false, true} {
		l := taggedLab(t, covered)
		d, err := l.Donor(donorCode)
		must(t, err)
		d.Agreement.Ends = time.Now().AddDate(0, 0, 40)
		must(t, l.SaveDonor(d))
		products := map[string]map[string][]byte{}
		for k, name := range map[Kind]string{Study: "study hand-out", Exam: "exam hand-out"} {
			s, dir := handOut(t, l, l.request(k))
			if !s.Allowed {
				t.Fatalf("%s: %+v", name, s)
			}
			files := allFiles(t, dir)
			for ext := range map[string]bool{".png": true, ".pdf": true} {
				products[name+ext] = only(files, ext)
			}
		}
		_, path := makePack(t, l, PackRequest{Plates: []string{l.plate.ID}, Title: "Week 3"})
		b, err := os.ReadFile(path)
		must(t, err)
		products["study pack"] = map[string][]byte{"a.zip": b}
		board := l.board(t)
		s, dir := render(t, board, draftExam(t, board, Plan{Seed: 2, Items: 1}), Release{})
		if !s.Allowed {
			t.Fatalf("exam: %+v", s)
		}
		files := allFiles(t, dir)
		for _, ext := range []string{".png", ".zip", ".pdf"} {
			products["exam"+ext] = only(files, ext)
		}
		_, paper := exec.LookPath("pdfimages")
		for name, files := range products {
			n, pictures := tagPixels(t, files)
			if strings.HasSuffix(name, ".pdf") && paper != nil {
				t.Logf("%s: pdfimages is not installed, its pictures were not looked at", name)
				continue
			}
			t.Logf("%s, covered %v: %d pictures, %d pixels of the tag", name, covered, pictures, n)
			if pictures == 0 || (n > 0) == covered {
				t.Errorf("%s, covered %v: %d pixels of the tag in %d pictures of %s", name, covered, n, pictures, fmt.Sprint(len(files), " files"))
			}
		}
	}
}

// only are the files of one ending.
func only(files map[string][]byte, ext string) map[string][]byte {
	out := map[string][]byte{}
	for name, b := range files {
		if filepath.Ext(name) == ext {
			out[name] = b
		}
	}
	return out
}
