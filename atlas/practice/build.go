package practice

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// Build makes the practice lab as a library at dir, which must be empty or absent: the material of Write, taken in
// as a lab would. Most faces are complete; some wait for a scale, for names or for ties, so that there is something
// to do. It fails as Write and the library do, and leaves nothing half made: a library that could not be finished
// is taken away again.
func Build(ctx context.Context, dir string, seed uint64, progress func(done, total int)) (err error) {
	if err := emptyDir(dir); err != nil {
		return err
	}
	raw, err := os.MkdirTemp(filepath.Dir(filepath.Clean(dir)), ".practice-")
	if err != nil {
		return fmt.Errorf("practice: %w", err)
	}
	defer os.RemoveAll(raw)
	truth, err := Write(ctx, filepath.Join(raw, "material"), seed, share(progress, 0, 3, 4))
	if err != nil {
		return err
	}
	lab := filepath.Join(raw, "lab")
	if err := fill(ctx, lab, filepath.Join(raw, "material"), truth, share(progress, 3, 1, 4)); err != nil {
		return fmt.Errorf("practice: %w", err)
	}
	if err := os.Remove(dir); err != nil {
		return fmt.Errorf("practice: %w", err)
	}
	if err := os.Rename(lab, dir); err != nil {
		return fmt.Errorf("practice: %w", err)
	}
	return nil
}

// share reports one stretch of the whole work: from to from+share of all.
func share(progress func(done, total int), from, part, all int) func(done, total int) {
	return func(done, total int) {
		if progress != nil && total > 0 {
			const fine = 1000
			progress(fine*from/all+fine*part*done/(all*total), fine)
		}
	}
}

func fill(ctx context.Context, lab, material string, truth *Truth, progress func(done, total int)) (err error) {
	lib, err := atlas.Create(lab)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lib.Close()) }()
	err = lib.AddDonor(atlas.Donor{Code: truth.Donor, Synthetic: true, Agreement: atlas.Agreement{
		Reference: "practice agreement", Ends: time.Now().UTC().AddDate(4, 0, 0).Truncate(24 * time.Hour),
		Permitted: map[atlas.Purpose]bool{atlas.Teaching: true, atlas.Exam: true}, ChangedBy: "the practice office",
	}})
	if err != nil {
		return err
	}
	var failed error
	series, err := lib.AddSeries(ctx, truth.Donor, os.DirFS(filepath.Join(material, "scan")), func(path string, err error) { failed = err }, nil)
	if err = errors.Join(err, failed); err != nil {
		return err
	}
	if len(series) != 1 {
		return fmt.Errorf("the practice scan came in as %d series", len(series))
	}
	runs := map[string]section.Run{}
	for _, r := range truth.Runs {
		if r, err = lib.SaveRun(r); err != nil {
			return err
		}
		runs[r.ID] = r
		if err := lib.SaveLevelTies(levelTies(r, truth, series[0].UID)); err != nil {
			return err
		}
	}
	for i, t := range truth.Faces {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := take(ctx, lib, material, t, series[0].UID, runs[t.Face.Run]); err != nil {
			return fmt.Errorf("%s: %w", t.Photo, err)
		}
		progress(i+1, len(truth.Faces))
	}
	return nil
}

// levelTies ties the first and the last photographed face of a run to the scan.
func levelTies(r section.Run, truth *Truth, series string) atlas.LevelTies {
	out := atlas.LevelTies{Run: r.ID, Series: series, SameBody: true}
	var first, last *TruthFace
	for i, t := range truth.Faces {
		if t.Face.Run != r.ID {
			continue
		}
		if first == nil {
			first = &truth.Faces[i]
		}
		last = &truth.Faces[i]
	}
	if first == nil {
		return out
	}
	for _, t := range []*TruthFace{first, last} {
		out.Levels = append(out.Levels, register.Level{Run: t.Depth, Scan: t.Level})
	}
	out.Centre = first.centre()
	return out
}

// centre is where the middle of its landmarks lies in the patient: near enough the middle of the face.
func (t TruthFace) centre() geom.LPS {
	var c geom.MM
	for _, tie := range t.Ties {
		m := t.PxToMM.MM(tie.Px)
		c.X, c.Y = c.X+m.X/float64(len(t.Ties)), c.Y+m.Y/float64(len(t.Ties))
	}
	return t.Pose.At(c)
}

// How far a face has come in the practice lab, by slab: the last slabs of every run are left to do.
func stage(r section.Run, slab int) (scaled, named, tied bool) {
	switch n := len(r.Slabs); {
	case slab == n:
		return false, false, false
	case slab == n-1:
		return true, false, false
	case slab%4 == 0:
		return true, true, false
	}
	return true, true, true
}

func take(ctx context.Context, lib *atlas.Library, material string, t TruthFace, series string, r section.Run) error {
	f, err := os.Open(filepath.Join(material, filepath.FromSlash(t.Photo)))
	if err != nil {
		return err
	}
	defer f.Close()
	p, err := lib.AddPhoto(ctx, t.Face, Donor, t.Photo, f)
	if err != nil {
		return err
	}
	scaled, named, tied := stage(r, t.Face.Slab)
	p.Mask = []annotate.Polygon{t.Tag}
	if scaled {
		p.PhotoUp = t.PhotoUp
		if p.Calibration, err = photo.Grid(cornerTies(t)); err != nil {
			return err
		}
		p.Calibration.Set = p.Photo.Taken.Add(24 * time.Hour)
	}
	if named {
		p.Border = t.border
		if p.Labels, err = labelled(t.labels); err != nil {
			return err
		}
		for _, x := range t.labels {
			if p.Labels, err = p.Labels.Sign(x.ID, annotate.Stamp{Author: "second reader", At: x.Changed.Add(24 * time.Hour)}); err != nil {
				return err
			}
		}
	}
	if tied {
		ties := make([]register.Tie, len(t.Ties))
		for i, tie := range t.Ties {
			ties[i] = register.Tie{Face: tie.Px, Scan: tie.Scan, Note: tie.Name}
		}
		reg, err := register.FromTies(series, p.Calibration.Map(), ties, t.Face.Facing, false)
		if err != nil {
			return err
		}
		p.Registration = &reg
	}
	_, err = lib.Save(p)
	return err
}

func cornerTies(t TruthFace) []photo.Tie {
	mm := [4]geom.MM{{X: 0, Y: 0}, {X: cornerW, Y: 0}, {X: cornerW, Y: cornerH}, {X: 0, Y: cornerH}}
	out := make([]photo.Tie, 4)
	for i := range mm {
		out[i] = photo.Tie{Px: t.Corners[i], MM: mm[i]}
	}
	return out
}
