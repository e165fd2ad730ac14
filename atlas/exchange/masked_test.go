package exchange

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// The picture in a parcel has nothing of a tag under its mask, whole pictures neither; without the mask it would show.
func TestMaskedTagIsInNoParcel(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 300, 200))
	ink.FillRect(img, img.Rect, color.RGBA{150, 110, 90, 255})
	ink.FillRect(img, image.Rect(120, 80, 180, 110), color.RGBA{255, 0, 255, 255})
	m := photo.NewImage(img)
	border := annotate.Polygon{Outer: []geom.Px{{X: 10, Y: 10}, {X: 290, Y: 10}, {X: 290, Y: 190}, {X: 10, Y: 190}}}
	mask := annotate.Polygon{Outer: []geom.Px{{X: 119, Y: 79}, {X: 180, Y: 79}, {X: 180, Y: 110}, {X: 119, Y: 110}}}
	for _, whole := range []bool{false, true} {
		for _, covered := range []bool{false, true} {
			p := atlas.Plate{Border: []annotate.Polygon{border}}
			if covered {
				p.Mask = []annotate.Polygon{mask}
			}
			var b bytes.Buffer
			if err := photo.EncodeJPEG(&b, (&export{r: Request{WholePictures: whole}}).flat(m, p), pictureQuality); err != nil {
				t.Fatal(err)
			}
			got, err := jpeg.Decode(&b)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for y := range 200 {
				for x := range 300 {
					if r, g, b, _ := got.At(x, y).RGBA(); r>>8 > 170 && b>>8 > 170 && g>>8 < 110 {
						n++
					}
				}
			}
			if (n > 0) == covered {
				t.Errorf("whole %v, covered %v: %d pixels of the tag", whole, covered, n)
			}
		}
	}
}
