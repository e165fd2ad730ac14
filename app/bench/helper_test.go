package bench

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"io"
	"io/fs"
	"iter"
	"math"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// queue is a Runner whose work and clock move only when a test says so.
type queue struct {
	now   time.Time
	works []work
	dones []func()
	later []timer
}

type work struct {
	name string
	do   func(ctx context.Context, progress func(done, total int)) func()
}

type timer struct {
	at   time.Time
	f    func()
	dead *bool
}

func (q *queue) Go(name string, do func(ctx context.Context, progress func(done, total int)) func()) {
	q.works = append(q.works, work{name, do})
}

func (q *queue) After(d time.Duration, f func()) func() {
	dead := false
	q.later = append(q.later, timer{q.now.Add(d), f, &dead})
	return func() { dead = true }
}

// workOn does the i-th work waiting, without bringing its result to the bench.
func (q *queue) workOn(i int) (done func()) {
	w := q.works[i]
	q.works = append(q.works[:i:i], q.works[i+1:]...)
	return w.do(context.Background(), func(int, int) {})
}

// run does everything that waits, and what comes of it.
func (q *queue) run() {
	for len(q.works) > 0 {
		if done := q.workOn(0); done != nil {
			done()
		}
	}
}

// pass lets time go by.
func (q *queue) pass(d time.Duration) {
	end := q.now.Add(d)
	for {
		next := -1
		for i, t := range q.later {
			if !*t.dead && !t.at.After(end) && (next < 0 || t.at.Before(q.later[next].at)) {
				next = i
			}
		}
		if next < 0 {
			break
		}
		t := q.later[next]
		q.later = append(q.later[:next:next], q.later[next+1:]...)
		q.now = t.at
		t.f()
	}
	q.now = end
}

// memory is a lab in memory, for tests of the order in which things happen.
type memory struct {
	dir    string
	mode   atlas.Mode
	donors map[string]atlas.Donor
	runs   []section.Run
	plates map[string]atlas.Plate
	photos map[string]*photo.Image
	series []scan.Series
	vols   map[string]*scan.Volume
	ties   map[string]atlas.LevelTies
	stands []atlas.Stand
	saves  int
	fail   error // of the next Save
}

func newMemory() *memory {
	return &memory{dir: "memory", donors: map[string]atlas.Donor{}, plates: map[string]atlas.Plate{}, photos: map[string]*photo.Image{},
		vols: map[string]*scan.Volume{}, ties: map[string]atlas.LevelTies{}}
}

func (m *memory) Close() error                        { return nil }
func (m *memory) Dir() string                         { return m.dir }
func (m *memory) Mode() atlas.Mode                    { return m.mode }
func (m *memory) AddDonor(d atlas.Donor) error        { m.donors[d.Code] = d; return nil }
func (m *memory) SaveDonor(d atlas.Donor) error       { m.donors[d.Code] = d; return nil }
func (m *memory) Runs() ([]section.Run, error)        { return m.runs, nil }
func (m *memory) Donor(c string) (atlas.Donor, error) { return m.donors[c], nil }
func (m *memory) Donors() ([]atlas.Donor, error) {
	var out []atlas.Donor
	for _, d := range m.donors {
		out = append(out, d)
	}
	return out, nil
}

func (m *memory) SaveRun(r section.Run) (section.Run, error) {
	if r.ID == "" {
		r.ID = fmt.Sprintf("run%d", len(m.runs)+1)
	}
	for i := range m.runs {
		if m.runs[i].ID == r.ID {
			m.runs[i] = r
			return r, nil
		}
	}
	m.runs = append(m.runs, r)
	return r, nil
}

func (m *memory) TakePhoto(ctx context.Context, f section.Face, donor, name string, r io.Reader, look func(*photo.Image)) (atlas.Plate, error) {
	return atlas.Plate{}, fmt.Errorf("not in this test")
}

func (m *memory) PlaceAll(on map[string]section.Face) error {
	was := map[string]section.Face{}
	for id := range on {
		was[id] = m.plates[id].Face
		if _, err := m.Unplace(id); err != nil {
			return err
		}
	}
	for id, f := range on {
		if f == (section.Face{}) {
			continue
		}
		if _, err := m.Place(id, f); err != nil {
			for id, f := range was {
				_, _ = m.move(id, f)
			}
			return err
		}
	}
	return nil
}

func (m *memory) Place(id string, f section.Face) (atlas.Plate, error) {
	for _, p := range m.plates {
		if p.Face == f && p.ID != id {
			return p, atlas.ErrFaceTaken
		}
	}
	return m.move(id, f)
}

func (m *memory) Unplace(id string) (atlas.Plate, error) { return m.move(id, section.Face{}) }

