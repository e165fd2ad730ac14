package quiz

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// released reads the files of a slip and checks that nothing else was left.
func released(t *testing.T, s Slip, dir string) map[string][]byte {
	t.Helper()
	there, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(there) != len(s.Files) {
		t.Errorf("%d files in the folder, %d on the slip", len(there), len(s.Files))
	}
	out := map[string][]byte{}
	for _, e := range there {
		info, _ := e.Info()
		if !info.ModTime().Equal(Neutral) || !strings.HasPrefix(e.Name(), s.Code) {
			t.Errorf("%s of %v", e.Name(), info.ModTime())
		}
		b, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name()] = b
	}
	return out
}

func TestStudyAndExam(t *testing.T) {
	l := newLab(t, tilted(), photo.Rectified)
	for _, k := range []Kind{Study, Exam} {
		r := l.request(k)
		r.Title = "Week 3"
		s, dir := handOut(t, l, r)
		if !s.Allowed || s.Reason != "" || len(s.LeftOut) > 0 || !s.LeakScan.Clean() || s.LeakScan.Files != len(s.Files) {
			t.Fatalf("%s: %+v", k, s)
		}
		files := released(t, s, dir)
		for name, b := range files {
			text := pdfText(t, b)
			for _, o := range body {
				if o.term == "" || !strings.HasSuffix(name, ".pdf") {
					continue
				}
				x, _ := terms(t).ByID(annotate.TermID(o.term))
				want := k == Study || strings.Contains(name, "key")
				if strings.Contains(text, x.Name) != want {
					t.Errorf("%s: %q in %s: %v", k, x.Name, name, !want)
				}
			}
			if strings.HasSuffix(name, ".pdf") && (!strings.Contains(text, NotForDiagnosis) || !strings.Contains(text, Respect) || !strings.Contains(text, "Week 3") || !strings.Contains(text, s.Code)) {
				t.Errorf("%s lacks a line: %q", name, text)
			}
			if bytes.Contains(b, []byte(l.plate.ID)) {
				t.Errorf("%s holds an identifier of the library", name)
			}
		}
		// The same request gives the same bytes.
		again, second := handOut(t, l, r)
		for name, b := range released(t, again, second) {
			if !bytes.Equal(b, files[name]) {
				t.Errorf("%s differs when made again", name)
			}
		}
	}
	lines, err := l.HandOuts()
	if err != nil || len(lines) != 4 || !lines[0].Allowed || lines[0].Donor != donorCode || len(lines[0].Files) != 3 {
		t.Errorf("the record: %+v, %v", lines, err)
	}
}

// pdfText is the text drawn in a PDF of ours: strings in UTF-16.
func pdfText(t *testing.T, b []byte) string {
	t.Helper()
	var out strings.Builder
	for rest := b; ; {
		at := streamStart.FindIndex(rest)
		if at == nil {
			return out.String()
		}
		rest = rest[at[1]:]
		end := bytes.Index(rest, []byte("endstream"))
		s := &search{found: map[Leak]bool{}, limit: maxFile}
		plain := s.inflate(rest[:end])
		if bytes.Contains(plain, []byte(" Td ")) {
			str := pdfStrings(plain)
			for i := 0; i+1 < len(str); i += 2 {
				out.WriteRune(rune(str[i])<<8 | rune(str[i+1]))
			}
		}
		rest = rest[end:]
	}
}

func TestRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		plate   func(atlas.Plate) atlas.Plate
		request func(*Request)
		want    string
	}{
		"purpose not recorded":   {nil, func(r *Request) { r.Purpose = atlas.PublicWeb }, "'public web' is not in this donor's agreement"},
		"no such purpose":        {nil, func(r *Request) { r.Purpose = "resale" }, "not a purpose"},
		"no face":                {nil, func(r *Request) { r.Plates = nil }, "No face was chosen"},
		"unknown face":           {nil, func(r *Request) { r.Plates = []string{"P1"} }, "no face P1"},
		"twice":                  {nil, func(r *Request) { r.Plates = append(r.Plates, r.Plates[0]) }, "twice"},
		"paper":                  {nil, func(r *Request) { r.Paper = "A3" }, "A4 or Letter"},
		"language":               {nil, func(r *Request) { r.Languages = []Language{"xx"} }, "en or la"},
		"kind":                   {nil, func(r *Request) { r.Kind = "poster" }, "neither"},
		"short word":             {nil, func(r *Request) { r.Words = []string{"x"} }, "too short"},
		"code in the title":      {nil, func(r *Request) { r.Title = "Slabs of sh31m" }, "Found in the finished files"},
		"word in the title":      {nil, func(r *Request) { r.Title, r.Words = "Gate 5", []string{"gate-5"} }, "Found in the finished files"},
		"answer in the title":    {nil, func(r *Request) { r.Kind, r.Title = Exam, "Around the IVC" }, "give an answer away: IVC"},
		"letters unknown":        {func(p atlas.Plate) atlas.Plate { p.PhotoUp = section.UnknownFacing; return p }, nil, "left and right cannot be told"},
		"tags may show":          {func(p atlas.Plate) atlas.Plate { p.Border = nil; return p }, nil, "a tag or writing may show"},
		"no labels":              {func(p atlas.Plate) atlas.Plate { p.Labels = annotate.Labels{}; return p }, nil, "no label can be used"},
		"all labels left out":    {nil, func(r *Request) { r.SignedOnly = true }, "not signed by a second person"},
		"none chosen":            {nil, func(r *Request) { r.Labels = map[string][]string{r.Plates[0]: {}} }, "no label can be used"},
		"exam without agreement": {nil, func(r *Request) { r.Kind, r.Purpose = Exam, atlas.Teaching }, "'in-house exam' is not"},
	} {
		t.Run(name, func(t *testing.T) {
			l := newLab(t, straight(), photo.Scaled)
			if strings.HasPrefix(name, "exam without") {
				must(t, l.SaveDonor(atlas.Donor{Code: donorCode, Agreement: atlas.Agreement{Permitted: map[atlas.Purpose]bool{atlas.Teaching: true}}}))
			}
			if c.plate != nil {
				var err error
				l.plate, err = l.Save(c.plate(l.plate))
				must(t, err)
			}
			r := l.request(Study)
			if c.request != nil {
				c.request(&r)
			}
			s, dir := handOut(t, l, r)
			if s.Allowed || !strings.Contains(s.Reason, c.want) || len(s.Files) > 0 {
				t.Errorf("%+v", s)
			}
			if there, _ := os.ReadDir(dir); len(there) > 0 {
				t.Errorf("left in the folder: %v", there)
			}
			lines, err := l.HandOuts()
			if err != nil || len(lines) != 1 || lines[0].Allowed || lines[0].Reason != s.Reason {
				t.Errorf("the record: %+v, %v", lines, err)
			}
			if strings.Contains(strings.ToLower(s.Reason), "sh31m") {
				t.Error("the reason repeats what must not leave")
			}
		})
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestOtherRefusals(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	ctx, r := context.Background(), l.request(Study)
	refused := func(want string) {
		t.Helper()
		if s, _ := handOut(t, l, r); s.Allowed || !strings.Contains(s.Reason, want) {
			t.Errorf("%q, want %q", s.Reason, want)
		}
	}
	must(t, l.SaveDonor(atlas.Donor{Code: donorCode, Agreement: atlas.Agreement{Ends: time.Now().AddDate(0, 0, -1),
		Permitted: map[atlas.Purpose]bool{atlas.Teaching: true, atlas.Exam: true}}}))
	refused("agreement ended")
	must(t, l.SaveDonor(atlas.Donor{Code: donorCode, Agreement: atlas.Agreement{Reference: "A 8", Permitted: map[atlas.Purpose]bool{atlas.Teaching: true}}}))
	_, err := l.Retire(l.plate.ID)
	must(t, err)
	refused("earlier photograph")
	_, err = l.Restore(l.plate.ID)
	must(t, err)
	_, err = l.Unplace(l.plate.ID)
	must(t, err)
	refused("not placed on a face")
	mirror := photo.WithEXIF(straight().paint(), 2, time.Time{})
	f := section.Face{Run: l.run.ID, Slab: 7, Facing: section.Superior}
	p, err := l.AddPhoto(ctx, f, "", "x.jpg", bytes.NewReader(mirror))
	must(t, err)
	r.Plates = []string{p.ID}
	refused("camera's tag says mirrored")
	must(t, l.Close())
	reader, err := atlas.Open(l.Dir(), atlas.ReadOnly)
	must(t, err)
	defer reader.Close()
	if _, err := HandOut(ctx, reader, terms(t), r, t.TempDir()); !errors.Is(err, atlas.ErrReadOnly) {
		t.Errorf("%v", err)
	}
}

func TestLabelsThatMayNotBeUsed(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	edit := map[string]func(*annotate.Label){
		"L03": func(x *annotate.Label) { x.Carried = true },
		"L04": func(x *annotate.Label) { x.Sure = annotate.Probable },
		"L05": func(x *annotate.Label) { x.Sure = annotate.Discuss },
		"L06": func(x *annotate.Label) { x.Term = "" },
		"L07": func(x *annotate.Label) { x.Term = "T:99" },
		"L08": func(x *annotate.Label) { x.Author = "" },
	}
	var next annotate.Labels
	for x := range l.plate.Labels.All() {
		if f := edit[x.ID]; f != nil {
			f(&x)
		}
		var err error
		next, err = next.Add(x)
		must(t, err)
	}
	l.plate.Labels = next
	_, err := l.Save(l.plate)
	must(t, err)
	for k, want := range map[Kind]string{Study: "L03 L05 L06 L07 L08", Exam: "L03 L04 L05 L06 L07 L08"} {
		s, _ := handOut(t, l, l.request(k))
		var got []string
		for _, x := range s.LeftOut {
			got = append(got, x.Label)
			if x.Reason == "" || x.Name == "" {
				t.Errorf("%+v", x)
			}
		}
		if strings.Join(got, " ") != want || !s.Allowed {
			t.Errorf("%s left out %v, want %s", k, got, want)
		}
	}
}

// The view's own law: what lies on the donor's left must come out at the letter L, in every view, from every
// turn of the camera, and from a picture that was mirrored.
func TestSidesComeOutRight(t *testing.T) {
	spleen := geom.MM{X: -106, Y: 4} // painted on the donor's left
	for _, mirrored := range []bool{false, true} {
		for turn, up := range []section.Facing{section.Anterior, section.Left, section.Posterior, section.Right} {
			w := math.Pi / 2 * float64(turn) // an upper face: turning the body clockwise brings Left to the top next (photo table)
			sc := scene{func(m geom.MM) geom.Px {
				x, y := m.X*math.Cos(w)-m.Y*math.Sin(w), m.X*math.Sin(w)+m.Y*math.Cos(w)
				if mirrored {
					x = -x
				}
				return geom.Px{X: 600 + 2*x, Y: 450 + 2*y}
			}, up}
			m, err := photo.Open(context.Background(), bytes.NewReader(sc.paint()), photo.Limit{})
			must(t, err)
			p := atlas.Plate{Face: section.Face{Run: "R", Slab: 1, Facing: section.Superior}, Photo: m.Info(), PhotoUp: up,
				Calibration: calibrate(t, sc, photo.Scaled)}
			if mirrored {
				p.Mirrored = atlas.Yes
			}
			for v := section.Bench; v <= section.OtherSide; v++ {
				f, err := newFaceView(p, m, v)
				must(t, err)
				f.fit(area{0, 0, 200, 200})
				at, e := f.paper(sc.toPx(spleen)), p.Edges(v)
				left := at.X < f.at.middle().X
				if (e.Left == "L") != left || (e.Right == "L") == left {
					t.Errorf("mirrored %v, %v up, %v: spleen at left %v, letters %v", mirrored, up, v, left, e)
				}
				if front := f.paper(sc.toPx(geom.MM{Y: -100})); (e.Up == "A") != (front.Y < f.at.middle().Y) {
					t.Errorf("mirrored %v, %v up, %v: front at %v, letters %v", mirrored, up, v, front, e)
				}
				// The painted picture shows it there too.
				got := f.render(400, 400*int(f.at.H)/int(f.at.W))
				px := got.RGBAAt(int((at.X-f.at.X)/f.at.W*400), int((at.Y-f.at.Y)/f.at.H*float64(got.Rect.Dy())))
				if !near(px, color.RGBA{88, 46, 52, 255}, 24) {
					t.Errorf("mirrored %v, %v up, %v: colour %v where the spleen should be", mirrored, up, v, px)
				}
			}
		}
	}
}

func near(a, b color.RGBA, by int) bool {
	d := func(x, y uint8) bool { return int(x)-int(y) <= by && int(y)-int(x) <= by }
	return d(a.R, b.R) && d(a.G, b.G) && d(a.B, b.B)
}

// True size within 1 %, also from a camera held at an angle.
func TestTrueSize(t *testing.T) {
	for name, c := range map[string]struct {
		s      scene
		status photo.Status
	}{"scaled": {straight(), photo.Scaled}, "rectified": {tilted(), photo.Rectified}} {
		m, err := photo.Open(context.Background(), bytes.NewReader(c.s.paint()), photo.Limit{})
		must(t, err)
		p := atlas.Plate{Face: section.Face{Run: "R", Slab: 1, Facing: section.Superior}, Photo: m.Info(), PhotoUp: c.s.up,
			Calibration: calibrate(t, c.s, c.status), Border: []annotate.Polygon{{Outer: c.s.ellipse(10, 0, 60, 50)}}}
		f, err := newFaceView(p, m, section.Scan)
		must(t, err)
		if ratio := f.fit(area{0, 0, 150, 130}); ratio != 1 || sizeWords(ratio) != "true size when printed without fitting to the page" {
			t.Errorf("%s: 1 : %g", name, ratio)
		}
		for _, pair := range [][2]geom.MM{{{X: -40}, {X: 60}}, {{X: 10, Y: -40}, {X: 10, Y: 40}}, {{X: -20, Y: -30}, {X: 40, Y: 30}}} {
			a, b := f.paper(c.s.toPx(pair[0])), f.paper(c.s.toPx(pair[1]))
			got, want := math.Hypot(a.X-b.X, a.Y-b.Y), pair[0].Dist(pair[1])
			if math.Abs(got/want-1) > 0.01 {
				t.Errorf("%s: %.2f mm on paper for %.2f mm", name, got, want)
			}
			// There and back.
			if q := f.px(f.view(c.s.toPx(pair[0]))); q.Dist(c.s.toPx(pair[0])) > 1e-6 {
				t.Errorf("%s: %v comes back as %v", name, c.s.toPx(pair[0]), q)
			}
		}
		if ratio := f.fit(area{0, 0, 100, 80}); ratio != 1.25 {
			t.Errorf("%s: in little room 1 : %g, want 1.25", name, ratio)
		}
	}
}

// A PNG page says how large it is: 7874 pixels per metre are 200 per inch (PNG 2nd edition, 11.3.5.3).
func TestPagesSayTheirSize(t *testing.T) {
	p := &page{W: 20, H: 10}
	var b bytes.Buffer
	must(t, p.writePNG(&b))
	m, err := png.Decode(bytes.NewReader(b.Bytes()))
	if err != nil || m.Bounds().Size() != image.Pt(157, 79) { // 20 and 10 mm at 200 per inch: 157.48, 78.74
		t.Fatalf("%v, %v", m.Bounds(), err)
	}
	if want := append([]byte("pHYs"), 0, 0, 0x1E, 0xC2, 0, 0, 0x1E, 0xC2, 1); !bytes.Contains(b.Bytes(), want) {
		t.Error("no density of 7874 per metre")
	}
}

// A tag under its mask is one even colour: nothing of it shines through.
func TestTagsAreCovered(t *testing.T) {
	sc := straight()
	m, err := photo.Open(context.Background(), bytes.NewReader(sc.paint()), photo.Limit{})
	must(t, err)
	tag := []geom.Px{{X: frameW - 242, Y: frameH - 92}, {X: frameW - 38, Y: frameH - 92}, {X: frameW - 38, Y: frameH - 28}, {X: frameW - 242, Y: frameH - 28}}
	p := atlas.Plate{Face: section.Face{Run: "R", Slab: 1, Facing: section.Superior}, Photo: m.Info(), PhotoUp: sc.up, Mask: []annotate.Polygon{{Outer: tag}}}
	for v := section.Bench; v <= section.OtherSide; v++ {
		f, err := newFaceView(p, m, v)
		must(t, err)
		f.fit(area{0, 0, 200, 200})
		got := f.render(frameW, frameH)
		n := 0
		b := newPixels(frameW, frameH, f.at)
		for y := tag[0].Y; y <= tag[2].Y; y++ {
			for x := tag[0].X; x <= tag[2].X; x++ {
				q := b.px(f.paper(geom.Px{X: x, Y: y}))
				if got.RGBAAt(int(math.Round(q.X)), int(math.Round(q.Y))) != cover {
					n++
				}
			}
		}
		if n > 0 {
			t.Errorf("%v: %d pixels of the tag are not covered", v, n)
		}
	}
}

// Tips of leaders and markers lie inside their outlines, on paper.
func TestTipsLieInside(t *testing.T) {
	l := newLab(t, tilted(), photo.Rectified)
	m, err := l.Photo(context.Background(), l.plate.ID)
	must(t, err)
	for _, v := range []section.View{section.Bench, section.Scan} {
		f, err := newFaceView(l.plate, m, v)
		must(t, err)
		j := &job{terms: terms(t), r: l.request(Exam)}
		s := sheet{face: f, run: l.run, marks: j.choose(l.plate)}
		n := s.setNames(area{10, 30, 270, 150}, English)
		if len(n.placed) != len(s.marks) || len(s.marks) != 18 {
			t.Fatalf("%d of %d names set", len(n.placed), len(s.marks))
		}
		for _, x := range n.placed {
			tip := x.Leader[len(x.Leader)-1]
			ring := annotate.Polygon{Outer: nil}
			for _, mk := range s.marks {
				if mk.label.ID == x.ID {
					rings := f.rings(mk.label.Regions)
					for i, r := range rings {
						pts := make([]geom.Px, len(r))
						for k, q := range r {
							pts[k] = geom.Px(q)
						}
						if i == 0 {
							ring.Outer = pts
						} else {
							ring.Holes = append(ring.Holes, pts)
						}
					}
				}
			}
			if !ring.Contains(tip) {
				t.Errorf("%s: tip %v lies outside", x.ID, tip)
			}
		}
	}
}

func TestNotesForTheExaminer(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	x := annotate.Label{ID: "thin", Term: "T:8", Side: annotate.Midline, Sure: annotate.Certain, Author: "AB", Changed: time.Now(),
		Regions: []annotate.Polygon{{Outer: straight().ellipse(90, 90, 12, 1.2)}}}
	var err error
	l.plate.Labels, err = l.plate.Labels.Add(x)
	must(t, err)
	_, err = l.Save(l.plate)
	must(t, err)
	r := l.request(Exam)
	r.Labels = map[string][]string{l.plate.ID: {"thin", "L13", "L03"}}
	s, _ := handOut(t, l, r)
	all := strings.Join(s.Notes, "\n")
	for _, want := range []string{"spinal cord: thin target: the tip is 1.2 mm from the edge", "No label here is signed"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in %q", want, all)
		}
	}
	if strings.Contains(all, "liver") {
		t.Errorf("the middle of the liver is neither thin nor near a neighbour: %q", all)
	}
}

