package atlas

import (
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Outline is the outer border of a face in mm along the body's own directions, the same for both faces of a cut, so that
// partners lie on each other without a mirror: x and y as one looks at the face from the usual side of the scan, y down.
type Outline struct {
	Face  section.Face
	cells []geom.MM // middles of the cells it covers, from its own middle
	x, y  int       // of the first cell of grid
	wide  int
	grid  []bool // row by row
	// To carries pixels of the upright photograph to mm of the outline.
	To func(geom.Px) geom.MM
}

// outlineCell is the side of a cell that outlines are compared by, mm.
const outlineCell = 2.0

// mostCells bounds an outline: a metre square.
const mostCells = 500 * 500

// Outline returns the border of the face of p for comparing with others; border is used where none was drawn. It fails with
// ErrUnplaced, ErrNotOriented, photo.ErrNoScale and photo.ErrNoFace.
func (p Plate) Outline(border []annotate.Polygon) (Outline, error) {
	h, scaled := p.FaceMM()
	if len(p.Border) > 0 {
		border = p.Border
	}
	switch {
	case p.Face == (section.Face{}):
		return Outline{}, naming("photograph "+p.ID, ErrUnplaced)
	case p.LettersUnknown():
		return Outline{}, naming(p.Face.Name(), ErrNotOriented)
	case !scaled:
		return Outline{}, naming(p.Face.Name(), photo.ErrNoScale)
	}
	to, err := p.bodyMM(h)
	if err != nil {
		return Outline{}, fmt.Errorf("%s: %w", p.Face.Name(), err)
	}
	o := Outline{Face: p.Face}
	var sum geom.MM
	cells := cellsOf(border, to)
	if len(cells) == 0 {
		return Outline{}, naming(p.Face.Name(), photo.ErrNoFace)
	}
	for _, c := range cells {
		sum.X, sum.Y = sum.X+c.X, sum.Y+c.Y
	}
	n := float64(len(cells))
	middle := geom.MM{X: sum.X / n, Y: sum.Y / n}
	o.To = func(q geom.Px) geom.MM {
		m := to(q)
		return geom.MM{X: m.X - middle.X, Y: m.Y - middle.Y}
	}
	o.fill(cells, middle)
	return o, nil
}

// fill notes the cells, counted from middle, and lays them on a grid with an empty cell all round.
func (o *Outline) fill(cells []geom.MM, middle geom.MM) {
	x1, y1 := math.MinInt, math.MinInt
	o.x, o.y = math.MaxInt, math.MaxInt
	for _, c := range cells {
		c = geom.MM{X: c.X - middle.X, Y: c.Y - middle.Y}
		o.cells = append(o.cells, c)
		x, y := cellOf(c)
		o.x, o.y, x1, y1 = min(o.x, x-1), min(o.y, y-1), max(x1, x+1), max(y1, y+1)
	}
	o.wide = x1 - o.x + 1
	o.grid = make([]bool, o.wide*(y1-o.y+1))
	for _, c := range o.cells {
		x, y := cellOf(c)
		o.grid[(y-o.y)*o.wide+x-o.x] = true
	}
}

func cellOf(m geom.MM) (x, y int) {
	return int(math.Floor(m.X/outlineCell + 0.5)), int(math.Floor(m.Y/outlineCell + 0.5))
}

// holds reports whether a place lies within the outline.
func (o *Outline) holds(m geom.MM) bool {
	x, y := cellOf(m)
	x, y = x-o.x, y-o.y
	return x >= 0 && y >= 0 && x < o.wide && y*o.wide+x < len(o.grid) && o.grid[y*o.wide+x]
}

// bodyMM carries pixels to mm along the directions of the body that span the plane of the cut.
func (p Plate) bodyMM(h photo.Mapping) (func(geom.Px) geom.MM, error) {
	square, err := section.SquarePose(p.Face.Facing, p.PhotoUp, geom.LPS{})
	if err != nil {
		return nil, err
	}
	plane := p.Face.Facing.Plane()
	up := section.Superior
	if plane == section.Transverse {
		up = section.Anterior
	}
	usual, err := section.SquarePose(plane.Faces()[1], up, geom.LPS{})
	if err != nil {
		return nil, err
	}
	right := p.pictureRight(h)
	return func(q geom.Px) geom.MM {
		m := h.MM(q)
		x, y := right.X*m.X+right.Y*m.Y, right.X*m.Y-right.Y*m.X // along the picture
		v := square.X.Mul(x).Add(square.Y.Mul(y))
		return geom.MM{X: v.Dot(usual.X), Y: v.Dot(usual.Y)}
	}, nil
}

// cellsOf are the middles of the cells that an outline covers; none for one without a size or larger than any face.
func cellsOf(border []annotate.Polygon, to func(geom.Px) geom.MM) []geom.MM {
	shapes := make([]annotate.Polygon, len(border))
	lo, hi := geom.Px{X: math.Inf(1), Y: math.Inf(1)}, geom.Px{X: math.Inf(-1), Y: math.Inf(-1)}
	for i, b := range border {
		shapes[i] = b.Map(func(q geom.Px) geom.Px {
			m := to(q)
			return geom.Px{X: m.X / outlineCell, Y: m.Y / outlineCell}
		})
		box := shapes[i].Bounds()
		lo = geom.Px{X: math.Min(lo.X, box.Min.X), Y: math.Min(lo.Y, box.Min.Y)}
		hi = geom.Px{X: math.Max(hi.X, box.Max.X), Y: math.Max(hi.Y, box.Max.Y)}
	}
	if w, h := hi.X-lo.X, hi.Y-lo.Y; !(w >= 2 && h >= 2 && w*h <= mostCells) || math.Abs(lo.X)+math.Abs(lo.Y) > 1e6 {
		return nil
	}
	m := annotate.Rasterise(shapes, image.Rect(int(math.Floor(lo.X)), int(math.Floor(lo.Y)), int(math.Ceil(hi.X))+1, int(math.Ceil(hi.Y))+1))
	var out []geom.MM
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			if m.At(x, y) {
				out = append(out, geom.MM{X: float64(x) * outlineCell, Y: float64(y) * outlineCell})
			}
		}
	}
	return out
}

