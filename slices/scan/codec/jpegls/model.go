package jpegls

import "math/bits"

// context is one of the 365 of regular mode (T.87 A.2, A.6).
type context struct {
	a, b, c, n int // sum of magnitudes, bias, prediction correction, count
}

// runContext is one of the two of run interruption (A.7.2).
type runContext struct {
	a, n, negative int
}

// model holds a scan's parameters and what it has learnt of the image.
type model struct {
	near, step   int // allowed error; 2 near + 1
	maxval, span int // highest sample; RANGE x step
	qbpp, limit  int // bits of an escaped error; longest code
	reset, t3    int
	startA       int
	quantised    []int8 // gradient + t3 to its region -4 to 4, gradients clipped to t3
	contexts     [365]context
	runs         [2]runContext
	runIndex     [3]int // by component
}

// runBits is J of A.2.1: the bits of a run's length code.
var runBits = [32]int{0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 9, 10, 11, 12, 13, 14, 15}

// newModel works out the parameters of a scan (C.2.4.1.1, A.2.1).
func newModel(precision, near int, p preset) (*model, error) {
	top := 1<<precision - 1
	if p.maxval == 0 {
		p.maxval = top
	}
	d := defaults(p.maxval, near)
	for _, v := range []struct{ set, standard *int }{{&p.t1, &d.t1}, {&p.t2, &d.t2}, {&p.t3, &d.t3}, {&p.reset, &d.reset}} {
		if *v.set == 0 {
			*v.set = *v.standard
		}
	}
	switch {
	case p.maxval < 1 || p.maxval > top:
		return nil, corrupt("highest sample %d in %d bits", p.maxval, precision)
	case near > 255 || near > p.maxval/2:
		return nil, corrupt("allowed error %d for samples to %d", near, p.maxval)
	case p.t1 <= near || p.t2 < p.t1 || p.t3 < p.t2 || p.t3 > p.maxval:
		return nil, corrupt("thresholds %d, %d, %d", p.t1, p.t2, p.t3)
	case p.reset < 3 || p.reset > max(255, p.maxval):
		return nil, corrupt("reset at %d", p.reset)
	}
	m := &model{near: near, step: 2*near + 1, maxval: p.maxval, reset: p.reset, t3: p.t3}
	levels := (p.maxval+2*near)/m.step + 1
	m.span = levels * m.step
	m.qbpp = bits.Len(uint(levels - 1))
	bpp := max(2, bits.Len(uint(p.maxval)))
	m.limit = 2 * (bpp + max(8, bpp))
	m.startA = max(2, (levels+32)/64)
	m.quantised = make([]int8, 2*p.t3+1)
	for i := range m.quantised {
		g, sign := i-p.t3, int8(1)
		if g < 0 {
			g, sign = -g, -1
		}
		region := int8(4)
		switch {
		case g <= near:
			region = 0
		case g < p.t1:
			region = 1
		case g < p.t2:
			region = 2
		case g < p.t3:
			region = 3
		}
		m.quantised[i] = sign * region
	}
	m.restart()
	return m, nil
}

// defaults are the preset parameters of C.2.4.1.1.1.
func defaults(maxval, near int) preset {
	clamp := func(v, low int) int {
		if v > maxval || v < low {
			return low
		}
		return v
	}
	p := preset{maxval: maxval, reset: 64}
	if maxval >= 128 {
		f := (min(maxval, 4095) + 128) / 256
		p.t1 = clamp(f+2+3*near, near+1)
		p.t2 = clamp(f*4+3+5*near, p.t1)
		p.t3 = clamp(f*17+4+7*near, p.t2)
		return p
	}
	f := 256 / (maxval + 1)
	p.t1 = clamp(max(2, 3/f+3*near), near+1)
	p.t2 = clamp(max(3, 7/f+5*near), p.t1)
	p.t3 = clamp(max(4, 21/f+7*near), p.t2)
	return p
}

// restart forgets the image: at the start of a scan and of each interval.
func (m *model) restart() {
	for i := range m.contexts {
		m.contexts[i] = context{a: m.startA, n: 1}
	}
	m.runs = [2]runContext{{a: m.startA, n: 1}, {a: m.startA, n: 1}}
	m.runIndex = [3]int{}
}

