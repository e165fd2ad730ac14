package atlas

import (
	"bytes"
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

// ReadLabels reads an exchange file of labels, or a bare JSON array of them. size is that of the picture they were
// drawn on, zero when the file does not say. It fails with ErrLabels.
func ReadLabels(r io.Reader) (labels annotate.Labels, size image.Point, err error) {
	b, err := io.ReadAll(io.LimitReader(r, maxLabelFile))
	if err != nil {
		return labels, size, fmt.Errorf("%w: %w", ErrLabels, err)
	}
	if bytes.HasPrefix(bytes.TrimSpace(b), []byte("[")) {
		if err := json.Unmarshal(b, &labels); err != nil {
			return labels, size, fmt.Errorf("%w: %w", ErrLabels, err)
		}
		return labels, size, nil
	}
	var f labelFile
	if err := json.Unmarshal(b, &f); err != nil {
		return labels, size, fmt.Errorf("%w: %w", ErrLabels, err)
	}
	if f.Format != labelsFormat {
		return labels, size, fmt.Errorf("%w: format %q, this program reads %s", ErrLabels, f.Format, labelsFormat)
	}
	return f.Labels, f.Size, nil
}

// ImportLabels adds the labels of an exchange file to a placed plate and saves it, as AddLabels does. It fails
// with ErrLabels, and changes nothing, when the file is of another picture.
func (l *Library) ImportLabels(id string, r io.Reader) (Plate, error) {
	labels, size, err := ReadLabels(r)
	if err != nil {
		return Plate{}, err
	}
	return l.AddLabels(id, labels, size)
}

// AddLabels adds labels to a placed plate and saves it. A label whose ID is known replaces the one that was
// there. size is that of the picture they were drawn on, zero when not known. It fails with ErrLabels, and changes
// nothing, when that is another picture or an outline leaves it.
func (l *Library) AddLabels(id string, labels annotate.Labels, size image.Point) (Plate, error) {
	p, err := l.Plate(id)
	if err != nil {
		return p, err
	}
	if p.Face == (section.Face{}) {
		return p, naming("photograph "+id, ErrUnplaced)
	}
	if size != (image.Point{}) && size != p.Photo.Size {
		return p, fmt.Errorf("%w: drawn on a picture of %v pixels, this one has %v", ErrLabels, size, p.Photo.Size)
	}
	next := p.Labels
	w, h := float64(p.Photo.Size.X), float64(p.Photo.Size.Y)
	for x := range labels.All() {
		if b := x.Bounds(); b.Min.X < -0.5 || b.Min.Y < -0.5 || b.Max.X > w-0.5 || b.Max.Y > h-0.5 {
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
