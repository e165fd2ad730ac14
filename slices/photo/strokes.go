package photo

import (
	"context"
	"math"

	"sectionary/slices/geom"
)

// stroke is a short straight edge in a picture of brightness: the pixels of one connected part whose gradients all
// point the same way, with the rectangle that holds them.
type stroke struct {
	centre geom.Px // weighted by the gradient
	angle  float64 // of the gradient, radians; brightness grows that way
	lo, hi float64 // ends along the edge, from centre, px; the edge runs a quarter turn on from the gradient
	width  float64 // across, px
}

func (s stroke) across() geom.Px {
	sin, cos := math.Sincos(s.angle)
	return geom.Px{X: cos, Y: sin}
}

func (s stroke) along() geom.Px {
	a := s.across()
	return geom.Px{X: -a.Y, Y: a.X}
}

func (s stroke) length() float64 { return s.hi - s.lo }

// at is a point of the edge, v px along it from the centre.
func (s stroke) at(v float64) geom.Px {
	a := s.along()
	return geom.Px{X: s.centre.X + v*a.X, Y: s.centre.Y + v*a.Y}
}

// strokeField holds the strokes of a picture and, for each pixel, the number of the stroke it belongs to plus one.
type strokeField struct {
	v       []float32 // logarithm of brightness
	w, h    int
	owner   []int32
	strokes []stroke
}

// Common practice, no source.
const (
	leastSlope  = 0.018       // of the logarithm of brightness per px; flatter pixels are ground
	strokeTurn  = math.Pi / 8 // gradients of one stroke agree this well
	leastStroke = 5.0         // px, shorter strokes are grain
)

// slopes are gradients by Sobel's weights, of v on a grid of w x h.
type slopes struct{ size, angle []float32 }

func slopesOf(v []float32, w, h int) slopes {
	s := slopes{make([]float32, w*h), make([]float32, w*h)}
	inBands(h, func(y0, y1 int) {
		for y := max(1, y0); y < min(h-1, y1); y++ {
			for x := 1; x < w-1; x++ {
				i := y*w + x
				gx := v[i-w+1] + 2*v[i+1] + v[i+w+1] - v[i-w-1] - 2*v[i-1] - v[i+w-1]
				gy := v[i+w-1] + 2*v[i+w] + v[i+w+1] - v[i-w-1] - 2*v[i-w] - v[i-w+1]
				if d := gx*gx + gy*gy; d > 64*leastSlope*leastSlope {
					s.size[i] = float32(math.Sqrt(float64(d))) / 8
					s.angle[i] = float32(math.Atan2(float64(gy), float64(gx)))
				}
			}
		}
	})
	return s
}

// strokesOf gathers pixels with like gradients into strokes, the steepest first (the regions of Grompone von Gioi and
// others, IEEE TPAMI 2010, without their validation: a comb of strokes is validated as a whole).
func strokesOf(ctx context.Context, v []float32, w, h int) (*strokeField, error) {
	s := slopesOf(v, w, h)
	f := &strokeField{v: v, w: w, h: h, owner: make([]int32, w*h)}
	var region []int32
	for n, seed := range steepestFirst(s.size) {
		if n&0xfff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if f.owner[seed] != 0 {
			continue
		}
		region = f.grow(s, seed, region[:0])
		if x, ok := f.strokeIn(s, region); ok && len(f.strokes) < mostStrokes {
			f.strokes = append(f.strokes, x)
			for _, i := range region {
				f.owner[i] = int32(len(f.strokes))
			}
		}
	}
	return f, nil
}

const mostStrokes = 1 << 20 // bounds the work

// steepestFirst orders pixels by their slope, in 1024 classes; flat ones are left out.
func steepestFirst(size []float32) []int32 {
	const classes = 1024
	var count [classes + 1]int
	class := func(v float32) int { return classes - 1 - min(classes-1, int(v*1500)) }
	total := 0
	for _, v := range size {
		if v > 0 {
			count[class(v)+1]++
			total++
		}
	}
	for i := range classes {
		count[i+1] += count[i]
	}
	out := make([]int32, total)
	for i, v := range size {
		if v > 0 {
			c := class(v)
			out[count[c]] = int32(i)
			count[c]++
		}
	}
	return out
}

const taken = -1

