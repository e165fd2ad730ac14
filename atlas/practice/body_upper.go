package practice

import (
	"sectionary/slices/geom"
)

func (b *body) head() {
	skull := newStack(2.2, ring{384, 0, 0, 52, 60}, ring{402, 0, -8, 63, 80}, ring{440, 0, -12, 69, 90}, ring{485, 0, -9, 65, 83}, ring{518, 0, -8, 44, 56}, ring{532, 0, -8, 10, 14})
	face := newStack(2.2, ring{356, 0, -62, 22, 24}, ring{366, 0, -60, 36, 36}, ring{388, 0, -60, 46, 42}, ring{410, 0, -66, 40, 34}, ring{420, 0, -70, 26, 24})
	b.add("muscles of face and neck", "", none, muscleStuff, newStack(2.2, ring{300, 0, -2, 56, 54}, ring{340, 0, -10, 56, 64}, ring{372, 0, -18, 63, 82}, ring{395, 0, -18, 66, 86}))
	b.add("facial skeleton", "", none, softBoneStuff, face)
	b.add("nasal cavity", "UBERON:0001707", midline, airStuff, newStack(2.4, ring{378, 0, -74, 12, 26}, ring{400, 0, -72, 13, 26}, ring{412, 0, -66, 8, 16}))
	b.add("air of the maxillary sinuses", "", none, airStuff, union{
		ball{geom.LPS{X: 28, Y: -76, Z: 388}, geom.Vec{X: 11, Y: 15, Z: 13}, 0}, ball{geom.LPS{X: -28, Y: -76, Z: 388}, geom.Vec{X: 11, Y: 15, Z: 13}, 0}})
	for _, s := range []float64{1, -1} {
		eye := ball{geom.LPS{X: s * 31, Y: -86, Z: 416}, geom.Vec{X: 12, Y: 12, Z: 12}, 0}
		b.add("fat of the orbit", "", none, deepFatStuff, chain{{s * 31, -86, 416, 17}, {s * 20, -56, 414, 9}})
		b.add(sideOf(s).String()+" eyeball", "UBERON:0010230", sideOf(s), skinStuff, eye)
		b.fill("vitreous body", fluidStuff, ball{eye.c, geom.Vec{X: 10.6, Y: 10.6, Z: 10.6}, 0})
	}
	b.add("mandible", "UBERON:0001684", none, hardBoneStuff, chain{{46, -12, 384, 5}, {46, -22, 350, 6}, {38, -54, 336, 7}, {18, -84, 332, 7.5}, {0, -91, 332, 8}, {-18, -84, 332, 7.5}, {-38, -54, 336, 7}, {-46, -22, 350, 6}, {-46, -12, 384, 5}})
	b.add("tongue", "UBERON:0001723", midline, muscleStuff, ball{geom.LPS{Y: -52, Z: 352}, geom.Vec{X: 24, Y: 34, Z: 17}, 0})
	b.add("pharynx", "UBERON:0001042", midline, airStuff, chain{{0, -20, 384, 8}, {0, -18, 350, 7}, {0, -14, 322, 7}})
	b.pair("sternocleidomastoid muscle", "UBERON:0001128", muscleStuff, func(s float64) shape {
		return chain{{s * 58, 8, 378, 11}, {s * 50, -10, 332, 12}, {s * 34, -36, 286, 10}, {s * 18, -50, 254, 7}}
	})
	b.add("thyroid gland", "UBERON:0002046", midline, glandStuff, union{
		chain{{16, -26, 302, 6}, {17, -24, 286, 9}, {13, -24, 268, 6}}, chain{{-16, -26, 302, 6}, {-17, -24, 286, 9}, {-13, -24, 268, 6}}, chain{{-10, -32, 280, 4}, {10, -32, 280, 4}}})
	b.add("skull", "UBERON:0003129", none, hardBoneStuff, skull)
	brain := skull.shrunk(6, 6, 0)
	b.add("fluid round the brain", "", none, fluidStuff, brain.cut(398, 530))
	hemisphere := skull.shrunk(8.5, 8.5, 0)
	b.pair("cerebral hemisphere", "UBERON:0001869", greyBrain, func(s float64) shape { return halfSpace{folded{hemisphere.cut(402, 528), 2.2, 5.2}, s, 1.2} })
	white := folded{skull.shrunk(20, 21, 0).cut(418, 513), 5.5, 5.2}
	b.add("white matter of the brain", "", none, whiteBrain, union{
		halfSpace{white, 1, 5}, halfSpace{white, -1, 5}})
	b.pair("lateral ventricle", "UBERON:0002285", fluidStuff, func(s float64) shape {
		return chain{{s * 9, -46, 450, 5}, {s * 7, -14, 458, 6}, {s * 12, 18, 456, 6.5}, {s * 22, 34, 442, 6}}
	})
	b.add("cerebellum", "UBERON:0002037", none, greyBrain, ball{geom.LPS{Y: 40, Z: 410}, geom.Vec{X: 50, Y: 27, Z: 20}, 0})
	b.add("brainstem", "UBERON:0002298", midline, whiteBrain, chain{{0, 2, 438, 13}, {0, 4, 416, 14}, {0, 14, 396, 9}})
}

