package section

import (
	"errors"
	"fmt"
	"iter"
	"math"
)

// ErrNoSuchFace says that a face names a slab or a side its run does not have.
var ErrNoSuchFace = errors.New("section: the run has no such face")

// Usual standard deviations in mm, used for spreads and for the closure limit: common practice, no source.
const (
	lengthSD    = 2.0  // of the length before cutting, by tape
	thicknessSD = 0.5  // of one slab
	kerfSD      = 0.15 // of one cut
)

// Slab is the piece between two cuts. Thickness holds up to three measures in mm, 0 where not measured;
// Kerf is the width of the cut after it, in mm. Planned: it is not sawn yet, its thickness is what it shall become.
type Slab struct {
	Number    int        `json:"number"`
	Thickness [3]float64 `json:"thickness"`
	Kerf      float64    `json:"kerf"`
	Planned   bool       `json:"planned,omitempty"`
}

// Mean is the mean of the measured thicknesses in mm, 0 when none is.
func (s Slab) Mean() float64 {
	var sum, n float64
	for _, t := range s.Thickness {
		if t > 0 {
			sum, n = sum+t, n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// Wedge is the difference between the thickest and the thinnest measure in mm.
func (s Slab) Wedge() float64 {
	lo, hi := math.Inf(1), 0.0
	for _, t := range s.Thickness {
		if t > 0 {
			lo, hi = math.Min(lo, t), math.Max(hi, t)
		}
	}
	return math.Max(0, hi-lo)
}

// Run is all slabs of one body part cut in one plane, in order from First, the end where slab 1 lies.
// Donor is a lab code, never a name. Length is mm before cutting, 0 if not measured. Limb says which limb the part
// is of; Half is Left or Right for one half of what was cut in the midline, UnknownFacing for anything else.
type Run struct {
	ID     string  `json:"id"`
	Donor  string  `json:"donor"`
	Part   string  `json:"part"`
	Limb   Limb    `json:"limb,omitempty"`
	Half   Facing  `json:"half,omitempty"`
	Plane  Plane   `json:"plane"`
	First  Facing  `json:"first"`
	Slabs  []Slab  `json:"slabs"`
	Length float64 `json:"length"`
}

// Face names one cut surface: the run, the slab's number, and the way it looks out of the slab.
type Face struct {
	Run    string `json:"run"`
	Slab   int    `json:"slab"`
	Facing Facing `json:"facing"`
}

// Check reports what is wrong with the run, in a sentence.
func (r Run) Check() error {
	if r.Plane == UnknownPlane || r.Plane > Sagittal {
		return fmt.Errorf("section: the run has no plane")
	}
	if r.First.Plane() != r.Plane {
		return fmt.Errorf("%w: slab 1 of a %s run cannot lie at the %s end", ErrNotAFace, r.Plane, r.First)
	}
	if err := r.checkPiece(); err != nil {
		return err
	}
	seen := map[int]bool{}
	for _, s := range r.Slabs {
		if seen[s.Number] {
			return fmt.Errorf("section: slab %d stands twice in the run", s.Number)
		}
		seen[s.Number] = true
		for _, t := range append(s.Thickness[:], s.Kerf) {
			if t < 0 || math.IsNaN(t) || t > 1e5 {
				return fmt.Errorf("section: slab %d has a length of %g mm, which cannot be", s.Number, t)
			}
		}
	}
	return nil
}

// Faces lists every face of the run in order along the body.
func (r Run) Faces() []Face {
	out := make([]Face, 0, 2*len(r.Slabs))
	for _, s := range r.Slabs {
		out = append(out, Face{r.ID, s.Number, r.First}, Face{r.ID, s.Number, r.First.Opposite()})
	}
	return out
}

// Places runs over the slabs in order, each behind how far its first face lies from the datum, in mm.
func (r Run) Places() iter.Seq2[float64, Slab] {
	return func(yield func(float64, Slab) bool) {
		depth := 0.0
		for _, s := range r.Slabs {
			if !yield(depth, s) {
				return
			}
			depth += s.Mean() + s.Kerf
		}
	}
}

// place returns the index of a face's slab in the run and whether the face is the slab's first one.
func (r Run) place(f Face) (slab int, near bool, err error) {
	if f.Facing.Plane() != r.Plane || f.Facing == UnknownFacing {
		return 0, false, fmt.Errorf("%w: a %s run has no %s face", ErrNoSuchFace, r.Plane, f.Facing)
	}
	for i, s := range r.Slabs {
		if s.Number == f.Slab {
			return i, f.Facing == r.First, nil
		}
	}
	return 0, false, fmt.Errorf("%w: no slab %d", ErrNoSuchFace, f.Slab)
}

// Depth returns how far face f lies from the datum (the first face of the first slab) in mm along the cut
// direction, and its standard error. It fails with ErrNoSuchFace.
func (r Run) Depth(f Face) (depth, se float64, err error) {
	at, near, err := r.place(f)
	if err != nil {
		return 0, 0, err
	}
	slabs, kerfs := at, at
	for _, s := range r.Slabs[:at] {
		depth += s.Mean() + s.Kerf
	}
	if !near {
		depth += r.Slabs[at].Mean()
		slabs++
	}
	return depth, spread(0, slabs, kerfs), nil
}

// Partner returns the face on the other side of the same cut; ok is false at the ends of the run.
func (r Run) Partner(f Face) (partner Face, ok bool) {
	at, near, err := r.place(f)
	if err != nil {
		return Face{}, false
	}
	next := at + 1
	if near {
		next = at - 1
	}
	if next < 0 || next >= len(r.Slabs) {
		return Face{}, false
	}
	return Face{r.ID, r.Slabs[next].Number, f.Facing.Opposite()}, true
}

// Extent is the sum of all thicknesses and of the kerfs between slabs, in mm.
func (r Run) Extent() float64 {
	var sum float64
	for i, s := range r.Slabs {
		sum += s.Mean()
		if i < len(r.Slabs)-1 {
			sum += s.Kerf
		}
	}
	return sum
}

func spread(length float64, slabs, kerfs int) float64 {
	return math.Sqrt(length*length + float64(max(slabs, 0))*thicknessSD*thicknessSD + float64(max(kerfs, 0))*kerfSD*kerfSD)
}
