package atlas

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sectionary/annotate"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// likenessOf finds the border of a picture as the bench does.
func likenessOf(t testing.TB, p Plate, m *photo.Image, scaled bool) Likeness {
	t.Helper()
	found, err := photo.FaceBorder(m)
	if err != nil {
		t.Fatalf("%s: %v", p.Face.Name(), err)
	}
	var border []annotate.Polygon
	for _, ring := range found.Rings {
		border = append(border, annotate.Polygon{Outer: ring})
	}
	l, err := NewLikeness(p, m, border, scaled)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// sections are the real section photographs of ../shared/data/section-frames by number of frame, which is mm along the body;
// the small logo at the upper right is covered. They are for this test only and nothing of them is kept.
func sections(t *testing.T) (numbers []int, pictures []*photo.Image) {
	dir, err := filepath.Abs("../../shared/data/section-frames")
	if err != nil {
		t.Fatal(err)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "image-*.jpeg"))
	if len(files) == 0 {
		t.Skip("real data is not here: ../shared/data/section-frames")
	}
	for _, file := range files {
		var n int
		if _, err := fmt.Sscanf(filepath.Base(file), "image-%d.jpeg", &n); err != nil {
			t.Fatal(err)
		}
		m := decoded(t, file)
		m = photo.NewImage(covered(m.Preview(1280)))
		numbers, pictures = append(numbers, n), append(pictures, m)
	}
	return numbers, pictures
}

func decoded(t *testing.T, file string) *photo.Image {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := photo.Open(context.Background(), f, photo.Limit{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func covered(m *image.RGBA) *image.RGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	for y := range h / 7 {
		for x := w * 87 / 100; x < w; x++ {
			m.SetRGBA(x, y, color.RGBA{0, 0, 0, 255})
		}
	}
	return m
}

// Real sections of a whole trunk, 8 mm apart and without a scale, laid as a run of slices: the face of the block join (frame
// 506, half cut, and 507, smeared) is unlike both its neighbours; of the other 53 none is. Source: ../shared/data README.
func TestTornFaceOfRealSectionsIsFlagged(t *testing.T) {
	numbers, pictures := sections(t)
	run := section.Run{ID: "trunk", Plane: section.Transverse, First: section.Superior}
	var faces []Likeness
	for i, n := range numbers {
		thick := 8.0
		if i+1 < len(numbers) {
			thick = float64(numbers[i+1] - n)
		}
		run.Slabs = append(run.Slabs, section.Slab{Number: n, Thickness: [3]float64{thick}})
		p := Plate{Face: section.Face{Run: run.ID, Slab: n, Facing: section.Superior}, PhotoUp: section.Posterior, Photo: photo.Info{Size: pictures[i].Size()}}
		faces = append(faces, likenessOf(t, p, pictures[i], false))
	}
	flagged := map[int]bool{}
	for _, u := range UnlikeNeighbours(run, faces) {
		flagged[u.Face.Slab] = true
		t.Log(u.Words(u.Face.Name()))
	}
	if !flagged[506] {
		t.Error("the half-cut face of the block join is not flagged")
	}
	for n := range flagged {
		if n != 506 && n != 507 {
			t.Errorf("frame %d is flagged for nothing", n)
		}
	}
}

// drawnSection is a cut face of an invented body: an ellipse of fat with muscle and an organ in it on a grey tray, w and h
// its half axes in px. Torn: what lies beyond cut (px from the middle, to the right) is not there. Smeared: the inside is one tone.
func drawnSection(w, h, cut float64, smeared bool) *photo.Image {
	const side = 240
	m := image.NewRGBA(image.Rect(0, 0, side, side))
	for y := range side {
		for x := range side {
			u, v := float64(x)-side/2, float64(y)-side/2
			d := math.Hypot(u/w, v/h)
			c := color.RGBA{96, 104, 110, 255}
			switch {
			case d > 1 || u > cut:
			case smeared:
				c = color.RGBA{uint8(170 + x%7), 120, 96, 255}
			case math.Hypot(u+w/3, v) < w/3:
				c = color.RGBA{112, 62, 48, 255}
			case d > 0.86:
				c = color.RGBA{228, 204, 150, 255}
			default:
				c = color.RGBA{172, 118, 96, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	return photo.NewImage(m)
}

// In a run of slowly changing faces the one torn or smeared is flagged, wherever it lies, and no other.
func TestTheOneTornFaceIsFlagged(t *testing.T) {
	run := section.Run{ID: "r", Plane: section.Transverse, First: section.Superior}
	for i := range 7 {
		run.Slabs = append(run.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1})
	}
	all := run.Faces()
	look := func(i int, cut float64, smeared bool) Likeness {
		m := drawnSection(70+0.3*float64(i%3), 50+0.4*float64(i), cut, smeared)
		l, err := NewLikeness(Plate{Face: all[i], PhotoUp: section.Anterior, Photo: photo.Info{Size: m.Size()}}, m, foundBorder(m, m.Size()), false)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	var sound []Likeness
	for i := range all {
		sound = append(sound, look(i, math.Inf(1), false))
	}
	if got := UnlikeNeighbours(run, sound); len(got) > 0 {
		t.Fatalf("flagged in a sound run: %+v", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		bad, torn := rapid.IntRange(1, len(all)-2).Draw(t, "bad"), rapid.Bool().Draw(t, "torn")
		cut := math.Inf(1)
		if torn {
			cut = 70 * rapid.Float64Range(0.1, 0.6).Draw(t, "cut")
		}
		faces := slices.Clone(sound)
		faces[bad] = look(bad, cut, !torn)
		got := UnlikeNeighbours(run, faces)
		if len(got) != 1 || got[0].Face != all[bad] || (torn && !got[0].ByBorder) || (!torn && !got[0].ByGrey) {
			t.Fatalf("%s is torn %v (else smeared), flagged: %+v", all[bad].Name(), torn, got)
		}
	})
}

// Few faces have no spread to stand out from, and faces without likeness are passed over.
func TestUnlikeNeedsARun(t *testing.T) {
	if got := UnlikeNeighbours(section.Run{}, nil); got != nil {
		t.Fatal(got)
	}
	if !math.IsNaN(greyDistance(nil, []float64{1})) || greySpread(make([]float64, 500)) != nil {
		t.Fatal("a flat face has a spread of greys")
	}
}
