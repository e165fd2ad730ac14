package bench

import (
	"math"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// A scale plate may lie any way round in the picture, and the picture may be mirrored: face and scan must still stand side
// by side the same way up, every landmark at the same place from the middle of both panes, letters alike.
func TestFaceAndScanAgreeWhateverTheScaleLay(t *testing.T) {
	for _, angle := range []float64{0, 0.3, 1.7, math.Pi, -2} {
		for _, mirrored := range []atlas.Answer{atlas.No, atlas.Yes} {
			for _, view := range []section.View{section.Bench, section.Scan, section.OtherSide} {
				b, _, _, f, s := onPairing(t)
				s.Resize(700, 560, 1)
				sin, cos := math.Sincos(angle)
				p := b.doc.plate()
				p.Mirrored, p.PhotoUp = mirrored, section.Left
				p.Calibration = photo.Calibration{Status: photo.Scaled, ToMM: geom.Homography{0.5 * cos, -0.5 * sin, 7, 0.5 * sin, 0.5 * cos, 9, 0, 0, 1}}
				b.doc.hist.Do("t", "", p)
				pose, err := section.SquarePose(p.Face.Facing, p.PhotoUp, geom.LPS{X: -100, Y: 70, Z: 79})
				if err != nil {
					t.Fatal(err)
				}
				var ties []register.Tie
				for _, q := range places(5) {
					x := q.X
					if mirrored == atlas.Yes {
						x = 799 - x
					}
					ties = append(ties, register.Tie{Face: q, Scan: pose.At(geom.MM{X: 0.5 * x, Y: 0.5 * q.Y})})
				}
				b.tryTies("t", ties)
				if b.kept() == nil {
					t.Fatalf("turned by %.1f, mirrored %v: not laid: %+v", angle, mirrored, b.Message())
				}
				b.SetView(view)
				f.lay(b.doc)
				cut, _, _ := b.cutPose()
				v, linked := s.viewport(cut)
				if e := s.scanEdges(cut, v); !linked || e != b.Edges() {
					t.Fatalf("turned by %.1f, mirrored %v, %v: face %v, scan %v", angle, mirrored, view, b.Edges(), e)
				}
				for _, x := range ties {
					m, off := cut.Project(x.Scan)
					here, there := b.doc.view.Device(x.Face), v.Device(geom.Px{X: m.X, Y: m.Y})
					if here.Dist(there) > 0.5 || math.Abs(off) > 1e-6 {
						t.Fatalf("turned by %.1f, mirrored %v, %v: a landmark at %v on the face, at %v on the scan", angle, mirrored, view, here, there)
					}
				}
			}
		}
	}
}

// Landmarks that show another top than was said stop; saying the other top lays the face.
func TestOtherTopStops(t *testing.T) {
	b, _, _, _, _ := onPairing(t)
	pose, _, _ := b.basePose()
	h, _ := faceMM(b.doc.plate())
	turned := pose
	turned.X, turned.Y = pose.X.Neg(), pose.Y.Neg() // the body lies the other way up in the picture
	turned.Origin = turned.Origin.Add(pose.X.Mul(400)).Add(pose.Y.Mul(300))
	var ties []register.Tie
	for _, p := range places(5) {
		ties = append(ties, register.Tie{Face: p, Scan: turned.At(h.MM(p))})
	}
	b.tryTies("t", ties)
	m := b.Message()
	if m == nil || len(m.Choices) != 2 || b.kept() != nil || !has(m.Choices[0].Label, "P") {
		t.Fatalf("%+v", m)
	}
	b.Choose(0)
	if p, _ := b.Plate(); p.PhotoUp != section.Posterior || b.kept() == nil || b.Message() != nil {
		t.Fatalf("top %v, kept %v, %+v", p.PhotoUp, b.kept(), b.Message())
	}
}