// Laid is one outline laid on another as well as it can be: turned by Turn radians (clockwise as seen) about its middle, then
// moved by Shift. Dice is twice the area in common over the sum of both areas (Dice, Ecology 26:297, 1945), 1 for the same.
type Laid struct {
	Dice  float64
	Shift geom.MM
	Turn  float64
}

// At carries a point of the outline that is laid to the one it is laid on.
func (l Laid) At(m geom.MM) geom.MM {
	s, c := math.Sincos(l.Turn)
	return geom.MM{X: c*m.X - s*m.Y + l.Shift.X, Y: s*m.X + c*m.Y + l.Shift.Y}
}

// Back is the inverse of At.
func (l Laid) Back(m geom.MM) geom.MM {
	s, c := math.Sincos(l.Turn)
	x, y := m.X-l.Shift.X, m.Y-l.Shift.Y
	return geom.MM{X: c*x + s*y, Y: c*y - s*x}
}

// mostTurn is how far a slab may lie turned on its tray against its neighbour's photograph, radians.
const mostTurn = 15 * math.Pi / 180

// On lays o on z by shift and turn, from middle on middle, to the largest overlap that small steps lead to.
func (o Outline) On(z Outline) Laid {
	best := Laid{}
	if len(o.cells) == 0 || len(z.cells) == 0 {
		return best
	}
	for _, step := range []float64{8, 4, 2, 1, 0.5} {
		turn := step * math.Pi / 180
		every := 1
		if step >= 2 {
			every = 7 // coarse steps need no more
		}
		best.Dice = o.overlap(&z, best, every)
		for moved := true; moved; {
			moved = false
			for _, d := range [][3]float64{{step, 0, 0}, {-step, 0, 0}, {0, step, 0}, {0, -step, 0}, {0, 0, turn}, {0, 0, -turn}} {
				try := Laid{Shift: geom.MM{X: best.Shift.X + d[0], Y: best.Shift.Y + d[1]}, Turn: best.Turn + d[2]}
				if math.Abs(try.Turn) > mostTurn {
					continue
				}
				if try.Dice = o.overlap(&z, try, every); try.Dice > best.Dice+1e-9 {
					best, moved = try, true
				}
			}
		}
	}
	return best
}

// overlap is the Dice figure of o laid as l on z, by one cell in every.
func (o Outline) overlap(z *Outline, l Laid, every int) float64 {
	both, seen := 0, 0
	s, c := math.Sincos(l.Turn)
	for i := 0; i < len(o.cells); i += every {
		m := o.cells[i]
		seen++
		if z.holds(geom.MM{X: c*m.X - s*m.Y + l.Shift.X, Y: s*m.X + c*m.Y + l.Shift.Y}) {
			both++
		}
	}
	n := float64(len(o.cells))
	return 2 * float64(both) / float64(seen) * n / (n + float64(len(z.cells)))
}

// CutCheck is one cut of a run by the outlines of its two faces. Doubtful: they agree less than faces a whole slab apart do.
type CutCheck struct {
	After     int     `json:"after"` // number of the slab before the cut
	Dice      float64 `json:"dice"`  // of the partners; NaN without both photographs
	Neighbour float64 `json:"neighbour"`
	Doubtful  bool    `json:"doubtful"`
}

// SwapDoubt names two slabs whose exchange would make partners agree better.
type SwapDoubt struct {
	Slabs [2]int  `json:"slabs"`
	Now   float64 `json:"now"`  // mean overlap of the cuts the exchange touches
	Then  float64 `json:"then"` // if they were exchanged
	cuts  int     // that both can be told of
}

