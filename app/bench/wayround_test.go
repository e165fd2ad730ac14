package bench

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/geom"
	"sectionary/slices/photo/phototest"
	"sectionary/slices/section"
)

// Pictures whose pixels say which way is which go the whole way of a photograph: the file as a camera would have written it,
// taking in, keeping, the bench's pane, and what is handed out. What must come out is reckoned here from two tables
// that stand beside their sources in testdata/laterality (photo_ops.csv: the law right x up = outward normal; exif.csv:
// Exif 2.32, tag 0112) and from nothing of the program's own arithmetic of turns.

// way is one photograph on its way.
type way struct {
	face   section.Face
	up     section.Facing
	exif   int
	answer atlas.Answer // to the question of the mirror; Unanswered where the value holds none
	format string
	upside image.Image // what the camera saw, upright by its own tag
	file   []byte
	views  []section.View
}

func (w way) String() string {
	return fmt.Sprintf("%s, photo-up %s, EXIF %d, answer %v, %s %v", w.face.Facing, w.up.Letter(), w.exif, w.answer, w.format, w.upside.Bounds().Size())
}

// honest is the face as it lies.
func (w way) honest() *image.RGBA {
	m := image.NewRGBA(w.upside.Bounds())
	draw.Draw(m, m.Rect, w.upside, image.Point{}, draw.Src)
	if w.answer == atlas.Yes {
		return exchanged(m)
	}
	return m
}

// wayFormats are how a picture can be stored; each returns the file, and the picture that a decoder of the standard
// library or x/image reads from it.
var wayFormats = func() map[string]func(r *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image) {
	all := map[string]func(r *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image){
		"png": func(_ *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image) {
			return phototest.PNG(m, phototest.EXIF(exif, time.Time{})), m
		},
		"webp": func(_ *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image) {
			return phototest.WebP(m, phototest.EXIF(exif, time.Time{})), m
		},
		"tiff": func(r *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image) {
			order := binary.AppendByteOrder(binary.LittleEndian)
			if r.IntN(2) == 1 {
				order = binary.BigEndian
			}
			return phototest.TIFF(m, order, r.IntN(3) == 0, 1+r.IntN(m.Rect.Dy()+3), exif), m
		},
	}
	lossy := func(kind phototest.JPEGKind) func(r *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image) {
		return func(r *rand.Rand, m *image.RGBA, exif int) ([]byte, image.Image) {
			kind := kind // its own, for these run side by side
			kind.EXIF, kind.Restart = phototest.EXIF(exif, time.Time{}), max(0, r.IntN(8)-4)
			file := phototest.JPEG(m, kind)
			decoded, err := jpeg.Decode(bytes.NewReader(file))
			if err != nil {
				panic(err)
			}
			return file, decoded
		}
	}
	for name, s := range phototest.Samplings {
		all["jpeg "+name] = lossy(phototest.JPEGKind{Sampling: s})
	}
	all["jpeg RGB"] = lossy(phototest.JPEGKind{RGB: true})
	return all
}()

// newWay makes the file of a photograph: for the answer yes it shows the face mirrored.
func newWay(r *rand.Rand, op operation, row truthRow, w way, size image.Point) way {
	m := honestPicture(r, size.X, size.Y, row.photo)
	if w.answer == atlas.Yes {
		m = exchanged(m)
	}
	var stored image.Image
	w.file, stored = wayFormats[w.format](r, op.toStored(m), w.exif)
	w.upside = op.toUpright(stored)
	return w
}

// wayLab is one run of a lab through which photographs go.
type wayLab struct {
	b    *Bench
	q    *queue
	f    *facePane
	dir  string
	pane *image.RGBA
	rows map[truthKey]truthRow
	ops  [9]operation
	wide int // of a handed-out page, px
}

const paneSide = 420