func (m *memory) move(id string, f section.Face) (atlas.Plate, error) {
	p, ok := m.plates[id]
	if !ok {
		return p, atlas.ErrNotFound
	}
	p.Face = f
	p.Rev++
	m.plates[id] = p
	return p, nil
}

func (m *memory) Plate(id string) (atlas.Plate, error) {
	p, ok := m.plates[id]
	if !ok {
		return p, atlas.ErrNotFound
	}
	return p, nil
}

func (m *memory) Save(p atlas.Plate) (atlas.Plate, error) {
	if err := m.fail; err != nil {
		m.fail = nil
		return p, err
	}
	if m.plates[p.ID].Rev != p.Rev {
		return p, atlas.ErrChanged
	}
	p.Rev++
	m.saves++
	m.plates[p.ID] = p
	return p, nil
}

func (m *memory) Photo(ctx context.Context, id string) (*photo.Image, error) {
	if x := m.photos[id]; x != nil {
		return x, nil
	}
	return nil, atlas.ErrNotFound
}

func (m *memory) Preview(ctx context.Context, id string) (image.Image, error) {
	if x := m.photos[id]; x != nil {
		return x.Preview(200), nil
	}
	return nil, atlas.ErrNotFound
}

func (m *memory) Find(q atlas.Query) iter.Seq2[atlas.Entry, error] {
	return func(yield func(atlas.Entry, error) bool) {
		for _, p := range m.plates {
			if (q.Donor == "" || q.Donor == p.Donor) && !yield(atlas.Entry{Plate: p.ID, Donor: p.Donor, Face: p.Face, Rev: p.Rev}, nil) {
				return
			}
		}
	}
}

func (m *memory) AddSeries(ctx context.Context, donor string, files fs.FS, skip func(path string, err error), done func(read, total int)) ([]scan.Series, error) {
	return nil, fmt.Errorf("not in this test")
}
func (m *memory) SeriesList(donor string) ([]scan.Series, error) { return m.series, nil }
func (m *memory) Volume(ctx context.Context, uid string) (*scan.Volume, error) {
	if v := m.vols[uid]; v != nil {
		return v, nil
	}
	return nil, atlas.ErrNotFound
}

func (m *memory) LevelTies(run, series string) (atlas.LevelTies, error) {
	t, ok := m.ties[run+series]
	if !ok {
		return t, atlas.ErrNotFound
	}
	return t, nil
}

func (m *memory) SaveLevelTies(t atlas.LevelTies) error { m.ties[t.Run+t.Series] = t; return nil }

// sample is a run of four transverse slabs with a photograph on slab 2's lower face (and on slab 1's upper one), a
// scale of 0.5 mm per pixel, the front at the top, and a CT of the same body.
func sample(t testing.TB) (*Bench, *queue, *memory) {
	t.Helper()
	q := &queue{now: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		t.Fatal(err)
	}
	b := New(q, terms, Options{Author: "AB", Now: func() time.Time { return q.now }})
	m := newMemory()
	m.donors["D1"] = atlas.Donor{Code: "D1", Series: []string{"ct"}, Synthetic: true,
		Agreement: atlas.Agreement{Permitted: map[atlas.Purpose]bool{atlas.Teaching: true}}}
	m.runs = []section.Run{{ID: "r", Donor: "D1", Part: "trunk", Plane: section.Transverse, First: section.Superior, Slabs: []section.Slab{
		{Number: 1, Thickness: [3]float64{20}, Kerf: 1.2}, {Number: 2, Thickness: [3]float64{20}, Kerf: 1.2},
		{Number: 3, Thickness: [3]float64{22, 20, 18}, Kerf: 1.2}, {Number: 4, Thickness: [3]float64{20}, Kerf: 1.2}}}}
	body := bodyVolume(t)
	m.vols["ct"] = body
	s := body.Series()
	s.UID, s.Modality = "ct", "CT"
	m.series = []scan.Series{s}
	m.ties["rct"] = atlas.LevelTies{Run: "r", Series: "ct", SameBody: true, Levels: []register.Level{{Run: 0, Scan: 120}, {Run: 80, Scan: 40}}}
	for _, p := range []struct {
		id string
		f  section.Face
	}{{"p1", section.Face{Run: "r", Slab: 1, Facing: section.Superior}}, {"p2", section.Face{Run: "r", Slab: 2, Facing: section.Inferior}}} {
		pic := photo.NewImage(drawnFace(800, 600))
		m.photos[p.id] = pic
		c, err := photo.TwoTicks(geom.Px{X: 100, Y: 500}, geom.Px{X: 300, Y: 500}, 100)
		if err != nil {
			t.Fatal(err)
		}
		m.plates[p.id] = atlas.Plate{ID: p.id, Donor: "D1", Face: p.f, Photo: photo.Info{Format: "jpeg", Size: image.Pt(800, 600), Orientation: 1},
			Calibration: c, PhotoUp: section.Anterior, Rev: 1, Synthetic: true}
	}
	if err := b.openLibrary(m); err != nil {
		t.Fatal(err)
	}
	q.run()
	return b, q, m
}

