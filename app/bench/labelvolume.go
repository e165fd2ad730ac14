package bench

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// keyPath is where the key of a label volume stands: beside it, ending in .csv.
func keyPath(path string) string { return strings.TrimSuffix(path, filepath.Ext(path)) + ".csv" }

// onScan is a plate's face as it lies in the chosen series; ok is false while nothing but a guess says where.
func (b *Bench) onScan(p atlas.Plate) (f atlas.FaceOnScan, ok bool) {
	h, scaled := faceMM(p)
	pose, how, placed := b.poseOf(p, p.Face)
	if !scaled || !placed || how == freely || !lettersKnown(p) {
		return f, false
	}
	bent := b.bentOf(p, p.Face)
	return atlas.FaceOnScan{Labels: p.Labels, Pose: pose,
		ToMM: func(q geom.Px) geom.MM { return bent.flat(h.MM(q)) },
		ToPx: func(m geom.MM) geom.Px { return h.Px(bent.back(m)) }}, true
}

// facesOnScan are all photographed faces of the run with labels that lie in the chosen series, in order.
func (b *Bench) facesOnScan() (out []atlas.FaceOnScan) {
	for _, f := range b.Run().Faces() {
		if b.rule.facts[f].labels == 0 {
			continue
		}
		if p, ok := b.plateOn(f); ok {
			if x, ok := b.onScan(p); ok {
				out = append(out, x)
			}
		}
	}
	return out
}

// exportVolume writes the labels of the whole run as a NIfTI label volume on the grid of the chosen series, with its key beside it. It is
// a job; files that are there already are not written over.
func (b *Bench) exportVolume(path string) error {
	series := b.pair.series
	if series == "" {
		return fmt.Errorf("%w: %s", ErrForm, Word("exchange.nii.noscan"))
	}
	for _, p := range []string{path, keyPath(path)} {
		if _, err := os.Lstat(p); err == nil {
			return fmt.Errorf("bench: labels: %s: %w", p, fs.ErrExist)
		}
	}
	faces, lib := b.facesOnScan(), b.lab.lib
	name := func(id annotate.TermID) string {
		if t, ok := b.term(id); ok {
			return t.Name
		}
		return string(id)
	}
	b.start(Word("job.labels.write"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		grid, err := lib.Volume(ctx, series)
		if err != nil {
			return nil, err
		}
		v, keys, err := atlas.LabelVolume(ctx, grid, faces, tell)
		if err != nil {
			return nil, err
		}
		return func() {
			if err := writeVolume(path, v, keys, name); err != nil {
				b.Report(err)
				return
			}
			b.hint(Word("exchange.nii.written", len(keys), len(faces), path), false)
		}, nil
	})
	return nil
}

// writeVolume writes volume and key; of a pair that cannot be finished nothing stays.
func writeVolume(path string, v *scan.Volume, keys []atlas.VolumeKey, name func(annotate.TermID) string) error {
	write := func(path string, fill func(f *os.File) error) error {
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err != nil {
			return err
		}
		if err = errors.Join(fill(f), f.Close()); err != nil {
			os.Remove(path)
		}
		return err
	}
	err := write(path, func(f *os.File) error { return v.WriteNIfTI(f) })
	if err == nil {
		if err = write(keyPath(path), func(f *os.File) error { return atlas.WriteKey(f, keys, name) }); err != nil {
			os.Remove(path)
		}
	}
	if err != nil {
		return fmt.Errorf("bench: labels: %w", err)
	}
	return nil
}

