package practice

import (
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// plateOf is a face of the practice material as a plate with its border.
func plateOf(t TruthFace, size image.Point, border []annotate.Polygon) atlas.Plate {
	return atlas.Plate{ID: t.Photo, Face: t.Face, PhotoUp: t.PhotoUp, Mirrored: atlas.No, Border: border,
		Photo: photo.Info{Size: size}, Calibration: photo.Calibration{ToMM: t.PxToMM, Status: photo.Rectified}}
}

func outlinesOf(t *testing.T, run section.Run, faces []TruthFace, dir string) []atlas.Outline {
	t.Helper()
	var out []atlas.Outline
	for _, f := range faces {
		if f.Face.Run != run.ID {
			continue
		}
		size, border := image.Pt(1, 1), f.border
		for _, c := range f.Corners {
			size = image.Pt(max(size.X, int(c.X)+1), max(size.Y, int(c.Y)+1))
		}
		if dir != "" { // the border as it is found in the picture
			file, err := os.Open(filepath.Join(dir, f.Photo))
			if err != nil {
				t.Fatal(err)
			}
			m, err := photo.Open(t.Context(), file, photo.Limit{})
			file.Close()
			if err != nil {
				t.Fatal(err)
			}
			found, err := photo.FaceBorder(m)
			if err != nil {
				t.Fatal(err)
			}
			size, border = m.Size(), nil
			for _, r := range found.Rings {
				border = append(border, annotate.Polygon{Outer: r})
			}
		}
		o, err := plateOf(f, size, border).Outline(nil)
		if err != nil {
			t.Fatalf("%s: %v", f.Face.Name(), err)
		}
		out = append(out, o)
	}
	return out
}

// CP3: the practice runs in right order raise no flag; any two slabs of the trunk in each other's place are named first, whether the
// borders are drawn ones or found in the pictures. The truth is the material's own.
func TestCP3PartnersTellTheOrder(t *testing.T) {
	dir, truth := truthOf(t)
	for _, c := range []struct{ name, dir string }{{"drawn borders", ""}, {"found borders", dir}} {
		t.Run(c.name, func(t *testing.T) {
			for _, run := range truth.Runs {
				outlines := outlinesOf(t, run, made.Faces, c.dir)
				cuts, doubts := atlas.CheckOrder(run, outlines)
				for _, x := range cuts {
					t.Logf("%s, cut after slab %d: partners %.4f, a slab apart %.4f", run.Part, x.After, x.Dice, x.Neighbour)
					if x.Doubtful {
						t.Errorf("%s: the cut after slab %d is called doubtful", run.Part, x.After)
					}
				}
				if len(doubts) > 0 {
					t.Errorf("%s in right order: %s", run.Part, doubts[0].Words())
				}
				if run.Part != "trunk" {
					continue
				}
				named, of := 0, 0
				for i := 1; i <= len(run.Slabs); i++ {
					for j := i + 1; j <= len(run.Slabs); j++ {
						if c.dir != "" && j > i+1 {
							continue // the drawn ones are tried in all pairs
						}
						of++
						if _, d := atlas.CheckOrder(run, exchanged(outlines, i, j)); len(d) > 0 && d[0].Slabs == [2]int{i, j} {
							named++
						} else if len(d) > 0 {
							t.Logf("slabs %d and %d: %s", i, j, d[0].Words())
						} else {
							t.Logf("slabs %d and %d: no flag", i, j)
						}
					}
				}
				t.Logf("exchanged slabs named first: %d of %d", named, of)
				// below slab 8 the invented body hardly changes its outline, and the last face has no photograph: there two pairs
				// cannot be told
				if named < of*95/100 && of > 20 || named < of-1 && of <= 20 {
					t.Errorf("exchanged slabs named first: %d of %d", named, of)
				}
			}
		})
	}
}

// exchanged puts the faces of two slabs in each other's place.
func exchanged(outlines []atlas.Outline, i, j int) []atlas.Outline {
	out := append([]atlas.Outline{}, outlines...)
	for k := range out {
		switch out[k].Face.Slab {
		case i:
			out[k].Face.Slab = j
		case j:
			out[k].Face.Slab = i
		}
	}
	return out
}

// Partners lie on each other as their truth says: a point of one face, carried to its partner, lies where both poses put it, to a kerf's
// breadth and what the borders can tell.
func TestPartnersLieOnEachOther(t *testing.T) {
	_, truth := truthOf(t)
	run := truth.Runs[0]
	by := map[section.Face]TruthFace{}
	for _, f := range made.Faces {
		by[f.Face] = f
	}
	on := map[section.Face]atlas.Outline{}
	for _, o := range outlinesOf(t, run, made.Faces, "") {
		on[o.Face] = o
	}
	worst := 0.0
	for _, f := range run.Faces() {
		z, ok := run.Partner(f)
		if _, has := by[z]; !ok || f.Facing == run.First || !has {
			continue
		}
		a, b := on[f], on[z]
		laid := b.On(a)
		for _, tie := range by[z].Ties {
			p := by[z].Pose.At(by[z].PxToMM.MM(tie.Px))
			m, _ := by[f].Pose.Project(p)
			want := a.To(by[f].PxToMM.Px(m))
			got := laid.At(b.To(tie.Px))
			worst = math.Max(worst, got.Dist(want))
		}
	}
	t.Logf("worst place: %.1f mm off", worst)
	if worst > 8 {
		// slabs sag by up to 3 %, each its own way, and an outline is laid without stretching
		t.Errorf("a place of a face lies %.1f mm off on its partner", worst)
	}
}
