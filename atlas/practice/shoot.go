package practice

import (
	"fmt"
	"image"
	"math"
	"sort"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// shot is one face on the table, ready for the camera.
type shot struct {
	c      *cutRun
	face   section.Face
	pose   geom.Pose
	scene  *scene
	plate  prop
	tag    prop
	number int
}

const fieldStep = 0.4 // mm between the cells a face is read on

// lay puts a face on the tray beside its scale plate and tag.
func lay(b *body, pieces []piece, c *cutRun, f section.Face, donor string, number int, n noise) *shot {
	own := n + noise(1000+17*number)
	s := &shot{c: c, face: f, pose: c.poses[f], number: number}
	w, h := c.size.X+40, c.size.Y+90
	fld := newField(w, c.size.Y+40, fieldStep)
	paint(fld, pieces, s.pose, c.from, c.to)
	s.scene = &scene{b: b, f: fld, n: own, saw: 0.12 * own.bell(4, 4, 4),
		sag: sag{0.006 + 0.003*own.bell(5, 5, 5), -0.003 + 0.002*own.bell(6, 6, 6)}}
	s.scene.stand = newStand(w, h, geom.MM{Y: 30}, own)
	below := c.size.Y/2 + 43
	s.plate = prop{c: geom.MM{X: -w/2 + 74, Y: below}, w: plateW, h: plateH, turn: 0.02 * own.bell(7, 7, 7), texture: plateTexture()}
	where := fmt.Sprintf("%s %d / %s", c.run.Part, f.Slab, f.Facing)
	s.tag = prop{c: geom.MM{X: w/2 - 54, Y: below}, w: tagW, h: tagH, turn: 0.03 * own.bell(8, 8, 8), texture: tagTexture(donor, where)}
	s.scene.props = []prop{s.plate, s.tag}
	return s
}

// orientation is the EXIF value the camera wrote: it was turned in the hand for some pictures.
func (s *shot) orientation() int { return [...]int{1, 1, 6, 1, 3, 1, 8}[s.number%7] }

// taken is when the shutter went, one face every 40 s in the order of cutting.
func (s *shot) taken() time.Time {
	return time.Date(2026, 1, 12, 9, 0, 0, 0, time.UTC).Add(time.Duration(s.number) * 40 * time.Second)
}

// stored turns the upright picture into the one a camera would store with that EXIF value.
func stored(upright *image.RGBA, orientation int) *image.RGBA {
	w, h := upright.Rect.Dx(), upright.Rect.Dy()
	size, at := image.Pt(w, h), func(x, y int) (int, int) { return x, y }
	switch orientation {
	case 3:
		at = func(x, y int) (int, int) { return w - 1 - x, h - 1 - y }
	case 6: // turned 90 degrees clockwise when shown
		size, at = image.Pt(h, w), func(x, y int) (int, int) { return w - 1 - y, x }
	case 8: // turned 270 degrees clockwise when shown
		size, at = image.Pt(h, w), func(x, y int) (int, int) { return y, h - 1 - x }
	}
	out := image.NewRGBA(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			out.SetRGBA(x, y, upright.RGBAAt(at(x, y)))
		}
	}
	return out
}

// px is where a true face point stands in the upright photograph.
func (s *shot) px(m geom.MM) geom.Px { return s.scene.stand.px(s.scene.sag.out(m)) }

// truth tells all that is so about the picture.
func (s *shot) truth(terms map[annotate.TermID]string) (TruthFace, error) {
	depth, _, err := s.c.run.Depth(s.face)
	if err != nil {
		return TruthFace{}, err
	}
	n := s.scene.n
	t := TruthFace{Face: s.face, Orientation: s.orientation(), PhotoUp: s.c.photoUp(s.face), Depth: depth,
		Level: register.Along(s.c.run.Plane, s.pose.Origin), Sag: [2]float64{s.scene.sag.across, s.scene.sag.down}}
	// Face mm as the plate gives them: its upper left mark is (0, 0).
	spin := rotation(geom.Vec{Z: 1}, s.plate.turn)
	right, down := spin.of(geom.Vec{X: 1}), spin.of(geom.Vec{Y: 1})
	corner := s.plate.cornerPoints()
	toPlate := geom.Homography{right.X, right.Y, -(right.X*corner[0].X + right.Y*corner[0].Y),
		down.X, down.Y, -(down.X*corner[0].X + down.Y*corner[0].Y), 0, 0, 1}
	t.PxToMM = toPlate.Times(s.scene.stand.toMM)
	t.Pose = geom.Pose{Origin: s.pose.At(corner[0]), Scale: 1,
		X: s.pose.X.Mul(right.X).Add(s.pose.Y.Mul(right.Y)), Y: s.pose.X.Mul(down.X).Add(s.pose.Y.Mul(down.Y))}
	for i, m := range corner {
		t.Corners[i] = s.scene.stand.px(m)
	}
	for _, c := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		t.Tag.Outer = append(t.Tag.Outer, s.scene.stand.px(s.tag.point(c[0]*(tagW/2+1.5), c[1]*(tagH/2+1.5))))
	}
	regions := s.scene.b.regions(s.scene.f)
	t.border = edge(s.scene.f).polygons(s.px, 100)
	t.Ties = s.ties(regions, terms, n)
	for i, r := range regions {
		polys := r.polygons(s.px, 12)
		if len(polys) == 0 {
			continue
		}
		t.Structures = append(t.Structures, TruthStructure{r.term, terms[r.term], r.side, math.Round(10*r.area()) / 10})
		t.labels = append(t.labels, annotate.Label{ID: fmt.Sprintf("%s-%d-%s-%d", s.face.Run, s.face.Slab, s.face.Facing, i), Term: r.term,
			Side: r.side, Sure: annotate.Certain, Regions: polys, Author: "practice", Changed: s.taken().Add(48 * time.Hour)})
	}
	return t, nil
}

