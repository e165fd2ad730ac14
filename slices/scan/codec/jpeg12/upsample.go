package jpeg12

import "sectionary/slices/scan/codec"

// upsample stretches the plane to full size and writes it as component i of f.
// Factors of two across, and two both ways, use triangular weights: a sample
// lies at the centre of the pixels it stands for, and each pixel takes 3/4 of
// the nearer and 1/4 of the farther sample in each direction, with the edge
// repeated. Every other factor repeats samples, as does a plane of two columns
// or fewer. This is the reference software's choice; T.81 A.1.1 fixes only the
// sizes.
func (p *plane) upsample(f codec.Frame, i int) {
	switch {
	case p.across == 2 && p.down == 1 && p.width > 2:
		p.stretchAcross(f, i)
	case p.across == 2 && p.down == 2 && p.width > 2:
		p.stretchBoth(f, i)
	default:
		p.repeat(f, i)
	}
}

func (p *plane) repeat(f codec.Frame, i int) {
	for y := range f.Height {
		row := p.pix[y/p.down*p.stride:]
		out := f.Pix[y*f.Width*f.Samples:][:f.Width*f.Samples]
		if p.across == 1 {
			for x, k := 0, i; k < len(out); x, k = x+1, k+f.Samples {
				out[k] = row[x]
			}
			continue
		}
		for x, k := 0, i; k < len(out); x, k = x+1, k+f.Samples {
			out[k] = row[x/p.across]
		}
	}
}

// stretchAcross doubles the columns. Halves are rounded down in the left pixel
// of a pair and up in the right one, so that no bias builds up.
func (p *plane) stretchAcross(f codec.Frame, i int) {
	for y := range f.Height {
		row := p.pix[y*p.stride:][:p.width]
		out := f.Pix[y*f.Width*f.Samples:][:f.Width*f.Samples]
		for x, k := 0, i; k < len(out); x, k = x+1, k+f.Samples {
			c := x / 2
			near := 3 * uint32(row[c])
			switch {
			case x == 0 || x == 2*p.width-1:
				out[k] = row[c]
			case x%2 == 0:
				out[k] = uint16((near + uint32(row[c-1]) + 1) / 4)
			default:
				out[k] = uint16((near + uint32(row[c+1]) + 2) / 4)
			}
		}
	}
}

// stretchBoth doubles columns and rows, the rows first and unrounded.
func (p *plane) stretchBoth(f codec.Frame, i int) {
	sum := make([]uint32, p.width) // 3 x nearer row + farther row
	for y := range f.Height {
		r := y / 2
		far := r + 1
		if y%2 == 0 {
			far = r - 1
		}
		far = min(max(far, 0), p.height-1)
		a, b := p.pix[r*p.stride:][:p.width], p.pix[far*p.stride:][:p.width]
		for c := range sum {
			sum[c] = 3*uint32(a[c]) + uint32(b[c])
		}
		out := f.Pix[y*f.Width*f.Samples:][:f.Width*f.Samples]
		for x, k := 0, i; k < len(out); x, k = x+1, k+f.Samples {
			c := x / 2
			switch {
			case x == 0:
				out[k] = uint16((4*sum[c] + 8) / 16)
			case x == 2*p.width-1:
				out[k] = uint16((4*sum[c] + 7) / 16)
			case x%2 == 0:
				out[k] = uint16((3*sum[c] + sum[c-1] + 8) / 16)
			default:
				out[k] = uint16((3*sum[c] + sum[c+1] + 7) / 16)
			}
		}
	}
}
