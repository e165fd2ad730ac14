package scan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

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

const (
	ctStorage  = "1.2.840.10008.5.1.4.1.1.2"
	intercept  = -1024
	ownVersion = "SECTIONARY_1"
)

// WriteDICOM writes one slice as a DICOM CT image (PS3.3 A.3): explicit little endian, 16 bit unsigned, rescale intercept
// -1024. The bytes depend on s alone. It fails when the values do not fill the picture or lie outside what can be stored.
func WriteDICOM(w io.Writer, s SyntheticSlice) error {
	if s.Columns < 1 || s.Rows < 1 || s.Columns > 65535 || s.Rows > 65535 || len(s.HU) != s.Columns*s.Rows {
		return fmt.Errorf("scan: %d values do not fill a slice of %d x %d", len(s.HU), s.Columns, s.Rows)
	}
	for _, x := range s.HU {
		if x < intercept {
			return fmt.Errorf("scan: a value of %d HU, the least a CT slice holds is %d", x, intercept)
		}
	}
	if err := (geom.Pose{X: s.Row, Y: s.Column, Scale: 1}).Check(); err != nil {
		return fmt.Errorf("scan: slice axes: %w", err)
	}
	if _, err := w.Write(s.bytes()); err != nil {
		return fmt.Errorf("scan: writing slice %d: %w", s.Number, err)
	}
	return nil
}

func (s SyntheticSlice) uid(kind string, n int) string {
	return madeUID(fmt.Sprintf("synthetic %d %s %d", s.Seed, kind, n))
}

// bytes is the whole file.
func (s SyntheticSlice) bytes() []byte {
	instance := madeUID(fmt.Sprintf("synthetic %d series %d image %d", s.Seed, s.Series, s.Number))
	var meta, body dicomBuffer
	meta.raw(0x00020001, "OB", []byte{0, 1})
	meta.text(0x00020002, "UI", ctStorage)
	meta.text(0x00020003, "UI", instance)
	meta.text(0x00020010, "UI", syntaxExplicit)
	meta.text(0x00020012, "UI", madeUID("implementation"))
	meta.text(0x00020013, "SH", ownVersion)
	s.general(&body, instance)
	s.image(&body)

	out := dicomBuffer{}
	out.Write(make([]byte, 128))
	out.WriteString("DICM")
	out.raw(0x00020000, "UL", binary.LittleEndian.AppendUint32(nil, uint32(meta.Len())))
	out.Write(meta.Bytes())
	out.Write(body.Bytes())
	return out.Bytes()
}

// general writes what identifies the file: no date, no name, codes of our own.
func (s SyntheticSlice) general(b *dicomBuffer, instance string) {
	b.text(0x00080005, "CS", "ISO_IR 192")
	b.text(0x00080008, "CS", `DERIVED\SECONDARY\AXIAL`)
	b.text(0x00080016, "UI", ctStorage)
	b.text(0x00080018, "UI", instance)
	b.text(0x00080020, "DA", "")
	b.text(0x00080030, "TM", "")
	b.text(0x00080050, "SH", "")
	b.text(0x00080060, "CS", "CT")
	b.text(0x00080070, "LO", "Synthetic phantom")
	b.text(0x00080090, "PN", "")
	b.text(0x0008103E, "LO", clip(s.Description, 64-len(" (synthetic)"))+" (synthetic)")
	b.text(0x00100010, "PN", "")
	b.text(0x00100020, "LO", clip(s.Code, 64))
	b.text(0x00100030, "DA", "")
	b.text(0x00100040, "CS", "")
	if s.BodyPart != "" {
		b.text(0x00180015, "CS", clip(s.BodyPart, 16))
	}
	b.text(0x00180050, "DS", decimal(s.Thickness))
	b.text(0x00180060, "DS", "")
	b.text(0x00185100, "CS", "HFS")
	b.text(0x0020000D, "UI", s.uid("study", 0))
	b.text(0x0020000E, "UI", s.uid("series", s.Series))
	b.text(0x00200010, "SH", "")
	b.text(0x00200011, "IS", strconv.Itoa(s.Series))
	b.text(0x00200012, "IS", "")
	b.text(0x00200013, "IS", strconv.Itoa(s.Number))
	b.text(0x00200032, "DS", decimal(s.Origin.X, s.Origin.Y, s.Origin.Z))
	b.text(0x00200037, "DS", decimal(s.Row.X, s.Row.Y, s.Row.Z, s.Column.X, s.Column.Y, s.Column.Z))
	b.text(0x00200052, "UI", s.uid("frame", 0))
	b.text(0x00201040, "LO", "")
	b.text(0x00204000, "LT", "Synthetic data made by a program: not a picture of any body.")
}

