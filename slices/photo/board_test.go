package photo

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"sectionary/slices/geom"
)

type noiseSource struct{ *rand.Rand }

func newNoise(seed uint64) noiseSource { return noiseSource{rand.New(rand.NewPCG(seed, 77))} }

func (r noiseSource) shift(p geom.Px, sd float64) geom.Px {
	return geom.Px{X: p.X + sd*r.NormFloat64(), Y: p.Y + sd*r.NormFloat64()}
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v)-1)
	}
	return mean, math.Sqrt(sd)
}

// camera looks at a board in the plane z = 0 from above its middle. It is a plain pinhole: board point, turned about
// the board's x axis by tilt, seen from height mm, focal pixels.
type camera struct {
	tilt, height, focal float64
	size                image.Point
	middle              geom.MM
}

func (c camera) see(p geom.MM) geom.Px {
	x, y := p.X-c.middle.X, p.Y-c.middle.Y
	sin, cos := math.Sincos(c.tilt)
	y, z := y*cos, c.height+y*sin
	return geom.Px{X: c.focal*x/z + float64(c.size.X-1)/2, Y: c.focal*y/z + float64(c.size.Y-1)/2}
}

// ray returns the board point seen by pixel p: the inverse of see, worked out by hand.
func (c camera) ray(p geom.Px) geom.MM {
	u, v := (p.X-float64(c.size.X-1)/2)/c.focal, (p.Y-float64(c.size.Y-1)/2)/c.focal
	sin, cos := math.Sincos(c.tilt)
	y := v * c.height / (cos - v*sin)
	return geom.MM{X: u*(c.height+y*sin) + c.middle.X, Y: y + c.middle.Y}
}

const dot = 4.0 // mm, radius of the board's dots

// photographBoard renders black dots at marks on a light board, four rays a pixel along each axis.
func (c camera) photographBoard(marks []geom.MM) *image.Gray {
	m := image.NewGray(image.Rectangle{Max: c.size})
	for y := range c.size.Y {
		for x := range c.size.X {
			sum := 0
			for k := range 16 {
				q := c.ray(geom.Px{X: float64(x) + float64(k%4)/4 - 0.375, Y: float64(y) + float64(k/4)/4 - 0.375})
				ink := 230
				for _, mark := range marks {
					if q.Dist(mark) < dot {
						ink = 25
					}
				}
				sum += ink
			}
			m.Pix[y*m.Stride+x] = uint8(sum / 16)
		}
	}
	return m
}

// dotCentre is the darkness-weighted mean of the pixels round a guess: what a careful hand clicks, and better.
func dotCentre(m *Image, guess geom.Px, reach int) geom.Px {
	var sum, sx, sy float64
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			p := geom.Px{X: math.Round(guess.X) + float64(dx), Y: math.Round(guess.Y) + float64(dy)}
			dark := 230 - float64(m.At(p).R)
			sum, sx, sy = sum+dark, sx+dark*p.X, sy+dark*p.Y
		}
	}
	return geom.Px{X: sx / sum, Y: sy / sum}
}

