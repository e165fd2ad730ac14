package annotate

import (
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// CarryOver returns copies of the labels that count, carried through to and marked carried from where, for another face or
// picture: new ids by id, no signature, not counted until a person confirms each. A label whose outline does not survive the map
// (part of it beyond the horizon, or folded) is left out and its old id returned.
func (l Labels) CarryOver(to func(geom.Px) geom.Px, where string, id func(old string) string) (carried []Label, lost []string) {
	for x := range l.All() {
		if !x.Counts() {
			continue
		}
		old := x.ID
		regions := make([]Polygon, len(x.Regions))
		for i, p := range x.Regions {
			regions[i] = p.Map(to)
		}
		if checkRegions(regions) != nil {
			lost = append(lost, old)
			continue
		}
		x.ID, x.Regions, x.Carried, x.From, x.Signed = id(old), regions, true, where, nil
		carried = append(carried, x)
	}
	return carried, lost
}

// PictureTie says that one point of a face lies at Old on the earlier photograph and at New on the later.
type PictureTie struct{ Old, New geom.Px }

// LookAgainMM is the tie error, in mm, above which an outline carried to a new photograph must be looked at.
const LookAgainMM = 2

// Rephotograph is how points of an earlier photograph of a face lie on a later one: a plane to plane map.
type Rephotograph struct {
	Map geom.Homography // pixels of the earlier picture to pixels of the later, both upright
	// Fit is the distance at every tie in pixels of the later picture, those left out included; RMS and Max are of the others.
	Fit geom.Residuals
	// Error is how far each tie is off in mm: the distance at it when it is left out of the fit, for a tie that the fit
	// follows says nothing by its residual. NaN where nothing can be told: no scale, or nothing is left over to check it by.
	Error []float64
	// LeftOut says which ties disagree by more than 2 mm with all the others, which agree: they do not move the outlines.
	LeftOut []bool

	ties []PictureTie
}

// leastAgreeing is how many ties must be left that can check each other: one more than always fit.
const leastAgreeing = 5

// FitRephotograph fits four ties or more; scale is the later photograph's. From six ties on, one that is off by more than 2 mm is left
// out while five others or more remain: the one without which the others agree best. Errors are those of geom.FitHomography.
func FitRephotograph(ties []PictureTie, scale photo.Calibration) (Rephotograph, error) {
	r := Rephotograph{ties: slices.Clone(ties), Error: make([]float64, len(ties)), LeftOut: make([]bool, len(ties))}
	kept := make([]int, len(ties))
	for i := range ties {
		kept[i] = i
	}
	for {
		worst, off, err := r.fit(kept, scale)
		if err != nil {
			return r, fmt.Errorf("annotate: placing outlines on the new picture: %w", err)
		}
		if !(off > LookAgainMM) || len(kept) <= leastAgreeing {
			break
		}
		r.LeftOut[kept[worst]] = true
		kept = slices.Delete(kept, worst, worst+1)
	}
	for i, t := range ties {
		r.Fit.Each[i] = r.At(t.Old).Dist(t.New)
		if r.LeftOut[i] {
			r.Error[i] = r.Fit.Each[i] * scale.PixelSize(t.New)
		}
	}
	return r, nil
}

// fit fits the ties with these places and judges each of them. It returns the place in kept of the one to doubt first, and the largest
// error in mm of any.
func (r *Rephotograph) fit(kept []int, scale photo.Calibration) (worst int, off float64, err error) {
	ties := make([]PictureTie, len(kept))
	for i, k := range kept {
		ties[i] = r.ties[k]
	}
	if r.Map, r.Fit, err = fitPictures(ties); err != nil {
		return 0, 0, err
	}
	least := math.Inf(1)
	r.Fit.Each = make([]float64, len(r.ties))
	for i, t := range ties {
		miss := math.NaN()
		if r.Fit.Freedom > 0 {
			if h, rest, err := fitPictures(slices.Delete(slices.Clone(ties), i, i+1)); err == nil {
				miss = geom.Px(h.MM(t.Old)).Dist(t.New)
				if rest.RMS < least {
					worst, least = i, rest.RMS
				}
			}
		}
		r.Error[kept[i]] = miss * scale.PixelSize(t.New)
		if r.Error[kept[i]] > off {
			off = r.Error[kept[i]]
		}
	}
	return worst, off, nil
}

func fitPictures(ties []PictureTie) (geom.Homography, geom.Residuals, error) {
	from, to := make([]geom.Px, len(ties)), make([]geom.MM, len(ties))
	for i, t := range ties {
		from[i], to[i] = t.Old, geom.MM(t.New)
	}
	return geom.FitHomography(from, to)
}

// At carries a pixel of the earlier picture to the later.
func (r Rephotograph) At(q geom.Px) geom.Px { return geom.Px(r.Map.MM(q)) }

// ErrorNear is the error in mm of the tie nearest to a pixel of the later picture.
func (r Rephotograph) ErrorNear(q geom.Px) float64 {
	near, miss := math.Inf(1), math.NaN()
	for i, t := range r.ties {
		if d := t.New.Dist(q); d < near {
			near, miss = d, r.Error[i]
		}
	}
	return miss
}

// Rephotographed moves all labels from an earlier photograph of the same face to a later one. Labels keep their ids and authors;
// signatures fall away, for what was signed is another outline. again are the ids of labels whose nearest tie is off by more than
// 2 mm, or by nobody knows how much, with that error: they are marked carried from where, so that they count nowhere until a
// person confirms them. lost are the ids of labels that do not survive the map, which are left out.
func (l Labels) Rephotographed(r Rephotograph, where string) (next Labels, again map[string]float64, lost []string) {
	again = map[string]float64{}
	for i, x := range l.Map(r.At).list {
		if checkRegions(x.Regions) != nil {
			lost = append(lost, l.list[i].ID)
			continue
		}
		x.Signed = nil
		if miss := r.ErrorNear(x.Centroid()); !(miss <= LookAgainMM) {
			again[x.ID] = miss
			x.Carried, x.From = true, where
		}
		next.list = append(next.list, x)
	}
	return next, again, lost
}

// Numbers draws the labels that count into a picture of r as numbers from 1 up, later labels over earlier, for a label
// volume on a scan's grid; to carries outlines there. ids[n-1] is the label drawn as n. More than 65,535 labels are
// cut short.
func (l Labels) Numbers(r image.Rectangle, to func(geom.Px) geom.Px) (numbers []uint16, ids []string) {
	numbers = make([]uint16, len(NewMask(r).In))
	for x := range l.All() {
		if !x.Counts() || len(ids) == math.MaxUint16 {
			continue
		}
		ids = append(ids, x.ID)
		regions := make([]Polygon, len(x.Regions))
		for i, p := range x.Regions {
			regions[i] = p.Map(to)
		}
		for i, in := range Rasterise(regions, r).In {
			if in {
				numbers[i] = uint16(len(ids))
			}
		}
	}
	return numbers, ids
}

// FromNumbers traces every number above 0 of such a picture back into outlines, in the picture's own pixels.
func FromNumbers(r image.Rectangle, numbers []uint16) map[uint16][]Polygon {
	masks := map[uint16]Mask{}
	if len(numbers) != len(NewMask(r).In) {
		return nil
	}
	for i, n := range numbers {
		if n == 0 {
			continue
		}
		if _, ok := masks[n]; !ok {
			if len(masks) == 1024 { // a scan's slice holds no more structures than that
				break
			}
			masks[n] = NewMask(r)
		}
		masks[n].In[i] = true
	}
	out := make(map[uint16][]Polygon, len(masks))
	for n, m := range masks {
		out[n] = m.Outlines()
	}
	return out
}
