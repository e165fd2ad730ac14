package scan

import (
	"math"

	"sectionary/slices/geom"
)

// Series is one stack of slices that lie in one patient space: same orientation, same spacing, same matrix. A stored
// series that mixes several stacks is split; the largest keeps the stored UID, the others get "-2", "-3" behind it.
type Series struct {
	UID         string // unique within a survey
	Modality    string // "CT", "MR"; "" when the file does not say (NIfTI)
	Description string
	Frame       string      // frame of reference: series that share it share LPS; "" when unknown
	Size        [3]int      // columns, rows, slices
	ToLPS       geom.Affine // voxel to patient mm; the slice step is the usual one, Origins hold the truth of an uneven stack
	Positions   []float64   // mm along Normal, one per slice, rising
	Files       []string    // in the order of the slices; a file of many frames stands once
	Warnings    []string    // one plain sentence each
	Unoriented  bool        // the file does not say where the body's sides are: edge letters are "?"
	Localizer   bool        // an overview picture, no stack to cut

	Slices  []SliceRef   // where each slice is stored, in order
	Origins []geom.LPS   // centre of the first voxel of each slice, in order
	Gaps    []bool       // Gaps[k]: slices are missing between slice k and k+1; len(Slices)-1 long
	Windows []Window     // windows of the first slice's header
	Volume  int          // which volume of a NIfTI time series, from 0
	kind    sourceFormat // DICOM or NIfTI
	plan    *plan        // how Load holds the voxels; DICOM only
}

// SliceRef says where a slice is stored.
type SliceRef struct {
	File  int // index into Series.Files
	Frame int // frame within that file, from 0
}

type sourceFormat uint8

const (
	fromDICOM sourceFormat = iota
	fromNIfTI
)

// RowDirection is the unit vector along a row, from the first column to the last: the first three cosines of DICOM's
// Image Orientation (Patient).
func (s Series) RowDirection() geom.Vec { return s.ToLPS.Column(0).Unit() }

// ColumnDirection is the unit vector down a column, from the first row to the last.
func (s Series) ColumnDirection() geom.Vec { return s.ToLPS.Column(1).Unit() }

// Normal is RowDirection x ColumnDirection; slices are in order along it.
func (s Series) Normal() geom.Vec {
	return s.ToLPS.Column(0).Cross(s.ToLPS.Column(1)).Unit()
}

// Spacing returns mm between columns, between rows and between slices, the last along the normal.
func (s Series) Spacing() [3]float64 {
	return [3]float64{s.ToLPS.Column(0).Len(), s.ToLPS.Column(1).Len(), math.Abs(s.ToLPS.Column(2).Dot(s.Normal()))}
}

// Origin is the centre of the first voxel of the first slice.
func (s Series) Origin() geom.LPS { return s.ToLPS.Origin() }

// Tilt is the angle in radians between the normal and the way from slice to slice; a tilted gantry shows here.
func (s Series) Tilt() float64 {
	n, step := s.Normal(), s.ToLPS.Column(2)
	return math.Atan2(n.Cross(step).Len(), math.Abs(n.Dot(step)))
}

// Record is what the prompt's survey verb prints for a series. Lengths are mm, vectors LPS.
type Record struct {
	UID             string     `json:"uid"`
	Modality        string     `json:"modality"`
	Description     string     `json:"description"`
	Size            [3]int     `json:"size"`
	Spacing         [3]float64 `json:"spacing"`
	RowDirection    [3]float64 `json:"rowDirection"`
	ColumnDirection [3]float64 `json:"columnDirection"`
	Normal          [3]float64 `json:"normal"`
	Origin          [3]float64 `json:"origin"`
	Frame           string     `json:"frame"`
	Warnings        []string   `json:"warnings"`
	Files           []string   `json:"files"`
	Positions       []float64  `json:"positions"`
	Unoriented      bool       `json:"unoriented"`
	Localizer       bool       `json:"localizer"`
	TiltDegrees     float64    `json:"tiltDegrees"`
}

// Record returns the facts of the series as the survey verb prints them. Empty lists are lists, never null.
func (s Series) Record() Record {
	list := func(v geom.Vec) [3]float64 { return [3]float64{v.X + 0, v.Y + 0, v.Z + 0} } // + 0: no negative zero
	return Record{
		UID: s.UID, Modality: s.Modality, Description: s.Description, Frame: s.Frame,
		Size: s.Size, Spacing: s.Spacing(),
		RowDirection: list(s.RowDirection()), ColumnDirection: list(s.ColumnDirection()), Normal: list(s.Normal()),
		Origin:   list(geom.Vec(s.Origin())),
		Warnings: append([]string{}, s.Warnings...), Files: append([]string{}, s.Files...),
		Positions:  append([]float64{}, s.Positions...),
		Unoriented: s.Unoriented, Localizer: s.Localizer, TiltDegrees: s.Tilt() * 180 / math.Pi,
	}
}
