package jpeg12

// The inverse transform is the factorisation of Loeffler, Ligtenberg and
// Moschytz ("Practical fast 1-D DCT algorithms with 11 multiplications", ICASSP
// 1989) with its constants rounded to 13 bits, columns first, guard bits kept
// between the passes (two for 8-bit samples, one for 12). All sums before the
// one rounding of a pass are whole numbers, so the factors can be multiplied
// out: below they stand as a plain matrix. Entries that would be equal in real
// numbers (o10 and -o51, say) differ by the rounding of the paper's constants,
// and keeping that difference is what makes the result equal to the reference
// software's.
const (
	constBits = 13

	r0298, r0390, r0541, r0765 = 2446, 3196, 4433, 6270
	r0899, r1175, r1501, r1847 = 7373, 9633, 12299, 15137
	r1961, r2053, r2562, r3072 = 16069, 16819, 20995, 25172

	e22, e26 = r0541 + r0765, r0541 // even part: inputs 2 and 6 to outputs 0, 7
	e62, e66 = r0541, r0541 - r1847 // and to outputs 1, 6

	// Odd part: oXY is the weight of input X in output Y.
	o10, o30, o50, o70 = r1501 - r0899 - r0390 + r1175, r1175, r1175 - r0390, r1175 - r0899
	o11, o31, o51, o71 = r1175, r3072 - r2562 - r1961 + r1175, r1175 - r2562, r1175 - r1961
	o12, o32, o52, o72 = r1175 - r0390, r1175 - r2562, r2053 - r2562 - r0390 + r1175, r1175
	o13, o33, o53, o73 = r1175 - r0899, r1175 - r1961, r1175, r0298 - r0899 - r1961 + r1175
)

// transform8 is the one-dimensional inverse transform of eight values,
// rounded and shifted down.
func transform8(i0, i1, i2, i3, i4, i5, i6, i7 int, shift uint) (v [8]int) {
	half := 1 << (shift - 1)
	s, t := (i0+i4)<<constBits+half, (i0-i4)<<constBits+half
	m, n := e22*i2+e26*i6, e62*i2+e66*i6
	a, b, c, d := s+m, t+n, t-n, s-m
	p := o10*i1 + o30*i3 + o50*i5 + o70*i7
	q := o11*i1 + o31*i3 + o51*i5 + o71*i7
	r := o12*i1 + o32*i3 + o52*i5 + o72*i7
	u := o13*i1 + o33*i3 + o53*i5 + o73*i7
	return [8]int{
		(a + p) >> shift, (b + q) >> shift, (c + r) >> shift, (d + u) >> shift,
		(d - u) >> shift, (c - r) >> shift, (b - q) >> shift, (a - p) >> shift,
	}
}

// idct turns the block of coefficients into eight rows of eight samples.
func (d *blockDecoder) idct(out []uint16, stride int) {
	b := &d.block
	for x := range 8 {
		i1, i2, i3, i4, i5, i6, i7 := b[8+x], b[16+x], b[24+x], b[32+x], b[40+x], b[48+x], b[56+x]
		if i1|i2|i3|i4|i5|i6|i7 == 0 {
			dc := b[x] << d.guard
			for y := range 8 {
				b[8*y+x] = dc
			}
			continue
		}
		v := transform8(b[x], i1, i2, i3, i4, i5, i6, i7, constBits-d.guard)
		for y := range 8 {
			b[8*y+x] = v[y]
		}
	}
	for y := range 8 {
		r := b[8*y : 8*y+8 : 8*y+8]
		v := transform8(r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7], constBits+d.guard+3)
		row := out[y*stride:][:8]
		for x := range 8 {
			row[x] = uint16(min(max(v[x]+d.shift, 0), d.top))
		}
	}
}

// fill is idct for a block with no coefficient but the first.
func (d *blockDecoder) fill(out []uint16, stride int) {
	v := (d.block[0]<<d.guard + 1<<(d.guard+2)) >> (d.guard + 3)
	s := uint16(min(max(v+d.shift, 0), d.top))
	for y := range 8 {
		row := out[y*stride:][:8]
		for x := range row {
			row[x] = s
		}
	}
}
