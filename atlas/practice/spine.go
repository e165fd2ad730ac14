package practice

import (
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// vertebra is one level of the practice spine. Z is the height of the middle of its body in mm, Y the
// middle of the body front to back.
type vertebra struct {
	name         string
	term         string
	z, y, height float64
	rx, ry       float64 // half width and depth of the body
}

// Body heights in mm, T1 to T12 and C3 to C7 as recalled from Panjabi 1991, L1 to L5 from Panjabi 1992
// (posterior heights); disc heights rounded from Bach 2019 and Fletcher 2016. Proportions only: this is
// nobody's spine.
var (
	cervicalHeights = []float64{16, 20, 11.6, 11.4, 11.4, 10.9, 12.8}
	thoracicHeights = []float64{14.1, 15.6, 15.7, 16.2, 16.2, 17.4, 18.2, 18.7, 19.3, 20.2, 21.3, 22.7}
	lumbarHeights   = []float64{23.8, 24.3, 23.8, 24.1, 22.9}
)

// spineY is how far the vertebral bodies lie behind the middle of the body, by height.
var spineY = newStack(2,
	ring{-300, 0, 62, 9, 9}, ring{-265, 0, 76, 16, 12}, ring{-215, 0, 78, 30, 16}, ring{-165, 0, 44, 25, 17},
	ring{-80, 0, 30, 24, 17}, ring{0, 0, 44, 22, 16}, ring{100, 0, 55, 16, 14}, ring{180, 0, 52, 14, 12},
	ring{260, 0, 30, 14, 10}, ring{300, 0, 16, 12, 9}, ring{340, 0, 10, 11, 8}, ring{395, 0, 10, 11, 8})

// spine lists the vertebrae from C1 down to L5. The lower border of T12 lies at height 0.
func spine() []vertebra {
	var out []vertebra
	add := func(region string, heights []float64, terms []string, top, disc float64) float64 {
		for i, h := range heights {
			z := top - h/2
			at := spineY.at(z)
			out = append(out, vertebra{fmt.Sprintf("%s%d", region, i+1), terms[i], z, at.Y, h, at.RX, at.RY})
			top -= h + disc
		}
		return top
	}
	const cervicalDisc, thoracicDisc, lumbarDisc = 4.1, 4.2, 8.4
	thoracic := -thoracicDisc
	for _, h := range thoracicHeights {
		thoracic += h + thoracicDisc
	}
	cervical := thoracic
	for _, h := range cervicalHeights {
		cervical += h + cervicalDisc
	}
	add("C", cervicalHeights, vertebraTerms("C", 7), cervical, cervicalDisc)
	add("T", thoracicHeights, vertebraTerms("T", 12), thoracic, thoracicDisc)
	add("L", lumbarHeights, vertebraTerms("L", 5), -lumbarDisc/2, lumbarDisc)
	return out
}

// body is the drum of one vertebra, arch its ring and processes.
func (v vertebra) body() shape {
	z := [3]float64{v.z - v.height/2, v.z, v.z + v.height/2}
	return newStack(2.4, ring{z[0], 0, v.y, v.rx, v.ry}, ring{z[1], 0, v.y, v.rx * 0.9, v.ry * 0.92}, ring{z[2], 0, v.y, v.rx, v.ry})
}

func (v vertebra) canalY() float64 { return v.y + v.ry + 8 }

func (v vertebra) arch() shape {
	c := v.canalY()
	reach, tip := v.rx+20, v.ry*0.9+16
	thick := math.Min(5, v.height*0.26)
	lateral := chain{{-reach, c + 4, v.z, thick * 0.8}, {-v.rx * 0.7, c - 4, v.z, thick}, {-8, c + 11, v.z - 3, thick},
		{0, c + 12, v.z - 5, thick}, {8, c + 11, v.z - 3, thick}, {v.rx * 0.7, c - 4, v.z, thick}, {reach, c + 4, v.z, thick * 0.8}}
	spinous := chain{{0, c + 11, v.z - 4, thick * 0.8}, {0, c + tip, v.z - v.height*0.45, thick * 0.9}}
	return union{lateral, spinous}
}

// discs fill the gaps between neighbouring bodies.
func discs(vs []vertebra) shape {
	var u union
	for i := range vs[1:] {
		a, b := vs[i], vs[i+1]
		lo, hi := b.z+b.height/2, a.z-a.height/2
		if a.name == "C1" {
			continue
		}
		y := (a.y + b.y) / 2
		u = append(u, newStack(2.4, ring{lo - 0.5, 0, y, b.rx * 0.97, b.ry * 0.97}, ring{hi + 0.5, 0, y, a.rx * 0.97, a.ry * 0.97}))
	}
	return u
}

// canal follows the back of the bodies; inset makes the cord inside it.
func canal(vs []vertebra, rx, ry float64, bottom float64) shape {
	var rings []ring
	for i := len(vs) - 1; i >= 0; i-- {
		if v := vs[i]; v.z > bottom {
			rings = append(rings, ring{v.z, 0, v.canalY(), rx, ry})
		}
	}
	rings = append([]ring{{bottom, 0, rings[0].Y + 4, rx * 0.7, ry * 0.7}}, rings...)
	rings = append(rings, ring{vs[0].z + 22, 0, vs[0].canalY() - 4, rx, ry})
	return newStack(2, rings...)
}

// ribs hang from T1 to T12 and run round the wall of the chest.
func ribs(vs []vertebra, wall *stack, side float64) shape {
	var u union
	n := 0
	for _, v := range vs {
		if v.name[0] != 'T' {
			continue
		}
		n++
		reach := math.Pi * 0.86 // how far round toward the front; the last two float
		if n > 10 {
			reach = math.Pi * (0.75 - 0.17*float64(n-10))
		}
		drop := 12 + 6.5*float64(min(n, 9))
		var c chain
		const steps = 16
		for k := 0; k <= steps; k++ {
			a := reach * float64(k) / steps
			z := v.z + 4 - drop*(1-math.Cos(a))/2
			w := wall.at(z)
			x := w.RX * math.Sin(a)
			y := w.Y + w.RY*math.Cos(a)
			if k == 0 {
				x, y = v.rx*0.9, v.y+v.ry*0.8
			}
			c = append(c, node{side * x, y, z, 5.2})
		}
		u = append(u, c)
	}
	return u
}

// levels gives the middle of each vertebral body in the patient.
func levels(vs []vertebra) map[string]geom.LPS {
	out := map[string]geom.LPS{}
	for _, v := range vs {
		out[v.name] = geom.LPS{Y: v.y, Z: v.z}
	}
	return out
}
