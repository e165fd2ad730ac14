package bench

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// How a person would read a picture that the program painted: where it lies, what colour its squares have, which letters
// stand at its edges. Nothing is asked of the painter.

// readPixels finds the coloured picture within r and compares every one of its squares with a pixel of want.
func readPixels(m *image.RGBA, r image.Rectangle, want image.Image) (wrong string) {
	box := colouredBox(m, r)
	w, h := want.Bounds().Dx(), want.Bounds().Dy()
	if box.Dx() < 5*w || box.Dy() < 5*h {
		return fmt.Sprintf("a picture of %v px for %d x %d", box.Size(), w, h)
	}
	zx, zy := float64(box.Dx())/float64(w), float64(box.Dy())/float64(h)
	if math.Abs(zx/zy-1) > 0.5/float64(min(w, h)) {
		return fmt.Sprintf("a picture of %v px for %d x %d: out of shape", box.Size(), w, h)
	}
	const across = 5
	for y := range h {
		for x := range w {
			c := color.RGBAModel.Convert(want.At(want.Bounds().Min.X+x, want.Bounds().Min.Y+y)).(color.RGBA)
			same := 0
			for k := range across * across { // in the middle of the square; a line may run through it
				u, v := 0.25+0.5*float64(k%across)/(across-1), 0.25+0.5*float64(k/across)/(across-1)
				got := m.RGBAAt(box.Min.X+int(zx*(float64(x)+u)), box.Min.Y+int(zy*(float64(y)+v)))
				if got == c {
					same++
				}
			}
			if same <= across*across/2 {
				at := image.Pt(box.Min.X+int(zx*(float64(x)+0.5)), box.Min.Y+int(zy*(float64(y)+0.5)))
				return fmt.Sprintf("pixel %d,%d of %dx%d is %v, want %v (%d of 25 alike; picture %v)", x, y, w, h, m.RGBAAt(at.X, at.Y), c, same, box)
			}
		}
	}
	return ""
}

// colouredBox is the box of all pixels that are not grey, to a pixel.
func colouredBox(m *image.RGBA, r image.Rectangle) (box image.Rectangle) {
	for y := r.Min.Y; y < r.Max.Y; y += 2 {
		row := m.Pix[m.PixOffset(r.Min.X, y):][:4*r.Dx()]
		coloured := func(x int) bool {
			p := row[4*x:][:3]
			return max(p[0], p[1], p[2])-min(p[0], p[1], p[2]) > 36
		}
		first, last := 0, r.Dx()-1
		for first < last && !coloured(first) {
			first++
		}
		for last > first && !coloured(last) {
			last--
		}
		if first < last {
			box = box.Union(image.Rect(r.Min.X+first, y, r.Min.X+last+1, y+2))
		}
	}
	return box
}

// readPage reads a handed-out page, wide mm of paper: its letters stand within 8 mm of the picture.
func readPage(m *image.RGBA, wide float64, letters section.Edges, want image.Image) (wrong string) {
	box := colouredBox(m, m.Rect)
	if box.Empty() {
		return "no picture"
	}
	perMM := float64(m.Rect.Dx()) / wide
	mm := func(v float64) int { return int(math.Round(v * perMM)) }
	mid := box.Min.Add(box.Max).Div(2)
	top, low := min(box.Min.Y, mid.Y-mm(9)), max(box.Max.Y, mid.Y+mm(9)) // beside a low picture a letter makes way for a line
	const black = 231                                                    // levels from the paper to the ink
	inkOf := func(c color.RGBA) float64 { return float64(255-max(c.R, c.G, c.B)) / black }
	for _, side := range []struct {
		r    image.Rectangle
		want string
	}{{image.Rect(box.Min.X-mm(6.9), top, box.Min.X-1, low), letters.Left}, {image.Rect(box.Max.X+1, top, box.Max.X+mm(6.9), low), letters.Right},
		{image.Rect(mid.X-mm(3), box.Min.Y-mm(7.8), mid.X+mm(3), box.Min.Y-1), letters.Up}, {image.Rect(mid.X-mm(3), box.Max.Y+1, mid.X+mm(3), box.Max.Y+mm(7.8)), letters.Down}} {
		if got := readLetter(m, side.r, 13.5/72*25.4*perMM, inkOf); got != side.want {
			return fmt.Sprintf("printed letter %q, want %q of %v", got, side.want, letters)
		}
	}
	return readPixels(m, m.Rect, want)
}

