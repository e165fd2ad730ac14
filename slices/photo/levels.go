package photo

import (
	"image"
	"runtime"
	"sync"
)

// inBands splits n rows over the cores.
func inBands(n int, work func(y0, y1 int)) {
	workers := min(runtime.GOMAXPROCS(0), max(1, n/64))
	var wg sync.WaitGroup
	for i := range workers {
		wg.Go(func() { work(i*n/workers, (i+1)*n/workers) })
	}
	wg.Wait()
}

// smallestLevel is the longer side below which no coarser level is kept.
const smallestLevel = 16

// buildLevels halves the picture down to a few pixels. Odd edges repeat their last row or column.
func (m *Image) buildLevels() {
	for l := m.levels[0]; max(l.w, l.h) > smallestLevel; {
		next := level{w: (l.w + 1) / 2, h: (l.h + 1) / 2}
		next.pix = make([]uint32, next.w*next.h)
		first := len(m.levels) == 1 && m.ycc != nil
		inBands(next.h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				row := next.pix[y*next.w : (y+1)*next.w]
				if first {
					halvePlanes(row, m.ycc, y)
				} else {
					halveRow(row, l, y)
				}
			}
		})
		m.levels = append(m.levels, next)
		l = next
	}
}

// halveRow makes row y of the level after l. Halves are rounded up and down by turns so that no level grows brighter.
func halveRow(dst []uint32, l level, y int) {
	top := l.pix[2*y*l.w:][:l.w]
	low := l.pix[min(2*y+1, l.h-1)*l.w:][:l.w]
	n := l.w / 2
	for x := range n {
		dst[x] = mean4(top[2*x], top[2*x+1], low[2*x], low[2*x+1], uint32(1+(x+y)&1))
	}
	if n < len(dst) {
		dst[n] = mean4(top[2*n], top[2*n], low[2*n], low[2*n], 2)
	}
}

// mean4 averages four pixels; bias is 2 to round halves up, 1 to round them down.
func mean4(a, b, c, d, bias uint32) uint32 {
	const even = 0x00ff00ff
	bias |= bias << 16
	lo := (a&even + b&even + c&even + d&even + bias) >> 2 & even
	hi := (a>>8&even + b>>8&even + c>>8&even + d>>8&even + bias) >> 2 & even
	return lo | hi<<8
}

// halvePlanes makes row y of the first coarser level: the mean luma of four pixels with the mean of their chroma, of
// which four, two or one sample stand for them, or a part of one.
func halvePlanes(dst []uint32, p *image.YCbCr, y int) {
	w, h := p.Rect.Dx(), p.Rect.Dy()
	y0, y1 := 2*y, min(2*y+1, h-1)
	top, low := p.Y[y0*p.YStride:][:w], p.Y[y1*p.YStride:][:w]
	sx, _ := chromaShift(p.SubsampleRatio)
	c0, c1 := p.COffset(0, y0), p.COffset(0, y1) // the same row where two rows share their chroma
	cw := (w + 1<<sx - 1) >> sx
	cb0, cr0, cb1, cr1 := p.Cb[c0:][:cw], p.Cr[c0:][:cw], p.Cb[c1:][:cw], p.Cr[c1:][:cw]
	n := w / 2
	switch {
	case sx == 0:
		for x := range n {
			i := 2 * x
			luma := int32(top[i]) + int32(top[i+1]) + int32(low[i]) + int32(low[i+1])
			dst[x] = rgb(luma<<14, mean(cb0[i], cb0[i+1], cb1[i], cb1[i+1]), mean(cr0[i], cr0[i+1], cr1[i], cr1[i+1]))
		}
	case c0 != c1:
		for x := range n {
			i, c := 2*x, 2*x>>sx
			luma := int32(top[i]) + int32(top[i+1]) + int32(low[i]) + int32(low[i+1])
			dst[x] = rgb(luma<<14, mean(cb0[c], cb0[c], cb1[c], cb1[c]), mean(cr0[c], cr0[c], cr1[c], cr1[c]))
		}
	default:
		for x := range n {
			i, c := 2*x, 2*x>>sx
			luma := int32(top[i]) + int32(top[i+1]) + int32(low[i]) + int32(low[i+1])
			dst[x] = rgb(luma<<14, cb0[c], cr0[c])
		}
	}
	if n < len(dst) { // the last column stands for two
		i, c := 2*n, 2*n>>sx
		dst[n] = rgb((int32(top[i])+int32(low[i]))<<15, mean(cb0[c], cb0[c], cb1[c], cb1[c]), mean(cr0[c], cr0[c], cr1[c], cr1[c]))
	}
}

// mean of four samples; halves are rounded up.
func mean(a, b, c, d uint8) uint8 {
	return uint8((uint32(a) + uint32(b) + uint32(c) + uint32(d) + 2) >> 2)
}

func pixel(p *image.YCbCr, x, y int) uint32 {
	c := p.COffset(x, y)
	return rgb(int32(p.Y[p.YOffset(x, y)])<<16, p.Cb[c], p.Cr[c])
}

// chromaShift returns how many times chroma is halved along x and y.
func chromaShift(r image.YCbCrSubsampleRatio) (x, y uint) {
	switch r {
	case image.YCbCrSubsampleRatio422:
		return 1, 0
	case image.YCbCrSubsampleRatio420:
		return 1, 1
	case image.YCbCrSubsampleRatio440:
		return 0, 1
	case image.YCbCrSubsampleRatio411:
		return 2, 0
	case image.YCbCrSubsampleRatio410:
		return 2, 1
	}
	return 0, 0
}

// JFIF's conversion in 16-bit fractions (ITU T.871): what one chroma value adds to each colour.
var crRed, crGreen, cbGreen, cbBlue [256]int32

func init() {
	for i := range int32(256) {
		c := i - 128
		crRed[i], crGreen[i] = 91881*c, -46802*c
		cbGreen[i], cbBlue[i] = -22554*c, 116130*c
	}
}

// rgb turns luma in 16-bit fractions and chroma into an opaque pixel, rounded as image/color does.
func rgb(luma int32, cb, cr uint8) uint32 {
	y := luma + luma>>8 + luma>>16
	r, g, b := y+crRed[cr], y+cbGreen[cb]+crGreen[cr], y+cbBlue[cb]
	if uint32(r|g|b)&0xff000000 != 0 {
		r, g, b = clamp24(r), clamp24(g), clamp24(b)
	}
	return uint32(r)>>16 | uint32(g)>>8&0xff00 | uint32(b)&0xff0000 | opaque
}

func clamp24(v int32) int32 { return max(0, min(v, 0xffffff)) }