// drawnFace is a drawn cut face: an ellipse of muscle with a darker organ at the left of the picture.
func drawnFace(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			u, v := (float64(x)/float64(w)-0.5)*2.3, (float64(y)/float64(h)-0.5)*2.6
			c := color.RGBA{58, 62, 66, 255}
			switch d := u*u + v*v; {
			case d < 0.86 && math.Hypot(u+0.4, v-0.05) < 0.4:
				c = color.RGBA{118, 72, 58, 255}
			case d < 0.86 && math.Hypot(u, v-0.55) < 0.16:
				c = color.RGBA{222, 210, 186, 255}
			case d < 0.86:
				c = color.RGBA{168, 116, 98, 255}
			case d < 1:
				c = color.RGBA{214, 190, 140, 255}
			}
			n := uint8((x*7+y*13)%9 + (x/40+y/40)%2*4)
			m.SetRGBA(x, y, color.RGBA{c.R - n, c.G - n, c.B - n, 255})
		}
	}
	return m
}

// bodyVolume is a made-up CT of 80 x 60 x 50 voxels of 5 mm, read from a NIfTI-1 file laid down byte by byte: an ellipse
// of soft tissue, an organ on the donor's right, and a bone behind. RAS+ as the format says, so x rises to the right.
func bodyVolume(t testing.TB) *scan.Volume {
	t.Helper()
	const nx, ny, nz, mm = 80, 60, 50, 5.0
	h := make([]byte, 352)
	le := binary.LittleEndian
	le.PutUint32(h[0:], 348)
	for i, n := range []uint16{3, nx, ny, nz, 1, 1, 1, 1} {
		le.PutUint16(h[40+2*i:], n)
	}
	le.PutUint16(h[70:], 4) // int16
	le.PutUint16(h[72:], 16)
	for i, p := range []float32{1, mm, mm, mm} {
		le.PutUint32(h[76+4*i:], math.Float32bits(p))
	}
	le.PutUint32(h[108:], math.Float32bits(352))
	le.PutUint32(h[112:], math.Float32bits(1))
	h[123] = 2               // mm
	le.PutUint16(h[254:], 1) // sform
	rows := [3][4]float32{{mm, 0, 0, -(nx - 1) * mm / 2}, {0, mm, 0, -(ny - 1) * mm / 2}, {0, 0, mm, -40}}
	for i, r := range rows {
		for k, v := range r {
			le.PutUint32(h[280+16*i+4*k:], math.Float32bits(v))
		}
	}
	copy(h[344:], "n+1\x00")
	var b bytes.Buffer
	b.Write(h)
	for range nz {
		for j := range ny {
			for i := range nx {
				x, y := float64(i)-(nx-1)/2.0, float64(j)-(ny-1)/2.0 // to the right and to the front
				v := int16(-1000)
				switch d := x*x/1300 + y*y/600; {
				case d < 0.86 && math.Hypot(x-12, y) < 13:
					v = 70
				case d < 0.86 && math.Hypot(x, y+14) < 5:
					v = 700
				case d < 0.86:
					v = 40
				case d < 1:
					v = -100
				}
				_ = binary.Write(&b, le, v)
			}
		}
	}
	v, err := scan.ReadNIfTI(&b)
	if err != nil {
		t.Fatal(err)
	}
	v.Modality = "CT"
	return v
}

func face(slab int, f section.Facing) section.Face {
	return section.Face{Run: "r", Slab: slab, Facing: f}
}

// square is a small outline about a place.
func square(x, y, r float64) annotate.Polygon {
	return annotate.Polygon{Outer: []geom.Px{{X: x - r, Y: y - r}, {X: x + r, Y: y - r}, {X: x + r, Y: y + r}, {X: x - r, Y: y + r}}}
}

// onBench opens slab 2's lower face on the bench, its pane w x h.
func onBench(t testing.TB, w, h int) (*Bench, *queue, *memory, *facePane) {
	b, q, m := sample(t)
	b.ChooseFace(face(2, section.Inferior))
	b.Show(FaceScreen)
	q.run()
	f := b.FacePane().(*facePane)
	f.Resize(w, h, 1)
	f.lay(b.doc)
	return b, q, m, f
}

// click presses and lets go over a picture pixel of the face.
func clickAt(f *facePane, px geom.Px) {
	at := f.b.doc.view.Device(px)
	f.Hover(at)
	f.Down(at, Primary, Mods{Clicks: 1})
	f.Up(at)
}

func has(s string, parts ...string) bool {
	for _, p := range parts {
		if !strings.Contains(s, p) {
			return false
		}
	}
	return true
}