func newWayLab(t testing.TB, plane section.Plane, slabs int) *wayLab {
	t.Helper()
	q := &queue{now: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	terms := ownTermsOnce(t)
	dir := quickDir(t)
	b := New(q, terms, Options{Author: "AB", DataDir: dir, Now: func() time.Time { return q.now }})
	err := b.BeginRun(NewRun{Dir: filepath.Join(dir, "lab"), Donor: "LB-1", Part: "trunk", Plane: plane, First: plane.Faces()[0],
		Thickness: 20, Kerf: 1, Slabs: slabs, Permitted: []atlas.Purpose{atlas.Teaching, atlas.Exam}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Quit() })
	q.run()
	b.Show(FaceScreen)
	f := b.FacePane().(*facePane)
	f.Resize(paneSide, paneSide, 1)
	return &wayLab{b: b, q: q, f: f, dir: dir, pane: image.NewRGBA(image.Rect(0, 0, paneSide, paneSide)), rows: truths(t), ops: operations(t)}
}

// quickDir is a folder of the memory where there is one: keeping a photograph flushes it several times to the disk.
func quickDir(t testing.TB) string {
	t.Helper()
	if runtime.GOOS == "linux" {
		if dir, err := os.MkdirTemp("/dev/shm", "sectionary-test-"); err == nil {
			t.Cleanup(func() { os.RemoveAll(dir) })
			return dir
		}
	}
	return t.TempDir()
}

// through takes one photograph the whole way. It returns what was wrong, "" for nothing.
func (l *wayLab) through(w way) (wrong string) {
	b := l.b
	path := filepath.Join(l.dir, "in"+strings.Fields(w.format)[0])
	if err := os.WriteFile(path, w.file, 0o644); err != nil {
		return err.Error()
	}
	b.ChooseFace(w.face)
	b.AddPhotos([]string{path})
	l.q.run()
	p, ok := b.Plate()
	if !ok || p.Face != w.face {
		if m := b.Message(); m != nil {
			return "not taken in: " + m.Title + " " + m.Hint
		}
		return "not taken in"
	}
	for b.Message() != nil {
		b.Dismiss()
	}
	if wrong := l.kept(w, p); wrong != "" {
		return wrong
	}
	if len(w.views) != 1 { // one of many looks at this less often
		if wrong := l.shown(w, section.UnknownEdges, w.upside); wrong != "" {
			return "before photo-up is told: " + wrong
		}
	}
	b.SetPhotoUp(w.up)
	if asks := l.ops[w.exif].mirrored; asks != b.AsksMirrored() || asks != (w.answer != atlas.Unanswered) {
		return fmt.Sprintf("the question of the mirror stands: %v", b.AsksMirrored())
	} else if asks {
		for _, v := range w.views {
			b.SetView(v)
			if wrong := l.shown(w, section.UnknownEdges, w.upside); wrong != "" {
				return "before the mirror is answered: " + wrong
			}
		}
		b.saveNow()
		if _, _, err := quiz.Preview(context.Background(), b.lab.lib.(*atlas.Library), b.terms, l.request(p, section.Bench), 100); err == nil {
			return "handed out before the mirror is answered"
		}
		b.SetMirrored(w.answer)
	}
	if err := b.edit("name", "", l.name); err != nil {
		return err.Error()
	}
	b.saveNow()
	for _, v := range w.views {
		row := l.rows[truthKey{w.face.Facing, w.up, v}]
		want := inView(w.honest(), row.photo, row.out)
		b.SetView(v)
		if wrong := l.shown(w, row.out, want); wrong != "" {
			return v.String() + ": " + wrong
		}
		page, _, err := quiz.Preview(context.Background(), b.lab.lib.(*atlas.Library), b.terms, l.request(p, v), pageHeight)
		if err != nil {
			return "handing out: " + err.Error() + quiz.Sentence(err)
		}
		if wrong := readPage(page, 297, row.out, want); wrong != "" {
			keepPicture(page)
			return v.String() + ", handed out: " + wrong
		}
	}
	return ""
}

// pageHeight is that of a handed-out page of A4, px.
const pageHeight = 440

func (l *wayLab) request(p atlas.Plate, v section.View) quiz.Request {
	return quiz.Request{Purpose: atlas.Teaching, Kind: quiz.Study, Plates: []string{p.ID}, NoTags: true, View: v, Seed: 1}
}

// name gives the plate a label no larger than it must be, about the corner of four pixels.
func (l *wayLab) name(p atlas.Plate) (atlas.Plate, error) {
	const r = 0.15
	corner := func(n int) float64 { return max(0, float64(n/2)-0.5) } // inside a picture of one pixel
	x, y := corner(p.Photo.Size.X), corner(p.Photo.Size.Y)
	var err error
	p.Labels, err = p.Labels.Add(annotate.Label{ID: "a", Term: "UBERON:0000948", Side: annotate.Midline, Sure: annotate.Certain, Author: "AB", Changed: l.q.now,
		Regions: []annotate.Polygon{{Outer: []geom.Px{{X: x - r, Y: y}, {X: x, Y: y + r}, {X: x + r, Y: y}, {X: x, Y: y - r}}}}})
	return p, err
}

// kept compares what the lab holds with what came: the bytes, their hash, and the upright pixels.
func (l *wayLab) kept(w way, p atlas.Plate) (wrong string) {
	sum := sha256.Sum256(w.file)
	if p.Photo.SHA256 != sum || p.Photo.Orientation != w.exif || p.Photo.Mirrored != l.ops[w.exif].mirrored || p.Photo.Size != w.upside.Bounds().Size() {
		return fmt.Sprintf("known of it: %+v", p.Photo)
	}
	name := p.Photo.SHA256.String()
	files, _ := filepath.Glob(filepath.Join(l.dir, "lab", "originals", name[:2], name+".*"))
	if len(files) != 1 {
		return fmt.Sprintf("kept in %d files", len(files))
	}
	if kept, err := os.ReadFile(files[0]); err != nil || !bytes.Equal(kept, w.file) {
		return "its bytes were not kept as they came"
	}
	m, err := l.b.lab.lib.Photo(context.Background(), p.ID)
	if err != nil {
		return err.Error()
	}
	for y := range m.Size().Y {
		for x := range m.Size().X {
			if got, want := m.At(geom.Px{X: float64(x), Y: float64(y)}), w.upside.At(x, y); got != want {
				return fmt.Sprintf("upright pixel %d,%d is %v, want %v", x, y, got, want)
			}
		}
	}
	return ""
}

// shown reads the bench's pane: the letters it states, those it paints, and every pixel.
func (l *wayLab) shown(w way, letters section.Edges, want image.Image) (wrong string) {
	if got := l.b.Edges(); got != letters {
		return fmt.Sprintf("letters %v, want %v", got, letters)
	}
	l.f.Wheel(geom.Px{X: (paneSide - 1) / 2.0, Y: (paneSide - 1) / 2.0}, -30, Mods{}) // small, clear of what stands in the corners
	l.f.Paint(l.pane)
	in := frameOf(paneSide, paneSide, 1)
	mid := paneSide / 2
	dark := l.pane.RGBAAt(1, 1)
	full := float64(diff(l.b.pal.OnDark.G, dark.G))
	if letters == section.UnknownEdges {
		full = float64(diff(l.b.pal.OnDarkLo.G, dark.G))
	}
	for _, side := range []struct {
		r    image.Rectangle
		want string
	}{{image.Rect(1, mid-14, in.Min.X-2, mid+14), letters.Left}, {image.Rect(in.Max.X+2, mid-14, paneSide-1, mid+14), letters.Right},
		{image.Rect(mid-14, 1, mid+14, in.Min.Y-2), letters.Up}, {image.Rect(mid-14, in.Max.Y+2, mid+14, paneSide-1), letters.Down}} {
		if got := readLetter(l.pane, side.r, bigText, func(c color.RGBA) float64 { return float64(diff(c.G, dark.G)) / full }); got != side.want {
			return fmt.Sprintf("painted letter %q, want %q of %v", got, side.want, letters)
		}
	}
	return readPixels(l.pane, in.Inset(in.Dx()/5), want)
}

// Test576WaysRound: plane, face, photo-up, EXIF value and view, all combinations, as PNG and as JPEG; a value with a mirror
// is gone through with both answers. Every one shows the right letters and the right pixels, on the bench and handed out.
func Test576WaysRound(t *testing.T) {
	ways := 0
	for plane := section.Transverse; plane <= section.Sagittal; plane++ {
		t.Run(plane.String(), func(t *testing.T) {
			ways += goRound(t, plane)
		})
	}
	if ways != 576 {
		t.Errorf("%d combinations were gone through, want 576", ways)
	}
}

func goRound(t *testing.T, plane section.Plane) (ways int) {
	r := rand.New(rand.NewPCG(4, uint64(plane)))
	l := newWayLab(t, plane, 4*12*2)
	done := map[string]bool{}
	slab := map[section.Facing]int{}
	for _, facing := range plane.Faces() {
		for up := section.Superior; up <= section.Right; up++ {
			if up.Plane() == plane {
				continue
			}
			for exif := 1; exif <= 8; exif++ {
				answers := []atlas.Answer{atlas.Unanswered}
				if l.ops[exif].mirrored {
					answers = []atlas.Answer{atlas.No, atlas.Yes}
				}
				for _, answer := range answers {
					for _, format := range []string{"png", "jpeg 4:2:0"} {
						slab[facing]++
						w := way{face: section.Face{Run: l.b.Run().ID, Slab: slab[facing], Facing: facing}, up: up, exif: exif, answer: answer,
							format: format, views: []section.View{section.Bench, section.Scan, section.OtherSide}}
						w = newWay(r, l.ops[exif], l.rows[truthKey{facing, up, section.Bench}], w, image.Pt(7+r.IntN(6), 5+r.IntN(6)))
						if wrong := l.through(w); wrong != "" {
							t.Fatalf("%v: %s", w, wrong)
						}
						for _, v := range w.views {
							done[fmt.Sprint(facing, up, exif, v)] = true
						}
					}
				}
			}
		}
	}
	return len(done)
}

// TestWaysRoundAtRandom: ten thousand small pictures of any size from one pixel on, any format, turned any way.
func TestWaysRoundAtRandom(t *testing.T) {
	const each = 100
	labs := 100
	if testing.Short() || raced {
		labs = 3
	}
	for n := range labs {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			t.Parallel()
			someRound(t, uint64(n), each)
		})
	}
}

