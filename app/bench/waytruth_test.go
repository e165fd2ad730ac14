package bench

import (
	"encoding/csv"
	"image"
	"image/color"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/section"
)

// toward is what the letter at an edge looks like in pixels: each of the six has its colour. All are of the warm half of the
// circle, so that no mixture of two, as shared chroma makes, is grey.
var toward = map[string]color.RGBA{"A": {210, 30, 40, 255}, "P": {235, 135, 20, 255}, "L": {225, 220, 40, 255}, "R": {205, 40, 170, 255},
	"S": {140, 190, 20, 255}, "I": {120, 60, 10, 255}}

// truthRow is a line of photo_ops.csv: the letters round an honest photograph, and round it in a view.
type truthRow struct{ photo, out section.Edges }

type truthKey struct {
	face, up section.Facing
	view     section.View
}

// conventions are the views by their names in photo_ops.csv.
var conventions = map[string]section.View{"radiology": section.Scan, "opposite": section.OtherSide, "bench": section.Bench}

// truths reads photo_ops.csv.
func truths(t testing.TB) map[truthKey]truthRow {
	t.Helper()
	out := map[truthKey]truthRow{}
	for _, r := range table(t, "photo_ops.csv", 72) {
		face, err1 := section.ParseFacing(r["face"])
		up, err2 := section.ParseFacing(r["photo_up"])
		view, ok := conventions[r["convention"]]
		if err1 != nil || err2 != nil || !ok {
			t.Fatal(r)
		}
		out[truthKey{face, up, view}] = truthRow{section.Edges{Left: r["photo_left"], Right: r["photo_right"], Up: r["photo_up"], Down: r["photo_down"]},
			section.Edges{Left: r["out_left"], Right: r["out_right"], Up: r["out_up"], Down: r["out_down"]}}
	}
	if len(out) != 72 {
		t.Fatalf("%d rows of photo_ops.csv, want 72", len(out))
	}
	return out
}

// table are the rows of a file of testdata/laterality, so many, by the names of their columns. The tables restate the viewing conventions in use
// (transverse scans from the feet, frontal from the front, sagittal from the left), the law right x up = outward normal, and the turns of Exif 2.32.
func table(t testing.TB, name string, want int) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "laterality", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, v := range r {
			row[all[0][i]] = v
		}
		rows = append(rows, row)
	}
	if len(rows) != want {
		t.Fatalf("%s: %d rows, want %d", name, len(rows), want)
	}
	return rows
}

// operation is an EXIF value's: where a stored pixel of a picture w x h lands when it is done, from its name alone.
type operation struct {
	place    func(x, y, w, h int) (int, int)
	swaps    bool
	mirrored bool
}

// operations are the eight, by value.
func operations(t testing.TB) (out [9]operation) {
	named := map[string]operation{
		"none":                 {place: func(x, y, w, h int) (int, int) { return x, y }},
		"mirror_lr":            {place: func(x, y, w, h int) (int, int) { return w - 1 - x, y }},
		"rotate_180":           {place: func(x, y, w, h int) (int, int) { return w - 1 - x, h - 1 - y }},
		"mirror_ud":            {place: func(x, y, w, h int) (int, int) { return x, h - 1 - y }},
		"transpose":            {place: func(x, y, w, h int) (int, int) { return y, x }, swaps: true},
		"rotate_90_cw":         {place: func(x, y, w, h int) (int, int) { return h - 1 - y, x }, swaps: true},
		"transverse_transpose": {place: func(x, y, w, h int) (int, int) { return h - 1 - y, w - 1 - x }, swaps: true},
		"rotate_270_cw":        {place: func(x, y, w, h int) (int, int) { return y, w - 1 - x }, swaps: true},
	}
	for _, r := range table(t, "exif.csv", 8) {
		o, ok := named[r["op_to_upright"]]
		if !ok {
			t.Fatal(r)
		}
		o.mirrored = r["involves_mirror"] == "true"
		out[r["exif_orientation"][0]-'0'] = o
	}
	return out
}

// toStored is the picture as a camera with that value stores it; toUpright is the way back.
func (o operation) toStored(upright image.Image) *image.RGBA {
	size := upright.Bounds().Size()
	if o.swaps {
		size.X, size.Y = size.Y, size.X
	}
	m := image.NewRGBA(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			u, v := o.place(x, y, size.X, size.Y)
			m.Set(x, y, upright.At(u, v))
		}
	}
	return m
}

func (o operation) toUpright(stored image.Image) *image.RGBA {
	b := stored.Bounds()
	size := b.Size()
	if o.swaps {
		size.X, size.Y = size.Y, size.X
	}
	m := image.NewRGBA(image.Rectangle{Max: size})
	for y := range b.Dy() {
		for x := range b.Dx() {
			u, v := o.place(x, y, b.Dx(), b.Dy())
			m.Set(u, v, stored.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	return m
}

func exchanged(m *image.RGBA) *image.RGBA {
	out := image.NewRGBA(m.Rect)
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			out.SetRGBA(m.Rect.Dx()-1-x, y, m.RGBAAt(x, y))
		}
	}
	return out
}

// honestPicture paints a photograph with those letters at its edges: every pixel has the colour of the edge it is nearest to,
// and a little of its own.
func honestPicture(r *rand.Rand, w, h int, e section.Edges) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			u, v := (float64(x)+0.5)/float64(w)-0.5, (float64(y)+0.5)/float64(h)-0.5
			edge := e.Left
			switch {
			case u >= max(v, -v):
				edge = e.Right
			case v > max(u, -u):
				edge = e.Down
			case -v > max(u, -u):
				edge = e.Up
			}
			c := toward[edge]
			own := func(v uint8) uint8 { return uint8(min(255, int(v)+r.IntN(16))) }
			m.SetRGBA(x, y, color.RGBA{own(c.R), own(c.G), own(c.B), 255})
		}
	}
	return m
}

// inView is an honest photograph with the letters from at its edges, laid so that the letters to are there: each axis of the
// result is that axis of the photograph on which its letters lie.
func inView(m *image.RGBA, from, to section.Edges) *image.RGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	upright := to.Left == from.Left || to.Left == from.Right // the picture's rows stay rows
	if !upright {
		w, h = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for j := range h {
		for i := range w {
			x, y := i, j // for the letters at left and up alike
			across, down := to.Left == from.Left, to.Up == from.Up
			if !upright {
				x, y = j, i
				across, down = to.Left == from.Up, to.Up == from.Left
				if !across {
					y = w - 1 - i
				}
				if !down {
					x = h - 1 - j
				}
			} else {
				if !across {
					x = w - 1 - i
				}
				if !down {
					y = h - 1 - j
				}
			}
			out.SetRGBA(i, j, m.RGBAAt(x, y))
		}
	}
	return out
}