// vessels run in front of the spine, artery left of the midline and vein right of it.
func (b *body) vessels() {
	tube := func(name, term string, c chain) {
		b.add(name, term, none, vesselStuff, c)
		b.fill("blood in the "+name, bloodStuff, c.thinner(1.9))
	}
	tube("ascending aorta", "UBERON:0001496", chain{{4, -34, 152, 14}, {-10, -38, 172, 14.5}, {-8, -32, 188, 14}})
	tube("aortic arch", "UBERON:0001508", chain{{-8, -32, 188, 14}, {4, -20, 200, 13.5}, {16, 0, 202, 13}, {22, 18, 194, 12.5}, {22, 26, 182, 12.5}})
	tube("descending thoracic aorta", "UBERON:0002345", chain{{22, 26, 182, 12.5}, {22, 30, 130, 12}, {18, 27, 70, 11.5}, {12, 20, 14, 11}})
	tube("abdominal aorta", "UBERON:0001516", chain{{12, 20, 14, 11}, {8, 14, -40, 10}, {5, 4, -110, 9.5}, {2, 4, -146, 9.5}})
	tube("pulmonary trunk", "UBERON:0002333", chain{{22, -52, 148, 13}, {24, -40, 168, 13}, {20, -24, 176, 12}})
	tube("superior vena cava", "UBERON:0001585", chain{{-28, -28, 142, 10}, {-27, -24, 180, 10}, {-24, -26, 214, 9}})
	tube("inferior vena cava", "UBERON:0001072", chain{{-28, -22, 116, 12}, {-26, -8, 70, 12.5}, {-20, 8, 10, 12}, {-19, 8, -70, 11.5}, {-16, 8, -152, 11}})
	tube("hepatic portal vein", "UBERON:0002017", chain{{-8, -18, -14, 6.5}, {-24, -20, 16, 7.5}, {-44, -18, 38, 6.5}})
	for _, s := range []float64{1, -1} {
		name := sideOf(s).String() + " "
		b.pairTube(s, name+"common iliac artery", "UBERON:0001191", chain{{s*3 + 1, 2, -148, 7}, {s * 28, -2, -186, 6.5}, {s * 50, -16, -232, 6}, {s * 62, -44, -290, 5.5}, {s * 66, -50, -350, 5.5}})
		b.pairTube(s, name+"common iliac vein", "UBERON:0001139", chain{{-14 + s*4, 12, -156, 8}, {s * 24, 16, -190, 8}, {s * 46, 0, -236, 7.5}, {s * 54, -36, -292, 7}, {s * 56, -40, -350, 7}})
		b.pairTube(s, name+"common carotid artery", "UBERON:0001530", chain{{s * 12, -18, 206, 5}, {s * 22, -18, 262, 4.5}, {s * 26, -14, 316, 4.8}, {s * 28, -8, 352, 4.2}})
		b.pairTube(s, name+"internal jugular vein", "UBERON:0001586", chain{{s * 24, -26, 218, 6.5}, {s * 31, -18, 266, 6.5}, {s * 34, -8, 330, 6}, {s * 32, 0, 376, 5}})
	}
}