func someRound(t *testing.T, seed uint64, count int) {
	r := rand.New(rand.NewPCG(576, seed))
	plane := section.Plane(1 + seed%3)
	l := newWayLab(t, plane, count/2)
	var names []string
	for name := range wayFormats {
		names = append(names, name)
	}
	slices.Sort(names)
	for n := range count {
		ups := l.b.UpChoices()
		w := way{face: section.Face{Run: l.b.Run().ID, Slab: 1 + n/2, Facing: plane.Faces()[n%2]}, up: ups[r.IntN(4)], exif: 1 + r.IntN(8),
			format: names[r.IntN(len(names))], views: []section.View{section.View(r.IntN(3))}}
		if l.ops[w.exif].mirrored {
			w.answer = []atlas.Answer{atlas.No, atlas.Yes}[r.IntN(2)]
		}
		size := image.Pt(1+r.IntN(28), 1+r.IntN(28))
		if r.IntN(10) == 0 {
			size.X = 1
		} else if r.IntN(9) == 0 {
			size.Y = 1
		}
		w = newWay(r, l.ops[w.exif], l.rows[truthKey{w.face.Facing, w.up, section.Bench}], w, size)
		if wrong := l.through(w); wrong != "" {
			t.Fatalf("seed %d, picture %d: %v: %s", seed, n, w, wrong)
		}
	}
}

