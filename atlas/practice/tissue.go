package practice

import "image/color"

// tissue is how a stuff looks: in the scan as HU, on the saw table as the colour of embalmed tissue.
type tissue struct {
	hu    float64
	noise float64 // standard deviation of the HU within the stuff
	base  color.RGBA
	grain float64 // how strongly the colour wanders, 0 to 1
	dots  color.RGBA
	dense float64 // share of the surface that shows dots: fat in muscle, holes in lung, spongy bone
	fine  float64 // size of the dots in mm
}

// HU near those of common handbooks (water 0, air -1000, fat about -100, muscle about 50, dense bone above
// 700); blood holds contrast. Colours of embalmed tissue: common practice, no source.
var (
	airStuff       = tissue{-1000, 0, color.RGBA{34, 30, 30, 255}, 0.05, color.RGBA{}, 0, 1}
	skinStuff      = tissue{20, 12, color.RGBA{176, 146, 118, 255}, 0.10, color.RGBA{}, 0, 1}
	fatStuff       = tissue{-102, 9, color.RGBA{216, 190, 132, 255}, 0.16, color.RGBA{232, 212, 164, 255}, 0.30, 3.2}
	deepFatStuff   = tissue{-98, 10, color.RGBA{206, 178, 120, 255}, 0.18, color.RGBA{226, 204, 152, 255}, 0.34, 2.6}
	muscleStuff    = tissue{54, 11, color.RGBA{124, 82, 68, 255}, 0.20, color.RGBA{186, 150, 112, 255}, 0.10, 1.5}
	softBoneStuff  = tissue{240, 70, color.RGBA{186, 152, 116, 255}, 0.14, color.RGBA{120, 78, 60, 255}, 0.38, 1.1}
	hardBoneStuff  = tissue{820, 60, color.RGBA{228, 216, 186, 255}, 0.06, color.RGBA{}, 0, 1}
	cartilageStuff = tissue{96, 14, color.RGBA{198, 194, 182, 255}, 0.08, color.RGBA{}, 0, 1}
	lungStuff      = tissue{-790, 38, color.RGBA{112, 98, 92, 255}, 0.22, color.RGBA{70, 58, 56, 255}, 0.26, 1.4}
	liverStuff     = tissue{66, 10, color.RGBA{104, 72, 54, 255}, 0.12, color.RGBA{70, 44, 36, 255}, 0.05, 2.4}
	spleenStuff    = tissue{56, 10, color.RGBA{92, 58, 58, 255}, 0.14, color.RGBA{}, 0, 1}
	kidneyStuff    = tissue{44, 10, color.RGBA{134, 92, 74, 255}, 0.12, color.RGBA{}, 0, 1}
	kidneyCore     = tissue{30, 9, color.RGBA{112, 72, 60, 255}, 0.14, color.RGBA{}, 0, 1}
	heartStuff     = tissue{62, 11, color.RGBA{118, 76, 64, 255}, 0.14, color.RGBA{}, 0, 1}
	bloodStuff     = tissue{168, 12, color.RGBA{60, 34, 32, 255}, 0.20, color.RGBA{96, 56, 46, 255}, 0.16, 2.2}
	vesselStuff    = tissue{70, 12, color.RGBA{192, 164, 134, 255}, 0.08, color.RGBA{}, 0, 1}
	gutStuff       = tissue{42, 10, color.RGBA{176, 148, 122, 255}, 0.10, color.RGBA{}, 0, 1}
	contentStuff   = tissue{14, 16, color.RGBA{116, 104, 70, 255}, 0.28, color.RGBA{84, 72, 48, 255}, 0.22, 2.0}
	glandStuff     = tissue{46, 10, color.RGBA{196, 168, 128, 255}, 0.12, color.RGBA{168, 138, 104, 255}, 0.30, 2.6}
	bileStuff      = tissue{8, 6, color.RGBA{72, 84, 52, 255}, 0.10, color.RGBA{}, 0, 1}
	urineStuff     = tissue{4, 5, color.RGBA{150, 134, 92, 255}, 0.06, color.RGBA{}, 0, 1}
	greyBrain      = tissue{38, 5, color.RGBA{178, 156, 136, 255}, 0.08, color.RGBA{}, 0, 1}
	whiteBrain     = tissue{29, 5, color.RGBA{214, 200, 174, 255}, 0.06, color.RGBA{}, 0, 1}
	fluidStuff     = tissue{8, 4, color.RGBA{92, 82, 76, 255}, 0.06, color.RGBA{}, 0, 1}
	cordStuff      = tissue{36, 6, color.RGBA{222, 208, 180, 255}, 0.05, color.RGBA{}, 0, 1}
)
