package photo

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"io"
)

// JPEG markers (ITU T.81, table B.1).
const (
	markerSOI   = 0xd8
	markerEOI   = 0xd9
	markerSOS   = 0xda
	markerAPP0  = 0xe0
	markerAPP1  = 0xe1
	markerAPP2  = 0xe2
	markerAPP14 = 0xee
	markerAPP15 = 0xef
	markerCOM   = 0xfe
)

func standalone(marker byte) bool { return marker == 0x01 || marker >= 0xd0 && marker <= 0xd8 }

// startsFrame reports whether a marker begins a frame header: C0 to CF but for DHT, JPG and DAC.
func startsFrame(marker byte) bool {
	return marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc
}

var lostFrames = map[byte]string{
	0xc3: "lossless JPEG", 0xc5: "hierarchical JPEG", 0xc6: "hierarchical JPEG", 0xc7: "lossless JPEG",
	0xc9: "arithmetic-coded JPEG", 0xca: "arithmetic-coded JPEG", 0xcb: "lossless JPEG", 0xcd: "arithmetic-coded JPEG",
	0xce: "arithmetic-coded JPEG", 0xcf: "lossless JPEG",
}

// jpegSize finds the frame header and refuses what the decoder cannot read.
func jpegSize(r io.Reader) (image.Point, error) {
	var size image.Point
	var found bool
	var refused error
	err := eachSegment(bufio.NewReader(r), func(marker byte, body []byte) bool {
		if !startsFrame(marker) || len(body) < 6 {
			return true
		}
		found, size = true, image.Pt(int(binary.BigEndian.Uint16(body[3:])), int(binary.BigEndian.Uint16(body[1:])))
		const again = "save it as an ordinary 8-bit RGB JPEG"
		switch name, lost := lostFrames[marker]; {
		case lost:
			refused = refuse(name, again)
		case body[0] != 8:
			refused = refuse(fmt.Sprintf("%d-bit JPEG", body[0]), again)
		case body[5] == 4:
			refused = refuse("CMYK JPEG", again)
		case body[5] != 1 && body[5] != 3:
			refused = refuse(fmt.Sprintf("JPEG of %d colour parts", body[5]), again)
		}
		return false
	})
	switch {
	case refused != nil:
		return image.Point{}, refused
	case found:
		return size, nil
	case err == nil:
		err = io.ErrUnexpectedEOF
	}
	return image.Point{}, fmt.Errorf("%w: no frame header in the JPEG: %w", ErrDamaged, err)
}

// eachSegment calls visit with every segment before the first scan until visit returns false. body excludes
// the length and is valid only during the call.
func eachSegment(r *bufio.Reader, visit func(marker byte, body []byte) bool) error {
	var buf []byte
	for {
		marker, err := nextMarker(r)
		if err != nil {
			return err
		}
		if standalone(marker) {
			continue
		}
		if marker == markerSOS || marker == markerEOI {
			return nil
		}
		if buf, err = segmentBody(r, buf); err != nil {
			return err
		}
		if !visit(marker, buf) {
			return nil
		}
	}
}

// nextMarker skips to the next marker: any bytes, then FFs, then the code.
func nextMarker(r *bufio.Reader) (byte, error) {
	for {
		b, err := r.ReadByte()
		if err != nil {
			return 0, err
		}
		if b != 0xff {
			continue
		}
		for b == 0xff {
			if b, err = r.ReadByte(); err != nil {
				return 0, err
			}
		}
		if b != 0 {
			return b, nil
		}
	}
}

func segmentBody(r io.Reader, buf []byte) ([]byte, error) {
	var length [2]byte
	if _, err := io.ReadFull(r, length[:]); err != nil {
		return buf, err
	}
	n := int(binary.BigEndian.Uint16(length[:])) - 2
	if n < 0 {
		return buf, fmt.Errorf("segment of length %d", n+2)
	}
	if cap(buf) < n {
		buf = make([]byte, n)
	}
	buf = buf[:n]
	_, err := io.ReadFull(r, buf)
	return buf, err
}

var (
	iccName   = []byte("ICC_PROFILE\x00")
	adobeName = []byte("Adobe")
)

// keepSegment says which segments a stripped JPEG keeps: those that decoding needs, the colour profile and the
// Adobe colour transform. JFIF is kept without its thumbnail.
func keepSegment(marker byte, body []byte) bool {
	switch {
	case marker == markerAPP0:
		return bytes.HasPrefix(body, []byte("JFIF\x00"))
	case marker == markerAPP2:
		return bytes.HasPrefix(body, iccName)
	case marker == markerAPP14:
		return bytes.HasPrefix(body, adobeName)
	}
	return marker < markerAPP0
}

// Strip copies a JPEG segment by segment without what identifies: EXIF, XMP, IPTC, maker notes, thumbnails,
// comments and all bytes after the end of the picture. The colour profile and the Adobe transform stay, so
// the pixels decode the same; the EXIF turn is lost, so a picture that needs it must be turned first.
func Strip(w io.Writer, r io.Reader) error {
	in, out := bufio.NewReader(r), bufio.NewWriter(w)
	var start [2]byte
	if _, err := io.ReadFull(in, start[:]); err != nil || start != [2]byte{0xff, markerSOI} {
		return fmt.Errorf("%w: only a JPEG can be stripped", ErrFormat)
	}
	out.Write(start[:]) // bufio keeps the error for Flush
	if err := stripSegments(out, in); err != nil {
		return fmt.Errorf("%w: the JPEG breaks off: %w", ErrDamaged, err)
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("photo: %w", err)
	}
	return nil
}

func stripSegments(out *bufio.Writer, in *bufio.Reader) error {
	var body []byte
	marker, err := nextMarker(in)
	for err == nil && marker != markerEOI {
		if standalone(marker) {
			marker, err = nextMarker(in)
			continue
		}
		if body, err = segmentBody(in, body); err != nil {
			return err
		}
		if keepSegment(marker, body) {
			writeSegment(out, marker, body)
		}
		if marker == markerSOS {
			marker, err = copyScan(out, in)
		} else {
			marker, err = nextMarker(in)
		}
	}
	out.Write([]byte{0xff, markerEOI})
	return err
}

func writeSegment(out *bufio.Writer, marker byte, body []byte) {
	if marker == markerAPP0 && len(body) > 14 {
		body = append(body[:12], 0, 0) // thumbnail of 0 x 0
	}
	n := len(body) + 2
	out.Write([]byte{0xff, marker, byte(n >> 8), byte(n)})
	out.Write(body)
}

// copyScan copies entropy-coded bytes, restarts among them, and returns the marker that ends them.
func copyScan(out *bufio.Writer, in *bufio.Reader) (byte, error) {
	for {
		b, err := in.ReadByte()
		if err != nil {
			return 0, err
		}
		for b == 0xff {
			if b, err = in.ReadByte(); err != nil {
				return 0, err
			}
			switch {
			case b == 0 || b >= 0xd0 && b <= 0xd7:
				out.WriteByte(0xff)
			case b != 0xff:
				return b, nil
			}
		}
		out.WriteByte(b)
	}
}
