package bench

import (
	"image"
	"path/filepath"
	"testing"
	"time"

	"sectionary/slices/photo"
	"sectionary/slices/photo/phototest"
	"sectionary/slices/section"
)

// While a photograph for the chosen face is decoded, the small copy that its camera laid into the file stands on the bench,
// turned upright by the camera's tag, with "?" at its edges; then the photograph itself.
func TestEmbeddedPreviewStandsInAtOnce(t *testing.T) {
	b, q := newLab(t)
	on := section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior}
	b.ChooseFace(on)
	b.Show(FaceScreen)
	q.run()
	op := operations(t)[6]
	upright := photo.NewImage(drawnFace(640, 480)).Preview(640)
	thumb := photo.NewImage(op.toStored(upright)).Preview(200)
	file := phototest.Thumbnail(phototest.JPEG(op.toStored(upright), phototest.JPEGKind{}), phototest.JPEG(thumb, phototest.JPEGKind{}), 6)
	path := write(t, filepath.Join(t.TempDir(), "a.jpg"), file)

	b.AddPhotos([]string{path})
	x := &batch{lib: b.lab.lib, on: on, paths: []string{path}, box: b.take.box}
	x.header(0) // what the job does first
	q.pass(time.Second)
	f := b.FacePane().(*facePane)
	f.Resize(700, 540, 1)
	pane := image.NewRGBA(image.Rect(0, 0, 700, 540))
	f.Paint(pane)
	if b.doc != nil || b.Edges() != section.UnknownEdges {
		t.Fatal("the photograph is there before it was taken in, or has letters")
	}
	like := func(when string) {
		t.Helper()
		for _, p := range []image.Point{{320, 240}, {140, 240}, {320, 60}, {520, 300}, {600, 30}} {
			got := pane.RGBAAt(30+p.X, 30+p.Y)
			want := upright.RGBAAt(p.X, p.Y)
			for _, d := range [3]uint8{diff2(got.R, want.R), diff2(got.G, want.G), diff2(got.B, want.B)} {
				if d > 24 {
					t.Errorf("%s at %v: %v, want %v", when, p, got, want)
				}
			}
		}
	}
	like("embedded")
	q.run()
	f.Paint(pane)
	if b.doc == nil || !b.doc.whole {
		t.Fatal("not taken in")
	}
	like("whole")
}

func diff2(a, b uint8) uint8 { return max(a, b) - min(a, b) }
