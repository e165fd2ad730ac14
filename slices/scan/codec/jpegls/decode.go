// Package jpegls decodes JPEG-LS frames, lossless and near-lossless: ITU-T
// T.87 with all three interleave modes and preset parameters, transfer
// syntaxes 1.2.840.10008.1.2.4.80 and .81.
package jpegls

import (
	"encoding/binary"
	"fmt"

	"sectionary/slices/scan/codec"
)

// Decode decodes one whole frame after holding its header against want.
// Samples are bare codes; the sign is the data set's business.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	n, err := want.Samples()
	if err != nil {
		return codec.Frame{}, err
	}
	s := stream{data: data}
	if err := s.open(); err != nil {
		return codec.Frame{}, err
	}
	if err := want.Match(s.width, s.height, len(s.ids), s.precision); err != nil {
		return codec.Frame{}, fmt.Errorf("jpegls: %w", err)
	}
	if s.height*len(s.ids)/8 > len(data) { // every line takes a bit at least
		return codec.Frame{}, corrupt("%d bytes cannot hold %d lines", len(data), s.height*len(s.ids))
	}
	f := codec.Frame{
		Width: s.width, Height: s.height, Samples: len(s.ids), Bits: s.precision,
		Pix: make([]uint16, n),
	}
	for done := 0; done < f.Samples; {
		sc, err := s.nextScan()
		if err != nil {
			return codec.Frame{}, err
		}
		if err := s.decodeScan(sc, f); err != nil {
			return codec.Frame{}, err
		}
		done += len(sc.components)
	}
	return f, nil
}

func corrupt(format string, args ...any) error {
	return fmt.Errorf("jpegls: "+format+": %w", append(args, codec.ErrCorrupt)...)
}

func unsupported(format string, args ...any) error {
	return fmt.Errorf("jpegls: "+format+": %w", append(args, codec.ErrUnsupported)...)
}

// Marker codes of T.87 C.1.1 and T.81 Table B.1.
const (
	mSOI, mEOI, mSOS, mDNL, mDRI = 0xD8, 0xD9, 0xDA, 0xDC, 0xDD
	mRST0, mSOF55, mLSE, mAPP8   = 0xD0, 0xF7, 0xF8, 0xE8
)

// stream is a JPEG-LS stream read up to some marker.
type stream struct {
	data []byte
	pos  int

	precision, width, height int
	ids                      []byte // component identifiers
	seen                     [3]bool
	restart                  int // lines between restart markers, 0 for none
	preset                   preset
	clean                    []byte // buffer behind the last interval
}

// preset is a preset-parameters segment; 0 stands for the default (C.2.4.1.1).
type preset struct{ maxval, t1, t2, t3, reset int }

// scanHeader is one start-of-scan segment (C.2.3).
type scanHeader struct {
	components []int // into the frame's samples
	near       int
	interleave int // 0 none, 1 by line, 2 by sample
}

// open reads up to and with the frame header.
func (s *stream) open() error {
	if len(s.data) < 4 || s.data[0] != 0xFF || s.data[1] != mSOI {
		return corrupt("no start-of-image marker")
	}
	s.pos = 2
	for {
		m, body, err := s.segment()
		if err != nil {
			return err
		}
		switch {
		case m == mSOF55:
			return s.frame(body)
		case m >= 0xC0 && m <= 0xCF && m != 0xC4 && m != 0xC8 && m != 0xCC:
			return unsupported("frame of the older JPEG standard in a JPEG-LS data set")
		case m == mSOS || m == mEOI:
			return corrupt("marker %#02x before the frame header", m)
		}
		if err := s.table(m, body); err != nil {
			return err
		}
	}
}

// nextScan reads on to the next scan header.
func (s *stream) nextScan() (scanHeader, error) {
	for {
		m, body, err := s.segment()
		switch {
		case err != nil:
			return scanHeader{}, err
		case m == mSOS:
			return s.scan(body)
		case m == mEOI:
			return scanHeader{}, corrupt("ends before every component is coded")
		case m == mDNL:
			return scanHeader{}, unsupported("number of lines defined after the first scan")
		case m == mSOF55:
			return scanHeader{}, corrupt("second frame header")
		}
		if err := s.table(m, body); err != nil {
			return scanHeader{}, err
		}
	}
}

