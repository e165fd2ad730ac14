package scan

import (
	"errors"
	"io"

	"sectionary/slices/geom"
)

// SyntheticSlice is one slice of an invented CT series, as the practice lab makes them. Every file says that it is
// synthetic in its series description and image comments.
type SyntheticSlice struct {
	Seed        uint64     // fixes every UID, under 2.25; slices of one series share it
	Series      int        // number of the series within the seed, from 1
	Number      int        // instance number, from 1
	Code        string     // lab code of the donor, written as patient ID; never a name
	Description string     // free text; " (synthetic)" is put behind it
	BodyPart    string     // DICOM defined term, such as "CHEST"; may be empty
	Columns     int        // pixels across
	Rows        int        // pixels down
	HU          []int16    // Columns*Rows values, row by row, -1024 to 31743
	Origin      geom.LPS   // centre of the first pixel
	Row, Column geom.Vec   // unit vectors along a row and down a column
	Spacing     [2]float64 // mm between columns, between rows
	Thickness   float64    // mm
	Windows     []Window   // centre, width and name are written
}

// WriteDICOM writes one slice as a DICOM CT image: explicit little endian, 16 bit, rescale intercept -1024.
// The bytes depend on s alone.
func WriteDICOM(w io.Writer, s SyntheticSlice) error { return errors.New("scan: not built yet") }
