package photo

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
)

// ErrChart says that the four points do not lie on a colour card of the kind named.
var ErrChart = errors.New("photo: no colour card found at the four points")

// Edition tells which printing of the 24-patch card was photographed; they differ by up to 2 CIEDE2000.
type Edition uint8

const (
	After2014  Edition = iota // made from November 2014
	Before2014                // made earlier
)

// The card's patches in six columns and four rows, L*a*b* under D50 (maker's figures of 2016 for both printings, as
// carried by the colour-science project, BSD-3).
var chartLab = [2][24]Lab{
	{
		{37.54, 14.37, 14.92}, {64.66, 19.27, 17.5}, {49.32, -3.82, -22.54}, {43.46, -12.74, 22.72}, {54.94, 9.61, -24.79}, {70.48, -32.26, -0.37},
		{62.73, 35.83, 56.5}, {39.43, 10.75, -45.17}, {50.57, 48.64, 16.67}, {30.1, 22.54, -20.87}, {71.77, -24.13, 58.19}, {71.51, 18.24, 67.37},
		{28.37, 15.42, -49.8}, {54.38, -39.72, 32.27}, {42.43, 51.05, 28.62}, {81.8, 2.67, 80.41}, {50.63, 51.28, -14.12}, {49.57, -29.71, -28.32},
		{95.19, -1.03, 2.93}, {81.29, -0.57, 0.44}, {66.89, -0.75, -0.06}, {50.76, -0.13, 0.14}, {35.63, -0.46, -0.48}, {20.64, 0.07, -0.46},
	},
	{
		{37.986, 13.555, 14.059}, {65.711, 18.13, 17.81}, {49.927, -4.88, -21.905}, {43.139, -13.095, 21.905}, {55.112, 8.844, -25.399}, {70.719, -33.397, -0.199},
		{62.661, 36.067, 57.096}, {40.02, 10.41, -45.964}, {51.124, 48.239, 16.248}, {30.325, 22.976, -21.587}, {72.532, -23.709, 57.255}, {71.941, 19.363, 67.857},
		{28.778, 14.179, -50.297}, {55.261, -38.342, 31.37}, {42.101, 53.378, 28.19}, {81.733, 4.039, 79.819}, {51.935, 49.986, -14.574}, {51.038, -28.631, -28.638},
		{96.539, -0.425, 1.186}, {81.257, -0.638, -0.335}, {66.766, -0.734, -0.504}, {50.867, -0.153, -0.27}, {35.656, -0.421, -1.231}, {20.461, -0.079, -0.973},
	},
}

// ReadChart samples the 24 patches between four clicked centres: of the first patch (dark skin), of the last of the
// first row (bluish green), of the last of all (black) and of the first of the last row (white). Each colour is the
// mean in linear light over the inner half of its patch. It fails with ErrChart when the clicks do not frame a
// card or the last row does not run from light to dark.
func ReadChart(m *Image, corners [4]geom.Px) ([]Linear, error) {
	grid := []geom.MM{{}, {X: 5}, {X: 5, Y: 3}, {Y: 3}}
	h, _, err := geom.FitHomography(corners[:], grid)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrChart, err)
	}
	patches := make([]Linear, 24)
	for i := range patches {
		var ok bool
		if patches[i], ok = patchMean(m, h, geom.MM{X: float64(i % 6), Y: float64(i / 6)}); !ok {
			return nil, fmt.Errorf("%w: patch %d lies outside the picture", ErrChart, i+1)
		}
	}
	for i := 19; i < 24; i++ {
		if patches[i][1] >= patches[i-1][1] {
			return nil, fmt.Errorf("%w: the grey row does not run from light to dark; check the order of the clicks", ErrChart)
		}
	}
	return patches, nil
}

// patchMean averages 15 x 15 places over the inner half of the patch centred at c, patches lying one apart.
func patchMean(m *Image, h geom.Homography, c geom.MM) (sum Linear, ok bool) {
	const n = 15
	for i := range n * n {
		p := h.Px(geom.MM{X: c.X + (float64(i%n)/(n-1)-0.5)*0.4, Y: c.Y + (float64(i/n)/(n-1)-0.5)*0.4})
		v := m.At(p)
		if v.A == 0 {
			return sum, false
		}
		l := Decode(v.R, v.G, v.B)
		for k := range sum {
			sum[k] += l[k] / (n * n)
		}
	}
	return sum, true
}

// ColourDifference tells how far patches lie from the card, CIEDE2000.
type ColourDifference struct {
	Mean float64 `json:"mean"`
	Max  float64 `json:"max"`
	P95  float64 `json:"p95"`
}

// Correction is a linear change of colour, worked in linear light: row-major, right = Matrix x seen. It makes
// pictures alike; embalmed tissue keeps its fixed colour, not the living one.
type Correction struct {
	Matrix [9]float64       `json:"matrix"`
	Before ColourDifference `json:"before"`
	After  ColourDifference `json:"after"`
}

// FitChart finds the matrix that carries the seen patches onto the card with the least sum of squares in linear light.
func FitChart(seen []Linear, e Edition) (Correction, error) {
	if len(seen) != 24 || int(e) >= len(chartLab) {
		return Correction{}, fmt.Errorf("%w: 24 patches are needed, got %d", ErrChart, len(seen))
	}
	a, b := mat.NewDense(24, 3, nil), mat.NewDense(24, 3, nil)
	for i, s := range seen {
		want := LinearOfD50(chartLab[e][i])
		a.SetRow(i, s[:])
		b.SetRow(i, want[:])
	}
	var x mat.Dense
	if err := x.Solve(a, b); err != nil {
		return Correction{}, fmt.Errorf("%w: the patches do not differ enough: %w", ErrChart, err)
	}
	var c Correction
	for i := range c.Matrix {
		c.Matrix[i] = x.At(i%3, i/3)
	}
	return c.judged(seen, e), nil
}

