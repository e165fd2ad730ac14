package photo

import "encoding/binary"

// The loops below run for every pixel of every frame. They repeat the few lines of blend4 and rgb in place because
// the compiler does not inline those, and a call costs as much as the work.

// inner paints pixels whose four neighbours all lie inside the level.
func (j *drawJob) inner(s span) {
	switch planes := j.level == 0 && j.m.ycc != nil; {
	case planes && s.dv == 0:
		j.innerPlanesLevel(s)
	case planes:
		j.innerPlanes(s)
	case s.dv == 0:
		innerPixelsLevel(s, j.m.levels[j.level])
	default:
		innerPixels(s, j.m.levels[j.level])
	}
}

// innerPixelsLevel reads along one pair of rows.
func innerPixelsLevel(s span, l level) {
	y, fy := int(s.v>>fracBits), weight(s.v)
	gy := 256 - fy
	top, low := l.pix[y*l.w:][:l.w], l.pix[(y+1)*l.w:][:l.w]
	u, du, out := s.u, s.du, s.out
	for len(out) >= 4 {
		x, fx := int(u>>fracBits), weight(u)
		gx := 256 - fx
		t, b := top[x:x+2], low[x:x+2]
		high := (spread(t[0])*gx + spread(t[1])*fx + rounder) >> 8 & lanes
		deep := (spread(b[0])*gx + spread(b[1])*fx + rounder) >> 8 & lanes
		p := (high*gy + deep*fy + rounder) >> 8 & lanes
		binary.LittleEndian.PutUint32(out, uint32(p)|uint32(p>>24))
		u += du
		out = out[4:]
	}
}

func innerPixels(s span, l level) {
	u, v, du, dv, out := s.u, s.v, s.du, s.dv, s.out
	w, pix := l.w, l.pix
	for len(out) >= 4 {
		o := int(v>>fracBits)*w + int(u>>fracBits)
		fx, fy := weight(u), weight(v)
		gx := 256 - fx
		t, b := pix[o:o+2], pix[o+w:o+w+2]
		high := (spread(t[0])*gx + spread(t[1])*fx + rounder) >> 8 & lanes
		deep := (spread(b[0])*gx + spread(b[1])*fx + rounder) >> 8 & lanes
		p := (high*(256-fy) + deep*fy + rounder) >> 8 & lanes
		binary.LittleEndian.PutUint32(out, uint32(p)|uint32(p>>24))
		u, v = u+du, v+dv
		out = out[4:]
	}
}

// innerPlanesLevel interpolates luma along one pair of rows and takes the nearest chroma, as decoders show it.
func (j *drawJob) innerPlanesLevel(s span) {
	p := j.m.ycc
	w := j.m.stored.X
	y, fy := int(s.v>>fracBits), int32(weight(s.v))
	top, low := p.Y[y*p.YStride:][:w], p.Y[(y+1)*p.YStride:][:w]
	sx, sy := chromaShift(p.SubsampleRatio)
	c := int((s.v+half)>>fracBits) >> sy * p.CStride
	cb, cr := p.Cb[c:c+p.CStride], p.Cr[c:c+p.CStride]
	u, du, out := s.u, s.du, s.out
	shift := (fracBits + sx) & 63
	for len(out) >= 4 {
		x, fx := int(u>>fracBits), int32(weight(u))
		t, b := top[x:x+2], low[x:x+2]
		high := int32(t[0])<<8 + (int32(t[1])-int32(t[0]))*fx
		deep := int32(b[0])<<8 + (int32(b[1])-int32(b[0]))*fx
		luma := high<<8 + (deep-high)*fy
		luma += luma>>8 + luma>>16
		xc := int((u + half) >> shift)
		bb, rr := cb[xc], cr[xc]
		red, green, blue := luma+crRed[rr], luma+cbGreen[bb]+crGreen[rr], luma+cbBlue[bb]
		if uint32(red|green|blue)>>24 != 0 {
			red, green, blue = clamp24(red), clamp24(green), clamp24(blue)
		}
		binary.LittleEndian.PutUint32(out, uint32(red)>>16|uint32(green)>>8&0xff00|uint32(blue)&0xff0000|opaque)
		u += du
		out = out[4:]
	}
}

func (j *drawJob) innerPlanes(s span) {
	p := j.m.ycc
	sx, sy := chromaShift(p.SubsampleRatio)
	shiftX, shiftY := (fracBits+sx)&63, (fracBits+sy)&63
	u, v, du, dv, out := s.u, s.v, s.du, s.dv, s.out
	lumas, cb, cr, stride, cstride := p.Y, p.Cb, p.Cr[:len(p.Cb)], p.YStride, p.CStride
	for len(out) >= 4 {
		o := int(v>>fracBits)*stride + int(u>>fracBits)
		fx, fy := int32(weight(u)), int32(weight(v))
		t, b := lumas[o:o+2], lumas[o+stride:o+stride+2]
		high := int32(t[0])<<8 + (int32(t[1])-int32(t[0]))*fx
		deep := int32(b[0])<<8 + (int32(b[1])-int32(b[0]))*fx
		luma := high<<8 + (deep-high)*fy
		luma += luma>>8 + luma>>16
		c := int((v+half)>>shiftY)*cstride + int((u+half)>>shiftX)
		bb, rr := cb[c], cr[c]
		red, green, blue := luma+crRed[rr], luma+cbGreen[bb]+crGreen[rr], luma+cbBlue[bb]
		if uint32(red|green|blue)>>24 != 0 {
			red, green, blue = clamp24(red), clamp24(green), clamp24(blue)
		}
		binary.LittleEndian.PutUint32(out, uint32(red)>>16|uint32(green)>>8&0xff00|uint32(blue)&0xff0000|opaque)
		u, v = u+du, v+dv
		out = out[4:]
	}
}