// segment reads the next marker and the body of its segment.
func (s *stream) segment() (marker byte, body []byte, err error) {
	d := s.data
	for s.pos+1 < len(d) && d[s.pos] == 0xFF && d[s.pos+1] == 0xFF {
		s.pos++ // fill bytes, T.81 B.1.1.2
	}
	if s.pos+1 >= len(d) {
		return 0, nil, corrupt("ends where a marker should stand")
	}
	if d[s.pos] != 0xFF || d[s.pos+1] < 0x80 {
		return 0, nil, corrupt("no marker at byte %d", s.pos)
	}
	marker = d[s.pos+1]
	s.pos += 2
	if marker >= mRST0 && marker <= mEOI {
		return marker, nil, nil
	}
	if s.pos+2 > len(d) {
		return 0, nil, corrupt("ends in the length of marker %#02x", marker)
	}
	n := int(binary.BigEndian.Uint16(d[s.pos:]))
	if n < 2 || s.pos+n > len(d) {
		return 0, nil, corrupt("segment of marker %#02x runs past the end", marker)
	}
	body = d[s.pos+2 : s.pos+n]
	s.pos += n
	return marker, body, nil
}

// table takes in a segment that is neither a frame nor a scan header.
func (s *stream) table(marker byte, body []byte) error {
	switch marker {
	case mLSE:
		return s.presets(body)
	case mDRI: // two to four bytes, C.2.5
		if len(body) < 2 || len(body) > 4 {
			return corrupt("restart interval of %d bytes", len(body))
		}
		s.restart = 0
		for _, b := range body {
			s.restart = s.restart<<8 | int(b)
		}
	case mAPP8:
		// A widespread encoder marks its colour transforms this way (common
		// practice, no source); DICOM has no use for them.
		if len(body) >= 5 && string(body[:4]) == "mrfx" && body[4] != 0 {
			return unsupported("colour transform %d", body[4])
		}
	}
	return nil
}

func (s *stream) presets(body []byte) error {
	if len(body) == 0 {
		return corrupt("empty preset segment")
	}
	switch body[0] {
	case 1:
		if len(body) != 11 {
			return corrupt("preset segment of %d bytes", len(body))
		}
		v := func(i int) int { return int(binary.BigEndian.Uint16(body[1+2*i:])) }
		s.preset = preset{maxval: v(0), t1: v(1), t2: v(2), t3: v(3), reset: v(4)}
		return nil
	case 2, 3:
		return unsupported("mapping table")
	case 4:
		return unsupported("size above 65535")
	}
	return unsupported("extension %d of the preset segment", body[0])
}

func (s *stream) frame(body []byte) error {
	if len(body) < 6 || len(body) != 6+3*int(body[5]) {
		return corrupt("frame header of %d bytes", len(body))
	}
	s.precision = int(body[0])
	s.height = int(binary.BigEndian.Uint16(body[1:]))
	s.width = int(binary.BigEndian.Uint16(body[3:]))
	switch {
	case s.precision < 2 || s.precision > 16:
		return corrupt("precision of %d bits", s.precision)
	case s.height == 0 || s.width == 0:
		return unsupported("size given outside the frame header")
	case body[5] != 1 && body[5] != 3:
		return unsupported("%d components", body[5])
	}
	for b := body[6:]; len(b) >= 3; b = b[3:] {
		if b[1] != 0x11 {
			return unsupported("subsampled components")
		}
		s.ids = append(s.ids, b[0])
	}
	return nil
}

func (s *stream) scan(body []byte) (scanHeader, error) {
	if len(body) < 6 || len(body) != 4+2*int(body[0]) || int(body[0]) > len(s.ids) {
		return scanHeader{}, corrupt("scan header of %d bytes", len(body))
	}
	n := int(body[0])
	tail := body[1+2*n:]
	sc := scanHeader{near: int(tail[0]), interleave: int(tail[1])}
	for i := range n {
		id, table := body[1+2*i], body[2+2*i]
		if table != 0 {
			return scanHeader{}, unsupported("mapping table")
		}
		k := -1
		for j := range s.ids {
			if s.ids[j] == id && !s.seen[j] {
				k = j
				break
			}
		}
		if k < 0 {
			return scanHeader{}, corrupt("scan of component %d", id)
		}
		s.seen[k] = true
		sc.components = append(sc.components, k)
	}
	switch {
	case tail[2] != 0:
		return scanHeader{}, unsupported("point transform")
	case sc.interleave > 2:
		return scanHeader{}, corrupt("interleave mode %d", sc.interleave)
	case n == 1:
		sc.interleave = 0
	case n != len(s.ids):
		return scanHeader{}, unsupported("scan of %d of %d components", n, len(s.ids))
	case sc.interleave == 0:
		return scanHeader{}, corrupt("%d components in a scan that is not interleaved", n)
	}
	return sc, nil
}
