package bench

import (
	"image"
	"image/color"
	"math"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// bent carries picture mm of a face to where they lie within the plane of its cut and back: sag and stretch undone. The zero value
// leaves every place where it is.
type bent struct {
	frame pictureFrame
	warp  *register.Warp
}

// flat returns where the face point m lies in the plane of the cut.
func (x bent) flat(m geom.MM) geom.MM {
	if x.warp == nil {
		return m
	}
	return x.frame.picture(x.warp.At(x.frame.face(m)))
}

// back returns the face point that lies at m of the cut; the inverse of flat.
func (x bent) back(m geom.MM) geom.MM {
	if x.warp == nil {
		return m
	}
	return x.frame.picture(x.warp.Back(x.frame.face(m)))
}

// picture returns face mm as picture mm; the inverse of face.
func (f pictureFrame) picture(m geom.MM) geom.MM {
	return geom.MM{X: f.right.X*m.X + f.right.Y*m.Y, Y: f.right.X*m.Y - f.right.Y*m.X}
}

// bentOf is how the face of a plate bends within its plane, as basePose places it: not at all without a fit that says so.
func (b *Bench) bentOf(p atlas.Plate, f section.Face) bent {
	r := p.Registration
	if b.held["A"] {
		r = unfitted(p)
	}
	if r == nil || r.Warp == nil || r.Series != b.pair.series || !laidTruly(r, f) {
		return bent{}
	}
	frame, ok := frameOfFace(p)
	if !ok {
		return bent{}
	}
	return bent{frame, r.Warp}
}

// bentHere is bentOf the chosen face.
func (b *Bench) bentHere() bent {
	p, _ := b.Plate()
	return b.bentOf(p, b.Face())
}

// The picture of a bent cut is taken from the flat one by shifts known on a grid of so many pixels; a face does not bend further
// than mostShift pixels.
const (
	bentGrid  = 16
	mostShift = 240
)

// ontoCut says where on the flat cut, shown as v, each place of the photograph, shown as the document is, lies: through tilt and lens
// of its camera, and through sag and stretch. It is nil where both lie on each other already.
func (b *Bench) ontoCut(d *faceDoc, v Viewport, x bent) func(geom.Px) geom.Px {
	p := d.plate()
	h, _ := faceMM(p)
	if x.warp == nil && h.Lens == nil && p.Calibration.Status != photo.Rectified {
		return nil
	}
	seen := d.view
	return func(at geom.Px) geom.Px {
		m := x.flat(h.MM(seen.Picture(at)))
		return v.Device(geom.Px{X: m.X, Y: m.Y})
	}
}

// paintBent fills dst with the cut as the photograph would show it: the flat cut, a little larger, and from it each pixel from where
// to says that its place lies; nil: everything lies where it is.
func (c *cutter) paintBent(dst *image.RGBA, v *scan.Volume, pose geom.Pose, view Viewport, w scan.Window, ground color.RGBA, to func(geom.Px) geom.Px) {
	if to == nil {
		c.paint(dst, v, pose, view, w, ground)
		return
	}
	g := shiftsOf(dst.Rect, to)
	wide := dst.Rect.Inset(-g.most)
	if c.wide == nil || c.wide.Rect != wide {
		c.wide = image.NewRGBA(wide)
	}
	c.paint(c.wide, v, pose, view, w, ground)
	ink.Bands(dst, func(part *image.RGBA) {
		for y := part.Rect.Min.Y; y < part.Rect.Max.Y; y++ {
			row := part.Pix[part.PixOffset(part.Rect.Min.X, y):]
			for i := range part.Rect.Dx() {
				px := part.Rect.Min.X + i
				by := g.at(px, y)
				between4(row[4*i:][:4:4], c.wide, float64(px)+by.X, float64(y)+by.Y)
			}
		}
	})
}

// shifts says on a grid how far, in pixels, the flat cut is to be read beside each place.
type shifts struct {
	rect   image.Rectangle
	across int
	by     []geom.Px
	most   int
}

func shiftsOf(r image.Rectangle, onto func(geom.Px) geom.Px) shifts {
	g := shifts{rect: r, across: (r.Dx()+bentGrid-1)/bentGrid + 1}
	most := 0.0
	for j := range (r.Dy()+bentGrid-1)/bentGrid + 1 {
		for i := range g.across {
			p := geom.Px{X: float64(r.Min.X + i*bentGrid), Y: float64(r.Min.Y + j*bentGrid)}
			to := onto(p)
			d := geom.Px{X: to.X - p.X, Y: to.Y - p.Y}
			if far := math.Hypot(d.X, d.Y); !(far <= mostShift) { // far from the face spline and lens mean nothing
				d = geom.Px{}
			} else {
				most = math.Max(most, far)
			}
			g.by = append(g.by, d)
		}
	}
	g.most = int(math.Ceil(most)) + 2
	return g
}

// at is the shift at a pixel, between those of the grid.
func (g *shifts) at(x, y int) geom.Px {
	i, j := (x-g.rect.Min.X)/bentGrid, (y-g.rect.Min.Y)/bentGrid
	u, v := float64(x-g.rect.Min.X-i*bentGrid)/bentGrid, float64(y-g.rect.Min.Y-j*bentGrid)/bentGrid
	a := g.by[j*g.across+i:]
	z := g.by[(j+1)*g.across+i:]
	mix := func(p, q, r, s float64) float64 { return (1-v)*((1-u)*p+u*q) + v*((1-u)*r+u*s) }
	return geom.Px{X: mix(a[0].X, a[1].X, z[0].X, z[1].X), Y: mix(a[0].Y, a[1].Y, z[0].Y, z[1].Y)}
}

// between4 writes the colour of m between the four pixels round x, y into p.
func between4(p []byte, m *image.RGBA, x, y float64) {
	i, j := int(math.Floor(x)), int(math.Floor(y))
	i, j = min(max(i, m.Rect.Min.X), m.Rect.Max.X-2), min(max(j, m.Rect.Min.Y), m.Rect.Max.Y-2)
	u, v := int(256*(x-float64(i))), int(256*(y-float64(j)))
	u, v = min(max(u, 0), 256), min(max(v, 0), 256)
	a := m.Pix[m.PixOffset(i, j):][:8]
	z := m.Pix[m.PixOffset(i, j+1):][:8]
	for k := range 3 {
		top := int(a[k])*(256-u) + int(a[4+k])*u
		low := int(z[k])*(256-u) + int(z[4+k])*u
		p[k] = byte((top*(256-v) + low*v) >> 16)
	}
	p[3] = 255
}
