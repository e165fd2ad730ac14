// Package t81 reads what the JPEG processes of ITU-T T.81 share: marker
// segments (Annex B), Huffman tables (Annex C) and entropy-coded bits with
// their restart intervals.
package t81

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"sectionary/slices/scan/codec"
)

// Marker codes of T.81 Table B.1: the second byte, after 0xFF.
const (
	mSOF0, mSOF1, mSOF2, mSOF3    = 0xC0, 0xC1, 0xC2, 0xC3
	mDHT, mJPG, mDAC              = 0xC4, 0xC8, 0xCC
	mRST0, mRST7, mSOI, mEOI      = 0xD0, 0xD7, 0xD8, 0xD9
	mSOS, mDQT, mDNL, mDRI        = 0xDA, 0xDB, 0xDC, 0xDD
	mAPP0, mAPP14, mTEM, mSOFLast = 0xE0, 0xEE, 0x01, 0xCF
)

// Process is the coding process a frame header names.
type Process uint8

// The processes read here: start-of-frame markers SOF0, SOF1 and SOF3.
const (
	Baseline Process = mSOF0
	Extended Process = mSOF1
	Lossless Process = mSOF3
)

// refused names the start-of-frame markers that are not read.
var refused = map[byte]string{
	mSOF2: "progressive JPEG", 0xC5: "hierarchical JPEG", 0xC6: "hierarchical progressive JPEG",
	0xC7: "hierarchical lossless JPEG", 0xC9: "arithmetic-coded JPEG", 0xCA: "arithmetic-coded progressive JPEG",
	0xCB: "arithmetic-coded lossless JPEG", 0xCD: "hierarchical arithmetic-coded JPEG",
	0xCE: "hierarchical arithmetic-coded progressive JPEG", 0xCF: "hierarchical arithmetic-coded lossless JPEG",
}

// Component is one component of the frame header (B.2.2).
type Component struct {
	ID    byte
	H, V  int // sampling factors, 1 to 4
	Quant int // quantisation table, 0 to 3
}

// ScanComponent is one component of a scan header (B.2.3).
type ScanComponent struct {
	Index  int // into Stream.Components
	DC, AC int // Huffman tables, 0 to 3
}

// Scan is one scan header. In a lossless scan Start is the predictor and Low
// the point transform.
type Scan struct {
	Components            []ScanComponent
	Start, End, High, Low int
}

// Stream is a JPEG stream read up to some marker. The tables hold what was
// last defined.
type Stream struct {
	Process       Process
	Precision     int // bits per sample
	Width, Height int
	Components    []Component
	Restart       int            // MCUs between restart markers, 0 for none
	Quant         [4]*[64]uint16 // in zigzag order
	DC, AC        [4]*Huffman

	adobe int // transform of the Adobe segment, -1 without one
	jfif  bool
	data  []byte
	pos   int
	clean []byte // buffer behind the last Interval
}

func corrupt(format string, args ...any) error {
	return fmt.Errorf("t81: "+format+": %w", append(args, codec.ErrCorrupt)...)
}

func unsupported(format string, args ...any) error {
	return fmt.Errorf("t81: "+format+": %w", append(args, codec.ErrUnsupported)...)
}

// Open reads a stream up to and with its frame header; no memory is taken for
// samples, so the caller can first hold the size against the data set.
func Open(data []byte) (*Stream, error) {
	if len(data) < 4 || data[0] != 0xFF || data[1] != mSOI {
		return nil, corrupt("no start-of-image marker")
	}
	s := &Stream{data: data, pos: 2, adobe: -1}
	for {
		m, body, err := s.segment()
		if err != nil {
			return nil, err
		}
		switch {
		case m == mSOS || m == mEOI:
			return nil, corrupt("marker %#02x before the frame header", m)
		case m >= mSOF0 && m <= mSOFLast && m != mDHT && m != mJPG && m != mDAC:
			return s, s.frame(m, body)
		}
		if err := s.table(m, body); err != nil {
			return nil, err
		}
	}
}

// NextScan reads on to the next scan header; its entropy-coded data follow.
// It returns nil at the end of the image.
func (s *Stream) NextScan() (*Scan, error) {
	for {
		m, body, err := s.segment()
		switch {
		case err != nil:
			return nil, err
		case m == mEOI:
			return nil, nil
		case m == mSOS:
			return s.scan(body)
		case m == mDNL:
			return nil, unsupported("number of lines defined after the first scan")
		case m >= mSOF0 && m <= mSOFLast && m != mDHT && m != mJPG && m != mDAC:
			return nil, corrupt("second frame header")
		}
		if err := s.table(m, body); err != nil {
			return nil, err
		}
	}
}

// Colour reports what the stream says of the colour of three components. T.81
// itself says nothing; the JFIF and Adobe segments and the component letters
// R, G, B do (common practice, no source).
func (s *Stream) Colour() codec.Colour {
	c := s.Components
	switch {
	case len(c) != 3:
		return codec.Unstated
	case s.adobe == 0 || c[0].ID == 'R' && c[1].ID == 'G' && c[2].ID == 'B':
		return codec.RGB
	case s.adobe > 0 || s.jfif:
		return codec.YCbCr
	}
	return codec.Unstated
}

