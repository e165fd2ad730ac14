package main

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// findRun finds a run by its ID, or by its part when only one run has it.
func findRun(lib *atlas.Library, name string) (section.Run, error) {
	runs, err := lib.Runs()
	if err != nil {
		return section.Run{}, err
	}
	var hits, ids []string
	var hit section.Run
	for _, r := range runs {
		if r.ID == name {
			return r, nil
		}
		if strings.EqualFold(r.Part, name) {
			hit, hits = r, append(hits, r.ID)
		}
		ids = append(ids, r.ID)
	}
	switch len(hits) {
	case 1:
		return hit, nil
	case 0:
		if len(ids) == 0 {
			return hit, fmt.Errorf("there is no run %q: the library has none yet; begin one with run", name)
		}
		return hit, fmt.Errorf("there is no run %q; there are %s", name, strings.Join(ids, ", "))
	}
	return hit, fmt.Errorf("more than one run is of the part %q; name one of %s", name, strings.Join(hits, ", "))
}

// parseFace reads run:slab:facing; the parts may be parted by ":", "/" or spaces. ok is false when text is no such thing.
func parseFace(lib *atlas.Library, text string) (f section.Face, ok bool, err error) {
	parts := strings.FieldsFunc(text, func(r rune) bool { return r == ':' || r == '/' || r == ' ' })
	if len(parts) < 3 {
		return f, false, nil
	}
	n := len(parts)
	if f.Slab, err = strconv.Atoi(parts[n-2]); err != nil {
		return f, false, nil
	}
	if f.Facing, err = section.ParseFacing(parts[n-1]); err != nil {
		return f, true, misuse{err}
	}
	r, err := findRun(lib, strings.Join(parts[:n-2], " "))
	if err != nil {
		return f, true, err
	}
	f.Run = r.ID
	_, _, err = r.Depth(f)
	return f, true, err
}

// findFace finds a photograph by its code or by the face it is the current picture of.
func findFace(lib *atlas.Library, text string) (atlas.Plate, error) {
	f, ok, err := parseFace(lib, text)
	if err != nil {
		return atlas.Plate{}, err
	}
	if !ok {
		p, err := lib.Plate(text)
		if errors.Is(err, atlas.ErrNotFound) {
			return p, fmt.Errorf("there is no photograph %q; name a face as run:slab:facing, or a code that list prints", text)
		}
		return p, err
	}
	p, err := lib.PlateOf(f)
	if errors.Is(err, atlas.ErrNotFound) {
		return p, fmt.Errorf("%s of run %s has no photograph yet; add one with add-photo", f.Name(), f.Run)
	}
	return p, err
}

// findSeries finds a series of the library by its UID or the beginning of it.
func findSeries(lib *atlas.Library, uid string) (s scan.Series, donor string, err error) {
	all, err := lib.SeriesList("")
	if err != nil {
		return s, "", err
	}
	if s, err = oneSeries(all, uid); err != nil {
		return s, "", err
	}
	_, donor, err = lib.Series(s.UID)
	return s, donor, err
}

// pair is a scan that a face is placed in, and how it can be known.
type pair struct {
	Series   string            `json:"series"`
	Pose     geom.Pose         `json:"pose"`
	Method   string            `json:"method"` // ties, refined or level
	SameBody bool              `json:"sameBody"`
	Level    float64           `json:"level"` // of the middle of the face, along the axis of the cut, LPS mm
	RMS      number            `json:"rms"`
	ErrorAt  number            `json:"errorAtMiddle"`
	Status   string            `json:"status,omitempty"`
	Words    []string          `json:"words"`
	Sentence string            `json:"sentence"`
	Tilt     *register.Degrees `json:"tilt"`

	middle geom.MM // of the face
}

// pairsOf lists the series of the library in which p has a place, those known by landmarks first.
func pairsOf(lib *atlas.Library, p atlas.Plate) ([]pair, error) {
	out := []pair{}
	all, err := lib.SeriesList("")
	if err != nil || p.Face == (section.Face{}) {
		return out, err
	}
	for _, s := range all {
		r := p.Registration
		if r == nil || r.Series != s.UID {
			by, err := lib.ByLevel(p, s.UID)
			switch {
			case errors.Is(err, atlas.ErrNotFound) || errors.Is(err, atlas.ErrNotOriented) || errors.Is(err, geom.ErrTooFewPoints):
				continue
			case err != nil:
				return out, err
			}
			r = &by
		}
		x, err := pairOf(lib, p, s, *r)
		if err != nil {
			return out, err
		}
		out = append(out, x)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Method != register.ByLevel && out[j].Method == register.ByLevel })
	return out, nil
}

func pairOf(lib *atlas.Library, p atlas.Plate, s scan.Series, r register.Registration) (pair, error) {
	h, scaled := p.FaceMM()
	var middle geom.MM
	if scaled {
		middle = h.MM(p.MiddlePx())
	}
	_, donor, err := lib.Series(s.UID)
	if err != nil {
		return pair{}, err
	}
	x := pair{middle: middle, Series: s.UID, Pose: r.Pose, Method: r.Method, SameBody: donor == p.Donor, Status: r.Status, RMS: number(math.NaN()),
		Level: register.Along(p.Face.Facing.Plane(), r.At(middle)), ErrorAt: number(r.ErrorAt(middle)), Words: append([]string{}, r.Words()...)}
	t, err := lib.LevelTies(p.Face.Run, s.UID)
	if err == nil {
		x.SameBody = t.SameBody
	} else if !errors.Is(err, atlas.ErrNotFound) {
		return x, err
	}
	if r.Method != register.ByLevel {
		x.RMS = number(r.Fit.RMS)
	}
	if tilt, err := section.TiltOf(r.Pose, p.Face.Facing, p.PhotoUp); err == nil {
		d := register.InDegrees(tilt)
		x.Tilt = &d
	}
	x.Sentence = fmt.Sprintf("%s lies at %.1f mm of series %s, placed by %s.", strings.ToUpper(p.Face.Name()[:1])+p.Face.Name()[1:], x.Level, shortUID(s.UID), r.Method)
	if !x.SameBody {
		x.Sentence += " Face and scan are of different bodies: paired by level only, and structures will not meet exactly."
	}
	return x, nil
}

// shortUID is enough of a UID to tell it by.
func shortUID(uid string) string {
	if len(uid) > 16 {
		return uid[:16] + "..."
	}
	return uid
}
