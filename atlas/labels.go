package atlas

import (
	"encoding/json"
	"fmt"
	"image"
	"io"

	"sectionary/annotate"
	"sectionary/slices/section"
)

// labelsFormat names the exchange file and its version.
const labelsFormat = "sectionary-labels-1"

// maxLabelFile bounds what is read: 300 outlines of 10,000 points take about a tenth of it.
const maxLabelFile = 1 << 30

// labelFile is the exchange file of one face's labels.
type labelFile struct {
	Format string          `json:"format"`
	Pixels string          `json:"pixels"` // what the numbers mean, for people
	Size   image.Point     `json:"size"`   // of the upright photograph
	Labels annotate.Labels `json:"labels"`
}

// ExportLabels writes the labels of a plate as JSON: outlines in pixels of the upright photograph.
func (l *Library) ExportLabels(id string, w io.Writer) error {
	p, err := l.Plate(id)
	if err != nil {
		return err
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	err = e.Encode(labelFile{labelsFormat, "pixels of the upright photograph, centre of the first pixel 0,0, x right, y down", p.Photo.Size, p.Labels})
	if err != nil {
		return fmt.Errorf("atlas: writing labels: %w", err)
	}
	return nil
}

// ImportLabels adds the labels of an exchange file to a placed plate and saves it. A label whose ID is known
// replaces the one that was there. It fails with ErrLabels, and changes nothing, when the file is of another
// picture or holds an outline outside it.
func (l *Library) ImportLabels(id string, r io.Reader) (Plate, error) {
	p, err := l.Plate(id)
	if err != nil {
		return p, err
	}
	if p.Face == (section.Face{}) {
		return p, naming("photograph "+id, ErrUnplaced)
	}
	var f labelFile
	if err := json.NewDecoder(io.LimitReader(r, maxLabelFile)).Decode(&f); err != nil {
		return p, fmt.Errorf("%w: %w", ErrLabels, err)
	}
	if f.Format != labelsFormat {
		return p, fmt.Errorf("%w: format %q, this program reads %s", ErrLabels, f.Format, labelsFormat)
	}
	if f.Size != p.Photo.Size {
		return p, fmt.Errorf("%w: drawn on a picture of %v pixels, this one has %v", ErrLabels, f.Size, p.Photo.Size)
	}
	next := p.Labels
	for x := range f.Labels.All() {
		b, w, h := x.Bounds(), float64(f.Size.X), float64(f.Size.Y)
		if b.Min.X < -0.5 || b.Min.Y < -0.5 || b.Max.X > w-0.5 || b.Max.Y > h-0.5 {
			return p, fmt.Errorf("%w: outline %s leaves the picture", ErrLabels, x.ID)
		}
		if _, known := next.Find(x.ID); known {
			if next, err = next.Remove(x.ID); err != nil {
				return p, err
			}
		}
		if next, err = next.Add(x); err != nil {
			return p, fmt.Errorf("%w: %w", ErrLabels, err)
		}
	}
	p.Labels = next
	return l.Save(p)
}
