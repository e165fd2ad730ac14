package quiz

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"unicode/utf16"
)

// Scan is what the search of finished files found. A clean scan has no leaks.
type Scan struct {
	Files int    `json:"files"`
	Bytes int64  `json:"bytes"` // looked through, unpacked streams included
	Leaks []Leak `json:"leaks"`
}

// Clean reports whether nothing was found.
func (s Scan) Clean() bool { return len(s.Leaks) == 0 }

// Err is ErrLeak naming the first few leaks, nil when clean.
func (s Scan) Err() error {
	if s.Clean() {
		return nil
	}
	var all []string
	for i, l := range s.Leaks {
		if i == 3 {
			all = append(all, fmt.Sprintf("and %d more", len(s.Leaks)-i))
			break
		}
		all = append(all, fmt.Sprintf("%s in %s", l.What, l.Where))
	}
	return fmt.Errorf("%w: %s", ErrLeak, strings.Join(all, "; "))
}

// Leak is one trace found. File is a base name; Where the place inside it ("bytes", "stream 4", "chunk tEXt",
// "member a.png"); What the kind ("donor code or word 1", "EXIF", "text"). A leak never repeats the word itself.
type Leak struct {
	File  string `json:"file"`
	Where string `json:"where"`
	What  string `json:"what"`
}

const (
	maxFile  = 256 << 20 // bytes of one file, and of all that it unpacks to
	maxDepth = 6         // of files within files
	// shortest is the fewest bytes of a needle looked for in packed pixels, where chance would find shorter ones:
	// six given bytes stand somewhere in 1 MB of noise once in 100 million files.
	shortest = 6
)

// ErrUnscannable says that a file is too large or too deeply packed to be searched, and so cannot be released.
var ErrUnscannable = errors.New("quiz: a file cannot be searched")

// ScanFiles searches finished files for words (donor codes, names) in UTF-8 and UTF-16 of both byte orders, in
// any case and with or without their punctuation; inside PDF streams and drawn text, PNG chunks, JPEG segments
// and zip members; in the files' names; and for EXIF, XMP, IPTC, text chunks, thumbnails, dates and bytes after
// the end, whatever they say. Words shorter than three letters or digits are refused: chance finds them.
func ScanFiles(paths []string, words []string) (Scan, error) {
	needles, err := needlesOf(words)
	if err != nil {
		return Scan{}, err
	}
	out := Scan{Leaks: []Leak{}}
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil {
			return out, fmt.Errorf("quiz: %w", err)
		}
		if info.Size() > maxFile {
			return out, fmt.Errorf("%w: %s is too large", ErrUnscannable, filepath.Base(path))
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return out, fmt.Errorf("quiz: %w", err)
		}
		s := &search{needles: needles, found: map[Leak]bool{}, file: filepath.Base(path), limit: maxFile}
		s.text("its name", []byte(s.file))
		s.data("bytes", b, 0)
		if s.err != nil {
			return out, fmt.Errorf("%w: %s", s.err, s.file)
		}
		out.Files++
		out.Bytes += s.bytes
		out.Leaks = append(out.Leaks, s.leaks()...)
	}
	return out, nil
}

// needle is one form of a word to look for, in lower case.
type needle struct {
	bytes []byte
	what  string
}

func needlesOf(words []string) ([]needle, error) {
	var out []needle
	seen := map[string]bool{}
	for n, w := range words {
		if len(bare(w)) < 3 {
			return nil, fmt.Errorf("quiz: word %d is too short to be searched for", n+1)
		}
		for _, form := range forms(w) {
			for _, b := range [][]byte{[]byte(form), wide(form, false), wide(form, true)} {
				if !seen[string(b)] {
					seen[string(b)] = true
					out = append(out, needle{b, fmt.Sprintf("donor code or word %d", n+1)})
				}
			}
		}
	}
	return out, nil
}

// forms are the ways a word is likely to stand somewhere: as it is, with its punctuation gone or changed, and,
// since the data's capitals are made small in ASCII only, with other letters small, large and as they were given.
func forms(w string) (out []string) {
	w = strings.TrimSpace(w)
	for _, cased := range []string{w, strings.ToLower(w), strings.ToUpper(w)} {
		cased = string(lower([]byte(cased)))
		out = append(out, cased)
		for _, by := range []string{"", " ", "_", "-"} {
			out = append(out, strings.Join(strings.FieldsFunc(cased, punctuation), by))
		}
	}
	return out
}

