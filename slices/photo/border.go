package photo

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// ErrNoFace says that no cut face stands out from what it lies on.
var ErrNoFace = errors.New("photo: no face found against the tray")

// Border is a proposal for the outer border of a face: one ring for each separate piece, largest first, pixels of the
// upright photograph. It is meant to be looked at and mended by hand.
type Border struct {
	Rings [][]geom.Px `json:"rings"`
	// Cut tells which sides of the frame cut the face off: left, top, right, bottom.
	Cut [4]bool `json:"cut"`
	// Share is the part of the picture that the face covers.
	Share float64 `json:"share"`
}

const (
	borderSide  = 800  // px, longer side of the picture the border is sought in
	leastPiece  = 0.04 // of the largest piece; smaller ones are tags and crumbs
	leastShare  = 0.01 // of the picture
	leastWarmth = 4.0  // Lab units that tell tissue from a neutral tray
	mostWarmth  = 16.0
)

// FaceBorder finds the face by the warmth of tissue, embalmed or fresh: its hues run from red to yellow, while steel,
// white and black trays are neutral and blue ones cold. The threshold is Otsu's (1979), held within sensible bounds;
// dark cavities inside are filled, tags and crumbs dropped. A tray of warm wood cannot be told from tissue. It fails
// with ErrNoFace.
func FaceBorder(m *Image) (Border, error) {
	small := m.draft(borderSide)
	w, h := small.Rect.Dx(), small.Rect.Dy()
	warm := blur3(warmth(small), w, h)
	limit := max(leastWarmth, min(otsu(warm), mostWarmth))
	mask := newMask(w, h)
	for i, v := range warm {
		mask.in[i] = v > limit
	}
	mask = mask.shrunk(1).grown(2).shrunk(1) // grain first, then gaps
	mask.fillHoles()
	mask = mask.shrunk(2).grown(2) // hairs and bridges
	pieces := mask.pieces()
	if len(pieces) == 0 || float64(pieces[0].area) < leastShare*float64(w*h) {
		return Border{}, fmt.Errorf("%w; draw its border by hand", ErrNoFace)
	}
	var b Border
	scale := geom.Px{X: float64(m.size.X) / float64(w), Y: float64(m.size.Y) / float64(h)}
	for _, p := range pieces {
		if float64(p.area) < leastPiece*float64(pieces[0].area) {
			break
		}
		b.Share += float64(p.area) / float64(w*h)
		for side, touches := range p.touches(w, h) {
			b.Cut[side] = b.Cut[side] || touches
		}
		ring := simplify(smooth(p.trace(mask)), 0.6)
		for i, q := range ring { // centres of the small pixels to those of the photograph
			ring[i] = geom.Px{X: (q.X+0.5)*scale.X - 0.5, Y: (q.Y+0.5)*scale.Y - 0.5}
		}
		b.Rings = append(b.Rings, ring)
	}
	return b, nil
}

// warmth is how far each pixel's colour leans toward the hue of tissue, 50 degrees in a*b*.
func warmth(m *image.RGBA) []float64 {
	out := make([]float64, m.Rect.Dx()*m.Rect.Dy())
	const a, b = 0.643, 0.766
	toWhite := srgbD65 // to parts of the white
	for i := range toWhite {
		toWhite[i] /= whiteD65[i/3]
	}
	inBands(m.Rect.Dy(), func(y0, y1 int) {
		for i := y0 * m.Rect.Dx(); i < y1*m.Rect.Dx(); i++ {
			p := m.Pix[4*i:][:3]
			v := transform(toWhite, Decode(p[0], p[1], p[2]))
			x, y, z := labRoot(v[0]), labRoot(v[1]), labRoot(v[2])
			out[i] = a*500*(x-y) + b*200*(y-z)
		}
	})
	return out
}

// labRoot is the root that L*a*b* takes of a part of the white, to 1e-5, read from a table: a border is sought in
// hundreds of thousands of pixels.
func labRoot(part float64) float64 {
	at := part * (labRoots - 1)
	i := max(0, min(int(at), labRoots-2))
	return labRootTable[i] + (at-float64(i))*(labRootTable[i+1]-labRootTable[i])
}

const labRoots = 4097

var labRootTable = func() (t [labRoots]float64) {
	for i := range t {
		t[i] = labRootOf(float64(i) / (labRoots - 1))
	}
	return t
}()

// blur3 averages 3 x 3 neighbours; edges repeat their last row or column.
func blur3(v []float64, w, h int) []float64 {
	across, out := make([]float64, len(v)), make([]float64, len(v))
	for y := range h {
		row, to := v[y*w:][:w], across[y*w:][:w]
		for x := range row {
			to[x] = row[max(x-1, 0)] + row[x] + row[min(x+1, w-1)]
		}
	}
	for y := range h {
		top, mid, low := across[max(y-1, 0)*w:][:w], across[y*w:][:w], across[min(y+1, h-1)*w:][:w]
		for x := range mid {
			out[y*w+x] = (top[x] + mid[x] + low[x]) / 9
		}
	}
	return out
}

// otsu splits values into two classes with the least spread within them (Otsu 1979), in 256 bins.
func otsu(v []float64) float64 {
	lo, hi := slices.Min(v), slices.Max(v)
	if !(hi > lo) {
		return hi
	}
	var bins [256]float64
	for _, x := range v {
		bins[int((x-lo)/(hi-lo)*255)]++
	}
	var all, total float64
	for i, n := range bins {
		all, total = all+float64(i)*n, total+n
	}
	best, at := -1.0, 0
	var n, sum float64
	for i, k := range bins {
		n, sum = n+k, sum+float64(i)*k
		if n == 0 || n == total {
			continue
		}
		d := sum/n - (all-sum)/(total-n)
		if between := n * (total - n) * d * d; between > best {
			best, at = between, i
		}
	}
	return lo + (float64(at)+0.5)/255*(hi-lo)
}

// simplify drops points that lie within tolerance of the line through their neighbours (Douglas and Peucker 1973), for
// a closed ring.
func simplify(ring []geom.Px, tolerance float64) []geom.Px {
	if len(ring) < 8 {
		return ring
	}
	far, d := 0, 0.0
	for i, p := range ring {
		if x := p.Dist(ring[0]); x > d {
			far, d = i, x
		}
	}
	keep := make([]bool, len(ring)+1)
	closed := append(slices.Clone(ring), ring[0])
	keep[0], keep[far] = true, true
	type run struct{ a, b int }
	for todo := []run{{0, far}, {far, len(ring)}}; len(todo) > 0; {
		r := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		worst, at := tolerance, -1
		for i := r.a + 1; i < r.b; i++ {
			if x := offLine(closed[i], closed[r.a], closed[r.b]); x > worst {
				worst, at = x, i
			}
		}
		if at >= 0 {
			keep[at] = true
			todo = append(todo, run{r.a, at}, run{at, r.b})
		}
	}
	var out []geom.Px
	for i, p := range ring {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

func offLine(p, a, b geom.Px) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return p.Dist(a)
	}
	return math.Abs(dx*(p.Y-a.Y)-dy*(p.X-a.X)) / n
}

// smooth takes the stairs out of a traced ring: each point becomes the mean of itself and its two neighbours.
func smooth(ring []geom.Px) []geom.Px {
	n := len(ring)
	out := make([]geom.Px, n)
	for i, p := range ring {
		a, b := ring[(i+n-1)%n], ring[(i+1)%n]
		out[i] = geom.Px{X: (a.X + 2*p.X + b.X) / 4, Y: (a.Y + 2*p.Y + b.Y) / 4}
	}
	return out
}
