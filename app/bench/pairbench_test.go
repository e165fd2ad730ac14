package bench

import (
	"bytes"
	"encoding/binary"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// wideVolume is a CT of 512 x 512 x 128 voxels of 0.8 x 0.8 x 2 mm, grainy as a scan is, about the middle of the sample body.
func wideVolume(b *testing.B) *scan.Volume {
	const nx, ny, nz = 512, 512, 128
	h := make([]byte, 352, 352+2*nx*ny*nz)
	le := binary.LittleEndian
	le.PutUint32(h[0:], 348)
	for i, n := range []uint16{3, nx, ny, nz, 1, 1, 1, 1} {
		le.PutUint16(h[40+2*i:], n)
	}
	le.PutUint16(h[70:], 4) // int16
	le.PutUint16(h[72:], 16)
	for i, p := range []float32{1, 0.8, 0.8, 2} {
		le.PutUint32(h[76+4*i:], math.Float32bits(p))
	}
	le.PutUint32(h[108:], math.Float32bits(352))
	le.PutUint32(h[112:], math.Float32bits(1))
	h[123] = 2               // mm
	le.PutUint16(h[254:], 1) // sform
	for i, r := range [3][4]float32{{0.8, 0, 0, -204}, {0, 0.8, 0, -204}, {0, 0, 2, -40}} {
		for k, v := range r {
			le.PutUint32(h[280+16*i+4*k:], math.Float32bits(v))
		}
	}
	copy(h[344:], "n+1\x00")
	rnd := rand.New(rand.NewPCG(1, 2))
	for range nz {
		for j := range ny {
			for i := range nx {
				v := int16(-1000)
				if x, y := float64(i-256), float64(j-256); x*x/50000+y*y/22000 < 1 {
					v = int16(40 + rnd.IntN(40))
				}
				h = le.AppendUint16(h, uint16(v))
			}
		}
	}
	v, err := scan.ReadNIfTI(bytes.NewReader(h))
	if err != nil {
		b.Fatal(err)
	}
	v.Modality = "CT"
	return v
}

// tied is the pairing of the sample with eight landmarks on a tilted face, before a scan of clinical size, both panes 930 x 780.
func tied(b *testing.B) (*Bench, *facePane, *scanPane, *image.RGBA, *image.RGBA) {
	d, _, _, f, s := onPairing(b)
	d.pair.volume = wideVolume(b)
	pose, _, _ := d.basePose()
	h, _ := faceMM(d.doc.plate())
	rnd := rand.New(rand.NewPCG(1, 1))
	ties := honestTies(d, pose, places(8)...)
	for i := range ties {
		m := h.MM(ties[i].Face)
		ties[i].Scan = ties[i].Scan.Add(geom.Vec{X: rnd.NormFloat64(), Y: rnd.NormFloat64(), Z: rnd.NormFloat64() + 0.05*(m.X-200)})
	}
	d.tryTies("t", ties)
	if d.kept() == nil {
		b.Fatal("not laid")
	}
	left, right := image.NewRGBA(image.Rect(0, 0, 930, 780)), image.NewRGBA(image.Rect(0, 0, 930, 780))
	f.Resize(930, 780, 1)
	s.Resize(930, 780, 1)
	f.Paint(left)
	s.Paint(right)
	return d, f, s, left, right
}

// BenchmarkPairingPointer is one move of the pointer over the face: the place on the scan and its error circle. Nothing is painted.
func BenchmarkPairingPointer(b *testing.B) {
	_, f, s, _, _ := tied(b)
	shown := 0
	for i := 0; b.Loop(); i++ {
		f.Hover(geom.Px{X: 300 + float64(i%300), Y: 300 + float64(i%100)})
		if _, r, ok := s.Pointer(); ok && r > 0 {
			shown++
		}
	}
	if shown == 0 {
		b.Fatal("no pointer was shown")
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}

// BenchmarkPairingLens is one move with the lens held: the face is painted anew with a cut of the scan in it.
func BenchmarkPairingLens(b *testing.B) {
	d, f, _, left, _ := tied(b)
	d.Key("Space", Mods{})
	for i := 0; b.Loop(); i++ {
		f.Hover(geom.Px{X: 300 + float64(i%300), Y: 300 + float64(i%100)})
		f.Paint(left)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}

// BenchmarkPairingDrag is one move with the picture dragged: both panes are painted anew, the cut is cut anew.
func BenchmarkPairingDrag(b *testing.B) {
	_, f, s, left, right := tied(b)
	at := geom.Px{X: 400, Y: 400}
	f.Down(at, Secondary, Mods{})
	for i := 0; b.Loop(); i++ {
		f.Drag(geom.Px{X: at.X + float64(i%60), Y: at.Y + float64(i%40)})
		f.Paint(left)
		s.Paint(right)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}

// BenchmarkPairingStep is one step of the scan off the face, both panes painted: an oblique cut through the whole pane.
func BenchmarkPairingStep(b *testing.B) {
	d, f, s, left, right := tied(b)
	for i := 0; b.Loop(); i++ {
		d.pair.step = i%40 - 20
		f.Paint(left)
		s.Paint(right)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "cuts/s")
}

// BenchmarkPairingSeam is one move and turn of the seam held over the face.
func BenchmarkPairingSeam(b *testing.B) {
	d, f, _, left, _ := tied(b)
	d.Key("D", Mods{})
	for i := 0; b.Loop(); i++ {
		f.Hover(geom.Px{X: 300 + float64(i%300), Y: 300 + float64(i%100)})
		d.TurnSeam(7)
		f.Paint(left)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}
