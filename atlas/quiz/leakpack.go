package quiz

import (
	"archive/zip"
	"bytes"
	"encoding/ascii85"
	"encoding/hex"
	"fmt"
	"io"
	"regexp"
	"time"
)

// Neutral is the time that every released file and packed member bears.
var Neutral = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// zip goes through the members of an archive, their names, notes and times.
func (s *search) zip(where string, b []byte, depth int) {
	s.packed(where, b)
	r, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		s.leak(where, "a broken archive")
		return
	}
	s.text(join(where, "the note"), []byte(r.Comment))
	for i, f := range r.File {
		name := join(where, fmt.Sprintf("member %d", i+1))
		s.text(name+", its name", []byte(f.Name))
		s.text(name+", its note", []byte(f.Comment))
		s.text(name+", its extra field", f.Extra)
		if t := f.Modified.UTC(); !t.Equal(Neutral) && t.Year() > 1980 {
			s.leak(name, "date")
		}
		m, err := f.Open()
		if err != nil {
			s.leak(name, "a broken archive")
			continue
		}
		plain, err := s.unpack(m)
		m.Close()
		if s.err != nil {
			return
		}
		if err != nil {
			s.leak(name, "a broken archive")
		}
		s.data(name, plain, depth+1)
		if s.err != nil {
			return
		}
	}
}

var (
	streamStart = regexp.MustCompile(`\bstream\r?\n`) // not the end of "endstream"
	pdfDate     = regexp.MustCompile(`/(?:CreationDate|ModDate)\s*\(D:(\d{4,})`)
)

// pdf goes through a PDF file: what stands outside streams, every stream unpacked, the text that is drawn put
// together from its pieces, and pictures as pictures (ISO 32000-1, 7.3.4 and 7.3.8).
func (s *search) pdf(where string, b []byte, depth int) {
	s.packed(where, b)
	if end := bytes.LastIndex(b, []byte("%%EOF")); end < 0 {
		s.leak(where, "a broken file")
	} else if rest := bytes.TrimSpace(b[end+5:]); len(rest) > 0 {
		s.leak(where, "bytes after the end")
	}
	for _, m := range pdfDate.FindAllSubmatch(b, -1) {
		if !bytes.HasPrefix([]byte("20000101000000"), m[1][:min(len(m[1]), 14)]) {
			s.leak(where, "date")
		}
	}
	outside := 0
	for n := 1; ; n++ {
		start := streamStart.FindIndex(b[outside:])
		if start == nil {
			break
		}
		body := outside + start[1]
		end := bytes.Index(b[body:], []byte("endstream"))
		if end < 0 {
			end = len(b) - body
		}
		before := b[outside : outside+start[0]]
		s.plain(where, before)
		dict := before[max(0, bytes.LastIndex(before, []byte("obj"))):]
		s.stream(join(where, fmt.Sprintf("stream %d", n)), dict, b[body:body+end], depth)
		if s.err != nil {
			return
		}
		outside = body + end
	}
	s.plain(where, b[outside:])
}

// plain looks through a part of a PDF that is not packed, as it stands and with its strings put together.
func (s *search) plain(where string, b []byte) {
	s.text(where, b)
	s.text(join(where, "its strings"), pdfStrings(b))
}

// stream looks through one stream of a PDF.
func (s *search) stream(where string, dict, b []byte, depth int) {
	has := func(key string) bool { return bytes.Contains(dict, []byte(key)) }
	picture := has("/Image") && has("/Subtype")
	if has("/Metadata") || has("/EmbeddedFile") {
		s.leak(where, "an attached file")
	}
	if has("ASCIIHexDecode") {
		digits := bytes.Map(func(r rune) rune {
			if bytes.ContainsRune([]byte("0123456789abcdefABCDEF"), r) {
				return r
			}
			return -1
		}, b)
		plain := make([]byte, len(digits)/2)
		hex.Decode(plain, digits[:len(plain)*2])
		b = plain
	}
	if has("ASCII85Decode") {
		plain, _ := io.ReadAll(ascii85.NewDecoder(bytes.NewReader(bytes.TrimSuffix(bytes.TrimSpace(b), []byte("~>")))))
		b = plain
	}
	if has("FlateDecode") {
		plain := s.inflate(b)
		if plain == nil {
			s.leak(where, "a broken stream")
			return
		}
		b = plain
	}
	switch {
	case has("DCTDecode"):
		s.jpeg(where, bytes.TrimRight(b, "\r\n"))
	case has("LZWDecode") || has("JPXDecode") || has("Crypt"):
		s.leak(where, "a stream that cannot be searched")
	case picture || has("/Length1") || has("/FontFile"): // pixels, fonts
		s.packed(where, b)
	case bytes.HasPrefix(b, []byte(pngMagic)), bytes.HasPrefix(b, []byte("\xff\xd8\xff")), bytes.HasPrefix(b, []byte("PK\x03\x04")):
		s.data(where, b, depth+1)
	default:
		s.plain(where, b)
	}
}

// pdfStrings returns the contents of all strings in b, written in brackets or as hex digits, one after the
// other, so that text drawn letter by letter reads as text.
func pdfStrings(b []byte) []byte {
	var out []byte
	for i := 0; i < len(b); i++ {
		switch {
		case b[i] == '(':
			i = bracketString(b, i+1, &out)
		case b[i] == '<' && i+1 < len(b) && b[i+1] != '<':
			end := bytes.IndexByte(b[i:], '>')
			if end < 0 {
				return out
			}
			digits := bytes.Join(bytes.Fields(b[i+1:i+end]), nil)
			if len(digits)%2 == 1 {
				digits = append(digits, '0')
			}
			plain := make([]byte, len(digits)/2)
			if _, err := hex.Decode(plain, digits); err == nil {
				out = append(out, plain...)
			}
			i += end
		case b[i] == '<':
			i++
		}
	}
	return out
}

// bracketString appends the string that begins at i and returns where its closing bracket stands.
func bracketString(b []byte, i int, out *[]byte) int {
	escapes := map[byte]byte{'n': '\n', 'r': '\r', 't': '\t', 'b': '\b', 'f': '\f'}
	for depth := 1; i < len(b); i++ {
		c := b[i]
		switch {
		case c == '(':
			depth++
		case c == ')':
			if depth--; depth == 0 {
				return i
			}
		case c == '\\' && i+1 < len(b):
			i++
			c = b[i]
			switch e, known := escapes[c]; {
			case known:
				c = e
			case c == '\n':
				continue
			case '0' <= c && c <= '7':
				n := 0
				for k := 0; k < 3 && i < len(b) && '0' <= b[i] && b[i] <= '7'; k++ {
					n = 8*n + int(b[i]-'0')
					i++
				}
				i--
				c = byte(n)
			}
		}
		*out = append(*out, c)
	}
	return i
}
