package section_test

import (
	"encoding/json"
	"strings"
	"testing"

	"sectionary/slices/section"
)

// The rows of the laterality plan on limbs: proximal is the superior face, distal the inferior one; on the scan view of a
// right limb picture left is lateral, of a left limb medial. Edge letters stay those of the body.
func TestLimbWords(t *testing.T) {
	for _, c := range []struct {
		limb              section.Limb
		scanLeft, onRight string
	}{
		{section.RightUpper, "lateral", "lateral"}, {section.RightLower, "lateral", "lateral"},
		{section.LeftUpper, "medial", "medial"}, {section.LeftLower, "medial", "medial"},
	} {
		r := section.Run{ID: "r", Part: "limb", Limb: c.limb, Plane: section.Transverse, First: section.Superior,
			Slabs: []section.Slab{{Number: 1}, {Number: 2}}}
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		f := section.Face{Run: "r", Slab: 2, Facing: section.Inferior}
		if got := r.Name(f); got != "slab 2, distal face" {
			t.Error(got)
		}
		if got := r.Name(section.Face{Run: "r", Slab: 2, Facing: section.Superior}); got != "slab 2, proximal face" {
			t.Error(got)
		}
		if got := r.SeenFrom(section.Inferior); got != "seen from the distal end" {
			t.Error(got)
		}
		// Scan view of a transverse face: picture left is the donor's right, limb or not.
		e := section.EdgeLetters(section.Inferior, section.Anterior, section.Scan)
		left, err := section.ParseFacing(e.Left)
		if err != nil || e.Left != "R" || r.DirectionWord(left) != c.scanLeft || r.DirectionWord(section.Right) != c.onRight {
			t.Errorf("%v: picture left %s is %q", c.limb, e.Left, r.DirectionWord(left))
		}
	}
	whole := section.Run{Plane: section.Transverse, First: section.Superior}
	for f := section.UnknownFacing; f <= section.Right; f++ {
		if whole.DirectionWord(f) != "" || whole.SeenFrom(f) != f.SeenFrom() {
			t.Errorf("a trunk has words of a limb for %v", f)
		}
	}
}

// The rows on halves: the cut surface of a right half is a left face and matches the scan as it lies (nose to picture left),
// that of a left half a right face, which needs a mirror.
func TestMedianFaces(t *testing.T) {
	for _, c := range []struct {
		half, first, looks section.Facing
		slab               int
		mirror             bool
	}{
		{section.Right, section.Right, section.Left, 3, false}, {section.Right, section.Left, section.Left, 1, false},
		{section.Left, section.Left, section.Right, 3, true}, {section.Left, section.Right, section.Right, 1, true},
	} {
		r := section.Run{ID: "r", Part: "head", Half: c.half, Plane: section.Sagittal, First: c.first, Slabs: []section.Slab{{Number: 1}, {Number: 2}, {Number: 3}}}
		f, ok := r.Median()
		if !ok || f.Facing != c.looks || f.Slab != c.slab || !strings.HasSuffix(r.Name(f), "median face") {
			t.Errorf("%v half from the %v: %v %v", c.half, c.first, f, ok)
		}
		_, mirror, err := section.Turn(f.Facing, section.Superior, section.Scan)
		if err != nil || mirror != c.mirror {
			t.Errorf("%v half: mirror %v, %v", c.half, mirror, err)
		}
		e := section.EdgeLetters(f.Facing, section.Superior, section.Bench)
		if nose := e.Left == "A"; nose == c.mirror {
			t.Errorf("%v half in bench view: %+v", c.half, e)
		}
		if got := r.Name(section.Face{Run: "r", Slab: 2, Facing: c.half}); got != "slab 2, lateral face" {
			t.Error(got)
		}
		count := 0
		for _, x := range r.Faces() {
			if strings.HasSuffix(r.Name(x), "median face") {
				count++
			}
		}
		if count != 1 || r.Name(f) == r.Name(section.Face{Run: "r", Slab: 2, Facing: f.Facing}) {
			t.Errorf("%d median faces", count)
		}
	}
	if _, ok := (section.Run{Half: section.Left, Plane: section.Transverse, Slabs: []section.Slab{{Number: 1}}}).Median(); ok {
		t.Error("a half cut across has a median face among its cuts")
	}
}

func TestNamesLimb(t *testing.T) {
	for part, want := range map[string]struct {
		names bool
		of    section.Limb
	}{
		"left arm": {true, section.LeftUpper}, "Right Thigh": {true, section.RightLower}, "foot": {true, section.NoLimb}, "feet": {true, section.NoLimb},
		"right lower limb": {true, section.RightLower}, "upper part of the left leg": {true, section.LeftLower}, "hands": {true, section.NoLimb},
		"trunk": {}, "head and neck": {}, "left half of the head": {}, "charm": {}, "": {}, "upper abdomen": {},
	} {
		if names, of := section.NamesLimb(part); names != want.names || of != want.of {
			t.Errorf("%q: %v %v", part, names, of)
		}
	}
}

func TestPiecesInJSON(t *testing.T) {
	for _, bad := range []section.Run{
		{Plane: section.Transverse, First: section.Superior, Limb: section.LeftUpper, Half: section.Left},
		{Plane: section.Transverse, First: section.Superior, Limb: 9}, {Plane: section.Transverse, First: section.Superior, Half: section.Superior},
	} {
		if bad.Check() == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
	for _, r := range []section.Run{{Limb: section.LeftLower, Plane: section.Frontal, First: section.Anterior}, {Half: section.Right, Plane: section.Frontal, First: section.Anterior}, {}} {
		raw, err := json.Marshal(r)
		var back section.Run
		if err != nil || json.Unmarshal(raw, &back) != nil || back.Limb != r.Limb || back.Half != r.Half {
			t.Errorf("%s: %+v", raw, back)
		}
		if r.Limb == section.NoLimb && strings.Contains(string(raw), "limb") {
			t.Errorf("%s", raw)
		}
	}
}