// region returns the context number of three gradients, -364 to 364; 0 stands
// for a flat neighbourhood, which is run mode (A.3).
func (m *model) region(a, b, c, d int) int {
	q := m.quantised
	at := func(g int) int { return int(q[min(max(g, -m.t3), m.t3)+m.t3]) }
	return 81*at(d-b) + 9*at(b-c) + at(c-a)
}

// regular decodes one sample from its neighbours to the left, above and above
// left, in the context region returned (A.4 to A.6).
func (m *model) regular(br *bitReader, region, a, b, c int) int {
	sign := region >> 63 // 0 or -1: x^sign-sign gives x its sign
	ctx := &m.contexts[region^sign-sign]
	p := min(max(a+b-c, min(a, b)), max(a, b)) + (ctx.c ^ sign - sign)
	p = min(max(p, 0), m.maxval)

	k := 0
	if ctx.n < ctx.a {
		k = bits.Len(uint(ctx.a)) - bits.Len(uint(ctx.n))
		if ctx.n<<k < ctx.a {
			k++
		}
	}
	mapped := br.golomb(k, m.limit-m.qbpp-1, m.qbpp)
	e := mapped>>1 ^ -(mapped & 1)
	if k == 0 && m.near == 0 && 2*ctx.b <= -ctx.n {
		e = ^e
	}
	ctx.update(e, e*m.step, m.reset)
	return m.rebuild(p + (e^sign-sign)*m.step)
}

// update takes in one error (A.6).
func (ctx *context) update(e, scaled, reset int) {
	ctx.a += max(e, -e)
	ctx.b += scaled
	if ctx.n == reset {
		ctx.a >>= 1
		ctx.b >>= 1
		ctx.n >>= 1
	}
	ctx.n++
	if ctx.b <= -ctx.n {
		ctx.c = max(ctx.c-1, -128)
		ctx.b = max(ctx.b+ctx.n, 1-ctx.n)
	} else if ctx.b > 0 {
		ctx.c = min(ctx.c+1, 127)
		ctx.b = min(ctx.b-ctx.n, 0)
	}
}

// rebuild brings a prediction with its error added back into range (A.4.5).
func (m *model) rebuild(v int) int {
	if v < -m.near {
		v += m.span
	} else if v > m.maxval+m.near {
		v -= m.span
	}
	return min(max(v, 0), m.maxval)
}

// runLength reads how far a run goes, at most left samples; ended tells that a
// different sample follows (A.7.1).
func (m *model) runLength(br *bitReader, component, left int) (length int, ended bool) {
	index := &m.runIndex[component]
	for br.take(1) == 1 {
		full := 1 << runBits[*index]
		if length+full > left {
			return left, false
		}
		length += full
		*index = min(*index+1, 31)
		if length == left {
			return left, false
		}
	}
	length += br.take(runBits[*index])
	if length >= left {
		br.bad = br.bad || length > left
		return left, false
	}
	return length, true
}

// interruption decodes the sample that ends a run, from its neighbours left
// and above; kind 1 is for neighbours alike (A.7.2).
func (m *model) interruption(br *bitReader, component, kind, a, b int) int {
	ctx := &m.runs[kind]
	temp := ctx.a
	if kind == 1 {
		temp += ctx.n >> 1
	}
	k := 0
	for ctx.n<<k < temp && k < 40 {
		k++
	}
	mapped := br.golomb(k, m.limit-runBits[m.runIndex[component]]-1-m.qbpp-1, m.qbpp)
	odd := (mapped + kind) & 1
	e := (mapped + kind + odd) / 2
	if (k != 0 || 2*ctx.negative >= ctx.n) == (odd == 1) {
		e = -e
	}
	if e < 0 {
		ctx.negative++
	}
	ctx.a += (mapped + 1 - kind) >> 1
	if ctx.n == m.reset {
		ctx.a >>= 1
		ctx.n >>= 1
		ctx.negative >>= 1
	}
	ctx.n++
	switch {
	case kind == 1:
		return m.rebuild(a + e*m.step)
	case b < a:
		return m.rebuild(b - e*m.step)
	}
	return m.rebuild(b + e*m.step)
}