// grow gathers the pixels that join the seed and whose gradients agree with the mean of those gathered so far. They are
// marked taken.
func (f *strokeField) grow(s slopes, seed int32, region []int32) []int32 {
	sin, cos := math.Sincos(float64(s.angle[seed]))
	limit := math.Cos(strokeTurn)
	region = append(region, seed)
	f.owner[seed] = taken
	for n := 0; n < len(region); n++ {
		x, y := int(region[n])%f.w, int(region[n])/f.w
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				u, v := x+dx, y+dy
				if u < 0 || v < 0 || u >= f.w || v >= f.h {
					continue
				}
				i := int32(v*f.w + u)
				if f.owner[i] != 0 || s.size[i] == 0 {
					continue
				}
				si, co := math.Sincos(float64(s.angle[i]))
				if co*cos+si*sin < limit*math.Hypot(cos, sin) {
					continue
				}
				cos, sin = cos+co, sin+si
				f.owner[i] = taken
				region = append(region, i)
			}
		}
	}
	return region
}

// strokeIn is the rectangle about a region; a region that is short, or as broad as long, is none.
func (f *strokeField) strokeIn(s slopes, region []int32) (x stroke, ok bool) {
	if len(region) < leastStroke {
		return x, false
	}
	var sum, cx, cy, sin, cos float64
	for _, i := range region {
		g := float64(s.size[i])
		px, py := float64(int(i)%f.w), float64(int(i)/f.w)
		si, co := math.Sincos(float64(s.angle[i]))
		sum, cx, cy, sin, cos = sum+g, cx+g*px, cy+g*py, sin+g*si, cos+g*co
	}
	x.centre = geom.Px{X: cx / sum, Y: cy / sum}
	x.angle = math.Atan2(sin, cos)
	var uu, uv, vv float64 // moments in the frame of the gradient
	a := x.across()
	for _, i := range region {
		g := float64(s.size[i])
		dx, dy := float64(int(i)%f.w)-x.centre.X, float64(int(i)/f.w)-x.centre.Y
		u, v := dx*a.X+dy*a.Y, dy*a.X-dx*a.Y
		uu, uv, vv = uu+g*u*u, uv+g*u*v, vv+g*v*v
	}
	if vv > uu { // long enough for its shape to tell the direction better than its gradients
		x.angle -= math.Atan2(2*uv, vv-uu) / 2
	}
	a = x.across()
	x.lo, x.hi = math.Inf(1), math.Inf(-1)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range region {
		dx, dy := float64(int(i)%f.w)-x.centre.X, float64(int(i)/f.w)-x.centre.Y
		u, v := dx*a.X+dy*a.Y, dy*a.X-dx*a.Y
		lo, hi, x.lo, x.hi = min(lo, u), max(hi, u), min(x.lo, v), max(x.hi, v)
	}
	x.width = hi - lo + 1
	return x, x.length()+1 >= leastStroke && x.length()+1 > 1.3*x.width
}

// under is the number of the stroke at p whose gradient points along angle within turn, or -1.
func (f *strokeField) under(p geom.Px, angle, turn float64) int {
	x, y := int(math.Round(p.X)), int(math.Round(p.Y))
	if x < 0 || y < 0 || x >= f.w || y >= f.h {
		return -1
	}
	o := f.owner[y*f.w+x]
	if o <= 0 || math.Abs(turned(f.strokes[o-1].angle-angle)) > turn {
		return -1
	}
	return int(o - 1)
}

// turned brings an angle into -pi to pi.
func turned(a float64) float64 { return math.Remainder(a, 2*math.Pi) }

// logBrightness is the logarithm of brightness of one level of the picture as stored, a little smoothed: equal steps of
// density are equal steps of it, in light and in shade.
func (m *Image) logBrightness(n int) (v []float32, w, h int) {
	l := m.levels[n]
	w, h = l.w, l.h
	var table [256]float32
	for i := range table {
		table[i] = float32(math.Log(float64(i) + 24))
	}
	raw := make([]float32, w*h)
	inBands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := raw[y*w : (y+1)*w]
			if l.pix == nil {
				for x := range row {
					row[x] = table[m.ycc.Y[y*m.ycc.YStride+x]]
				}
				continue
			}
			for x := range row {
				p := l.pix[y*w+x]
				row[x] = table[(77*(p&255)+150*(p>>8&255)+29*(p>>16&255))>>8]
			}
		}
	})
	return smoothed(raw, w, h), w, h
}

// smoothed weighs neighbours 1 2 1 along both sides.
func smoothed(v []float32, w, h int) []float32 {
	tmp, out := make([]float32, w*h), make([]float32, w*h)
	inBands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row, to := v[y*w:(y+1)*w], tmp[y*w:(y+1)*w]
			for x := range row {
				to[x] = (row[max(x-1, 0)] + 2*row[x] + row[min(x+1, w-1)]) / 4
			}
		}
	})
	inBands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			a, b, c := tmp[max(y-1, 0)*w:], tmp[y*w:], tmp[min(y+1, h-1)*w:]
			to := out[y*w : (y+1)*w]
			for x := range to {
				to[x] = (a[x] + 2*b[x] + c[x]) / 4
			}
		}
	})
	return out
}
