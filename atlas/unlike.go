package atlas

import (
	"context"
	"fmt"
	"image"
	"iter"
	"math"
	"slices"
	"sort"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Likeness is what a face is compared by with its neighbours along the run: the shape of its border, and how its greys are
// spread, lighting taken out.
type Likeness struct {
	Outline
	greys []float64 // at even shares of the face, from the middle, in units of the middle two thirds; nil when the face is flat
}

const (
	likeGreys = 64
	likeSide  = 400 // of a picture without scale, in mm that are not mm: pictures of one stand are alike in size
	likeCell  = 240 // px, longer side of the picture whose greys are taken
)

// NewLikeness takes the likeness of a placed photograph. m is the photograph or its preview, border what stands out from the tray where
// none was drawn. Without scaled, lengths count in shares of the picture: for runs of which not every face has a scale. Errors
// as Plate.Outline.
func NewLikeness(p Plate, m *photo.Image, border []annotate.Polygon, scaled bool) (Likeness, error) {
	if !scaled {
		k := likeSide / float64(max(p.Photo.Size.X, p.Photo.Size.Y, 1))
		p.Calibration = photo.Calibration{ToMM: geom.Homography{k, 0, 0, 0, k, 0, 0, 0, 1}, Status: photo.Scaled}
	}
	o, err := p.Outline(border)
	if err != nil {
		return Likeness{}, err
	}
	l := Likeness{Outline: o}
	l.greys = greySpread(o.greysWithin(m.Preview(likeCell), p.Photo.Size))
	return l, nil
}

// Photographs is what Likenesses asks of a library.
type Photographs interface {
	Find(q Query) iter.Seq2[Entry, error]
	Plate(id string) (Plate, error)
	Preview(ctx context.Context, id string) (image.Image, error)
}

// Likenesses takes the likeness of every photographed face of a run whose sides are declared, from its preview; faces that do
// not stand out from the tray are left out. Lengths count in mm when every one of them has a scale.
func Likenesses(ctx context.Context, lib Photographs, run section.Run, report func(done, total int)) (out []Likeness, err error) {
	var plates []Plate
	scaled := true
	for e, err := range lib.Find(Query{Donor: run.Donor}) {
		if err != nil {
			return nil, err
		}
		if e.Face.Run != run.ID {
			continue
		}
		p, err := lib.Plate(e.Plate)
		if err != nil {
			return nil, err
		}
		if !p.Retired && !p.LettersUnknown() {
			plates = append(plates, p)
			scaled = scaled && p.Calibration.Status != photo.Nominal
		}
	}
	for i, p := range plates {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m, err := lib.Preview(ctx, p.ID)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", run.Name(p.Face), err)
		}
		small := photo.NewImage(m)
		if l, err := NewLikeness(p, small, foundBorder(small, p.Photo.Size), scaled); err == nil {
			out = append(out, l)
		}
		report(i+1, len(plates))
	}
	return out, nil
}

// foundBorder is the border that stands out from the tray in a preview, in pixels of the photograph; nil when none does.
func foundBorder(small *photo.Image, size image.Point) (out []annotate.Polygon) {
	found, err := photo.FaceBorder(small)
	if err != nil {
		return nil
	}
	kx, ky := float64(size.X)/float64(small.Size().X), float64(size.Y)/float64(small.Size().Y)
	for _, ring := range found.Rings {
		for i, q := range ring {
			ring[i] = geom.Px{X: (q.X+0.5)*kx - 0.5, Y: (q.Y+0.5)*ky - 0.5}
		}
		out = append(out, annotate.Polygon{Outer: ring})
	}
	return out
}

// greysWithin are the greys of the pixels of a small picture that lie within the outline.
func (o *Outline) greysWithin(small *image.RGBA, size image.Point) (out []float64) {
	w, h := small.Rect.Dx(), small.Rect.Dy()
	kx, ky := float64(size.X)/float64(w), float64(size.Y)/float64(h)
	for y := range h {
		for x := range w {
			if !o.holds(o.To(geom.Px{X: (float64(x)+0.5)*kx - 0.5, Y: (float64(y)+0.5)*ky - 0.5})) {
				continue
			}
			c := small.Pix[small.PixOffset(small.Rect.Min.X+x, small.Rect.Min.Y+y):][:3]
			out = append(out, 0.299*float64(c[0])+0.587*float64(c[1])+0.114*float64(c[2])) // ITU-R BT.601
		}
	}
	return out
}

