package practice

import (
	"image"
	"image/color"
	"math"
	"runtime"
	"sync"

	"sectionary/slices/geom"
)

// scene is all that a photograph shows.
type scene struct {
	b     *body
	f     *field
	stand stand
	sag   sag
	n     noise
	saw   float64 // direction of the saw marks on the face, radians
	props []prop
}

// prop is a flat thing on the table: its texture covers w x h mm with its middle at c.
type prop struct {
	c       geom.MM
	w, h    float64
	turn    float64
	texture *image.RGBA
}

// render paints the upright photograph.
func (s *scene) render() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, s.stand.w, s.stand.h))
	var wg sync.WaitGroup
	bands := runtime.GOMAXPROCS(0)
	for k := range bands {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for y := s.stand.h * k / bands; y < s.stand.h*(k+1)/bands; y++ {
				for x := range s.stand.w {
					img.SetRGBA(x, y, s.pixel(x, y))
				}
			}
		}()
	}
	wg.Wait()
	return img
}

type rgb struct{ r, g, b float64 }

func of(c color.RGBA) rgb { return rgb{float64(c.R), float64(c.G), float64(c.B)} }

func (a rgb) mix(b rgb, t float64) rgb {
	return rgb{a.r + (b.r-a.r)*t, a.g + (b.g-a.g)*t, a.b + (b.b-a.b)*t}
}
func (a rgb) mul(k float64) rgb { return rgb{a.r * k, a.g * k, a.b * k} }

func (a rgb) rgba() color.RGBA {
	c := func(v float64) uint8 { return uint8(clamp(v+0.5, 0, 255)) }
	return color.RGBA{c(a.r), c(a.g), c(a.b), 255}
}

func (s *scene) pixel(x, y int) color.RGBA {
	table := s.stand.mm(geom.Px{X: float64(x), Y: float64(y)})
	col, hit := s.prop(table)
	if !hit {
		col = s.surface(table)
	}
	// The lamp falls off toward the corners; the sensor adds its grain.
	u, v := float64(x)/float64(s.stand.w)-0.5, float64(y)/float64(s.stand.h)-0.5
	col = col.mul(1.03 - 0.22*(u*u+v*v) + 0.05*(-u-v))
	g := 2.2 * s.n.bell(int64(x), int64(y), 11)
	return rgb{col.r + g, col.g + g, col.b + g}.rgba()
}

func (s *scene) prop(t geom.MM) (rgb, bool) {
	for _, p := range s.props {
		sn, cs := math.Sincos(-p.turn)
		dx, dy := t.X-p.c.X, t.Y-p.c.Y
		u, v := (cs*dx-sn*dy)/p.w+0.5, (sn*dx+cs*dy)/p.h+0.5
		if u < 0 || v < 0 || u >= 1 || v >= 1 {
			continue
		}
		b := p.texture.Bounds()
		return of(p.texture.RGBAAt(int(u*float64(b.Dx())), int(v*float64(b.Dy())))), true
	}
	return rgb{}, false
}

// surface is the face where it lies, and the tray beside it with the shadow of the slab.
func (s *scene) surface(t geom.MM) rgb {
	m := s.sag.in(t)
	// Edges wander by a fraction of a millimetre, as cut tissue does.
	const wander = 0.55
	j := geom.MM{
		X: m.X + wander*(s.n.smooth(m.X*0.9, m.Y*0.9)-0.5),
		Y: m.Y + wander*((s.n+5).smooth(m.X*0.9, m.Y*0.9)-0.5),
	}
	n := s.f.under(j)
	if n == 0 {
		return s.tray(t, m)
	}
	return s.tissue(n, m, t)
}

func (s *scene) tray(t, m geom.MM) rgb {
	steel := rgb{92, 99, 101}
	brushed := (s.n + 30).smooth(t.X*0.05, t.Y*3.1)
	wet := (s.n + 31).rough(t.X*0.012, t.Y*0.012)
	col := steel.mul(0.86 + 0.12*brushed + 0.16*wet)
	if s.f.under(geom.MM{X: m.X - 3.2, Y: m.Y - 4.2}) != 0 { // the lamp stands upper left
		col = col.mul(0.62)
	} else if s.f.under(geom.MM{X: m.X - 5.5, Y: m.Y - 7}) != 0 {
		col = col.mul(0.82)
	}
	return col
}

func (s *scene) tissue(n int, m, t geom.MM) rgb {
	p := s.b.parts[n-1]
	col := of(p.base)
	col = col.mul(1 + p.grain*((s.n+7).rough(m.X*0.11, m.Y*0.11)-0.5)*1.5)
	if p.dense > 0 {
		d := (s.n + noise(40)).rough(m.X/p.fine, m.Y/p.fine)
		if edge := (d - (1 - p.dense)) / 0.10; edge > 0 {
			col = col.mix(of(p.dots), 0.75*clamp(edge, 0, 1))
		}
	}
	if p.tissue == muscleStuff { // bundles, parted by thin pale seams
		ridge := math.Abs((s.n+80).rough(m.X*0.036, m.Y*0.036) - 0.5)
		if ridge < 0.017 {
			col = col.mix(of(fatStuff.base), 0.8*(1-ridge/0.017))
		}
	}
	if p.hu < -900 { // a hollow: dark, lighter toward its lower wall
		return col.mul(0.75 + 0.5*(s.n+9).smooth(m.X*0.2, m.Y*0.2))
	}
	// A thin dark line parts neighbours.
	const rim = 0.45
	for _, d := range [4]geom.MM{{X: rim}, {X: -rim}, {Y: rim}, {Y: -rim}} {
		if q := s.f.under(geom.MM{X: m.X + d.X, Y: m.Y + d.Y}); q != n && q != 0 && s.b.parts[q-1].term != p.term {
			col = col.mul(0.86)
			break
		}
	}
	return s.sheen(s.sawMarks(col, m), t)
}

// sawMarks are fine ridges across the face, deeper in some places.
func (s *scene) sawMarks(c rgb, m geom.MM) rgb {
	sn, cs := math.Sincos(s.saw)
	along, across := cs*m.X+sn*m.Y, cs*m.Y-sn*m.X
	ridge := (s.n + 50).smooth(along*0.02, across*1.7)
	deep := (s.n + 51).rough(along*0.012, across*0.03)
	return c.mul(1 + 0.13*(ridge-0.5)*(0.3+deep))
}

// sheen is the wet shine of the lamp.
func (s *scene) sheen(c rgb, t geom.MM) rgb {
	wet := (s.n + 60).rough(t.X*0.045, t.Y*0.045)
	fine := (s.n + 61).smooth(t.X*0.8, t.Y*0.8)
	near := math.Exp(-((t.X+60)*(t.X+60) + (t.Y+45)*(t.Y+45)) / (2 * 95 * 95))
	k := clamp((wet-0.60)/0.16, 0, 1) * (0.35 + 0.65*near) * (0.5 + 0.5*fine)
	return c.mix(rgb{250, 248, 240}, 0.34*k)
}