// readLetter reads the one letter, size pixels to the em, that stands free within r; lines that run into r from its rim are not part of it.
func readLetter(m *image.RGBA, r image.Rectangle, size float64, inkOf func(color.RGBA) float64) string {
	r = r.Intersect(m.Rect)
	w, h := r.Dx(), r.Dy()
	if w < 3 || h < 3 {
		return ""
	}
	dark := make([]float64, w*h)
	for i := range dark {
		dark[i] = min(1, max(0, inkOf(m.RGBAAt(r.Min.X+i%w, r.Min.Y+i/w))))
	}
	seen := make([]bool, w*h)
	var box image.Rectangle
	for i := range dark {
		if part, rim := blob(dark, seen, i, w, h); !rim {
			box = box.Union(part)
		}
	}
	if box.Dy() < 4 {
		return ""
	}
	return nearestLetter(size, gridOf(box, func(x, y int) float64 { return dark[y*w+x] }))
}

// enoughInk is how dark a pixel of a letter is.
const enoughInk = 0.35

// blob follows dark pixels from i and returns their box, and whether they reach the rim.
func blob(dark []float64, seen []bool, i, w, h int) (box image.Rectangle, rim bool) {
	todo := []int{i}
	for len(todo) > 0 {
		k := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if seen[k] || dark[k] < enoughInk {
			continue
		}
		seen[k] = true
		x, y := k%w, k/w
		box = box.Union(image.Rect(x, y, x+1, y+1))
		rim = rim || x == 0 || y == 0 || x == w-1 || y == h-1
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if u, v := x+dx, y+dy; u >= 0 && v >= 0 && u < w && v < h {
					todo = append(todo, v*w+u)
				}
			}
		}
	}
	return box, rim
}

// letterGrid is a letter brought to one height, in the middle of a field.
type letterGrid [16 * 20]float64

func gridOf(box image.Rectangle, at func(x, y int) float64) (g letterGrid) {
	const rows, columns, fine = 16, 20, 4
	z := float64(box.Dy()) / rows
	left := float64(box.Min.X+box.Max.X)/2 - columns/2*z
	for j := range rows {
		for i := range columns {
			for k := range fine * fine {
				x := left + (float64(i)+(float64(k%fine)+0.5)/fine)*z
				y := float64(box.Min.Y) + (float64(j)+(float64(k/fine)+0.5)/fine)*z
				if p := (image.Point{int(math.Floor(x)), int(math.Floor(y))}); p.In(box) {
					g[j*columns+i] += at(p.X, p.Y) / (fine * fine)
				}
			}
		}
	}
	return g
}

var letterGrids sync.Map // by size: map[string]letterGrid

// lettersOf draws the six letters and the question mark as large as they are to be read.
func lettersOf(size float64) map[string]letterGrid {
	if known, ok := letterGrids.Load(size); ok {
		return known.(map[string]letterGrid)
	}
	out := map[string]letterGrid{}
	for _, s := range []string{"A", "P", "L", "R", "S", "I", "?"} {
		side := int(3 * size)
		m := image.NewRGBA(image.Rect(0, 0, side, side))
		ink.Bold().Text(m, geom.Px{X: size, Y: 2 * size}, size, color.RGBA{255, 255, 255, 255}, s)
		var box image.Rectangle
		for i := range side * side {
			if float64(m.Pix[4*i]) >= 255*enoughInk {
				box = box.Union(image.Rect(i%side, i/side, i%side+1, i/side+1))
			}
		}
		out[s] = gridOf(box, func(x, y int) float64 { return float64(m.RGBAAt(x, y).R) / 255 })
	}
	letterGrids.Store(size, out)
	return out
}

// nearestLetter is the letter that g is most like, "" where two are about as like.
func nearestLetter(size float64, g letterGrid) string {
	best, second, name := math.Inf(1), math.Inf(1), ""
	for s, t := range lettersOf(size) {
		d := 0.0
		for i := range g {
			d += math.Abs(g[i] - t[i])
		}
		if d < best {
			best, second, name = d, best, s
		} else if d < second {
			second = d
		}
	}
	if best > 0.6*second {
		return ""
	}
	return name
}

// keepPicture writes a picture for a person to look at, where SECTIONARY_SHOTS says.
func keepPicture(m image.Image) {
	if dir := os.Getenv("SECTIONARY_SHOTS"); dir != "" {
		if f, err := os.Create(filepath.Join(dir, "wayround.png")); err == nil {
			_ = photo.EncodePNG(f, m)
			_ = f.Close()
		}
	}
}

var sharedTerms = sync.OnceValues(func() (*annotate.Terms, error) { return annotate.LoadTerms(assets.Terms()) })

func ownTermsOnce(t testing.TB) *annotate.Terms {
	t.Helper()
	terms, err := sharedTerms()
	if err != nil {
		t.Fatal(err)
	}
	return terms
}