func TestSyntheticIsSaid(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	d, err := l.Donor(donorCode)
	must(t, err)
	d.Synthetic = true
	must(t, l.SaveDonor(d))
	for _, k := range []Kind{Study, Exam} {
		s, dir := handOut(t, l, l.request(k))
		for name, b := range released(t, s, dir) {
			if pages := bytes.Count(b, []byte("/Type /Page\n")); strings.HasSuffix(name, ".pdf") && (pages == 0 || strings.Count(pdfText(t, b), Practice) != pages) {
				t.Errorf("%s does not say on every page that it is synthetic", name)
			}
		}
	}
}

func TestUnreleasedFilesAreSwept(t *testing.T) {
	dir := t.TempDir()
	old, fresh := filepath.Join(dir, hiddenPrefix+"1"), filepath.Join(dir, hiddenPrefix+"2")
	must(t, os.MkdirAll(old, 0o755))
	must(t, os.WriteFile(filepath.Join(old, "x.pdf"), []byte("x"), 0o600))
	must(t, os.Mkdir(fresh, 0o755))
	must(t, os.Chtimes(old, Neutral, Neutral))
	must(t, sweep(dir, time.Now()))
	if _, err := os.Stat(old); err == nil {
		t.Error("an old folder stays")
	}
	if _, err := os.Stat(fresh); err != nil {
		t.Error("the folder of a hand-out at work is gone")
	}
}

