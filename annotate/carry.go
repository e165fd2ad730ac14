package annotate

import (
	"fmt"
	"image"
	"math"

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

// lookAgainMM is the tie error above which an outline carried to a new photograph must be looked at.
const lookAgainMM = 2

// Rephotographed moves all labels from an earlier photograph of the same face to a later one, by four ties or more (a plane to
// plane map). scale is the later photograph's; ids of labels whose nearest tie misses by more than 2 mm are returned, all of
// them when there is no scale to judge by, or no tie beyond the four that always fit. Labels keep ids and signatures: the face is the
// same. Errors are those of geom.FitHomography.
func (l Labels) Rephotographed(ties []PictureTie, scale photo.Calibration) (Labels, []string, geom.Residuals, error) {
	from, to := make([]geom.Px, len(ties)), make([]geom.MM, len(ties))
	for i, t := range ties {
		from[i], to[i] = t.Old, geom.MM(t.New)
	}
	h, fit, err := geom.FitHomography(from, to)
	if err != nil {
		return l, nil, fit, fmt.Errorf("annotate: placing outlines on the new picture: %w", err)
	}
	next := l.Map(func(q geom.Px) geom.Px { return geom.Px(h.MM(q)) })
	var again []string
	for x := range next.All() {
		c := x.Centroid()
		near, miss := math.Inf(1), math.Inf(1)
		for i, t := range ties {
			if d := t.New.Dist(c); d < near {
				near, miss = d, fit.Each[i]*scale.PixelSize(t.New)
			}
		}
		if fit.Freedom == 0 || !(miss <= lookAgainMM) || checkRegions(x.Regions) != nil {
			again = append(again, x.ID)
		}
	}
	return next, again, fit, nil
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
