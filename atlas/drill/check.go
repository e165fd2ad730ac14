package drill

import (
	"fmt"
	"math"
	"time"

	"sectionary/slices/section"
)

// Bounds of what a manifest may list.
const (
	maxRuns       = 64
	maxFaces      = 2000
	maxTerms      = 20000
	maxStructures = 2000  // of a face
	maxPoints     = 2e6   // of all outlines
	maxSide       = 20000 // px
	maxExtent     = 4000  // mm
)

// Check reports ErrDamaged with what is wrong when a manifest does not hang together.
func (m Manifest) Check() error {
	bad := func(format string, a ...any) error {
		return fmt.Errorf("%w: manifest.json: %s", ErrDamaged, fmt.Sprintf(format, a...))
	}
	if _, err := time.Parse(Day, m.Made); err != nil {
		return bad("it does not say when the pack was made")
	}
	if _, err := time.Parse(Day, m.Expires); m.Expires != "" && err != nil {
		return bad("its last day cannot be read")
	}
	if len(m.Runs) > maxRuns || len(m.Faces) > maxFaces {
		return fmt.Errorf("%w: %d runs, %d faces", ErrTooLarge, len(m.Runs), len(m.Faces))
	}
	for name := range m.Files {
		if !member.MatchString(name) {
			return bad("a picture has a name that no pack gives")
		}
	}
	if len(m.Terms) > maxTerms {
		return fmt.Errorf("%w: %d structures", ErrTooLarge, len(m.Terms))
	}
	if _, err := m.Matcher(nil); err != nil {
		return bad("its structures: %v", err)
	}
	runs := map[string]Run{}
	for _, r := range m.Runs {
		if runs[r.Code].Code != "" || r.Code == "" || !within(r.Extent, 0, maxExtent) || r.First.Plane() != r.Plane || r.Plane == section.UnknownPlane {
			return bad("run %q", r.Code)
		}
		if err := r.words().Check(); err != nil {
			return bad("run %q: %v", r.Code, err)
		}
		for _, s := range r.Slabs {
			if !within(s.Top, 0, maxExtent) || !within(s.Bottom, s.Top, maxExtent) {
				return bad("run %q, slab %d", r.Code, s.Number)
			}
		}
		for _, k := range r.Marks {
			if !within(k.Depth, 0, maxExtent) || vertebraIndex(k.Vertebra) < 0 {
				return bad("run %q, vertebra %q", r.Code, k.Vertebra)
			}
		}
		runs[r.Code] = r
	}
	faces, points := map[string]bool{}, 0
	for _, f := range m.Faces {
		r, ok := runs[f.Run]
		if !ok || f.Code == "" || faces[f.Code] || f.Facing.Plane() != r.Plane {
			return bad("face %q", f.Code)
		}
		faces[f.Code] = true
		if err := m.checkFace(f, &points); err != nil {
			return err
		}
	}
	return nil
}

func (m Manifest) checkFace(f Face, points *int) error {
	bad := func(format string, a ...any) error {
		return fmt.Errorf("%w: manifest.json: face %q: %s", ErrDamaged, f.Code, fmt.Sprintf(format, a...))
	}
	switch {
	case f.Width < 1 || f.Height < 1 || f.Width > maxSide || f.Height > maxSide:
		return bad("a picture of %d x %d", f.Width, f.Height)
	case !within(f.PerPixel, 0, 100) || !within(f.Depth, 0, maxExtent):
		return bad("a length is no length")
	case m.Files[f.Picture] == "":
		return bad("its picture is not listed")
	case f.Vertebra != "" && vertebraIndex(f.Vertebra) < 0:
		return bad("%q is no vertebra", f.Vertebra)
	case len(f.Structures) > maxStructures:
		return fmt.Errorf("%w: face %q", ErrTooLarge, f.Code)
	}
	for _, c := range f.Cuts {
		if m.Files[c.Picture] == "" {
			return bad("a scan cut is not listed")
		}
	}
	seen := map[string]bool{}
	for _, s := range f.Structures {
		if s.Code == "" || seen[s.Code] || s.Term == "" || len(s.Regions) == 0 || !within(s.Tip.X, -1, maxSide) || !within(s.Tip.Y, -1, maxSide) {
			return bad("structure %q", s.Code)
		}
		seen[s.Code] = true
		for _, p := range s.Regions {
			for n := range p.Rings() {
				*points += len(p.Ring(n))
				for _, q := range p.Ring(n) {
					if !within(q.X, -maxSide, 2*maxSide) || !within(q.Y, -maxSide, 2*maxSide) {
						return bad("structure %q", s.Code)
					}
				}
			}
		}
		if *points > maxPoints {
			return fmt.Errorf("%w: outlines of more than %d points", ErrTooLarge, int(maxPoints))
		}
	}
	return nil
}

// within reports whether lo <= x <= hi; no NaN is.
func within(x, lo, hi float64) bool { return x >= lo && x <= hi && !math.IsInf(x, 0) }
