package bench

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
)

// mostLabelFile bounds what is read of a file of labels, in bytes.
const mostLabelFile = 64 << 20

// ExportLabels writes the labels of the face to path; its ending says how: .svg, .json, .jsonld (W3C Web Annotation) or
// .csv, the table of measures; .nii writes the labels of the whole run on the grid of the chosen scan. A file that is there already is not written over (fs.ErrExist).
func (b *Bench) ExportLabels(path string) error {
	p, ok := b.Plate()
	if !ok {
		return ErrNoPhoto
	}
	if b.Reading().Blind {
		return fmt.Errorf("%w: %s", ErrForm, Word("second.nofiles"))
	}
	var out bytes.Buffer
	var err error
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg":
		err = p.Labels.WriteSVG(&out, p.Photo.Size.X, p.Photo.Size.Y, b.terms)
	case ".jsonld":
		err = p.Labels.WriteAnnotations(&out, annotationSource+p.ID, b.terms)
	case ".json":
		var text []byte
		if text, err = json.MarshalIndent(p.Labels, "", "\t"); err == nil {
			out.Write(text)
		}
	case ".csv":
		err = b.WriteMeasures(&out)
	case ".nii":
		return b.exportVolume(path)
	default:
		err = fmt.Errorf("%w: %s", ErrForm, Word("exchange.ending"))
	}
	if err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("bench: labels: %w", err)
	}
	_, err = f.Write(out.Bytes())
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("bench: labels: %w", err)
	}
	b.hint(Word("exchange.written", p.Labels.Len(), path), false)
	return nil
}

// annotationSource comes before a face's id in a page of annotations.
const annotationSource = "urn:face:"

// ImportLabels reads labels from a file that ExportLabels wrote as .svg, .json, .jsonld or .nii. Those the face has already, by
// id, stay as they are when equal and take the file's outline when not; others are added. It is one step, and signatures
// fall where outlines changed.
func (b *Bench) ImportLabels(path string) error {
	if err := b.nameable(); err != nil {
		return err
	}
	if b.Reading().Blind {
		return fmt.Errorf("%w: %s", ErrForm, Word("second.nofiles"))
	}
	if strings.EqualFold(filepath.Ext(path), ".nii") {
		return b.importVolume(path)
	}
	text, err := readSmall(path)
	if err != nil {
		return err
	}
	in, err := b.readLabels(path, text)
	if err != nil {
		return err
	}
	added, changed := 0, 0
	err = b.editLabels(Word("step.import"), "", func(l annotate.Labels) (annotate.Labels, error) {
		for x := range in.All() {
			if x.Term != "" && b.terms != nil {
				if err := b.terms.Check(x); err != nil {
					return l, err
				}
			}
			was, there := l.Find(x.ID)
			var err error
			switch {
			case !there:
				added++
				l, err = l.Add(x)
			case !sameOutline(was, x):
				changed++
				l, err = l.Reshape(x.ID, b.stamp(), x.Regions...)
			}
			if err != nil {
				return l, err
			}
		}
		if added+changed == 0 {
			return l, errNothingNew
		}
		return l, nil
	})
	if errors.Is(err, errNothingNew) {
		err = nil
	}
	if err == nil {
		b.hint(Word("exchange.read", added, changed, in.Len()-added-changed), false)
	}
	return err
}

var errNothingNew = errors.New("bench: the file holds what the face holds")

// outlineSlip is how far, in pixels, a point may differ and still be the same: files round.
const outlineSlip = 0.005

func sameOutline(a, b annotate.Label) bool {
	if len(a.Regions) != len(b.Regions) {
		return false
	}
	for i, p := range a.Regions {
		q := b.Regions[i]
		if p.Rings() != q.Rings() {
			return false
		}
		for n := range p.Rings() {
			r, s := p.Ring(n), q.Ring(n)
			if len(r) != len(s) {
				return false
			}
			for k := range r {
				if r[k].Dist(s[k]) > outlineSlip {
					return false
				}
			}
		}
	}
	return true
}

func readSmall(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("bench: labels: %w", err)
	}
	defer f.Close()
	if i, err := f.Stat(); err == nil && !i.Mode().IsRegular() {
		return nil, fmt.Errorf("bench: labels: %s: %w", path, fs.ErrNotExist)
	}
	text, err := io.ReadAll(io.LimitReader(f, mostLabelFile+1))
	if err == nil && len(text) > mostLabelFile {
		err = annotate.ErrAnnotations
	}
	if err != nil {
		return nil, fmt.Errorf("bench: labels: %s: %w", path, err)
	}
	return text, nil
}

// readLabels reads labels as the file's ending says; those of another face are refused.
func (b *Bench) readLabels(path string, text []byte) (l annotate.Labels, err error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg":
		return annotate.ReadSVG(bytes.NewReader(text))
	case ".jsonld":
		var source string
		l, source, err = annotate.ReadAnnotations(bytes.NewReader(text))
		if p, _ := b.Plate(); err == nil && source != annotationSource+p.ID {
			err = fmt.Errorf("%w: %s", ErrForm, Word("exchange.otherface"))
		}
		return l, err
	case ".json":
		if err = json.Unmarshal(text, &l); err != nil {
			err = fmt.Errorf("bench: labels: %s: %w", filepath.Base(path), errors.Join(atlas.ErrLabels, err))
		}
		return l, err
	}
	return l, fmt.Errorf("%w: %s", ErrForm, Word("exchange.ending.read"))
}
