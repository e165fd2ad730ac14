package jpegls

import "sectionary/slices/scan/codec"

// lines holds the line being decoded and the one above, for each component of
// a scan. Column x is at x+1: the ends hold the neighbours outside (A.2.1).
type lines struct {
	above, here [3][]int
	width       int
}

// decodeScan decodes all lines of the components of one scan into f.
func (s *stream) decodeScan(sc scanHeader, f codec.Frame) error {
	m, err := newModel(s.precision, sc.near, s.preset)
	if err != nil {
		return err
	}
	l := newLines(s.width, len(sc.components))
	interval := s.height
	if s.restart > 0 {
		interval = s.restart
	}
	var br bitReader
	for y := range s.height {
		if y%interval == 0 {
			if y > 0 {
				if err := s.restartMarker(y/interval - 1); err != nil {
					return err
				}
				m.restart()
			}
			br = s.interval()
			for i := range sc.components {
				clear(l.above[i]) // as at the top of the image
			}
		}
		for i := range sc.components {
			l.edges(i)
		}
		if sc.interleave == 2 {
			m.sampleLine(&br, l)
		} else {
			for i := range sc.components {
				m.line(&br, l.above[i], l.here[i], i)
			}
		}
		if br.bad || br.pos > br.end {
			return corrupt("line %d cannot be decoded", y+1)
		}
		for i, c := range sc.components {
			out := f.Pix[y*f.Width*f.Samples:][:f.Width*f.Samples]
			in := l.here[i][1:]
			for x, k := 0, c; k < len(out); x, k = x+1, k+f.Samples {
				out[k] = uint16(in[x])
			}
		}
		l.above, l.here = l.here, l.above
	}
	return nil
}

// restartMarker reads the marker after the n-th interval, counted from 0.
func (s *stream) restartMarker(n int) error {
	m, _, err := s.segment()
	if err != nil {
		return err
	}
	if want := byte(mRST0 + n&7); m != want {
		return corrupt("marker %#02x where restart marker %#02x should stand", m, want)
	}
	return nil
}

func newLines(width, components int) *lines {
	l := &lines{width: width}
	for i := range components {
		l.above[i], l.here[i] = make([]int, width+2), make([]int, width+2)
	}
	return l
}

// edges sets the neighbours outside the line: the last sample above repeated
// to the right, the first sample above to the left.
func (l *lines) edges(i int) {
	a := l.above[i]
	a[l.width+1] = a[l.width]
	l.here[i][0] = a[1]
}

// line decodes one line of one component.
func (m *model) line(br *bitReader, above, here []int, component int) {
	width := len(here) - 2
	above = above[:len(here)]
	a, c, b := here[0], above[0], above[1]
	for x := 1; x <= width; {
		d := above[x+1]
		if r := m.region(a, b, c, d); r != 0 {
			a = m.regular(br, r, a, b, c)
			here[x] = a
			x, c, b = x+1, b, d
			continue
		}
		n, ended := m.runLength(br, component, width+1-x)
		for i := range n {
			here[x+i] = a
		}
		x += n
		if !ended {
			return
		}
		b = above[x]
		kind := 0
		if max(a-b, b-a) <= m.near {
			kind = 1
		}
		a = m.interruption(br, component, kind, a, b)
		m.runIndex[component] = max(m.runIndex[component]-1, 0)
		here[x] = a
		x, c, b = x+1, b, above[x+1]
	}
}

// sampleLine decodes one line of components interleaved by sample: a run holds
// for all of them at once, and the sample that ends it is coded against the
// one above (A.7, and B.3 for several components).
func (m *model) sampleLine(br *bitReader, l *lines) {
	for x := 1; x <= l.width; {
		var region [3]int
		for i := range region {
			region[i] = m.region(l.here[i][x-1], l.above[i][x], l.above[i][x-1], l.above[i][x+1])
		}
		if region != [3]int{} {
			for i, r := range region {
				l.here[i][x] = m.regular(br, r, l.here[i][x-1], l.above[i][x], l.above[i][x-1])
			}
			x++
			continue
		}
		n, ended := m.runLength(br, 0, l.width+1-x)
		for i := range region {
			for k := x; k < x+n; k++ {
				l.here[i][k] = l.here[i][x-1]
			}
		}
		x += n
		if !ended {
			return
		}
		for i := range region {
			l.here[i][x] = m.interruption(br, 0, 0, l.here[i][x-1], l.above[i][x])
		}
		m.runIndex[0] = max(m.runIndex[0]-1, 0)
		x++
	}
}
