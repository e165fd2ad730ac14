package ink

import (
	"encoding/binary"
	"image/color"
)

// brush lays one colour over pixels. Colours are worked on as four bytes spread over 64 bits.
type brush struct {
	colour uint64 // spread: R, B, G, A from the lowest
	alpha  uint32
}

const (
	lanes   = 0x00ff00ff00ff00ff
	rounder = 0x0080008000800080
)

// newBrush holds the parts of c to its alpha, as Go's colours promise.
func newBrush(c color.RGBA) brush {
	p := uint32(min(c.R, c.A)) | uint32(min(c.G, c.A))<<8 | uint32(min(c.B, c.A))<<16 | uint32(c.A)<<24
	return brush{spread(p), uint32(c.A)}
}

func spread(p uint32) uint64 { return uint64(p)&0x00ff00ff | uint64(p)&0xff00ff00<<24 }

func gather(v uint64) uint32 { return uint32(v) | uint32(v>>24) }

// by255 divides each lane by 255, rounded to nearest; rounder has been added.
func by255(v uint64) uint64 { return (v + v>>8&lanes) >> 8 & lanes }

// rest is what stays of the pixel below, 0 to 255, at a coverage of 0 to 255.
func (b *brush) rest(coverage uint32) uint64 {
	a := b.alpha*coverage + 128
	return uint64(255 - (a+a>>8)>>8)
}

// dab lays the colour over the first pixel of d at a coverage of 0 to 255.
func (b *brush) dab(d []byte, coverage uint32) {
	under := spread(binary.LittleEndian.Uint32(d))
	binary.LittleEndian.PutUint32(d, gather(by255(b.colour*uint64(coverage)+under*b.rest(coverage)+rounder)))
}

// run lays the colour over every pixel of row at one coverage. It takes two pixels at a time, red and blue apart from
// green and alpha, and gives exactly what dab gives.
func (b *brush) run(row []byte, coverage uint32) {
	over, rest := b.colour*uint64(coverage)+rounder, b.rest(coverage)
	const low = 0xffffffff
	redBlue, greenAlpha := over&low|over<<32, over>>32|over&^uint64(low)
	for ; len(row) >= 8; row = row[8:] {
		d := binary.LittleEndian.Uint64(row)
		rb, ga := d&lanes*rest+redBlue, d>>8&lanes*rest+greenAlpha
		binary.LittleEndian.PutUint64(row, by255(rb)|(ga+ga>>8&lanes)&^uint64(lanes))
	}
	if len(row) >= 4 {
		b.dab(row, coverage)
	}
}