// Words says it as a person at the run would.
func (d SwapDoubt) Words() string {
	return fmt.Sprintf("Slabs %d and %d look exchanged: partner faces overlap by %.3f as they lie and by %.3f if the two changed places.", d.Slabs[0], d.Slabs[1], d.Now, d.Then)
}

const (
	cutSlack  = 0.004 // of Dice: what drawing a border by hand makes of the same shape; measured on the practice lab
	swapSlack = 0.004
)

// CheckOrder compares the outlines of a run's faces: partners, a kerf apart, must agree at least as well as the two faces of
// a slab do, and better than they would with two slabs exchanged. Doubts come worst first. Faces without an outline say nothing.
func CheckOrder(run section.Run, outlines []Outline) (cuts []CutCheck, doubts []SwapDoubt) {
	t := newOverlaps(run, outlines)
	n := len(run.Slabs)
	for i := range n - 1 {
		c := CutCheck{After: run.Slabs[i].Number, Dice: t.cut(i, i+1), Neighbour: t.least(i, i+1)}
		c.Doubtful = c.Dice < c.Neighbour-cutSlack
		cuts = append(cuts, c)
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			now, k := t.sum(order, i, j)
			order[i], order[j] = j, i
			then, l := t.sum(order, i, j)
			order[i], order[j] = i, j
			if d := (SwapDoubt{[2]int{run.Slabs[i].Number, run.Slabs[j].Number}, now / float64(k), then / float64(l), min(k, l)}); k > 0 && l > 0 && d.Then-d.Now > swapSlack {
				doubts = append(doubts, d)
			}
		}
	}
	gain := func(d SwapDoubt) float64 { return (d.Then - d.Now) * float64(d.cuts) } // over all the cuts that would be mended
	slices.SortStableFunc(doubts, func(a, z SwapDoubt) int {
		if gain(a) > gain(z) {
			return -1
		}
		return 1
	})
	if len(doubts) > 0 { // the cuts beside the likeliest pair are the ones to look at
		for i := range cuts {
			for _, s := range doubts[0].Slabs {
				cuts[i].Doubtful = cuts[i].Doubtful || !math.IsNaN(cuts[i].Dice) && (run.Slabs[i].Number == s || run.Slabs[i+1].Number == s)
			}
		}
	}
	return cuts, doubts
}

// overlaps knows how far faces of a run agree, each pair looked at once.
type overlaps struct {
	near, far []*Outline // of each slab: the face towards slab 1, and the other
	known     map[[2]*Outline]float64
}

func newOverlaps(run section.Run, outlines []Outline) *overlaps {
	t := &overlaps{near: make([]*Outline, len(run.Slabs)), far: make([]*Outline, len(run.Slabs)), known: map[[2]*Outline]float64{}}
	for i := range outlines {
		o := &outlines[i]
		k := slices.IndexFunc(run.Slabs, func(s section.Slab) bool { return s.Number == o.Face.Slab })
		switch {
		case k < 0:
		case o.Face.Facing == run.First:
			t.near[k] = o
		default:
			t.far[k] = o
		}
	}
	return t
}

func (t *overlaps) of(a, z *Outline) float64 {
	if a == nil || z == nil {
		return math.NaN()
	}
	d, ok := t.known[[2]*Outline{a, z}]
	if !ok {
		d = a.On(*z).Dice
		t.known[[2]*Outline{a, z}] = d
	}
	return d
}

// cut is how far the partners agree if slab z followed slab a.
func (t *overlaps) cut(a, z int) float64 { return t.of(t.far[a], t.near[z]) }

// least is the lesser agreement of the two faces of slab a and of slab z, a whole slab apart.
func (t *overlaps) least(a, z int) float64 {
	x, y := t.of(t.near[a], t.far[a]), t.of(t.near[z], t.far[z])
	if math.IsNaN(x) || y < x {
		return y
	}
	return x
}

// sum adds up the cuts on both sides of places i and j in an order of slabs, and counts those that can be told.
func (t *overlaps) sum(order []int, i, j int) (sum float64, n int) {
	touched := []int{i - 1, i, j - 1, j} // cuts, by the place before each
	if j == i+1 {
		touched = []int{i - 1, i, j}
	}
	for _, k := range touched {
		if k < 0 || k+1 >= len(order) {
			continue
		}
		if d := t.cut(order[k], order[k+1]); !math.IsNaN(d) {
			sum, n = sum+d, n+1
		}
	}
	return sum, n
}

// Extent is how wide and high the outline is, mm; 0 without one.
func (o Outline) Extent() (w, h float64) {
	if o.wide == 0 {
		return 0, 0
	}
	return float64(o.wide-2) * outlineCell, float64(len(o.grid)/o.wide-2) * outlineCell
}

// Reach is half the larger extent.
func (o Outline) Reach() float64 {
	w, h := o.Extent()
	return math.Max(w, h) / 2
}
