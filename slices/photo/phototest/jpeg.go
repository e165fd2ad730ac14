package phototest

import (
	"encoding/binary"
	"image"
	"math"
)

// Sampling says how many luma samples stand for one chroma sample along x and y: 1, 2 or 4.
type Sampling struct{ X, Y int }

// Samplings are those that cameras and programs write, by their usual names.
var Samplings = map[string]Sampling{"4:4:4": {1, 1}, "4:2:2": {2, 1}, "4:2:0": {2, 2}, "4:4:0": {1, 2}, "4:1:1": {4, 1}, "4:1:0": {4, 2}}

// JPEGKind says how a JPEG is written.
type JPEGKind struct {
	Sampling Sampling // zero: 4:4:4
	Grey     bool     // one part
	RGB      bool     // three parts as they are, said by Adobe's segment
	Restart  int      // blocks of pixels between restarts, 0 for none
	Step     int      // of quantisation, 0 for 3
	EXIF     []byte   // block without its name, nil for none
	Adobe    int      // colour transform + 1 said by Adobe's segment, 0 for no such segment
}

// JPEG is m as baseline JPEG (ITU T.81, with the Huffman tables of its annex K).
func JPEG(m image.Image, k JPEGKind) []byte {
	if k.Sampling == (Sampling{}) || k.Grey || k.RGB {
		k.Sampling = Sampling{1, 1}
	}
	if k.Step == 0 {
		k.Step = 3
	}
	if k.RGB {
		k.Adobe = 1
	}
	e := jpegWriter{kind: k, size: m.Bounds().Size(), out: []byte{0xff, 0xd8}}
	e.planes(m)
	if k.EXIF != nil {
		e.segment(0xe1, append([]byte("Exif\x00\x00"), k.EXIF...))
	}
	if k.Adobe > 0 {
		e.segment(0xee, []byte{'A', 'd', 'o', 'b', 'e', 0, 100, 0, 0, 0, 0, byte(k.Adobe - 1)})
	}
	e.headers()
	e.scan()
	return append(e.out, 0xff, 0xd9)
}

// Thumbnail lays a thumbnail into a new EXIF segment of a JPEG, in the order Exif 2.32 gives: IFD0 with the orientation, IFD1
// with the place and length of the JPEG.
func Thumbnail(main, thumb []byte, orientation int) []byte {
	be := binary.BigEndian
	b := []byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08")
	b = append(b, 0, 1, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, byte(orientation), 0, 0, 0, 0, 0, 26)
	b = append(b, 0, 3, 0x01, 0x03, 0, 3, 0, 0, 0, 1, 0, 6, 0, 0)
	const at = 26 + 2 + 3*12 + 4
	b = append(be.AppendUint32(append(b, 0x02, 0x01, 0, 4, 0, 0, 0, 1), at), 0x02, 0x02, 0, 4, 0, 0, 0, 1)
	b = append(be.AppendUint32(b, uint32(len(thumb))), 0, 0, 0, 0)
	b = append(b, thumb...)
	out := append([]byte{}, main[:2]...)
	out = append(be.AppendUint16(append(out, 0xff, 0xe1), uint16(len(b)+2)), b...)
	return append(out, main[2:]...)
}

type plane struct {
	w, h int
	v    []float64 // -128 to 127
}

type jpegWriter struct {
	kind JPEGKind
	size image.Point
	part []plane
	out  []byte
	held uint32
	n    int
}

// planes turns the picture into its parts (ITU T.871), chroma averaged, whole blocks by repeating the edge.
func (e *jpegWriter) planes(m image.Image) {
	s := e.kind.Sampling
	w, h := (e.size.X+8*s.X-1)/(8*s.X)*8*s.X, (e.size.Y+8*s.Y-1)/(8*s.Y)*8*s.Y
	full := [3]plane{}
	for i := range full {
		full[i] = plane{w, h, make([]float64, w*h)}
	}
	o := m.Bounds().Min
	for y := range h {
		for x := range w {
			r32, g32, b32, _ := m.At(o.X+min(x, e.size.X-1), o.Y+min(y, e.size.Y-1)).RGBA()
			r, g, b := float64(r32>>8), float64(g32>>8), float64(b32>>8)
			i := y*w + x
			if e.kind.RGB {
				full[0].v[i], full[1].v[i], full[2].v[i] = r-128, g-128, b-128
				continue
			}
			full[0].v[i] = 0.299*r + 0.587*g + 0.114*b - 128
			full[1].v[i] = -0.168736*r - 0.331264*g + 0.5*b
			full[2].v[i] = 0.5*r - 0.418688*g - 0.081312*b
		}
	}
	e.part = full[:1]
	if e.kind.Grey {
		return
	}
	for _, p := range full[1:] {
		q := plane{w / s.X, h / s.Y, make([]float64, w/s.X*h/s.Y)}
		for y := range h {
			for x := range w {
				q.v[y/s.Y*q.w+x/s.X] += p.v[y*w+x] / float64(s.X*s.Y)
			}
		}
		e.part = append(e.part, q)
	}
}

