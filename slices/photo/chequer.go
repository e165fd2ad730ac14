package photo

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// ErrNoSheet says that no chequer sheet of that many corners is seen.
var ErrNoSheet = errors.New("photo: no chequer sheet found")

// chequerSide is the longer side of the picture that corners are sought in; they are then refined in the photograph.
const chequerSide = 1400

// FindChequer finds the inner corners of a chequer sheet, columns x rows of them, side mm apart, as a suggestion for a
// person to look over, wherever in the picture it lies and whatever lies beside it. The ties run along the rows from the corner
// nearest to the top left of the picture, or from the top right one down where the sheet lies on its side. It fails with ErrNoSheet.
func FindChequer(ctx context.Context, m *Image, columns, rows int, side float64) ([]Tie, error) {
	if columns < 3 || rows < 3 || columns*rows > mostCorners || !(side > 0) || math.IsInf(side, 0) {
		return nil, fmt.Errorf("%w: a sheet has 3 x 3 inner corners or more and squares of some size", ErrNoSheet)
	}
	small := greyOf(m.Preview(chequerSide))
	scale := float64(m.size.X) / float64(small.w)
	spots := small.saddles(columns * rows)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(spots) < columns*rows {
		return nil, fmt.Errorf("%w: %d corners seen of %d; let the whole sheet lie in the picture, in even light", ErrNoSheet, len(spots), columns*rows)
	}
	grid, err := small.findGrid(ctx, spots, columns, rows)
	if err != nil {
		return nil, err
	}
	ties := make([]Tie, len(grid))
	near := nearestPair(grid, columns)
	for i, p := range grid {
		p = small.refined(p, int(max(2, min(near*0.35, 8))))
		if scale > 1.001 {
			p = refinedIn(m, geom.Px{X: (p.X+0.5)*scale - 0.5, Y: (p.Y+0.5)*scale - 0.5}, int(max(3, min(near*scale*0.3, 15))))
		}
		ties[i] = Tie{Px: p, MM: geom.MM{X: side * float64(i%columns), Y: side * float64(i/columns)}}
	}
	return ties, nil
}

// grey is a picture of brightness.
type grey struct {
	v    []float64
	w, h int
}

func greyOf(m *image.RGBA) grey {
	g := grey{make([]float64, m.Rect.Dx()*m.Rect.Dy()), m.Rect.Dx(), m.Rect.Dy()}
	for i := range g.v {
		g.v[i] = luma(m.Pix[i/g.w*m.Stride+4*(i%g.w):])
	}
	return g
}

// lumaParts weigh red, green and blue to brightness (ITU-R BT.601, as ITU-T T.871 takes it for JPEG).
var lumaParts = [3]float64{0.299, 0.587, 0.114}

// luma is the brightness of the pixel that p begins with, 0 to 255.
func luma(p []uint8) float64 {
	return lumaParts[0]*float64(p[0]) + lumaParts[1]*float64(p[1]) + lumaParts[2]*float64(p[2])
}

func (g grey) at(x, y int) float64 { return g.v[clamp(y, g.h)*g.w+clamp(x, g.w)] }

// saddles are the places where brightness is most like a saddle (the determinant of its second derivatives is least),
// strongest first, at most six times the number wanted; weak ones are left out.
func (g grey) saddles(want int) []geom.Px {
	s := grey{blur3(blur3(slices.Clone(g.v), g.w, g.h), g.w, g.h), g.w, g.h}
	const d = 2
	resp := make([]float64, len(g.v))
	for y := d; y < g.h-d; y++ {
		for x := d; x < g.w-d; x++ {
			c := s.at(x, y)
			xx := s.at(x-d, y) + s.at(x+d, y) - 2*c
			yy := s.at(x, y-d) + s.at(x, y+d) - 2*c
			xy := (s.at(x+d, y+d) + s.at(x-d, y-d) - s.at(x-d, y+d) - s.at(x+d, y-d)) / 4
			resp[y*g.w+x] = max(0, xy*xy-xx*yy)
		}
	}
	type spot struct {
		p geom.Px
		v float64
	}
	var spots []spot
	const apart = 6
	for y := apart; y < g.h-apart; y++ {
		for x := apart; x < g.w-apart; x++ {
			v := resp[y*g.w+x]
			top := v > 0
			for dy := -apart; dy <= apart && top; dy++ {
				for dx := -apart; dx <= apart && top; dx++ {
					u := resp[(y+dy)*g.w+x+dx]
					top = u < v || u == v && (dy > 0 || dy == 0 && dx >= 0)
				}
			}
			if top {
				spots = append(spots, spot{geom.Px{X: float64(x), Y: float64(y)}, v})
			}
		}
	}
	slices.SortStableFunc(spots, func(a, b spot) int { return cmp.Compare(b.v, a.v) })
	var out []geom.Px
	for i, s := range spots {
		if i >= 6*want || s.v < 0.05*spots[min(want/2, len(spots)-1)].v {
			break
		}
		out = append(out, s.p)
	}
	return out
}

// nearestPair is the least distance of neighbours in rows and columns, px.
func nearestPair(grid []geom.Px, columns int) float64 {
	d := math.Inf(1)
	for i, p := range grid {
		if i%columns > 0 {
			d = min(d, p.Dist(grid[i-1]))
		}
		if i >= columns {
			d = min(d, p.Dist(grid[i-columns]))
		}
	}
	return d
}

// refinedIn refines a corner in the photograph itself.
func refinedIn(m *Image, p geom.Px, reach int) geom.Px {
	n := 2*reach + 12
	x0, y0 := math.Round(p.X)-float64(n/2), math.Round(p.Y)-float64(n/2)
	tile := image.NewRGBA(image.Rect(0, 0, n, n))
	m.Draw(tile, [6]float64{1, 0, x0, 0, 1, y0})
	q := greyOf(tile).refined(geom.Px{X: p.X - x0, Y: p.Y - y0}, reach)
	return geom.Px{X: q.X + x0, Y: q.Y + y0}
}

// refined finds the corner to a fraction of a pixel: the point that edges in reach all point at, for on an edge the
// gradient is square to the way to the corner (Foerstner and Guelch, ISPRS 1987). A corner that runs away is left.
func (g grey) refined(p geom.Px, reach int) geom.Px {
	from := p
	for range 20 {
		var a, b, c, u, v float64
		cx, cy := int(math.Round(p.X)), int(math.Round(p.Y))
		for y := cy - reach; y <= cy+reach; y++ {
			for x := cx - reach; x <= cx+reach; x++ {
				gx, gy := (g.at(x+1, y)-g.at(x-1, y))/2, (g.at(x, y+1)-g.at(x, y-1))/2
				dx, dy := (float64(x)-p.X)/float64(reach), (float64(y)-p.Y)/float64(reach)
				w := math.Exp(-2 * (dx*dx + dy*dy))
				a, b, c = a+w*gx*gx, b+w*gx*gy, c+w*gy*gy
				u += w * (gx*gx*float64(x) + gx*gy*float64(y))
				v += w * (gx*gy*float64(x) + gy*gy*float64(y))
			}
		}
		det := a*c - b*b
		if !(det > 1e-9*(a+c)*(a+c)) {
			return from
		}
		q := geom.Px{X: (c*u - b*v) / det, Y: (a*v - b*u) / det}
		if q.Dist(from) > float64(reach) {
			return from
		}
		if q.Dist(p) < 1e-4 {
			return q
		}
		p = q
	}
	return p
}
