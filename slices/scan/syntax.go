package scan

import (
	"fmt"
	"strings"
)

// Transfer syntaxes of DICOM PS3.6 Annex A that the reader treats apart.
const (
	syntaxImplicit      = "1.2.840.10008.1.2"
	syntaxExplicit      = "1.2.840.10008.1.2.1"
	syntaxDeflated      = "1.2.840.10008.1.2.1.99"
	syntaxBigEndian     = "1.2.840.10008.1.2.2"
	syntaxDeflatedFrame = "1.2.840.10008.1.2.8.1"
	syntaxRLE           = "1.2.840.10008.1.2.5"
	syntaxJPEG          = "1.2.840.10008.1.2.4."
)

// coding is how the frames of a file are packed.
type coding uint8

const (
	native coding = iota
	deflatedFrames
	runLength
	jpegBaseline
	jpegExtended
	jpegLossless
	jpegLS
	jpeg2000
	refused
)

// codingOf returns how a transfer syntax packs frames, and its name for people.
func codingOf(syntax string) (coding, string) {
	switch syntax {
	case "", syntaxImplicit, syntaxExplicit, syntaxDeflated, syntaxBigEndian, "1.2.840.113619.5.2":
		return native, "uncompressed"
	case syntaxDeflatedFrame:
		return deflatedFrames, "deflated"
	case syntaxRLE:
		return runLength, "run-length"
	}
	if kind, ok := strings.CutPrefix(syntax, syntaxJPEG); ok {
		switch kind {
		case "50":
			return jpegBaseline, "JPEG"
		case "51":
			return jpegExtended, "12-bit JPEG"
		case "57", "70":
			return jpegLossless, "JPEG lossless"
		case "80", "81":
			return jpegLS, "JPEG-LS"
		case "90", "91":
			return jpeg2000, "JPEG 2000"
		case "92", "93":
			return refused, "JPEG 2000 multi-component"
		case "94", "95", "204", "205":
			return refused, "pixel data kept on a server (JPIP)"
		case "201", "202", "203":
			return refused, "High-Throughput JPEG 2000"
		case "110", "111", "112":
			return refused, "JPEG XL"
		case "100", "100.1", "101", "101.1", "102", "102.1", "103", "103.1", "104", "104.1", "105", "105.1", "106", "106.1", "107", "108":
			return refused, "video"
		}
		return refused, "JPEG of a withdrawn process"
	}
	return refused, "transfer syntax " + syntax
}

// kindOf names what a file holds when it is no picture to cut, by its SOP class (PS3.6 Annex A); "" is a picture.
// The error says whether the kind is a scan at all.
func kindOf(class, modality string) error {
	no := func(kind string) error { return fmt.Errorf("%w: %s", ErrUnsupported, kind) }
	not := func(kind string) error { return fmt.Errorf("%w: %s", ErrNotScan, kind) }
	const storage = "1.2.840.10008.5.1.4.1.1."
	kind, ok := strings.CutPrefix(class, storage)
	switch {
	case class == "1.2.840.10008.1.3.10":
		return not("a directory record (DICOMDIR); the files it lists are read themselves")
	case !ok:
		return nil
	case kind == "77.1.6" || modality == "SM":
		return no("whole-slide microscopy cannot be opened")
	case kind == "6" || kind == "6.1" || kind == "6.2" || kind == "3" || kind == "3.1":
		return no("ultrasound cannot be opened")
	case strings.HasPrefix(kind, "77.1.") && strings.HasSuffix(kind, ".1") && strings.Count(kind, ".") == 3:
		return no("video cannot be opened")
	case strings.HasPrefix(kind, "88."):
		return not("a report, not a picture")
	case kind == "66.4" || kind == "66.7":
		return no("a segmentation, not the scan it belongs to")
	case kind == "91.1" || kind == "66" || kind == "66.1" || kind == "66.2" || kind == "66.3" || kind == "66.5" || kind == "66.6":
		return not("numbers that belong to a scan, not a picture")
	case kind == "481.2":
		return no("a radiotherapy dose grid, not a scan")
	case strings.HasPrefix(kind, "481.") && kind != "481.1":
		return not("a radiotherapy record, not a picture")
	case strings.HasPrefix(kind, "9."):
		return not("a waveform, not a picture")
	case strings.HasPrefix(kind, "11."):
		return not("a display setting, not a picture")
	case strings.HasPrefix(kind, "104."):
		return not("an embedded document, not a picture")
	}
	return nil
}