// importVolume carries the labels of a volume on the grid of the chosen series to the chosen face: dashed, and counted nowhere until a
// person keeps each. Structures the face has already are left out. It is a job.
func (b *Bench) importVolume(path string) error {
	if b.pair.series == "" {
		return fmt.Errorf("%w: %s", ErrForm, Word("exchange.nii.noscan"))
	}
	p, _ := b.Plate()
	f, ok := b.onScan(p)
	if !ok {
		return fmt.Errorf("%w: %s", ErrForm, Word("carry.nolevel"))
	}
	s, _ := b.series()
	d, size, run, centre := b.doc, p.Photo.Size, b.Run(), b.pair.tied.Centre
	b.start(Word("job.labels.read"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		v, keys, err := readVolume(path, s)
		if err != nil {
			return nil, err
		}
		found, err := atlas.TraceLabels(ctx, v, f, size.X, size.Y)
		if err != nil {
			return nil, err
		}
		spans, err := spansOf(ctx, v, keys, b.keyName, run.Plane, f.Pose, centre)
		if err != nil {
			return nil, err
		}
		return func() {
			if spans.series = s.UID; b.pair.series == s.UID && b.Run().ID == run.ID {
				b.pair.spans = spans
				b.changed(ScanChanged)
			}
			if b.doc == d && !d.blind { // a second reader sees nothing of this
				b.addTraced(found, keys, filepath.Base(path))
			}
		}, nil
	})
	return nil
}

// readVolume reads a label volume with its key, where there is one, and sees that it lies on the grid of series s.
func readVolume(path string, s scan.Series) (*scan.Volume, []atlas.VolumeKey, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("bench: labels: %w", err)
	}
	defer f.Close()
	v, err := scan.ReadNIfTI(f)
	if err != nil {
		return nil, nil, fmt.Errorf("bench: labels: %s: %w", path, err)
	}
	if err := sameGrid(v, s); err != nil {
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	k, err := os.Open(keyPath(path))
	if errors.Is(err, fs.ErrNotExist) {
		return v, nil, nil // the numbers stay without names
	}
	if err != nil {
		return nil, nil, fmt.Errorf("bench: labels: %w", err)
	}
	defer k.Close()
	keys, err := atlas.ReadKey(k)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", keyPath(path), err)
	}
	return v, keys, nil
}

// sameGrid reports a label volume that was made for another scan. NIfTI keeps places as float32, a few millionths of a mm.
func sameGrid(v *scan.Volume, s scan.Series) error {
	same := v.Size == s.Size && !v.Unoriented
	for i := range v.ToLPS {
		d := v.ToLPS[i] - s.ToLPS[i]
		same = same && d < 0.01 && d > -0.01
	}
	if !same {
		return fmt.Errorf("%w: %s", atlas.ErrLabelGrid, Word("exchange.nii.othergrid"))
	}
	return nil
}

// addTraced adds what was traced from a label volume to the chosen face in one step.
func (b *Bench) addTraced(found []atlas.Traced, keys []atlas.VolumeKey, file string) {
	var all annotate.Labels
	for _, t := range found {
		x := annotate.Label{ID: strings.ToLower(rand.Text()[:12]), Regions: t.Regions, Author: b.stamp().Author, Changed: b.stamp().At,
			Carried: true, From: Word("carry.fromscan")}
		if i := slices.IndexFunc(keys, func(k atlas.VolumeKey) bool { return k.Number == t.Number }); i >= 0 {
			x.Term, x.Side = keys[i].Term, keys[i].Side
		} else {
			x.Note = Word("exchange.nii.number", t.Number, file)
		}
		if b.terms != nil && x.Term != "" && b.terms.Check(x) != nil {
			x.Note, x.Term, x.Side = strings.TrimSpace(x.Note+" "+string(x.Term)), "", annotate.NoSide
		}
		if next, err := all.Add(x); err == nil {
			all = next
		}
	}
	p, _ := b.Plate()
	carried := slices.Collect(lackingNamed(all, p.Labels).All())
	if len(carried) == 0 {
		b.hint(Word("exchange.nii.nothing"), true)
		return
	}
	if err := b.editLabels(Word("step.carry", Word("carry.fromscan")), "", func(l annotate.Labels) (annotate.Labels, error) { return l.AddAll(carried) }); err != nil {
		b.Report(err)
		return
	}
	b.ChooseLabel(carried[0].ID)
	b.hint(Word("exchange.nii.read", len(carried)), false)
}

// lackingNamed is lacking, but what has no name yet stays.
func lackingNamed(l, have annotate.Labels) (out annotate.Labels) {
	named := lacking(l, have)
	for x := range l.All() {
		if _, ok := named.Find(x.ID); ok || x.Term == "" {
			if next, err := out.Add(x); err == nil {
				out = next
			}
		}
	}
	return out
}