// The slip as the prompt prints it.
func TestSlipFields(t *testing.T) {
	b, err := json.Marshal(Slip{})
	must(t, err)
	for _, f := range []string{"allowed", "reason", "files", "leakScan"} {
		if !strings.Contains(string(b), strconv.Quote(f)+":") {
			t.Errorf("no field %s in %s", f, b)
		}
	}
}

// Poppler reads the finished PDF: its size, its text, its pictures.
func TestPDFByAnotherReader(t *testing.T) {
	for _, tool := range []string{"pdfinfo", "pdftotext", "pdfimages"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("%s is not installed (Debian package poppler-utils)", tool)
		}
	}
	l := newLab(t, straight(), photo.Scaled)
	r := l.request(Exam)
	s, dir := handOut(t, l, r)
	run := func(args ...string) string {
		out, err := exec.Command(args[0], args[1:]...).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %v %s", args, err, out)
		}
		return string(out)
	}
	pages, key := filepath.Join(dir, s.Code+".pdf"), filepath.Join(dir, s.Code+"-key.pdf")
	info := run("pdfinfo", pages)
	for _, want := range []string{"841.89 x 595.28 pts (A4)", "Pages:           1", "Custom Metadata: no", "Metadata Stream: no"} {
		if !strings.Contains(info, want) {
			t.Errorf("no %q in %s", want, info)
		}
	}
	if text := run("pdftotext", pages, "-"); strings.Contains(text, "kidney") || !strings.Contains(text, NotForDiagnosis) {
		t.Errorf("text of the exam: %s", text)
	}
	if text := run("pdftotext", key, "-"); !strings.Contains(text, "left kidney") || !strings.Contains(text, "corpus vertebrae lumbalis II") {
		t.Errorf("text of the key: %s", text)
	}
	if list := run("pdfimages", "-list", pages); !strings.Contains(list, "jpeg") || !strings.Contains(list, "300   300") {
		t.Errorf("pictures: %s", list)
	}
}
