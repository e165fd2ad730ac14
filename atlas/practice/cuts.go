package practice

import (
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// cutRun is one body part of the practice donor sawn in one plane, with the true place of every face.
type cutRun struct {
	run   section.Run
	start geom.LPS // where the axis of the run meets the first face
	poses map[section.Face]geom.Pose
	size  geom.MM // of a face, across and down with photo-up at the top, mm
	up    section.Facing
	slabs int
	from  float64 // the body part reaches from this height to the next, LPS mm
	to    float64
	lost  map[section.Face]bool // faces without a photograph, as happens
}

// The three runs: enough faces in every plane to show each convention, cut as a lab would from a table.
func cutRuns(n noise) []cutRun {
	runs := []cutRun{
		{run: section.Run{ID: "trunk", Part: "trunk", Plane: section.Transverse, First: section.Superior}, start: geom.LPS{Z: 196}, size: geom.MM{X: 372, Y: 232}, up: section.Anterior, slabs: 12, from: -400, to: 600},
		{run: section.Run{ID: "head-neck", Part: "head and neck", Plane: section.Frontal, First: section.Anterior}, start: geom.LPS{Y: -62, Z: 404}, size: geom.MM{X: 206, Y: 284}, up: section.Superior, slabs: 4, from: 268, to: 600},
		{run: section.Run{ID: "pelvis", Part: "pelvis", Plane: section.Sagittal, First: section.Right}, start: geom.LPS{X: -51.2, Y: 4, Z: -252}, size: geom.MM{X: 236, Y: 216}, up: section.Superior, slabs: 4, from: -350, to: -152},
	}
	for i := range runs {
		runs[i].saw(n + noise(100*i))
	}
	runs[0].lost = map[section.Face]bool{{Run: "trunk", Slab: 12, Facing: section.Inferior}: true}
	runs[1].lost = map[section.Face]bool{{Run: "head-neck", Slab: 1, Facing: section.Anterior}: true, {Run: "head-neck", Slab: 4, Facing: section.Posterior}: true}
	runs[2].lost = map[section.Face]bool{{Run: "pelvis", Slab: 1, Facing: section.Right}: true, {Run: "pelvis", Slab: 4, Facing: section.Left}: true}
	return runs
}

const (
	slabMM = 25.0
	kerfMM = 1.2
	degree = math.Pi / 180
)

// saw places the cuts: all lean the same way as the fence does, each wanders a little.
func (c *cutRun) saw(n noise) {
	c.poses = map[section.Face]geom.Pose{}
	axis := c.run.First.Opposite().Axis()
	e1, e2 := crossAxes(c.run.Plane)
	lean1, lean2 := 2.2*degree*n.bell(1, 0, 0)*0.6+0.9*degree, 1.8*degree*n.bell(2, 0, 0)*0.6-0.7*degree
	depth := 0.0
	for k := range c.slabs {
		thick := math.Round(10*(slabMM+0.35*n.bell(int64(k), 3, 0))) / 10
		c.run.Slabs = append(c.run.Slabs, section.Slab{Number: k + 1, Thickness: [3]float64{thick}, Kerf: kerfMM})
		for side, d := range []float64{depth, depth + thick} {
			facing := c.run.First
			cut := int64(k) // faces of one cut share its lean: the far face of this slab and the near one of the next
			if side == 1 {
				facing, cut = facing.Opposite(), cut+1
			}
			f := section.Face{Run: c.run.ID, Slab: k + 1, Facing: facing}
			square, _ := section.SquarePose(facing, c.photoUp(f), c.start.Add(axis.Mul(d)))
			turn := rotation(e1, lean1+0.25*degree*n.bell(cut, 4, 0)).then(rotation(e2, lean2+0.25*degree*n.bell(cut, 5, 0)))
			square.X, square.Y = turn.of(square.X), turn.of(square.Y)
			c.poses[f] = square
		}
		depth += thick + kerfMM
	}
	c.run.Slabs[c.slabs-1].Kerf = 0
	c.run.Length = math.Round(depth - kerfMM + 0.8*n.bell(9, 9, 9))
}

// photoUp is what lies at the top of a photograph; now and then a slab is laid down the other way round.
func (c *cutRun) photoUp(f section.Face) section.Facing {
	if f.Slab%5 == 3 && f.Facing == c.run.First {
		return c.up.Opposite()
	}
	return c.up
}

func crossAxes(p section.Plane) (a, b geom.Vec) {
	switch p {
	case section.Transverse:
		return geom.Vec{X: 1}, geom.Vec{Y: 1}
	case section.Frontal:
		return geom.Vec{X: 1}, geom.Vec{Z: 1}
	}
	return geom.Vec{Y: 1}, geom.Vec{Z: 1}
}

// spin turns vectors about an axis by an angle in radians (Rodrigues' formula).
type spin struct {
	axis geom.Vec
	s, c float64
	next *spin
}

func rotation(axis geom.Vec, angle float64) spin {
	s, c := math.Sincos(angle)
	return spin{axis: axis, s: s, c: c}
}

func (r spin) then(q spin) spin { r.next = &q; return r }

func (r spin) of(v geom.Vec) geom.Vec {
	v = v.Mul(r.c).Add(r.axis.Cross(v).Mul(r.s)).Add(r.axis.Mul(r.axis.Dot(v) * (1 - r.c)))
	if r.next != nil {
		return r.next.of(v)
	}
	return v
}
