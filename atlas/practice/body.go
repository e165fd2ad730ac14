package practice

import (
	"fmt"
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// part is one structure of the practice body. Later parts lie over earlier ones.
type part struct {
	name string
	term annotate.TermID // empty for stuff that nobody is asked to name
	side annotate.Side
	tissue
	shape shape
}

// body is the practice donor: an invented body in LPS mm, lower border of T12 at height 0, that stands for
// nobody. Left and right differ as they usually do.
type body struct {
	parts  []part
	spine  []vertebra
	trunk  *stack // the skin of head, neck and trunk
	bottom float64
	top    float64
}

func vertebraTerms(region string, n int) []string {
	ids := map[string][]int{
		"C": {1092, 1093, 4612, 4613, 4614, 4615, 4616},
		"T": {4626, 4627, 4628, 4629, 4630, 4631, 4632, 11050, 4633, 4634, 4635, 4636},
		"L": {4617, 4618, 4619, 4620, 4621},
	}[region][:n]
	out := make([]string, n)
	for i, id := range ids {
		out[i] = fmt.Sprintf("UBERON:%07d", id)
	}
	return out
}

// trunkRings is the outer form from the cut through the thighs to the crown.
var trunkRings = []ring{
	{-318, 0, 8, 96, 26}, {-300, 0, 4, 164, 84}, {-276, 0, 5, 176, 104}, {-240, 0, 6, 180, 110}, {-165, 0, 2, 164, 108}, {-80, 0, 0, 150, 103}, {0, 0, 0, 154, 106},
	{80, 0, 0, 162, 110}, {160, 0, 0, 170, 110}, {215, 0, -2, 176, 100}, {250, 0, -2, 138, 84}, {282, 0, -2, 78, 66},
	{318, 0, -4, 60, 62}, {352, 0, -8, 64, 72}, {392, 0, -16, 74, 94}, {440, 0, -14, 79, 100}, {490, 0, -10, 74, 92},
	{525, 0, -8, 50, 62}, {540, 0, -8, 16, 20},
}

func newBody() *body {
	b := &body{spine: spine(), trunk: newStack(2.25, trunkRings...), bottom: -360, top: 540}
	b.hull()
	b.chest()
	b.belly()
	b.pelvis()
	b.head()
	b.vessels()
	b.bones()
	return b
}

func (b *body) add(name, term string, side annotate.Side, t tissue, s shape) {
	b.parts = append(b.parts, part{name, annotate.TermID(term), side, t, s})
}

// fill adds what a structure holds: it belongs to the structure added before it and is outlined with it.
func (b *body) fill(name string, t tissue, s shape) {
	whole := b.parts[len(b.parts)-1]
	b.parts = append(b.parts, part{name, whole.term, whole.side, t, s})
}

// pair adds a structure and its mirror image; shape is called with the side, +1 for the donor's left.
func (b *body) pair(name, term string, t tissue, shape func(side float64) shape) {
	b.add("left "+name, term, annotate.Left, t, shape(1))
	b.add("right "+name, term, annotate.Right, t, shape(-1))
}

const (
	none    = annotate.NoSide
	midline = annotate.Midline
)

// hull lays skin, fat and the muscle of the body wall.
func (b *body) hull() {
	thigh := func(side float64) *stack {
		return newStack(2.1, ring{-360, side * 88, 4, 86, 88}, ring{-300, side * 86, 4, 88, 94}, ring{-270, side * 84, 4, 90, 100}, ring{-236, side * 82, 4, 84, 92})
	}
	skin := union{b.trunk, thigh(1), thigh(-1)}
	fat := union{b.trunk.shrunk(2.6, 2.6, 0), thigh(1).shrunk(2.6, 2.6, 0), thigh(-1).shrunk(2.6, 2.6, 0)}
	b.add("skin", "UBERON:0002097", none, skinStuff, skin)
	b.add("subcutaneous fat", "SECT:0001", none, fatStuff, fat)
	wall := newStack(2.3, wallRings...)
	b.add("outer muscle of the body wall", "", none, muscleStuff, wall)
	b.add("fat seam of the body wall", "", none, fatStuff, wall.shrunk(7, 6, 0).cut(-150, 236))
	b.add("inner muscle of the body wall", "", none, muscleStuff, wall.shrunk(8.6, 7.4, 0).cut(-150, 236))
	b.pair("pectoralis major muscle", "UBERON:0002381", muscleStuff, func(s float64) shape {
		return newStack(2.2, ring{112, s * 62, -84, 40, 5}, ring{150, s * 72, -80, 58, 10}, ring{196, s * 84, -66, 62, 14}, ring{226, s * 92, -46, 44, 12})
	})
	b.pair("latissimus dorsi muscle", "UBERON:0001112", muscleStuff, func(s float64) shape {
		return newStack(2.2, ring{-30, s * 86, 62, 26, 6}, ring{40, s * 108, 52, 24, 9}, ring{110, s * 126, 44, 18, 13}, ring{170, s * 138, 34, 14, 16}, ring{204, s * 140, 22, 8, 9})
	})
	b.pair("gluteus maximus muscle", "UBERON:0001370", muscleStuff, func(s float64) shape {
		return newStack(2.2, ring{-330, s * 88, 48, 66, 34}, ring{-260, s * 82, 58, 70, 38}, ring{-200, s * 80, 62, 60, 26}, ring{-165, s * 70, 64, 34, 10})
	})
	b.add("thigh muscle", "", none, muscleStuff, union{thigh(1).shrunk(17, 16, 0), thigh(-1).shrunk(17, 16, 0)})
	b.pair("erector spinae muscle", "UBERON:0002462", muscleStuff, func(s float64) shape {
		return newStack(2.3, ring{-200, s * 26, 90, 18, 8}, ring{-150, s * 36, 76, 30, 18}, ring{-60, s * 38, 70, 32, 20},
			ring{20, s * 36, 82, 30, 17}, ring{110, s * 32, 88, 27, 13}, ring{210, s * 26, 72, 22, 11}, ring{290, s * 22, 38, 18, 14}, ring{345, s * 22, 36, 17, 14})
	})
}

// wallRings is the outer border of muscle beneath the fat, wallInner the inner one: the cavities.
var wallRings = []ring{
	{-312, 0, 8, 60, 20}, {-296, 0, 6, 132, 66}, {-276, 0, 6, 148, 80}, {-240, 0, 6, 152, 86}, {-165, 0, 4, 138, 84}, {-80, 0, 2, 128, 82}, {0, 0, 2, 134, 88},
	{80, 0, 2, 144, 94}, {160, 0, 2, 152, 94}, {215, 0, 0, 156, 84}, {250, 0, 0, 118, 68}, {282, 0, 0, 66, 55}, {318, 0, -2, 50, 52}, {345, 0, -4, 50, 52},
}

var (
	chestRings = []ring{{20, 0, -6, 122, 78}, {80, 0, -6, 124, 80}, {130, 0, -6, 120, 80}, {180, 0, -4, 106, 72}, {220, 0, 2, 78, 56}, {250, 0, 8, 48, 36}, {264, 0, 12, 16, 14}}
	bellyRings = []ring{{-304, 0, -8, 12, 10}, {-290, 0, -5, 56, 50}, {-240, 0, -6, 92, 62}, {-165, 0, -12, 118, 66}, {-80, 0, -12, 114, 66}, {0, 0, -8, 120, 72}, {70, 0, -6, 122, 78}, {112, 0, -6, 110, 72}, {132, 0, -6, 60, 40}}
)

func (b *body) chest() {
	cage := newStack(2.2, chestRings...)
	belly := newStack(2.2, bellyRings...)
	b.add("fat of the belly", "", none, deepFatStuff, belly)
	b.add("fat of the mediastinum", "", none, deepFatStuff, cage.cut(60, 264))
	mediastinum := newStack(2.2, ring{40, 8, -10, 44, 62}, ring{120, 12, -12, 50, 62}, ring{170, 4, -8, 34, 54}, ring{220, 0, 4, 26, 42}, ring{262, 0, 10, 20, 30})
	lung := cage.shrunk(4, 4, 0)
	b.pair("lung", "UBERON:0002048", lungStuff, func(s float64) shape {
		lower := newStack(2.3, ring{36, s * 60, 40, 70, 34}, ring{80, s * 62, 4, 74, 84}, ring{260, s * 40, 4, 66, 84})
		return less{halfSpace{within{lung, lower}, s, 6}, mediastinum}
	})
	// The heart leans to the left; its chambers hold contrast.
	heart := ball{geom.LPS{X: 16, Y: -34, Z: 128}, geom.Vec{X: 58, Y: 40, Z: 50}, -0.45}
	b.add("heart", "UBERON:0000948", none, heartStuff, heart)
	b.add("left ventricle", "UBERON:0002084", none, bloodStuff, ball{geom.LPS{X: 40, Y: -36, Z: 116}, geom.Vec{X: 24, Y: 15, Z: 28}, -0.5})
	b.add("right ventricle", "UBERON:0002080", none, bloodStuff, ball{geom.LPS{X: 4, Y: -58, Z: 118}, geom.Vec{X: 30, Y: 12, Z: 30}, -0.35})
	b.add("left atrium", "UBERON:0002079", none, bloodStuff, ball{geom.LPS{X: 12, Y: -4, Z: 146}, geom.Vec{X: 28, Y: 15, Z: 18}, 0.1})
	b.add("right atrium", "UBERON:0002078", none, bloodStuff, ball{geom.LPS{X: -30, Y: -28, Z: 134}, geom.Vec{X: 15, Y: 20, Z: 26}, 0.2})
	b.add("oesophagus", "UBERON:0001043", midline, gutStuff, oesophagus)
	b.fill("lumen of the oesophagus", airStuff, oesophagus.thinner(5))
	b.add("trachea", "UBERON:0003126", midline, cartilageStuff, windpipe)
	b.fill("lumen of the trachea", airStuff, windpipe.thinner(2.2))
}

var (
	oesophagus = chain{{0, 2, 300, 7}, {2, 8, 260, 7}, {2, 18, 200, 7.5}, {4, 26, 140, 7.5}, {10, 24, 90, 8}, {26, 8, 62, 8.5}}
	windpipe   = chain{{0, -16, 300, 9.5}, {0, -6, 250, 9.5}, {-2, 6, 192, 10}, {-2, 8, 182, 10}}
)

func (b *body) belly() {
	b.add("liver", "UBERON:0002107", none, liverStuff, union{
		newStack(2.2, ring{-66, -92, 8, 22, 30}, ring{-30, -84, 0, 38, 52}, ring{10, -72, -6, 50, 64}, ring{60, -62, -6, 60, 68}, ring{95, -58, -6, 52, 58}, ring{114, -56, -6, 26, 30}),
		ball{geom.LPS{X: 4, Y: -48, Z: 66}, geom.Vec{X: 62, Y: 26, Z: 34}, 0.12},
	})
	b.add("gallbladder", "UBERON:0002110", none, bileStuff, ball{geom.LPS{X: -46, Y: -50, Z: -4}, geom.Vec{X: 15, Y: 17, Z: 24}, 0.3})
	b.add("spleen", "UBERON:0002106", none, spleenStuff, ball{geom.LPS{X: 92, Y: 36, Z: 44}, geom.Vec{X: 24, Y: 44, Z: 46}, -0.5})
	stomach := chain{{26, 8, 62, 13}, {52, -6, 74, 33}, {64, -22, 46, 34}, {58, -40, 8, 29}, {34, -52, -24, 22}, {2, -50, -30, 17}, {-18, -42, -22, 12}}
	b.add("stomach", "UBERON:0000945", none, gutStuff, stomach)
	b.fill("stomach content", contentStuff, stomach.thinner(5))
	b.fill("stomach gas", airStuff, within{stomach.thinner(6), newStack(8, ring{-60, 40, -70, 90, 34}, ring{120, 40, -70, 90, 34})})
	b.add("pancreas", "UBERON:0001264", none, glandStuff, chain{{-34, -14, -44, 14}, {-20, -18, -30, 13}, {6, -20, -16, 10}, {36, -6, -6, 10}, {66, 14, 8, 9}, {78, 24, 18, 6}})
	b.kidneys()
	b.bowel()
	b.pair("psoas major muscle", "UBERON:0001298", muscleStuff, func(s float64) shape {
		return newStack(2, ring{-285, s * 62, -24, 15, 15}, ring{-220, s * 60, -4, 21, 22}, ring{-150, s * 48, 30, 24, 26}, ring{-80, s * 40, 34, 19, 21}, ring{-20, s * 32, 44, 11, 12}, ring{4, s * 26, 48, 4, 5})
	})
	b.pair("rectus abdominis muscle", "UBERON:0002382", muscleStuff, func(s float64) shape {
		return newStack(3, ring{-270, s * 18, -74, 12, 6}, ring{-165, s * 32, -79, 26, 6.5}, ring{-60, s * 36, -79, 30, 6.5}, ring{40, s * 40, -84, 32, 6})
	})
}

func (b *body) kidneys() {
	for _, s := range []float64{1, -1} {
		z := -28.0
		if s < 0 {
			z = -46 // the right kidney lies lower, beneath the liver
		}
		k := ball{geom.LPS{X: s * 66, Y: 40, Z: z}, geom.Vec{X: 29, Y: 24, Z: 54}, s * 0.6}
		hilum := ball{geom.LPS{X: s * 40, Y: 22, Z: z}, geom.Vec{X: 18, Y: 14, Z: 15}, s * 0.6}
		b.add(sideOf(s).String()+" kidney", "UBERON:0002113", sideOf(s), kidneyStuff, less{k, hilum})
		for n := -1.0; n <= 1; n++ {
			b.fill("pyramid of the kidney", kidneyCore, ball{geom.LPS{X: s * 66, Y: 40, Z: z + 26*n}, geom.Vec{X: 14, Y: 11, Z: 10}, s * 0.6})
		}
	}
}

func (b *body) bowel() {
	tube := func(name, term string, c chain, gas bool) {
		b.add(name, term, none, gutStuff, c)
		inner := contentStuff
		if gas {
			inner = airStuff
		}
		b.fill(name+" content", inner, c.thinner(3.4))
	}
	b.add("small intestine", "UBERON:0002108", none, gutStuff, loops(0))
	b.fill("small intestine content", contentStuff, loops(3))
	tube("ascending colon", "UBERON:0001156", chain{{-84, -8, -196, 20}, {-92, 4, -150, 21}, {-94, 10, -104, 20}, {-82, -8, -76, 19}}, false)
	tube("transverse colon", "UBERON:0001157", chain{{-82, -20, -78, 18}, {-50, -52, -92, 18}, {0, -58, -104, 18}, {46, -54, -84, 18}, {84, -14, -28, 16}}, true)
	tube("descending colon", "UBERON:0001158", chain{{88, 4, -30, 15}, {96, 24, -80, 15}, {96, 20, -140, 14}, {84, 4, -196, 14}}, false)
	tube("sigmoid colon", "UBERON:0001159", chain{{84, 4, -196, 14}, {58, -14, -224, 14}, {22, 6, -222, 14}, {6, 34, -222, 15}}, false)
	tube("rectum", "UBERON:0001052", chain{{6, 38, -222, 16}, {0, 50, -250, 18}, {0, 44, -286, 15}, {0, 48, -310, 9}}, false)
}

// loops lays the small intestine as rows of bends in front of the spine.
func loops(thinner float64) shape {
	var u union
	for row := range 5 {
		z := -104 - 27*float64(row)
		var c chain
		for k := range 7 {
			x := -62 + 21*float64(k)
			wave := 15 * math.Sin(float64(k)*2.2+float64(row)*1.3)
			c = append(c, node{x, -40 + wave, z + 7*math.Cos(float64(k)*1.7+float64(row)), 12.5 - thinner})
		}
		u = append(u, c)
	}
	return u
}

func (b *body) pelvis() {
	b.add("urinary bladder", "UBERON:0001255", midline, gutStuff, ball{geom.LPS{Y: -34, Z: -262}, geom.Vec{X: 44, Y: 32, Z: 30}, 0})
	b.fill("urine", urineStuff, ball{geom.LPS{Y: -34, Z: -262}, geom.Vec{X: 40, Y: 28, Z: 26}, 0})
	b.pair("iliacus muscle", "UBERON:0001369", muscleStuff, func(s float64) shape {
		return newStack(2, ring{-280, s * 74, -28, 17, 14}, ring{-220, s * 86, -2, 24, 24}, ring{-165, s * 100, 16, 14, 26})
	})
}