// greySpread is the distribution of greys as its quantiles, shifted and stretched to a common middle and breadth, so that
// neither exposure nor contrast counts.
func greySpread(greys []float64) []float64 {
	if len(greys) < likeGreys {
		return nil
	}
	sort.Float64s(greys)
	at := func(share float64) float64 { return greys[int(share*float64(len(greys)-1))] }
	breadth := at(0.84) - at(0.16)
	if breadth < 1 {
		return nil
	}
	out := make([]float64, likeGreys)
	for i := range out {
		out[i] = (at((float64(i)+0.5)/likeGreys) - at(0.5)) / breadth
	}
	return out
}

// greyDistance is the earth mover's distance between two spreads of grey: the mean difference of their quantiles. NaN when one
// is not known.
func greyDistance(a, z []float64) float64 {
	if a == nil || z == nil {
		return math.NaN()
	}
	var sum float64
	for i := range a {
		sum += math.Abs(a[i] - z[i])
	}
	return sum / float64(len(a))
}

// Unlike is a face whose border or greys are unlike those of both its neighbours along the run: torn, half cut, smeared, or
// laid on the wrong face. Border is how far it overlaps the liker neighbour (Dice), Grey its distance from the liker one;
// Usual are the run's medians of both. It is advice and bars nothing.
type Unlike struct {
	Face                   section.Face
	Border, Grey           float64
	UsualBorder, UsualGrey float64
	ByBorder, ByGrey       bool
}

// Words says it as a person at the run would; name is the face's name.
func (u Unlike) Words(name string) string {
	if u.ByBorder {
		return fmt.Sprintf("%s: its border is unlike both neighbours' (overlap %.2f, usual in this run %.2f).", name, u.Border, u.UsualBorder)
	}
	return fmt.Sprintf("%s: its greys are spread unlike both neighbours' (distance %.2f, usual in this run %.2f).", name, u.Grey, u.UsualGrey)
}

// When a face stands out: so many times the run's own median, and so many standard deviations above it (from the median of
// the deviations), and never below a floor that drawing the border of the same shape twice may reach. Measured on the practice
// lab and on section photographs of a whole trunk.
const (
	unlikeTimes    = 4.0
	unlikeSDs      = 6.0
	leastUnlike    = 0.03 // of 1 - Dice
	leastGreyApart = 0.12
	leastCompared  = 5 // faces with two neighbours; fewer have no spread of their own
)

// UnlikeNeighbours finds the faces that are unlike both their neighbours, in order along the run. A neighbour is the next
// photographed face to either side; faces at the ends have one only and are not judged. A slow change along the run, in which
// every face lies between its neighbours, is no fault of the greys.
func UnlikeNeighbours(run section.Run, faces []Likeness) (out []Unlike) {
	var row []*Likeness
	for _, f := range run.Faces() {
		if i := slices.IndexFunc(faces, func(l Likeness) bool { return l.Face == f }); i >= 0 {
			row = append(row, &faces[i])
		}
	}
	if len(row) < leastCompared+2 {
		return nil
	}
	borders, greys := make([]float64, len(row)-1), make([]float64, len(row)-1) // between neighbours
	for i := range borders {
		borders[i] = 1 - row[i].On(row[i+1].Outline).Dice
		greys[i] = greyDistance(row[i].greys, row[i+1].greys)
	}
	var all []Unlike
	for i := 1; i < len(row)-1; i++ {
		u := Unlike{Face: row[i].Face, Border: math.Min(borders[i-1], borders[i]), Grey: math.Min(greys[i-1], greys[i])}
		u.ByGrey = greyDistance(row[i-1].greys, row[i+1].greys) < u.Grey // the neighbours are liker to each other
		all = append(all, u)
	}
	border, usualBorder := standsOut(all, leastUnlike, func(u Unlike) float64 { return u.Border })
	grey, usualGrey := standsOut(all, leastGreyApart, func(u Unlike) float64 { return u.Grey })
	for _, u := range all {
		u.ByBorder, u.ByGrey = u.Border > border, u.ByGrey && u.Grey > grey
		if u.ByBorder || u.ByGrey {
			u.Border, u.UsualBorder, u.UsualGrey = 1-u.Border, 1-usualBorder, usualGrey
			out = append(out, u)
		}
	}
	return out
}

// standsOut is the limit above which a figure stands out among those of the run, and their median.
func standsOut(all []Unlike, least float64, of func(Unlike) float64) (limit, middle float64) {
	var v []float64
	for _, u := range all {
		if x := of(u); !math.IsNaN(x) {
			v = append(v, x)
		}
	}
	if len(v) == 0 {
		return math.Inf(1), math.NaN()
	}
	middle = medianOf(v)
	for i, x := range v {
		v[i] = math.Abs(x - middle)
	}
	return max(least, unlikeTimes*middle, middle+unlikeSDs*1.4826*medianOf(v)), middle
}

func medianOf(v []float64) float64 {
	sort.Float64s(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}