// GreyGains balances by one neutral patch: its parts are brought to the light of want (0 to 1, linear).
func GreyGains(seen Linear, want float64) (Correction, error) {
	var c Correction
	for k, v := range seen {
		if !(v > 0) || !(want > 0) {
			return Correction{}, fmt.Errorf("%w: the grey patch is black", ErrChart)
		}
		c.Matrix[4*k] = want / v
	}
	return c, nil
}

func (c Correction) judged(seen []Linear, e Edition) Correction {
	var before, after []float64
	for i, s := range seen {
		before = append(before, DeltaE(s.LabD50(), chartLab[e][i]))
		after = append(after, DeltaE(c.Of(s).LabD50(), chartLab[e][i]))
	}
	c.Before, c.After = summary(before), summary(after)
	return c
}

func summary(d []float64) (s ColourDifference) {
	slices.Sort(d)
	for _, v := range d {
		s.Mean += v / float64(len(d))
	}
	s.Max = d[len(d)-1]
	at := 0.95 * float64(len(d)-1)
	i := int(at)
	s.P95 = d[i] + (at-float64(i))*(d[min(i+1, len(d)-1)]-d[i])
	return s
}

// Of corrects one colour.
func (c Correction) Of(v Linear) Linear { return transform(c.Matrix, v) }

// encodeSteps is how finely linear light is cut for writing it as sRGB.
const encodeSteps = 1 << 14

var encodeTable = sync.OnceValue(func() *[encodeSteps + 1]uint8 {
	t := new([encodeSteps + 1]uint8)
	for i := range t {
		t[i] = uint8(math.Round(255 * encodeSRGB(float64(i)/encodeSteps)))
	}
	return t
})

// Apply corrects every pixel of a picture in place; parts beyond 0 to 255 are held there.
func (c Correction) Apply(m *image.RGBA) {
	encode := encodeTable()
	var share [3][256][3]int32 // of each stored part in each corrected one, in steps
	for v := range 256 {
		light := Decode(uint8(v), 0, 0)[0]
		for from := range 3 {
			for to := range 3 {
				share[from][v][to] = int32(math.Round(max(-1e4, min(c.Matrix[3*to+from]*light, 1e4)) * encodeSteps))
			}
		}
	}
	part := func(v int32) uint8 { return encode[max(0, min(v, encodeSteps))] }
	inBands(m.Rect.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := m.Pix[y*m.Stride:][:4*m.Rect.Dx()]
			for x := 0; x < len(row); x += 4 {
				r, g, b := &share[0][row[x]], &share[1][row[x+1]], &share[2][row[x+2]]
				row[x], row[x+1], row[x+2] = part(r[0]+g[0]+b[0]), part(r[1]+g[1]+b[1]), part(r[2]+g[2]+b[2])
			}
		}
	})
}

// ReadGrey is the mean in linear light of a patch about a clicked point, an eightieth of the picture's longer side
// wide. It fails with ErrChart where the patch is too dark or burnt out to tell, uneven, or far from grey.
func ReadGrey(m *Image, p geom.Px) (mean Linear, err error) {
	const n = 15
	side := float64(max(m.size.X, m.size.Y)) / 80
	var squares float64
	for i := range n * n {
		v := m.At(geom.Px{X: p.X + (float64(i%n)/(n-1)-0.5)*side, Y: p.Y + (float64(i/n)/(n-1)-0.5)*side})
		if v.A == 0 || max(v.R, v.G, v.B) >= 250 || min(v.R, v.G, v.B) < 20 {
			return mean, fmt.Errorf("%w: the patch is too dark, burnt out, or outside the picture", ErrChart)
		}
		l := Decode(v.R, v.G, v.B)
		for k := range mean {
			mean[k] += l[k] / (n * n)
		}
		squares += l[1] * l[1] / (n * n)
	}
	if squares-mean[1]*mean[1] > 0.2*0.2*mean[1]*mean[1] {
		return mean, fmt.Errorf("%w: the patch is uneven", ErrChart)
	}
	if c := mean.LabD65(); math.Hypot(c.A, c.B) > mostTint {
		return mean, fmt.Errorf("%w: the patch is not a grey", ErrChart)
	}
	return mean, nil
}

// mostTint is the chroma up to which a patch may still be a grey under coloured light; common practice, no source.
const mostTint = 40

// CardColours are the 24 patches of a printing in linear light, in reading order; parts beyond sRGB lie outside 0 to 1.
func CardColours(e Edition) []Linear {
	if int(e) >= len(chartLab) {
		return nil
	}
	out := make([]Linear, 24)
	for i, c := range chartLab[e] {
		out[i] = LinearOfD50(c)
	}
	return out
}

// Encode is the inverse of Decode; parts beyond 0 to 1 are held there.
func Encode(c Linear) (r, g, b uint8) {
	part := func(v float64) uint8 { return uint8(math.Round(255 * encodeSRGB(max(0, min(v, 1))))) }
	return part(c[0]), part(c[1]), part(c[2])
}
