package bench

import (
	"image"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// bookTile is the side in pixels of the pieces that a picture taken at a tilt or through a bent lens is laid in: within one the map is as
// good as straight.
const bookTile = 64

// draw lays the photograph of a page where its outline lies. The camera's tilt and its lens are taken out, so that the edges of the face
// meet the outline everywhere.
func (p *bookPage) draw(dst *image.RGBA, to [6]float64, common func(geom.MM) geom.MM) {
	near, ok := p.toDevice(to, common)
	if !ok {
		return
	}
	size, stored := p.plate.Photo.Size, p.picture.Size()
	if c := p.plate.Calibration; c.Status != photo.Rectified && c.Lens == nil {
		p.picture.Draw(dst, toStored(near, size, stored))
		return
	}
	step := bookTile
	back := func(x, y int) geom.Px { return p.pictureAt(geom.Px{X: float64(x), Y: float64(y)}, near, to, common) }
	for y := dst.Rect.Min.Y; y < dst.Rect.Max.Y; y += step {
		for x := dst.Rect.Min.X; x < dst.Rect.Max.X; x += step {
			o, u, v := back(x, y), back(x+step, y), back(x, y+step)
			n := float64(step)
			m := [6]float64{(u.X - o.X) / n, (v.X - o.X) / n, 0, (u.Y - o.Y) / n, (v.Y - o.Y) / n, 0}
			m[2] = o.X - m[0]*float64(x) - m[1]*float64(y)
			m[5] = o.Y - m[3]*float64(x) - m[4]*float64(y)
			part := dst.SubImage(image.Rect(x, y, x+step, y+step)).(*image.RGBA)
			p.picture.Draw(part, toStored(m, size, stored))
		}
	}
}

// pictureAt is the pixel of the photograph that lies at a place of the pane: near is about right, and what it misses by is made up for a
// few times.
func (p *bookPage) pictureAt(at geom.Px, near, to [6]float64, common func(geom.MM) geom.MM) geom.Px {
	q := geom.Px{X: near[0]*at.X + near[1]*at.Y + near[2], Y: near[3]*at.X + near[4]*at.Y + near[5]}
	for range 6 {
		m := common(p.outline.To(q))
		dx := at.X - (to[0]*m.X + to[1]*m.Y + to[2])
		dy := at.Y - (to[3]*m.X + to[4]*m.Y + to[5])
		q.X, q.Y = q.X+near[0]*dx+near[1]*dy, q.Y+near[3]*dx+near[4]*dy
		if dx*dx+dy*dy < 1e-4 {
			break
		}
	}
	return q
}