// TestWaysRoundInReleasedFiles: all 72 of face, photo-up and view as files that leave the lab, study pictures and exam
// pictures by turns, read back from disk. EXIF values, formats and answers take turns.
func TestWaysRoundInReleasedFiles(t *testing.T) {
	if testing.Short() || raced {
		t.Skip("makes some hundred full pages")
	}
	pages := 0
	for plane := section.Transverse; plane <= section.Sagittal; plane++ {
		r := rand.New(rand.NewPCG(7, uint64(plane)))
		l := newWayLab(t, plane, 4)
		ups := l.b.UpChoices()
		var ways []way
		var ids []string
		for n, up := range append(ups[:], ups[:]...) {
			facing := plane.Faces()[n/4]
			w := way{face: section.Face{Run: l.b.Run().ID, Slab: 1 + n%4, Facing: facing}, up: up, exif: 1 + n, format: []string{"png", "jpeg 4:2:0"}[n%2]}
			if l.ops[w.exif].mirrored {
				w.answer = []atlas.Answer{atlas.No, atlas.Yes}[n/2%2]
			}
			w = newWay(r, l.ops[w.exif], l.rows[truthKey{facing, up, section.Bench}], w, image.Pt(9+r.IntN(5), 7+r.IntN(5)))
			if wrong := l.through(w); wrong != "" {
				t.Fatalf("%v: %s", w, wrong)
			}
			p, _ := l.b.Plate()
			ways, ids = append(ways, w), append(ids, p.ID)
		}
		for k, kind := range []quiz.Kind{quiz.Study, quiz.Exam} {
			for v, view := range []section.View{section.Bench, section.Scan, section.OtherSide} {
				mine, chosen := []way{}, []string{} // every other row is a study picture, the rest are exam pictures
				for n, w := range ways {
					if (n+n/4+v+k)%2 == 0 {
						mine, chosen = append(mine, w), append(chosen, ids[n])
					}
				}
				req := quiz.Request{Purpose: atlas.Teaching, Kind: kind, Plates: chosen, NoTags: true, View: view, Seed: 3}
				slip, err := quiz.HandOut(context.Background(), l.b.lab.lib.(*atlas.Library), l.b.terms, req, filepath.Join(l.dir, "out"))
				if err != nil || !slip.Allowed {
					t.Fatalf("%v: %v %s", kind, err, slip.Reason)
				}
				each := map[quiz.Kind]int{quiz.Study: 2, quiz.Exam: 1}[kind] // a study picture is followed by its table
				for n, w := range mine {
					row := l.rows[truthKey{w.face.Facing, w.up, view}]
					page := pngFile(t, filepath.Join(l.dir, "out", fmt.Sprintf("%s-%d.png", slip.Code, each*n+1)))
					if wrong := readPage(page, 297, row.out, inView(w.honest(), row.photo, row.out)); wrong != "" {
						keepPicture(page)
						t.Fatalf("%s, %v, %v: %s", kind, view, w, wrong)
					}
					pages++
				}
			}
		}
	}
	if pages != 72 {
		t.Errorf("%d pages were read, want %d", pages, 72)
	}
}

func pngFile(t *testing.T, path string) *image.RGBA {
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
	out := image.NewRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, image.Point{}, draw.Src)
	return out
}