// area of a region in mm2, holes taken off.
func (r region) area() float64 {
	var a float64
	for _, ring := range r.rings {
		a += ringAreaMM(ring)
	}
	return a
}

func asPx(ring []geom.MM) []geom.Px {
	px := make([]geom.Px, len(ring))
	for i, m := range ring {
		px[i] = geom.Px(m)
	}
	return px
}

func ringAreaMM(ring []geom.MM) float64 { return ringArea(asPx(ring)) }

const (
	tieCount = 8
	skin     = "UBERON:0002097"
)

// ties picks landmarks well apart: middles of structures and the outermost points of the skin. The scan side
// holds the half millimetre of a careful hand.
func (s *shot) ties(regions []region, terms map[annotate.TermID]string, n noise) []TruthTie {
	type mark struct {
		name string
		at   geom.MM
	}
	var marks []mark
	whole := 0.0 // the skin round the whole body; smaller rings are folds of it
	for _, r := range regions {
		for _, ring := range r.rings {
			if r.term == skin {
				whole = max(whole, ringAreaMM(ring))
			}
		}
	}
	for _, r := range regions {
		for _, ring := range r.rings {
			p := annotate.Polygon{Outer: asPx(ring)}
			a := ringAreaMM(ring)
			name := terms[r.term]
			if r.term == skin {
				if a > 0 {
					for k, q := range outermost(ring) {
						out := [...]geom.Vec{s.pose.X.Neg(), s.pose.X, s.pose.Y.Neg(), s.pose.Y}[k]
						name := sideWords(out) + " edge of the skin"
						if a < whole {
							name = "edge of a fold of the skin"
						}
						marks = append(marks, mark{name, q})
					}
				}
				continue
			}
			if c := p.Centroid(); a > 25 && a < 2500 && p.Contains(c) {
				if r.side == annotate.Left || r.side == annotate.Right {
					name = r.side.String() + " " + name
				}
				marks = append(marks, mark{"middle of the " + name, geom.MM(c)})
			}
		}
	}
	var out []TruthTie
	used := make([]geom.MM, 0, tieCount)
	for len(out) < tieCount && len(marks) > 0 {
		sort.SliceStable(marks, func(i, j int) bool { return apart(marks[i].at, used) > apart(marks[j].at, used) })
		m := marks[0]
		marks = marks[1:]
		used = append(used, m.at)
		k := int64(len(out))
		pick := geom.Vec{X: 0.5 * n.bell(k, 1, 90), Y: 0.5 * n.bell(k, 2, 90), Z: 0.5 * n.bell(k, 3, 90)}
		out = append(out, TruthTie{m.name, s.px(m.at), s.pose.At(m.at).Add(pick)})
	}
	return out
}

// apart is how far p lies from the nearest of used, from the middle of the face when none is.
func apart(p geom.MM, used []geom.MM) float64 {
	d := math.Hypot(p.X, p.Y)
	for i, q := range used {
		if i == 0 || p.Dist(q) < d {
			d = p.Dist(q)
		}
	}
	return d
}

// sideWords is the side of the body that a direction points to most, whichever way the picture shows it.
func sideWords(v geom.Vec) string {
	x, y, z := math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)
	switch {
	case x >= y && x >= z:
		return [...]string{"right", "left"}[sign(v.X)]
	case y >= z:
		return [...]string{"front", "back"}[sign(v.Y)]
	}
	return [...]string{"lower", "upper"}[sign(v.Z)]
}

// sign is 1 for what points to the left, the back or the head (LPS), else 0.
func sign(x float64) int {
	if x > 0 {
		return 1
	}
	return 0
}

// outermost returns the points of a ring that lie farthest left, right, up and down in the picture.
func outermost(ring []geom.MM) [4]geom.MM {
	out := [4]geom.MM{ring[0], ring[0], ring[0], ring[0]}
	for _, p := range ring {
		if p.X < out[0].X {
			out[0] = p
		}
		if p.X > out[1].X {
			out[1] = p
		}
		if p.Y < out[2].Y {
			out[2] = p
		}
		if p.Y > out[3].Y {
			out[3] = p
		}
	}
	return out
}
