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

// dab lays the colour over the first pixel of d at a coverage of 0 to 255.
func (b *brush) dab(d []byte, coverage uint32) {
	a := b.alpha*coverage + 128
	rest := 255 - (a+a>>8)>>8
	under := spread(binary.LittleEndian.Uint32(d))
	binary.LittleEndian.PutUint32(d, gather(by255(b.colour*uint64(coverage)+under*uint64(rest)+rounder)))
}

// run lays the colour over every pixel of row at one coverage, two pixels at a time.
func (b *brush) run(row []byte, coverage uint32) {
	over := by255(b.colour*uint64(coverage) + rounder)
	p := gather(over)
	two := uint64(p) | uint64(p)<<32
	rest := 255 - over>>48
	for ; len(row) >= 8; row = row[8:] {
		v := two
		if rest != 0 {
			d := binary.LittleEndian.Uint64(row)
			lo, hi := d&lanes*rest+rounder, d>>8&lanes*rest+rounder
			v += by255(lo) | (hi+hi>>8&lanes)&^uint64(lanes)
		}
		binary.LittleEndian.PutUint64(row, v)
	}
	if len(row) >= 4 {
		b.dab(row, coverage)
	}
}