// Row PH2 by rendered photographs of a board: square on, 100 mm read 100.0 +- 0.2; with the camera tilted by 10 degrees and four
// corners, lengths hold to 0.5 mm inside the corners and 1.0 mm out to one and a half times their span.
func TestPH2BoardPhotographed(t *testing.T) {
	marks := []geom.MM{{X: 60, Y: 60}, {X: 260, Y: 60}, {X: 260, Y: 200}, {X: 60, Y: 200}, // corners
		{X: 110, Y: 130}, {X: 210, Y: 130}, {X: 160, Y: 80}, {X: 160, Y: 180}, // inside
		{X: 10, Y: 130}, {X: 310, Y: 130}} // out to 1.5 times the span
	shoot := func(tilt float64) []geom.Px {
		c := camera{tilt: tilt * math.Pi / 180, height: 900, focal: 2200, size: image.Pt(900, 700), middle: geom.MM{X: 160, Y: 130}}
		m := NewImage(c.photographBoard(marks))
		found := make([]geom.Px, len(marks))
		for i, mark := range marks {
			found[i] = dotCentre(m, c.see(mark), 15)
		}
		if got := m.At(found[0]); got != (color.RGBA{25, 25, 25, 255}) {
			t.Fatalf("no dot at the first corner: %v", got)
		}
		return found
	}
	square := shoot(0)
	c, err := TwoTicks(square[0], square[1], 200)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range [][2]int{{4, 5}, {6, 7}} {
		mm, sd, _ := c.Length(square[p[0]], square[p[1]])
		near(t, "100 mm square on", mm, 100, 0.2)
		near(t, "spread", sd, 0.5, 0.3)
	}

	tilted := shoot(10)
	ties := make([]Tie, 4)
	for i := range ties {
		ties[i] = Tie{tilted[i], marks[i]}
	}
	if c, err = Grid(ties); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		from, to      int
		mm, tolerance float64
	}{{4, 5, 100, 0.5}, {6, 7, 100, 0.5}, {0, 2, math.Hypot(200, 140), 0.5}, {8, 9, 300, 1}, {8, 4, 100, 1}} {
		mm, _, _ := c.Length(tilted[test.from], tilted[test.to])
		near(t, "length aslant", mm, test.mm, test.tolerance)
	}
	blind, err := TwoTicks(tilted[0], tilted[1], 200)
	if err != nil {
		t.Fatal(err)
	}
	if mm, _, _ := blind.Length(tilted[2], tilted[3]); math.Abs(mm-200) < 2 {
		t.Errorf("a camera tilted by 10 degrees and one ruler read %g mm for 200: the scene has no tilt", mm)
	}
}

// Row PH4 by a rendered photograph: the camera stands 1000 mm above the face, and the scale lies 25 mm below it. Two dots 100 mm apart on the
// face read 102.5 mm by that scale, 100.0 +- 0.1 once its height is told (similar triangles); with the height unknown they still read
// 102.5, with a spread that covers the error.
func TestPH4ScaleBelowTheFacePhotographed(t *testing.T) {
	face := camera{height: 1000, focal: 3000, size: image.Pt(1000, 700), middle: geom.MM{X: 160, Y: 130}}
	tray := face
	tray.height = 1025
	onFace, onTray := []geom.MM{{X: 110, Y: 100}, {X: 210, Y: 100}}, []geom.MM{{X: 60, Y: 210}, {X: 260, Y: 210}}
	m := face.photographBoard(onFace)
	low := tray.photographBoard(onTray)
	for i, v := range low.Pix { // both planes in one picture: ink is dark
		m.Pix[i] = min(m.Pix[i], v)
	}
	found := func(c camera, marks []geom.MM) (out []geom.Px) {
		for _, mark := range marks {
			out = append(out, dotCentre(NewImage(m), c.see(mark), 20))
		}
		return out
	}
	dots, ticks := found(face, onFace), found(tray, onTray)
	c, err := TwoTicks(ticks[0], ticks[1], 200)
	if err != nil {
		t.Fatal(err)
	}
	read, sd, _ := c.Length(dots[0], dots[1])
	unknown := c.Doubted(Doubt{Why: HeightUnknown, Share: HeightShare(25, 0)})
	same, wide, _ := unknown.Length(dots[0], dots[1])
	told, err := c.WithHeight(ScaleHeight{Drop: 25, Camera: 1000})
	if err != nil {
		t.Fatal(err)
	}
	right, rightSD, _ := told.Length(dots[0], dots[1])
	t.Logf("by the scale as it lies %.2f ± %.2f mm, height unknown ± %.2f, told %.2f ± %.2f mm", read, sd, wide, right, rightSD)
	near(t, "by a scale below the face", read, 102.5, 0.1)
	near(t, "with its height told", right, 100, 0.1)
	if same != read || wide < 2.5 || wide < 5*sd {
		t.Errorf("height unknown: %.2f ± %.2f mm, known level ± %.2f", same, wide, sd)
	}
}
