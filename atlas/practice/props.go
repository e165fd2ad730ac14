package practice

import (
	"image"
	"image/color"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

const texturePerMM = 8.0

// The scale plate: four corner marks 100 x 40 mm apart, ticks every 10 mm, a grey patch.
const (
	plateW, plateH   = 124.0, 56.0
	cornerW, cornerH = 100.0, 40.0
	tagW, tagH       = 88.0, 40.0
)

var (
	paper   = color.RGBA{236, 232, 220, 255}
	black   = color.RGBA{26, 25, 24, 255}
	grey18  = color.RGBA{119, 119, 119, 255} // 18 % reflectance in sRGB
	warning = color.RGBA{150, 44, 30, 255}
)

func sheet(w, h float64, c color.RGBA) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, int(w*texturePerMM), int(h*texturePerMM)))
	ink.FillRect(img, img.Rect, c)
	return img
}

func mmPx(x, y float64) geom.Px { return geom.Px{X: x * texturePerMM, Y: y * texturePerMM} }

// plateTexture draws the scale plate; its corner marks lie at cornerPoints.
func plateTexture() *image.RGBA {
	img := sheet(plateW, plateH, paper)
	x0, y0 := (plateW-cornerW)/2, (plateH-cornerH)/2
	for _, p := range []geom.Px{{X: x0, Y: y0}, {X: x0 + cornerW, Y: y0}, {X: x0 + cornerW, Y: y0 + cornerH}, {X: x0, Y: y0 + cornerH}} {
		c := mmPx(p.X, p.Y)
		ink.Disc(img, c, 3*texturePerMM, black)
		ink.Disc(img, c, 1.6*texturePerMM, paper)
		ink.Disc(img, c, 0.6*texturePerMM, black)
	}
	for k := range 10 {
		c := black
		if k%2 == 1 {
			c = paper
		}
		a, b := mmPx(x0+10*float64(k), y0+cornerH-9), mmPx(x0+10*float64(k)+10, y0+cornerH-5)
		ink.FillRect(img, image.Rect(int(a.X), int(a.Y), int(b.X), int(b.Y)), c)
	}
	a, b := mmPx(x0+78, y0+7), mmPx(x0+96, y0+24)
	ink.FillRect(img, image.Rect(int(a.X), int(a.Y), int(b.X), int(b.Y)), grey18)
	ink.Bold().Text(img, mmPx(x0+7, y0+15), 7*texturePerMM, black, "100 x 40 mm")
	ink.Default().Text(img, mmPx(x0+7, y0+24), 5*texturePerMM, black, "practice scale")
	return img
}

// tagTexture is the paper slip on the tray. It bears the donor's code, as such slips do: a hand-out must cover it.
func tagTexture(donor, where string) *image.RGBA {
	img := sheet(tagW, tagH, paper)
	ink.Rect(img, img.Rect.Inset(6), 3, black)
	ink.Bold().Text(img, mmPx(5, 14), 9*texturePerMM, black, donor)
	ink.Default().Text(img, mmPx(5, 25), 6.4*texturePerMM, black, where)
	ink.Bold().Text(img, mmPx(5, 35), 4.9*texturePerMM, warning, "SYNTHETIC PRACTICE PICTURE")
	return img
}

// cornerPoints are the plate's corner marks on the table: upper left, upper right, lower right, lower left.
func (p prop) point(u, v float64) geom.MM {
	r := rotation(geom.Vec{Z: 1}, p.turn)
	d := r.of(geom.Vec{X: u, Y: v})
	return geom.MM{X: p.c.X + d.X, Y: p.c.Y + d.Y}
}

func (p prop) cornerPoints() [4]geom.MM {
	const u, v = cornerW / 2, cornerH / 2
	return [4]geom.MM{p.point(-u, -v), p.point(u, -v), p.point(u, v), p.point(-u, v)}
}
