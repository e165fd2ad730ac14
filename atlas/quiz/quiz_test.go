package quiz

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

var keep = flag.String("keep", "", "folder to leave the finished hand-outs in, to look at")

const donorCode = "SH-31M"

// The names are facts; the list is only as long as the tests need.
const termList = `id	name	latin	kind	region	paired	synonyms
T:1	liver	hepar	organ	abdomen	no	
T:2	kidney	ren	organ	abdomen	yes	
T:3	abdominal aorta	aorta abdominalis	vessel	abdomen	no	aorta|abdominal part of aorta
T:4	inferior vena cava	vena cava inferior	vessel	abdomen	no	IVC
T:5	spleen	splen	organ	abdomen	no	lien
T:6	stomach	gaster	organ	abdomen	no	
T:7	body of second lumbar vertebra	corpus vertebrae lumbalis II	bone	back	no	
T:8	spinal cord	medulla spinalis	nerve	back	no	
T:9	psoas major	musculus psoas major	muscle	abdomen	yes	
T:10	erector spinae	musculus erector spinae	muscle	back	yes	
T:11	rectus abdominis	musculus rectus abdominis	muscle	abdomen	yes	
T:12	subcutaneous fat	panniculus adiposus	tissue	all	no	
T:13	pancreas	pancreas	organ	abdomen	no	
T:14	descending colon	colon descendens	organ	abdomen	no	
`

