package scan

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// The reader below follows DICOM PS3.5 (data structures) and PS3.10 (files). It keeps slices of the file's own bytes,
// reserves nothing from a claimed length, and opens sequences only when asked. Four bounds keep crafted files cheap.
const (
	maxElements = 1 << 20   // elements walked in one file
	maxDepth    = 24        // sequences inside sequences
	maxInflated = 1 << 28   // bytes of a deflated data set
	maxItems    = 1 << 17   // items of one sequence
	undefined   = 1<<32 - 1 // a length that is not stated
)

// tag is group<<16 | element.
type tag uint32

const (
	tagItem        tag = 0xFFFEE000
	tagItemEnd     tag = 0xFFFEE00D
	tagSequenceEnd tag = 0xFFFEE0DD
	tagPixels      tag = 0x7FE00010
	tagFloat       tag = 0x7FE00008
	tagDouble      tag = 0x7FE00009
)

func (t tag) String() string { return fmt.Sprintf("(%04x,%04x)", uint32(t)>>16, uint32(t)&0xffff) }

func (t tag) isPixels() bool { return t == tagPixels || t == tagFloat || t == tagDouble }

// encoding is how the elements of a data set are written.
type encoding struct{ implicit, big bool }

func (e encoding) order() binary.ByteOrder {
	if e.big {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

func (e encoding) u16(b []byte) uint16 {
	if e.big {
		return binary.BigEndian.Uint16(b)
	}
	return binary.LittleEndian.Uint16(b)
}

func (e encoding) u32(b []byte) uint32 {
	if e.big {
		return binary.BigEndian.Uint32(b)
	}
	return binary.LittleEndian.Uint32(b)
}

func (e encoding) tag(b []byte) tag { return tag(e.u16(b))<<16 | tag(e.u16(b[2:])) }

// element is one attribute; value is a part of the file's bytes. A sequence's value is its items.
type element struct {
	tag    tag
	vr     string // "" in implicit data
	value  []byte
	open   bool     // the length was not stated: value is items or fragments
	inside encoding // how the items of value are written
	at     int      // where value starts in the bytes that were parsed
}

// dataset is a run of elements, as stored.
type dataset struct {
	enc      encoding
	elements []element
}

// file is a DICOM file's header, up to its pixels.
type file struct {
	syntax    string // transfer syntax UID; "" when the file does not say
	class     string // SOP class of group 2
	dataset          // everything before the pixels
	pixels    *element
	truncated bool // the file ends inside an element
}

var errMore = errors.New("more bytes needed")

// parser walks bytes. whole says that data is the complete file, so running off its end is damage; when it is a first
// part, running off its end is errMore.
type parser struct {
	data  []byte
	whole bool
	left  int // elements that may still be walked
	short bool
}

// parseFile reads the header of a DICOM file. Unless whole, data may be a first part, and errMore asks for more of it.
// With whole the pixels' bytes are there too. Anything that is not DICOM gives ErrNotScan.
func parseFile(data []byte, whole bool) (*file, error) {
	start, err := findStart(data, whole)
	if err != nil {
		return nil, err
	}
	p := &parser{data: data, whole: whole, left: maxElements}
	f := &file{}
	pos, err := p.meta(start, f)
	if err != nil {
		return nil, err
	}
	if f.syntax == syntaxDeflated && !looksPlain(data[pos:]) {
		return inflateFile(f, data[pos:], whole)
	}
	return f, p.body(pos, f)
}

// body reads the data set proper from pos.
func (p *parser) body(pos int, f *file) error {
	if len(p.data)-pos < 8 {
		if !p.whole {
			return errMore
		}
		return fmt.Errorf("%w: the file ends after its first lines", ErrNotScan)
	}
	f.enc = sniff(p.data[pos:], f.syntax)
	for pos < len(p.data) {
		if p.whole && blank(p.data[pos:]) {
			break
		}
		e, next, err := p.element(pos, f.enc, 0)
		if err != nil {
			return err
		}
		if next < 0 { // cut short
			f.truncated = true
			if e.tag.isPixels() {
				f.pixels = &e
			}
			break
		}
		if e.tag.isPixels() {
			f.pixels = &e
			break
		}
		f.elements = append(f.elements, e)
		pos = next
	}
	f.truncated = f.truncated || p.short
	return nil
}

// explicitAt reports whether the element at the start of data states its value representation.
func explicitAt(data []byte) bool {
	return len(data) >= 6 && isVR(data[4], data[5])
}

const vrs = "AE AS AT CS DA DS DT FD FL IS LO LT OB OD OF OL OV OW PN SH SL SQ SS ST SV TM UC UI UL UN UR US UT UV "

var knownVR = func() (known [26 * 26]bool) {
	for i := 0; i+1 < len(vrs); i += 3 {
		known[int(vrs[i]-'A')*26+int(vrs[i+1]-'A')] = true
	}
	return known
}()

func isVR(a, b byte) bool {
	return a >= 'A' && a <= 'Z' && b >= 'A' && b <= 'Z' && knownVR[int(a-'A')*26+int(b-'A')]
}

// longVR reports whether a representation has a 32-bit length behind two spare bytes (PS3.5 7.1.2).
func longVR(vr string) bool {
	switch vr {
	case "OB", "OD", "OF", "OL", "OV", "OW", "SQ", "SV", "UC", "UN", "UR", "UT", "UV":
		return true
	}
	return false
}

// element reads the element at pos. next is where the following one starts, or -1 when the file ends inside this one;
// pixels of a first part of a file are returned without their bytes.
func (p *parser) element(pos int, enc encoding, depth int) (e element, next int, err error) {
	if p.left--; p.left < 0 {
		return e, 0, fmt.Errorf("%w: more than %d elements", ErrTooLarge, maxElements)
	}
	if depth > maxDepth {
		return e, 0, fmt.Errorf("%w: sequences nested over %d deep", ErrTooLarge, maxDepth)
	}
	e, length, body, err := p.head(pos, enc)
	if err != nil || body < 0 {
		return e, body, err
	}
	e.at = body
	if e.tag.isPixels() && !p.whole {
		e.open = length == undefined
		return e, len(p.data), nil
	}
	if length != undefined {
		if uint64(length) > uint64(len(p.data)-body) {
			if !p.whole {
				return e, 0, errMore
			}
			e.value = p.data[body:]
			p.short = true
			return e, -1, nil
		}
		e.value = p.data[body : body+int(length)]
		return e, body + int(length), nil
	}
	e.open = true
	end, next, err := p.skipItems(body, e.inside, depth+1)
	if err != nil {
		return e, 0, err
	}
	e.value = p.data[body:end]
	return e, next, nil
}

// head reads the tag, representation and length of the element at pos. body is where its value starts, or -1.
func (p *parser) head(pos int, enc encoding) (e element, length uint32, body int, err error) {
	cut := func() (element, uint32, int, error) {
		if !p.whole {
			return e, 0, 0, errMore
		}
		p.short = true
		return e, 0, -1, nil
	}
	d := p.data[pos:]
	if len(d) < 8 {
		return cut()
	}
	e.tag, e.inside = enc.tag(d), enc
	if enc.implicit || e.tag>>16 == 0xFFFE || !upper(d[4]) || !upper(d[5]) {
		length, body = enc.u32(d[4:]), pos+8
		return e, length, body, nil
	}
	e.vr = vrName(d[4], d[5])
	if !longVR(e.vr) {
		return e, uint32(enc.u16(d[6:])), pos + 8, nil
	}
	if len(d) < 12 {
		return cut()
	}
	length = enc.u32(d[8:])
	if e.vr == "UN" { // CP-246: what is unknown to the writer is written implicit little endian
		e.inside = encoding{implicit: true}
	}
	return e, length, pos + 12, nil
}

func upper(b byte) bool { return b >= 'A' && b <= 'Z' }

// vrName returns the two letters as a string without allocating for those that exist.
func vrName(a, b byte) string {
	for i := 0; i+1 < len(vrs); i += 3 {
		if vrs[i] == a && vrs[i+1] == b {
			return vrs[i : i+2]
		}
	}
	return "??"
}

// skipItems walks the items of a sequence without stated length. end is where its last item ends, next lies behind its
// delimiter. A file that stops inside gives what is there.
func (p *parser) skipItems(pos int, enc encoding, depth int) (end, next int, err error) {
	for {
		if len(p.data)-pos < 8 {
			if !p.whole {
				return 0, 0, errMore
			}
			p.short = true
			return len(p.data), len(p.data), nil
		}
		t, length := enc.tag(p.data[pos:]), enc.u32(p.data[pos+4:])
		if t == tagSequenceEnd {
			return pos, pos + 8, nil
		}
		if t != tagItem {
			return 0, 0, fmt.Errorf("%w: %v stands where an item should", ErrDamaged, t)
		}
		if p.left--; p.left < 0 {
			return 0, 0, fmt.Errorf("%w: more than %d elements", ErrTooLarge, maxElements)
		}
		if pos, err = p.skipItem(pos+8, length, enc, depth); err != nil {
			return 0, 0, err
		}
	}
}

// skipItem returns where the item whose content starts at pos ends, its delimiter included.
func (p *parser) skipItem(pos int, length uint32, enc encoding, depth int) (int, error) {
	if length != undefined {
		if uint64(length) > uint64(len(p.data)-pos) {
			if !p.whole {
				return 0, errMore
			}
			p.short = true
			return len(p.data), nil
		}
		return pos + int(length), nil
	}
	for pos < len(p.data) {
		if len(p.data)-pos >= 8 && enc.tag(p.data[pos:]) == tagItemEnd {
			return pos + 8, nil
		}
		_, next, err := p.element(pos, enc, depth)
		if err != nil {
			return 0, err
		}
		if next < 0 {
			return len(p.data), nil
		}
		pos = next
	}
	if !p.whole {
		return 0, errMore
	}
	p.short = true
	return pos, nil
}

// items opens a sequence. Damage inside ends the list early.
func (e *element) items() []dataset {
	if e == nil {
		return nil
	}
	p := &parser{data: e.value, whole: true, left: maxElements}
	var list []dataset
	enc := e.inside
	for pos := 0; len(e.value)-pos >= 8 && len(list) < maxItems; {
		if enc.tag(e.value[pos:]) != tagItem {
			break
		}
		end, err := p.skipItem(pos+8, enc.u32(e.value[pos+4:]), enc, 0)
		if err != nil {
			break
		}
		list = append(list, p.itemElements(pos+8, end, enc))
		pos = end
	}
	return list
}

// itemElements reads the elements between two places of the parser's bytes.
func (p *parser) itemElements(pos, end int, enc encoding) dataset {
	inner := &parser{data: p.data[:end], whole: true, left: p.left}
	if len(p.data)-pos >= 8 && !enc.implicit && !explicitAt(p.data[pos:]) && enc.tag(p.data[pos:])>>16 != 0xFFFE {
		enc.implicit = true // items written implicitly inside an explicit file
	}
	d := dataset{enc: enc}
	for pos < end {
		e, next, err := inner.element(pos, enc, 0)
		if err != nil || next < 0 || e.tag == tagItemEnd {
			break
		}
		d.elements = append(d.elements, e)
		pos = next
	}
	return d
}