func (b *body) bones() {
	wall := newStack(2.25, chestWall...)
	b.pair("ribs", "UBERON:0002228", hardBoneStuff, func(s float64) shape { return ribs(b.spine, wall, s) })
	b.add("sternum", "UBERON:0000975", midline, softBoneStuff, newStack(3, ring{84, 0, -90, 13, 5}, ring{140, 0, -91, 17, 6}, ring{186, 0, -84, 19, 6.5}, ring{212, 0, -73, 26, 7.5}, ring{226, 0, -66, 20, 6}))
	b.pair("scapula", "UBERON:0006849", hardBoneStuff, func(s float64) shape {
		return union{chain{{s * 92, 78, 92, 3}, {s * 104, 76, 150, 4}, {s * 120, 62, 204, 4.5}}, chain{{s * 104, 76, 150, 3}, {s * 78, 84, 196, 3}},
			chain{{s * 76, 82, 200, 4}, {s * 116, 68, 210, 5}, {s * 138, 34, 218, 7}}}
	})
	b.pair("clavicle", "UBERON:0001105", hardBoneStuff, func(s float64) shape {
		return chain{{s * 22, -62, 226, 8}, {s * 66, -62, 234, 6}, {s * 104, -36, 238, 6}, {s * 132, -4, 228, 7}}
	})
	for _, v := range b.spine {
		b.add(v.name+" arch", v.term, midline, hardBoneStuff, v.arch())
		b.add(v.name+" rim", v.term, midline, hardBoneStuff, v.body())
		inner := v
		inner.rx, inner.ry, inner.height = v.rx-1.8, v.ry-1.8, v.height-2.4
		b.add(v.name, v.term, midline, softBoneStuff, inner.body())
	}
	b.add("intervertebral disc", "UBERON:0001066", midline, cartilageStuff, discs(b.spine))
	b.sacrum()
	b.hip()
	b.add("vertebral canal", "UBERON:0006692", midline, fluidStuff, canal(b.spine, 10, 8, -168))
	b.add("spinal cord", "UBERON:0002240", midline, cordStuff, canal(b.spine, 5.2, 4, -18))
}

// chestWall is where the ribs run.
var chestWall = []ring{{-40, 0, -2, 124, 80}, {20, 0, -2, 128, 84}, {80, 0, -2, 132, 87}, {130, 0, -2, 128, 87}, {180, 0, 0, 112, 78}, {220, 0, 4, 84, 62}, {250, 0, 10, 54, 42}, {272, 0, 16, 34, 26}}

func (b *body) sacrum() {
	outer := newStack(2.2, ring{-276, 0, 80, 12, 8}, ring{-250, 0, 82, 30, 12}, ring{-215, 0, 78, 50, 17}, ring{-180, 0, 62, 56, 20}, ring{-166, 0, 52, 48, 18})
	b.add("sacrum rim", "UBERON:0003690", midline, hardBoneStuff, outer)
	b.add("sacrum", "UBERON:0003690", midline, softBoneStuff, outer.shrunk(2, 2, 0))
	b.add("coccyx", "UBERON:0001350", midline, softBoneStuff, chain{{0, 78, -278, 8}, {0, 70, -294, 6.5}, {0, 60, -308, 4}})
}

func (b *body) hip() {
	b.pair("hip bone", "UBERON:0001272", hardBoneStuff, func(s float64) shape {
		wing := chain{{s * 58, 62, -182, 8}, {s * 78, 52, -206, 10}, {s * 92, 26, -234, 11}, {s * 96, 6, -262, 17}, {s * 92, 2, -284, 15}}
		crest := chain{{s * 74, 60, -166, 6}, {s * 106, 40, -158, 6}, {s * 124, 4, -168, 6}, {s * 120, -34, -198, 6}, {s * 106, -30, -228, 7}, {s * 98, -8, -256, 10}}
		blade := chain{{s * 96, 36, -196, 6}, {s * 114, 10, -192, 5}, {s * 112, -14, -206, 5}, {s * 98, 4, -240, 7}}
		front := chain{{s * 92, -14, -276, 11}, {s * 52, -48, -290, 8}, {s * 10, -54, -296, 9}}
		below := chain{{s * 84, 26, -290, 11}, {s * 70, 36, -326, 12}, {s * 44, 0, -334, 7}, {s * 12, -44, -312, 7}}
		return union{wing, crest, blade, front, below}
	})
	for _, s := range []float64{1, -1} {
		head, shaft := geom.LPS{X: s * 98, Y: -4, Z: -278}, chain{{s * 100, -4, -280, 15}, {s * 132, 6, -304, 16}, {s * 138, 10, -318, 16}, {s * 122, 2, -362, 15}}
		core := chain{{s * 100, -4, -280, 12}, {s * 132, 6, -304, 12}, {s * 138, 10, -318, 10}, {s * 122, 2, -362, 7}}
		b.add(sideOf(s).String()+" femur", "UBERON:0000981", sideOf(s), hardBoneStuff, union{ball{head, geom.Vec{X: 23, Y: 23, Z: 23}, 0}, shaft})
		b.fill("marrow of the femur", softBoneStuff, union{ball{head, geom.Vec{X: 20, Y: 20, Z: 20}, 0}, core})
	}
}

func (b *body) pairTube(s float64, name, term string, c chain) {
	b.add(name, term, sideOf(s), vesselStuff, c)
	b.fill("blood in the "+name, bloodStuff, c.thinner(1.6))
}