func terms(t testing.TB) *annotate.Terms {
	t.Helper()
	x, err := annotate.LoadTerms(strings.NewReader(termList))
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// organ is one structure of the painted body: an ellipse in mm from the middle, front up, donor's left at the
// picture's left (an upper face on the bench).
type organ struct {
	term       string
	side       annotate.Side
	x, y, a, b float64
	c          color.RGBA
}

var body = []organ{
	{"T:12", annotate.NoSide, 0, 0, 172, 116, color.RGBA{214, 186, 128, 255}},
	{"", annotate.NoSide, 0, 0, 150, 97, color.RGBA{150, 92, 78, 255}},
	{"", annotate.NoSide, 0, -10, 132, 74, color.RGBA{196, 170, 130, 255}},
	{"T:1", annotate.NoSide, 62, -24, 62, 52, color.RGBA{104, 58, 44, 255}},
	{"T:6", annotate.NoSide, -52, -44, 44, 26, color.RGBA{178, 140, 116, 255}},
	{"T:5", annotate.NoSide, -106, 4, 20, 34, color.RGBA{88, 46, 52, 255}},
	{"T:2", annotate.Left, -58, 32, 22, 28, color.RGBA{122, 70, 60, 255}},
	{"T:2", annotate.Right, 58, 44, 22, 22, color.RGBA{122, 70, 60, 255}},
	{"T:7", annotate.NoSide, 0, 38, 25, 19, color.RGBA{206, 190, 158, 255}},
	{"T:8", annotate.Midline, 0, 68, 8, 6, color.RGBA{226, 214, 196, 255}},
	{"T:3", annotate.NoSide, -14, 8, 10, 10, color.RGBA{96, 40, 38, 255}},
	{"T:4", annotate.NoSide, 16, 6, 13, 9, color.RGBA{70, 40, 60, 255}},
	{"T:9", annotate.Left, -34, 46, 9, 12, color.RGBA{136, 76, 64, 255}},
	{"T:9", annotate.Right, 33, 48, 9, 12, color.RGBA{136, 76, 64, 255}},
	{"T:10", annotate.Left, -38, 80, 24, 15, color.RGBA{132, 74, 62, 255}},
	{"T:10", annotate.Right, 38, 80, 24, 15, color.RGBA{132, 74, 62, 255}},
	{"T:11", annotate.Left, -28, -88, 24, 5, color.RGBA{132, 74, 62, 255}},
	{"T:11", annotate.Right, 28, -88, 24, 5, color.RGBA{132, 74, 62, 255}},
	{"T:13", annotate.NoSide, -18, -12, 30, 9, color.RGBA{188, 150, 110, 255}},
	{"T:14", annotate.NoSide, -98, 52, 13, 12, color.RGBA{160, 120, 90, 255}},
}

const (
	pxPerMM = 3.0
	frameW  = 1300
	frameH  = 900
)

// scene is a painted photograph: how face mm (front up, x right as seen) become its pixels.
type scene struct {
	toPx func(geom.MM) geom.Px
	up   section.Facing
}

// straight is a camera square to the face, with the back of the donor at the top.
func straight() scene {
	return scene{func(m geom.MM) geom.Px { return geom.Px{X: frameW/2 - m.X*pxPerMM, Y: frameH/2 - 10 - m.Y*pxPerMM} }, section.Posterior}
}

// tilted is the same seen at an angle.
func tilted() scene {
	h := geom.Homography{-pxPerMM, 0.1, frameW / 2, -0.05, -pxPerMM, frameH/2 - 10, 2e-4, -3e-4, 1}
	return scene{func(m geom.MM) geom.Px { p := h.MM(geom.Px(m)); return geom.Px(p) }, section.Posterior}
}

func (s scene) ellipse(x, y, a, b float64) []geom.Px {
	const n = 48
	out := make([]geom.Px, n)
	for i := range out {
		w := 2 * math.Pi * float64(i) / n
		out[i] = s.toPx(geom.MM{X: x + a*math.Cos(w), Y: y + b*math.Sin(w)})
	}
	return out
}

// paint makes the photograph: gelatin-blue ground, the body, a tag with the donor code below it.
func (s scene) paint() []byte { return s.paintWith(19) }

// paintWith makes it with noise of so many grey levels.
func (s scene) paintWith(noise int) []byte {
	m := image.NewRGBA(image.Rect(0, 0, frameW, frameH))
	ink.FillRect(m, m.Rect, color.RGBA{52, 74, 92, 255})
	for _, o := range body {
		ink.Fill(m, [][]geom.Px{s.ellipse(o.x, o.y, o.a, o.b)}, o.c)
	}
	r := rand.New(rand.NewPCG(1, 2))
	for i := 0; i < len(m.Pix); i++ {
		if i%4 != 3 {
			m.Pix[i] = uint8(min(255, max(0, int(m.Pix[i])+r.IntN(noise)-noise/2)))
		}
	}
	tag := image.Rect(frameW-240, frameH-90, frameW-40, frameH-30)
	ink.FillRect(m, tag, color.RGBA{240, 238, 230, 255})
	ink.Bold().Text(m, geom.Px{X: frameW - 225, Y: frameH - 46}, 44, color.RGBA{20, 20, 20, 255}, donorCode)
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, m, 90); err != nil {
		panic(err)
	}
	return photo.WithEXIF(b.Bytes(), 1, time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC))
}

// lab is a library with one face photographed and labelled.
type lab struct {
	*atlas.Library
	run   section.Run
	plate atlas.Plate
}

