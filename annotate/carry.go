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
type PictureTie struct {
	Old geom.Px `json:"old"`
	New geom.Px `json:"new"`
}

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

// LeastToLeaveOut is from how many ties on one that disagrees is left out: five must remain that check each other.
const LeastToLeaveOut = 6

// FitRephotograph fits four ties or more; scale is the later photograph's. The map is a similarity, an affine map or (from six ties on) a
// homography: the one that best foretells a tie left out of the fit. The camera stands nearly square, and more freedom than the ties can
// check would follow every slip of the hand. From six ties on, one that is off by more than 2 mm is left out while five others or more remain: the one without which the
// others agree best. It fails with geom.ErrTooFewPoints and geom.ErrDegenerate.
func FitRephotograph(ties []PictureTie, scale photo.Calibration) (Rephotograph, error) {
	r := Rephotograph{ties: slices.Clone(ties), Error: make([]float64, len(ties)), LeftOut: make([]bool, len(ties))}
	kept := make([]int, len(ties))
	for i := range ties {
		kept[i] = i
	}
	var j judged
	for {
		var err error
		if j, err = judge(ties, kept); err != nil {
			return r, fmt.Errorf("annotate: placing outlines on the new picture: %w", err)
		}
		off := 0.0
		for i, k := range kept {
			r.Error[k] = j.miss[i] * scale.PixelSize(ties[k].New)
			if r.Error[k] > off {
				off = r.Error[k]
			}
		}
		if !(off > LookAgainMM) || len(kept) < LeastToLeaveOut {
			break
		}
		r.LeftOut[kept[j.doubt]] = true
		kept = slices.Delete(kept, j.doubt, j.doubt+1)
	}
	r.Map, r.Fit = j.h, j.fit
	r.Fit.Each = make([]float64, len(ties))
	for i, t := range ties {
		r.Fit.Each[i] = r.At(t.Old).Dist(t.New)
		if r.LeftOut[i] {
			r.Error[i] = r.Fit.Each[i] * scale.PixelSize(t.New)
		}
	}
	return r, nil
}

// judged is a fit of some ties with what it foretells of each.
type judged struct {
	h     geom.Homography
	fit   geom.Residuals
	miss  []float64 // distance at each tie left out, px of the later picture; NaN where the rest does not fix the map
	rms   float64   // of those known
	doubt int       // the tie without which the others agree best
}

type flatFit func(from []geom.Px, to []geom.MM) (geom.Homography, geom.Residuals, error)

// leastForHomography is from how many ties on a homography can be checked at all.
const leastForHomography = 6

func judge(all []PictureTie, kept []int) (judged, error) {
	from, to := make([]geom.Px, len(kept)), make([]geom.MM, len(kept))
	for i, k := range kept {
		from[i], to[i] = all[k].Old, geom.MM(all[k].New)
	}
	if len(kept) < 4 {
		return judged{}, fmt.Errorf("%w: %d of 4", geom.ErrTooFewPoints, len(kept))
	}
	fits := []flatFit{geom.FitAffineFlat, similar}
	if len(kept) >= leastForHomography {
		fits = append(fits, geom.FitHomography)
	}
	best, err := judgeBy(fits[0], from, to)
	for _, fit := range fits[1:] {
		if j, e := judgeBy(fit, from, to); e == nil && (err != nil || j.rms < best.rms) {
			best, err = j, nil
		}
	}
	return best, err
}

// similar is the fit of a turn, one scale and a shift.
func similar(from []geom.Px, to []geom.MM) (geom.Homography, geom.Residuals, error) {
	at := make([]geom.MM, len(from))
	for i, q := range from {
		at[i] = geom.MM(q)
	}
	f, fit, err := geom.FitFlat(at, to, true)
	sin, cos := math.Sincos(f.Angle)
	return geom.Homography{f.Scale * cos, -f.Scale * sin, f.Shift.X, f.Scale * sin, f.Scale * cos, f.Shift.Y, 0, 0, 1}, fit, err
}

func judgeBy(fit flatFit, from []geom.Px, to []geom.MM) (j judged, err error) {
	if j.h, j.fit, err = fit(from, to); err != nil {
		return j, err
	}
	least, n := math.Inf(1), 0
	for i := range from {
		miss := math.NaN()
		h, rest, err := fit(slices.Delete(slices.Clone(from), i, i+1), slices.Delete(slices.Clone(to), i, i+1))
		if err == nil {
			miss = h.MM(from[i]).Dist(to[i])
			j.rms, n = j.rms+miss*miss, n+1
			if rest.RMS < least {
				j.doubt, least = i, rest.RMS
			}
		}
		j.miss = append(j.miss, miss)
	}
	if j.rms = math.Sqrt(j.rms / float64(n)); n == 0 {
		j.rms = math.Inf(1)
	}
	return j, nil
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