// segment reads the next marker and the body of its segment.
func (s *Stream) segment() (marker byte, body []byte, err error) {
	d := s.data
	for s.pos+1 < len(d) && d[s.pos] == 0xFF && d[s.pos+1] == 0xFF {
		s.pos++ // fill bytes, B.1.1.2
	}
	if s.pos+1 >= len(d) {
		return 0, nil, corrupt("ends where a marker should stand")
	}
	if d[s.pos] != 0xFF || d[s.pos+1] == 0 {
		return 0, nil, corrupt("no marker at byte %d", s.pos)
	}
	marker = d[s.pos+1]
	s.pos += 2
	if marker == mEOI || marker == mSOI || marker == mTEM || marker >= mRST0 && marker <= mRST7 {
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
func (s *Stream) table(marker byte, body []byte) error {
	switch marker {
	case mDHT:
		return s.huffman(body)
	case mDQT:
		return s.quantisation(body)
	case mDRI:
		if len(body) != 2 {
			return corrupt("restart interval of %d bytes", len(body))
		}
		s.Restart = int(binary.BigEndian.Uint16(body))
	case mAPP0:
		s.jfif = s.jfif || bytes.HasPrefix(body, []byte("JFIF\x00"))
	case mAPP14:
		if len(body) >= 12 && bytes.HasPrefix(body, []byte("Adobe")) {
			s.adobe = int(body[11])
		}
	case mSOI:
		return corrupt("second start-of-image marker")
	case mDAC:
		return unsupported("arithmetic coding")
	}
	return nil
}

func (s *Stream) frame(marker byte, body []byte) error {
	if name, no := refused[marker]; no {
		return unsupported("%s", name)
	}
	if len(body) < 6 || len(body) != 6+3*int(body[5]) {
		return corrupt("frame header of %d bytes", len(body))
	}
	s.Process, s.Precision = Process(marker), int(body[0])
	s.Height = int(binary.BigEndian.Uint16(body[1:]))
	s.Width = int(binary.BigEndian.Uint16(body[3:]))
	switch {
	case s.Height == 0:
		return unsupported("number of lines defined after the first scan")
	case s.Width == 0:
		return corrupt("frame of no width")
	case body[5] != 1 && body[5] != 3:
		return unsupported("%d components", body[5])
	}
	for b := body[6:]; len(b) >= 3; b = b[3:] {
		c := Component{ID: b[0], H: int(b[1] >> 4), V: int(b[1] & 15), Quant: int(b[2])}
		if c.H < 1 || c.H > 4 || c.V < 1 || c.V > 4 || c.Quant > 3 {
			return corrupt("component with sampling %d x %d and table %d", c.H, c.V, c.Quant)
		}
		s.Components = append(s.Components, c)
	}
	return nil
}

func (s *Stream) scan(body []byte) (*Scan, error) {
	if len(body) < 6 || len(body) != 4+2*int(body[0]) || int(body[0]) > len(s.Components) {
		return nil, corrupt("scan header of %d bytes", len(body))
	}
	n := int(body[0])
	sc := &Scan{}
	for b := body[1 : 1+2*n]; len(b) >= 2; b = b[2:] {
		c := ScanComponent{Index: -1, DC: int(b[1] >> 4), AC: int(b[1] & 15)}
		for i := range s.Components {
			if s.Components[i].ID == b[0] {
				c.Index = i
			}
		}
		for _, other := range sc.Components {
			if other.Index == c.Index {
				return nil, corrupt("component %d twice in one scan", b[0])
			}
		}
		if c.Index < 0 || c.DC > 3 || c.AC > 3 {
			return nil, corrupt("scan of component %d with tables %d and %d", b[0], c.DC, c.AC)
		}
		sc.Components = append(sc.Components, c)
	}
	t := body[1+2*n:]
	sc.Start, sc.End, sc.High, sc.Low = int(t[0]), int(t[1]), int(t[2]>>4), int(t[2]&15)
	return sc, nil
}

func (s *Stream) quantisation(b []byte) error {
	for len(b) > 0 {
		wide, id := int(b[0]>>4), b[0]&15
		size := 64 * (1 + wide)
		if wide > 1 || id > 3 || len(b) < 1+size {
			return corrupt("quantisation table %d", id)
		}
		q := new([64]uint16)
		for i := range q {
			if wide == 1 {
				q[i] = binary.BigEndian.Uint16(b[1+2*i:])
			} else {
				q[i] = uint16(b[1+i])
			}
		}
		s.Quant[id] = q
		b = b[1+size:]
	}
	return nil
}

func (s *Stream) huffman(b []byte) error {
	for len(b) > 0 {
		if len(b) < 17 || b[0]>>4 > 1 || b[0]&15 > 3 {
			return corrupt("Huffman table header")
		}
		n := 0
		for _, c := range b[1:17] {
			n += int(c)
		}
		if n > 256 || len(b) < 17+n {
			return corrupt("Huffman table of %d codes", n)
		}
		h, err := NewHuffman([16]byte(b[1:17]), b[17:17+n])
		if err != nil {
			return err
		}
		if b[0]>>4 == 0 {
			s.DC[b[0]&15] = h
		} else {
			s.AC[b[0]&15] = h
		}
		b = b[17+n:]
	}
	return nil
}
