package quiz

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"math"

	"sectionary/atlas"
	"sectionary/atlas/drill"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// keep re-encodes a picture without metadata and lists it.
func (k *packer) keep(name string, m image.Image) error {
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, m, packQuality); err != nil {
		return err
	}
	sum := sha256.Sum256(b.Bytes())
	k.pictures[name], k.m.Files[name] = b.Bytes(), hex.EncodeToString(sum[:])
	return nil
}

// grid is the picture of a face in a pack: w x h pixels, per of them for one mm of the view.
type grid struct {
	face *faceView
	w, h int
	per  float64
}

// packed gives the face the size it has in a pack: no finer than its photograph, its longer side 1600 px at most.
func (f *faceView) packed() grid {
	mid := f.plate.MiddlePx()
	a, b := f.toMM.MM(mid), f.toMM.MM(geom.Px{X: mid.X + 1, Y: mid.Y})
	per := 1 / math.Max(1e-6, math.Hypot(b.X-a.X, b.Y-a.Y))
	per = math.Min(per, packSide/math.Max(f.box.W, f.box.H))
	g := grid{face: f, per: per, w: max(1, int(math.Round(f.box.W*per))), h: max(1, int(math.Round(f.box.H*per)))}
	f.per, f.at = 1, area{0, 0, f.box.W, f.box.H}
	return g
}

// px is where a pixel of the photograph lies on the packed picture.
func (g grid) px(q geom.Px) geom.Px {
	s := g.face.view(q)
	return geom.Px{X: (s.X-g.face.box.X)*float64(g.w)/g.face.box.W - 0.5, Y: (s.Y-g.face.box.Y)*float64(g.h)/g.face.box.H - 0.5}
}

// photo is the way back.
func (g grid) photo(x, y float64) geom.Px {
	b := g.face.box
	return g.face.px(spot{b.X + (x+0.5)*b.W/float64(g.w), b.Y + (y+0.5)*b.H/float64(g.h)})
}

func (g grid) structure(code string, m mark, perPixel float64) drill.Structure {
	s := drill.Structure{Code: code, Term: m.label.Term, Side: m.label.Side, Tip: round(g.px(m.deep)), Signed: m.label.Signed != nil}
	for _, r := range m.label.Regions {
		p := r.Map(func(q geom.Px) geom.Px { return round(g.px(q)) })
		s.Regions = append(s.Regions, p)
		if perPixel > 0 {
			s.Rings = append(s.Rings, p.RingsMM(func(q geom.Px) geom.MM { return geom.MM{X: q.X * perPixel, Y: q.Y * perPixel} })...)
		}
	}
	return s
}

// mm6 keeps millionths of a millimetre: sums of thicknesses without the dust of binary fractions.
func mm6(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// round keeps hundredths of a pixel.
func round(q geom.Px) geom.Px {
	return geom.Px{X: math.Round(q.X*100) / 100, Y: math.Round(q.Y*100) / 100}
}

// cut packs the scan cut at a face that is laid in a scan by landmarks, on the very grid of the face's picture.
func (k *packer) cut(ctx context.Context, f *drill.Face, p atlas.Plate, g grid, marks []mark) error {
	reg := p.Registration
	if k.want.NoCuts || reg == nil {
		return nil
	}
	if _, err := placing(p, reg.Series); err != nil {
		k.slip.Notes = append(k.slip.Notes, Sentence(err)+" Its scan cut is left out.")
		return nil
	}
	v, err := k.scans.volume(ctx, k.lib, reg.Series)
	if errors.Is(err, atlas.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	w, err := windowOf(v, k.want.Window)
	if err != nil {
		return err
	}
	toMM, _ := p.FaceMM()
	values := make([]float32, g.w*g.h)
	for y := range g.h {
		for x := range g.w {
			values[y*g.w+x] = float32(v.Sample(reg.At(toMM.MM(g.photo(float64(x), float64(y))))))
		}
	}
	c := drill.Cut{Picture: "cuts/" + f.Code + ".jpg", Modality: v.Modality, Note: "at the face, placed by landmarks; through the same pixels"}
	f.Cuts = append(f.Cuts, c)
	for _, m := range marks {
		k.note(string(ScanPicture), p.ID, reg.Series, m)
	}
	return k.keep(c.Picture, w.Gray(values, g.w, g.h))
}