func punctuation(r rune) bool { return strings.ContainsRune(" -_./\\:,;+", r) }

func bare(w string) string { return strings.Join(strings.FieldsFunc(w, punctuation), "") }

// lower copies b with ASCII capitals made small; it works on UTF-8, on UTF-16 and on bytes that are neither.
func lower(b []byte) []byte {
	out := make([]byte, len(b))
	for i, c := range b {
		if 'A' <= c && c <= 'Z' {
			c += 32
		}
		out[i] = c
	}
	return out
}

// wide is s in UTF-16.
func wide(s string, little bool) []byte {
	var out []byte
	for _, u := range utf16.Encode([]rune(s)) {
		if little {
			out = append(out, byte(u), byte(u>>8))
		} else {
			out = append(out, byte(u>>8), byte(u))
		}
	}
	return lower(out)
}

// search goes through one file and what is packed in it.
type search struct {
	needles []needle
	file    string
	found   map[Leak]bool
	bytes   int64 // looked through so far
	limit   int64 // of what may still be unpacked
	err     error
}

// unpack reads r to its end within what may still be unpacked; beyond it the search fails. What comes before a
// fault in r is returned with it.
func (s *search) unpack(r io.Reader) ([]byte, error) {
	plain, err := io.ReadAll(io.LimitReader(r, s.limit+1))
	if s.limit -= int64(len(plain)); s.limit < 0 {
		s.err = ErrUnscannable
		return nil, s.err
	}
	if plain == nil {
		plain = []byte{}
	}
	return plain, err
}

func (s *search) leak(where, what string) { s.found[Leak{s.file, where, what}] = true }

func (s *search) leaks() []Leak {
	out := make([]Leak, 0, len(s.found))
	for l := range s.found {
		out = append(out, l)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Where+out[i].What < out[j].Where+out[j].What })
	return out
}

// text looks for every needle in bytes that may hold text.
func (s *search) text(where string, b []byte) { s.look(where, b, 0) }

// packed looks for the needles that chance does not find in packed pixels.
func (s *search) packed(where string, b []byte) { s.look(where, b, shortest) }

func (s *search) look(where string, b []byte, least int) {
	s.bytes += int64(len(b))
	low := lower(b)
	for _, n := range s.needles {
		if len(n.bytes) >= least && bytes.Contains(low, n.bytes) {
			s.leak(where, n.what)
		}
	}
	for mark, what := range marks {
		if bytes.Contains(low, []byte(mark)) {
			s.leak(where, what)
		}
	}
}

// marks of metadata, wherever they stand; in lower case.
var marks = map[string]string{
	"exif\x00\x00":             "EXIF",
	"http://ns.adobe.com/":     "XMP",
	"<x:xmpmeta":               "XMP",
	"<?xpacket":                "XMP",
	"<rdf:rdf":                 "XMP",
	"photoshop 3.0\x00":        "IPTC",
	"icc_profile\x00":          "colour profile",
	"\x00\x00\x00\x00dicm\x02": "DICOM",
}

const niftiHeader = 352 // bytes before the voxels, the extension flag included (NIfTI-1)

// isNIfTI reports whether b is a NIfTI-1 file of one piece: its size of header and its magic.
func isNIfTI(b []byte) bool {
	return len(b) >= niftiHeader && bytes.HasPrefix(b, []byte{92, 1, 0, 0}) && bytes.Equal(b[344:348], []byte("n+1\x00"))
}

// data goes through bytes by what they are.
func (s *search) data(where string, b []byte, depth int) {
	if s.err != nil {
		return
	}
	if depth > maxDepth {
		s.err = ErrUnscannable
		return
	}
	switch {
	case bytes.HasPrefix(b, []byte(pngMagic)):
		s.png(where, b)
	case bytes.HasPrefix(b, []byte("\xff\xd8\xff")):
		s.jpeg(where, b)
	case bytes.HasPrefix(b, []byte("%PDF-")):
		s.pdf(where, b, depth)
	case bytes.HasPrefix(b, []byte("PK\x03\x04")), bytes.HasPrefix(b, []byte("PK\x05\x06")):
		s.zip(where, b, depth)
	case isNIfTI(b):
		s.text(join(where, "the header"), b[:niftiHeader])
		s.packed(where, b[niftiHeader:])
	default:
		s.text(where, b)
		if plain := html.UnescapeString(string(b)); len(plain) != len(b) { // XML writes some letters as references
			s.text(where, []byte(plain))
		}
	}
}