func newLab(t testing.TB, s scene, status photo.Status) lab {
	t.Helper()
	l, err := atlas.Create(filepath.Join(t.TempDir(), "Lab"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	err = l.AddDonor(atlas.Donor{Code: donorCode, Agreement: atlas.Agreement{Reference: "A 7", ChangedBy: "the donor office",
		Permitted: map[atlas.Purpose]bool{atlas.Teaching: true, atlas.Exam: true}}})
	if err != nil {
		t.Fatal(err)
	}
	r := section.Run{Donor: donorCode, Part: "trunk", Plane: section.Transverse, First: section.Superior}
	for n := 1; n <= 24; n++ {
		r.Slabs = append(r.Slabs, section.Slab{Number: n, Thickness: [3]float64{20}, Kerf: 1.2})
	}
	if r, err = l.SaveRun(r); err != nil {
		t.Fatal(err)
	}
	return lab{l, r, addFace(t, l, r, 5, s, status)}
}

func addFace(t testing.TB, l *atlas.Library, r section.Run, slab int, s scene, status photo.Status) atlas.Plate {
	t.Helper()
	f := section.Face{Run: r.ID, Slab: slab, Facing: section.Superior}
	bytesOf := photo.WithEXIF(s.paint(), 1, time.Date(2026, 3, 2, 10, slab, 0, 0, time.UTC))
	p, err := l.AddPhoto(context.Background(), f, "", donorCode+" slab 5.jpg", bytes.NewReader(bytesOf))
	if err != nil {
		t.Fatal(err)
	}
	p.PhotoUp = s.up
	p.Border = []annotate.Polygon{{Outer: s.ellipse(0, 0, 173, 117)}}
	p.Calibration = calibrate(t, s, status)
	for _, x := range labelsOf(s) {
		if p.Labels, err = p.Labels.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	if p, err = l.Save(p); err != nil {
		t.Fatal(err)
	}
	return p
}

// labelsOf outlines every named organ.
func labelsOf(s scene) (out []annotate.Label) {
	for i, o := range body {
		if o.term == "" {
			continue
		}
		x := annotate.Label{ID: fmt.Sprintf("L%02d", i), Term: annotate.TermID(o.term), Side: o.side, Sure: annotate.Certain,
			Author: "AB", Changed: time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC), Regions: []annotate.Polygon{{Outer: s.ellipse(o.x, o.y, o.a, o.b)}}}
		if o.term == "T:12" {
			x.Regions[0].Holes = [][]geom.Px{s.ellipse(0, 0, 150, 97)}
		}
		out = append(out, x)
	}
	return out
}

func calibrate(t testing.TB, s scene, status photo.Status) (c photo.Calibration) {
	t.Helper()
	var err error
	switch status {
	case photo.Scaled:
		c, err = photo.TwoTicks(s.toPx(geom.MM{X: -100}), s.toPx(geom.MM{X: 100}), 200)
	case photo.Rectified:
		var ties []photo.Tie
		for _, m := range []geom.MM{{X: -160, Y: -110}, {X: 160, Y: -110}, {X: 160, Y: 110}, {X: -160, Y: 110}, {X: 0, Y: 0}} {
			ties = append(ties, photo.Tie{Px: s.toPx(m), MM: geom.MM{X: -m.X, Y: -m.Y}}) // the picture's own right and down
		}
		c, err = photo.Grid(ties)
	}
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func handOut(t testing.TB, l lab, r Request) (Slip, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "out")
	if *keep != "" {
		dir = filepath.Join(*keep, strings.ReplaceAll(t.Name(), "/", "-"))
	}
	s, err := HandOut(context.Background(), l.Library, terms(t), r, dir)
	if err != nil {
		t.Fatal(err)
	}
	return s, dir
}

func (l lab) request(k Kind) Request {
	return Request{Purpose: map[Kind]atlas.Purpose{Study: atlas.Teaching, Exam: atlas.Exam}[k], Plates: []string{l.plate.ID}, Kind: k,
		Languages: []Language{English, Latin}, View: section.Scan, Seed: 7}
}

func TestHandOuts(t *testing.T) {
	for name, c := range map[string]struct {
		s      scene
		status photo.Status
		kind   Kind
		paper  Paper
		view   section.View
	}{
		"study scaled":    {straight(), photo.Scaled, Study, A4, section.Scan},
		"study rectified": {tilted(), photo.Rectified, Study, Letter, section.Bench},
		"exam rectified":  {tilted(), photo.Rectified, Exam, A4, section.Scan},
		"exam no scale":   {straight(), photo.Nominal, Exam, Letter, section.Bench},
	} {
		t.Run(name, func(t *testing.T) {
			if *keep == "" && c.status != photo.Nominal {
				t.Skip("made to be looked at; see the flag keep")
			}
			l := newLab(t, c.s, c.status)
			r := l.request(c.kind)
			r.Paper, r.View = c.paper, c.view
			s, dir := handOut(t, l, r)
			if !s.Allowed || len(s.LeftOut) > 0 {
				t.Fatalf("%+v", s)
			}
			for _, f := range s.Files {
				if _, err := os.Stat(filepath.Join(dir, f.Name)); err != nil {
					t.Error(err)
				}
			}
		})
	}
}
