package practice

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// The bar of ten fields of 10 mm on the scale plate is found on the practice photographs and reads as the scene says; where the plate is
// painted over, tissue, tray and tag bring no ruler.
func TestRulerOnPracticePictures(t *testing.T) {
	dir, truth := truthOf(t)
	ctx := context.Background()
	of, found, alarms := 0, 0, 0
	worst := 0.0
	for i, f := range truth.Faces {
		if i%3 != 0 {
			continue // a third is enough
		}
		b, err := os.ReadFile(filepath.Join(dir, f.Photo))
		if err != nil {
			t.Fatal(err)
		}
		m, err := photo.Open(ctx, bytes.NewReader(b), photo.Limit{})
		if err != nil {
			t.Fatal(err)
		}
		of++
		if r, err := photo.FindRuler(ctx, m); err == nil {
			mm := f.PxToMM.MM(r.First).Dist(f.PxToMM.MM(r.Last)) / float64(r.Steps)
			off := math.Abs(mm/10 - 1)
			worst = max(worst, off)
			if off > 0.01 {
				t.Errorf("%s: a step of %.3f mm, %d ticks of %d", f.Photo, mm, r.Seen, r.Steps+1)
			}
			found++
		} else if !errors.Is(err, photo.ErrNoRuler) {
			t.Fatal(err)
		}
		bare := image.NewRGBA(image.Rectangle{Max: m.Size()})
		m.Draw(bare, [6]float64{1, 0, 0, 0, 1, 0})
		mid := geom.Px{}
		for _, c := range f.Corners {
			mid.X, mid.Y = mid.X+c.X/4, mid.Y+c.Y/4
		}
		var ring []geom.Px
		for _, c := range f.Corners {
			ring = append(ring, geom.Px{X: mid.X + 1.6*(c.X-mid.X), Y: mid.Y + 1.6*(c.Y-mid.Y)})
		}
		ink.Fill(bare, [][]geom.Px{ring}, color.RGBA{110, 112, 115, 255})
		if r, err := photo.FindRuler(ctx, photo.NewImage(bare)); err == nil {
			alarms++
			t.Logf("%s without its plate: %d of %d ticks, %.2f px a step, from %v to %v", f.Photo, r.Seen, r.Steps+1, r.Spacing, r.First, r.Last)
		}
	}
	t.Logf("found on %d of %d, a step off by %.2f %% at most; %d false alarms without the plate", found, of, 100*worst, alarms)
	if found*10 < of*8 || alarms > 0 {
		t.Error("too few found, or false alarms")
	}
}