// image writes the picture and how its values are meant.
func (s SyntheticSlice) image(b *dicomBuffer) {
	b.short(tagSamples, 1)
	b.text(tagPhotometric, "CS", "MONOCHROME2")
	b.short(tagRows, s.Rows)
	b.short(tagColumns, s.Columns)
	b.text(tagSpacing, "DS", decimal(s.Spacing[1], s.Spacing[0]))
	b.short(tagAllocated, 16)
	b.short(tagStored, 16)
	b.short(tagHighBit, 15)
	b.short(tagSigned, 0)
	b.text(0x00280301, "CS", "NO")
	var centres, widths, names []string
	for _, w := range s.Windows {
		centres, widths, names = append(centres, decimal(w.Centre)), append(widths, decimal(w.Width)), append(names, clip(w.Name, 64))
	}
	if len(s.Windows) > 0 {
		b.text(tagCentre, "DS", strings.Join(centres, `\`))
		b.text(tagWidth, "DS", strings.Join(widths, `\`))
	}
	b.text(tagIntercept, "DS", strconv.Itoa(intercept))
	b.text(tagSlope, "DS", "1")
	b.text(0x00281054, "LO", "HU")
	if slices.ContainsFunc(names, func(n string) bool { return n != "" }) {
		b.text(0x00281055, "LO", strings.Join(names, `\`))
	}
	pixels := make([]byte, 0, 2*len(s.HU))
	for _, x := range s.HU {
		pixels = binary.LittleEndian.AppendUint16(pixels, uint16(int(x)-intercept))
	}
	b.raw(tagPixels, "OW", pixels)
}

// dicomBuffer gathers explicit little endian elements.
type dicomBuffer struct{ bytes.Buffer }

func (b *dicomBuffer) raw(t tag, vr string, value []byte) {
	var head []byte
	head = binary.LittleEndian.AppendUint16(head, uint16(t>>16))
	head = binary.LittleEndian.AppendUint16(head, uint16(t))
	head = append(head, vr...)
	if longVR(vr) {
		head = binary.LittleEndian.AppendUint32(append(head, 0, 0), uint32(len(value)+len(value)%2))
	} else {
		head = binary.LittleEndian.AppendUint16(head, uint16(len(value)+len(value)%2))
	}
	b.Write(head)
	b.Write(value)
	if len(value)%2 == 1 {
		if vr == "UI" || vr == "OB" {
			b.WriteByte(0)
		} else {
			b.WriteByte(' ')
		}
	}
}

func (b *dicomBuffer) text(t tag, vr, value string) { b.raw(t, vr, []byte(value)) }

func (b *dicomBuffer) short(t tag, x int) {
	b.raw(t, "US", binary.LittleEndian.AppendUint16(nil, uint16(x)))
}

// decimal writes numbers as DS, which has 16 characters each (PS3.5 6.2).
func decimal(xs ...float64) string {
	parts := make([]string, len(xs))
	for i, x := range xs {
		s := strconv.FormatFloat(x+0, 'g', -1, 64)
		for digits := 16; len(s) > 16; digits-- {
			s = strconv.FormatFloat(x, 'g', digits, 64)
		}
		parts[i] = s
	}
	return strings.Join(parts, `\`)
}

// clip shortens text to n bytes without cutting a character, and drops what would part values.
func clip(s string, n int) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == '\\' {
			return ' '
		}
		return r
	}, s)
	if len(s) > n {
		s = strings.TrimSpace(strings.ToValidUTF8(s[:n], ""))
	}
	return s
}
