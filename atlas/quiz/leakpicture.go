package quiz

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
)

const pngMagic = "\x89PNG\r\n\x1a\n"

// pngAllowed are the chunks of a picture that carry pixels and size, and nothing else (PNG 2nd edition, clause 11).
var pngAllowed = map[string]bool{"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true, "pHYs": true, "sRGB": true, "gAMA": true}

var pngWhat = map[string]string{"tEXt": "text", "zTXt": "text", "iTXt": "text", "eXIf": "EXIF", "tIME": "date", "iCCP": "colour profile"}

// png walks the chunks of a PNG file.
func (s *search) png(where string, b []byte) {
	inside := func(part string) string { return join(where, part) }
	s.packed(where, b)
	for at := len(pngMagic); ; {
		if at+12 > len(b) {
			s.leak(where, "a broken picture")
			return
		}
		n, kind := int64(binary.BigEndian.Uint32(b[at:])), string(b[at+4:at+8])
		if int64(at)+12+n > int64(len(b)) {
			s.leak(where, "a broken picture")
			return
		}
		body := b[at+8 : at+8+int(n)]
		at += 12 + int(n)
		if !pngAllowed[kind] {
			what := pngWhat[kind]
			if what == "" {
				what = "an unknown part"
			}
			s.leak(inside("chunk "+kind), what)
		}
		if kind != "IDAT" {
			s.text(inside("chunk "+kind), body)
		}
		switch kind {
		case "zTXt", "iCCP", "iTXt":
			// keyword, zero byte, then method and zlib data; in iTXt two more strings come first.
			for i := bytes.IndexByte(body, 0); i >= 0 && i < len(body); i++ {
				s.text(inside("chunk "+kind), s.inflate(body[i:]))
			}
		case "IEND":
			if at < len(b) {
				s.leak(where, "bytes after the end")
				s.text(inside("the end"), b[at:])
			}
			return
		}
	}
}

// inflate unpacks zlib data; nil when b is none. What comes before a fault is kept.
func (s *search) inflate(b []byte) []byte {
	z, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil
	}
	plain, _ := s.unpack(z)
	return plain
}

// jpeg walks the segments of a JPEG file (ITU T.81, annex B).
func (s *search) jpeg(where string, b []byte) {
	inside := func(part string) string { return join(where, part) }
	s.packed(where, b)
	at := 2
	for at+4 <= len(b) {
		if b[at] != 0xFF {
			s.leak(where, "a broken picture")
			return
		}
		kind := b[at+1]
		if kind == 0xFF { // fill byte
			at++
			continue
		}
		n := int(binary.BigEndian.Uint16(b[at+2:]))
		if n < 2 || at+2+n > len(b) {
			s.leak(where, "a broken picture")
			return
		}
		body := b[at+4 : at+2+n]
		at += 2 + n
		s.segment(inside, kind, body)
		if kind != 0xDA {
			continue
		}
		// Pixels run to the next marker that is neither a stuffed byte nor a restart.
		for at+1 < len(b) && !(b[at] == 0xFF && b[at+1] != 0 && (b[at+1] < 0xD0 || b[at+1] > 0xD7)) {
			at++
		}
		if at+1 < len(b) && b[at+1] == 0xD9 {
			if at+2 < len(b) {
				s.leak(where, "bytes after the end")
				s.text(inside("the end"), b[at+2:])
			}
			return
		}
	}
	s.leak(where, "a broken picture")
}

func (s *search) segment(inside func(string) string, kind byte, body []byte) {
	name := inside("a segment")
	switch {
	case kind == 0xE0:
		if !bytes.HasPrefix(body, []byte("JFIF\x00")) || len(body) != 14 {
			s.leak(name, "a thumbnail")
		}
	case kind == 0xEE && bytes.HasPrefix(body, []byte("Adobe")) && len(body) == 12: // says how colours are stored
	case kind == 0xE1 && bytes.HasPrefix(body, []byte("Exif")):
		s.leak(name, "EXIF")
	case kind == 0xE1:
		s.leak(name, "XMP")
	case kind == 0xED:
		s.leak(name, "IPTC")
	case kind == 0xFE:
		s.leak(name, "text")
	case kind >= 0xE0 && kind <= 0xEF:
		s.leak(name, "an unknown part")
	}
	s.text(name, body)
}

func join(where, part string) string {
	if where == "bytes" {
		return part
	}
	return where + ", " + part
}