func (e *jpegWriter) segment(marker byte, body []byte) {
	e.out = binary.BigEndian.AppendUint16(append(e.out, 0xff, marker), uint16(len(body)+2))
	e.out = append(e.out, body...)
}

func (e *jpegWriter) headers() {
	table := make([]byte, 65)
	for i := 1; i < 65; i++ {
		table[i] = byte(e.kind.Step)
	}
	e.segment(0xdb, table)
	frame := []byte{8, byte(e.size.Y >> 8), byte(e.size.Y), byte(e.size.X >> 8), byte(e.size.X), byte(len(e.part))}
	scan := []byte{byte(len(e.part))}
	for i := range e.part {
		sampling := byte(0x11)
		if i == 0 {
			sampling = byte(e.kind.Sampling.X<<4 | e.kind.Sampling.Y)
		}
		frame = append(frame, byte(i+1), sampling, 0)
		scan = append(scan, byte(i+1), 0)
	}
	e.segment(0xc0, frame)
	e.segment(0xc4, append(append([]byte{0x00}, dcCounts[:]...), dcSymbols[:]...))
	e.segment(0xc4, append(append([]byte{0x10}, acCounts[:]...), acSymbols[:]...))
	if e.kind.Restart > 0 {
		e.segment(0xdd, []byte{byte(e.kind.Restart >> 8), byte(e.kind.Restart)})
	}
	e.segment(0xda, append(scan, 0, 63, 0))
}

func (e *jpegWriter) scan() {
	s := e.kind.Sampling
	across, down := e.part[0].w/(8*s.X), e.part[0].h/(8*s.Y)
	var last [3]int
	for n := range across * down {
		if r := e.kind.Restart; r > 0 && n > 0 && n%r == 0 {
			e.flush()
			e.out = append(e.out, 0xff, byte(0xd0+(n/r-1)%8))
			last = [3]int{}
		}
		for i, p := range e.part {
			bw, bh := 1, 1
			if i == 0 {
				bw, bh = s.X, s.Y
			}
			for by := range bh {
				for bx := range bw {
					last[i] = e.block(p, 8*(n%across*bw+bx), 8*(n/across*bh+by), last[i])
				}
			}
		}
	}
	e.flush()
}

// cosines of the transform (T.81, A.3.3).
var cosines = func() (c [8][8]float64) {
	for u := range 8 {
		for x := range 8 {
			c[u][x] = math.Cos(float64(2*x+1)*float64(u)*math.Pi/16) / 2
			if u == 0 {
				c[u][x] *= math.Sqrt2 / 2
			}
		}
	}
	return c
}()

// block writes one block and returns its first coefficient.
func (e *jpegWriter) block(p plane, x0, y0, last int) int {
	var rows, f [8][8]float64
	for y := range 8 {
		for u := range 8 {
			for x := range 8 {
				rows[y][u] += cosines[u][x] * p.v[(y0+y)*p.w+x0+x]
			}
		}
	}
	for v := range 8 {
		for u := range 8 {
			for y := range 8 {
				f[v][u] += cosines[v][y] * rows[y][u]
			}
		}
	}
	var c [64]int
	for i, z := range zigzag {
		c[i] = int(math.Round(f[z/8][z%8] / float64(e.kind.Step)))
	}
	size, tail := magnitude(c[0] - last)
	e.code(dcCodes[size])
	e.bits(tail, size)
	run := 0
	for _, v := range c[1:] {
		if v == 0 {
			run++
			continue
		}
		for ; run > 15; run -= 16 {
			e.code(acCodes[0xf0])
		}
		size, tail := magnitude(v)
		e.code(acCodes[run<<4|size])
		e.bits(tail, size)
		run = 0
	}
	if run > 0 {
		e.code(acCodes[0])
	}
	return c[0]
}

// magnitude is a value's number of bits, and those bits (T.81, F.1.2.1).
func magnitude(v int) (size int, tail uint32) {
	a := v
	if v < 0 {
		a, v = -v, v-1
	}
	for ; a > 0; a >>= 1 {
		size++
	}
	return size, uint32(v) & (1<<size - 1)
}

func (e *jpegWriter) code(c huffman) { e.bits(c.code, c.length) }

func (e *jpegWriter) bits(v uint32, n int) {
	for i := n - 1; i >= 0; i-- {
		e.held = e.held<<1 | v>>i&1
		if e.n++; e.n == 8 {
			e.out = append(e.out, byte(e.held))
			if byte(e.held) == 0xff {
				e.out = append(e.out, 0)
			}
			e.held, e.n = 0, 0
		}
	}
}

func (e *jpegWriter) flush() {
	for e.n != 0 {
		e.bits(1, 1)
	}
}

type huffman struct {
	code   uint32
	length int
}

// codesOf gives every symbol its code (T.81, annex C).
func codesOf(counts [16]byte, symbols []byte) (codes [256]huffman) {
	code, i := uint32(0), 0
	for length, n := range counts {
		for range n {
			codes[symbols[i]] = huffman{code, length + 1}
			code, i = code+1, i+1
		}
		code <<= 1
	}
	return codes
}

var (
	dcCodes = codesOf(dcCounts, dcSymbols[:])
	acCodes = codesOf(acCounts, acSymbols[:])

	// T.81, tables K.3 and K.5.
	dcCounts  = [16]byte{0, 1, 5, 1, 1, 1, 1, 1, 1}
	dcSymbols = [12]byte{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}
	acCounts  = [16]byte{0, 2, 1, 3, 3, 2, 4, 3, 5, 5, 4, 4, 0, 0, 1, 0x7d}
	acSymbols = [162]byte{
		0x01, 0x02, 0x03, 0x00, 0x04, 0x11, 0x05, 0x12, 0x21, 0x31, 0x41, 0x06, 0x13, 0x51, 0x61, 0x07, 0x22, 0x71,
		0x14, 0x32, 0x81, 0x91, 0xa1, 0x08, 0x23, 0x42, 0xb1, 0xc1, 0x15, 0x52, 0xd1, 0xf0, 0x24, 0x33, 0x62, 0x72,
		0x82, 0x09, 0x0a, 0x16, 0x17, 0x18, 0x19, 0x1a, 0x25, 0x26, 0x27, 0x28, 0x29, 0x2a, 0x34, 0x35, 0x36, 0x37,
		0x38, 0x39, 0x3a, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x53, 0x54, 0x55, 0x56, 0x57, 0x58, 0x59,
		0x5a, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x73, 0x74, 0x75, 0x76, 0x77, 0x78, 0x79, 0x7a, 0x83,
		0x84, 0x85, 0x86, 0x87, 0x88, 0x89, 0x8a, 0x92, 0x93, 0x94, 0x95, 0x96, 0x97, 0x98, 0x99, 0x9a, 0xa2, 0xa3,
		0xa4, 0xa5, 0xa6, 0xa7, 0xa8, 0xa9, 0xaa, 0xb2, 0xb3, 0xb4, 0xb5, 0xb6, 0xb7, 0xb8, 0xb9, 0xba, 0xc2, 0xc3,
		0xc4, 0xc5, 0xc6, 0xc7, 0xc8, 0xc9, 0xca, 0xd2, 0xd3, 0xd4, 0xd5, 0xd6, 0xd7, 0xd8, 0xd9, 0xda, 0xe1, 0xe2,
		0xe3, 0xe4, 0xe5, 0xe6, 0xe7, 0xe8, 0xe9, 0xea, 0xf1, 0xf2, 0xf3, 0xf4, 0xf5, 0xf6, 0xf7, 0xf8, 0xf9, 0xfa,
	}
	zigzag = [64]int{
		0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20, 13, 6, 7, 14, 21, 28,
		35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59, 52, 45, 38, 31, 39, 46, 53, 60, 61, 54, 47, 55, 62, 63,
	}
)
