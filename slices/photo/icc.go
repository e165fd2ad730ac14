package photo

import (
	"encoding/binary"
	"image"
	"math"
	"unicode/utf16"

	"sectionary/slices/geom"
)

// profile is an ICC colour profile of matrix form or of one grey curve (ICC.1:2010, 8.3.3 and 8.3.4): what each part's 256 values are in linear
// light, and where the three parts lie in CIE XYZ under D50.
type profile struct {
	name   string
	linear [3][256]float64
	xyz    geom.Homography // 3 x 3, columns red, green, blue
}

// srgbXYZ holds the columns of sRGB adapted to D50 by Bradford's method (IEC 61966-2-1; the figures of the
// usual profile).
var srgbXYZ = geom.Homography{0.4360747, 0.3850649, 0.1430804, 0.2225045, 0.7168786, 0.0606169, 0.0139322, 0.0971045, 0.7141733}

// decodeSRGB turns an encoded value of 0 to 1 into linear light (IEC 61966-2-1).
func decodeSRGB(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// encodeSRGB is the inverse of decodeSRGB.
func encodeSRGB(v float64) float64 {
	if v <= 0.0031308 {
		return v * 12.92
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// parseProfile reads an RGB matrix profile, or a grey one of a single curve; ok is false for any other kind and for
// damaged ones, of which the name may still be known.
func parseProfile(b []byte) (p profile, ok bool) {
	tags := profileTags(b)
	if tags == nil {
		return p, false
	}
	p.name = profileName(tags["desc"])
	if string(b[20:24]) != "XYZ " {
		return p, false
	}
	switch string(b[16:20]) {
	case "RGB ":
		return p, p.readMatrix(tags)
	case "GRAY": // the three parts of a neutral colour are alike in every RGB, so sRGB's own serve
		p.xyz = srgbXYZ
		return p, p.readCurve(0, tags["kTRC"]) && p.readCurve(1, tags["kTRC"]) && p.readCurve(2, tags["kTRC"])
	}
	return p, false
}

// profileTags lists the elements of a profile; nil when it is none.
func profileTags(b []byte) map[string][]byte {
	if len(b) < 132 || string(b[36:40]) != "acsp" {
		return nil
	}
	tags := map[string][]byte{}
	for i := range min(binary.BigEndian.Uint32(b[128:]), 100) {
		at := 132 + 12*int(i)
		if at+12 > len(b) {
			return nil
		}
		from, size := uint64(binary.BigEndian.Uint32(b[at+4:])), uint64(binary.BigEndian.Uint32(b[at+8:]))
		if from+size <= uint64(len(b)) {
			tags[string(b[at:at+4])] = b[from : from+size]
		}
	}
	return tags
}

func (p *profile) readMatrix(tags map[string][]byte) (ok bool) {
	for k, colour := range [3]string{"r", "g", "b"} {
		column := tags[colour+"XYZ"]
		if len(column) < 20 || string(column[:4]) != "XYZ " {
			return false
		}
		for row := range 3 {
			p.xyz[3*row+k] = s15Fixed16(column[8+4*row:])
		}
		if !p.readCurve(k, tags[colour+"TRC"]) {
			return false
		}
	}
	return true
}

// readCurve fills what the values of part k are in linear light.
func (p *profile) readCurve(k int, element []byte) (ok bool) {
	curve, ok := toneCurve(element)
	if !ok {
		return false
	}
	for v := range 256 {
		p.linear[k][v] = curve(float64(v) / 255)
		if !(math.Abs(p.linear[k][v]) <= 1e3) {
			return false
		}
	}
	return true
}

func s15Fixed16(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// toneCurve reads a curv or para element (ICC.1:2010, 10.5 and 10.15).
func toneCurve(b []byte) (curve func(float64) float64, ok bool) {
	if len(b) < 12 {
		return nil, false
	}
	switch string(b[:4]) {
	case "curv":
		return tableCurve(b)
	case "para":
		return formulaCurve(b)
	}
	return nil, false
}

func tableCurve(b []byte) (func(float64) float64, bool) {
	n := binary.BigEndian.Uint32(b[8:])
	table := b[12:]
	switch {
	case n == 0:
		return func(v float64) float64 { return v }, true
	case uint64(len(table)) < 2*uint64(n):
		return nil, false
	case n == 1:
		gamma := float64(binary.BigEndian.Uint16(table)) / 256
		return func(v float64) float64 { return math.Pow(v, gamma) }, true
	}
	at := func(i uint32) float64 { return float64(binary.BigEndian.Uint16(table[2*min(i, n-1):])) / 65535 }
	return func(v float64) float64 {
		x := v * float64(n-1)
		i := uint32(x)
		return at(i) + (x-float64(i))*(at(i+1)-at(i))
	}, true
}

func formulaCurve(b []byte) (func(float64) float64, bool) {
	kind := int(binary.BigEndian.Uint16(b[8:]))
	counts := [...]int{1, 3, 4, 5, 7}
	if kind >= len(counts) || len(b) < 12+4*counts[kind] {
		return nil, false
	}
	var q [7]float64 // g a b c d e f
	q[1] = 1
	for i := range counts[kind] {
		q[i] = s15Fixed16(b[12+4*i:])
	}
	g, a, bb, c, d, e, f := q[0], q[1], q[2], q[3], q[4], q[5], q[6]
	switch kind {
	case 0:
		d = math.Inf(-1)
	case 1, 2: // c is the offset; below -b/a the curve is the offset alone
		d, e, f, c = -bb/a, c, c, 0
	}
	return func(v float64) float64 {
		if v < d {
			return c*v + f
		}
		return math.Pow(a*v+bb, g) + e
	}, true
}

// profileName reads the description, of version 2 (desc) or 4 (mluc).
func profileName(b []byte) string {
	const longest = 60
	switch {
	case len(b) > 12 && string(b[:4]) == "desc":
		n := min(int(min(binary.BigEndian.Uint32(b[8:]), longest)), len(b)-12)
		return printable([]rune(string(b[12 : 12+n])))
	case len(b) >= 28 && string(b[:4]) == "mluc":
		n, from := binary.BigEndian.Uint32(b[20:]), binary.BigEndian.Uint32(b[24:])
		if uint64(from)+uint64(n) > uint64(len(b)) {
			return ""
		}
		text := b[from : from+n]
		var units []uint16
		for ; len(text) >= 2 && len(units) < longest; text = text[2:] {
			units = append(units, binary.BigEndian.Uint16(text))
		}
		return printable(utf16.Decode(units))
	}
	return ""
}

func printable(rs []rune) string {
	var out []rune
	for _, r := range rs {
		if r >= ' ' && r != 0x7f && r != '\ufffd' {
			out = append(out, r)
		}
	}
	return string(out)
}

// isSRGB reports whether p differs from sRGB by less than an 8-bit picture shows.
func (p profile) isSRGB() bool {
	for i, v := range p.xyz {
		if math.Abs(v-srgbXYZ[i]) > 0.002 {
			return false
		}
	}
	for k := range 3 {
		for v := range 256 {
			if math.Abs(encodeSRGB(p.linear[k][v])-float64(v)/255) > 1.0/255 {
				return false
			}
		}
	}
	return true
}

// toSRGB carries a picture over to sRGB by relative colorimetry; colours outside are held to the edge.
func (p profile) toSRGB(src image.Image) image.Image {
	const steps = 1 << 14
	var encode [steps + 1]uint8
	for i := range encode {
		encode[i] = uint8(math.Round(255 * encodeSRGB(float64(i)/steps)))
	}
	var linear [3][256]float32
	for k := range linear {
		for v := range linear[k] {
			linear[k][v] = float32(p.linear[k][v] * steps)
		}
	}
	var m [9]float32 // p's parts to sRGB's, both in linear light
	for i, v := range matrixTimes(inverse3(srgbXYZ), p.xyz) {
		m[i] = float32(v)
	}
	part := func(v float32) uint8 { return encode[int(max(0, min(v+0.5, steps)))] }
	b := src.Bounds()
	dst := image.NewRGBA(image.Rectangle{Max: b.Size()})
	inBands(b.Dy(), func(y0, y1 int) {
		row := make([]uint32, b.Dx())
		for y := y0; y < y1; y++ {
			packRow(row, src, b.Min.X, b.Min.Y+y)
			out := dst.Pix[y*dst.Stride:]
			for x, v := range row {
				r, g, b := linear[0][v&255], linear[1][v>>8&255], linear[2][v>>16&255]
				d := out[4*x:][:4]
				d[0] = part(m[0]*r + m[1]*g + m[2]*b)
				d[1] = part(m[3]*r + m[4]*g + m[5]*b)
				d[2] = part(m[6]*r + m[7]*g + m[8]*b)
				d[3] = 255
			}
		}
	})
	return dst
}

func matrixTimes(a, b [9]float64) (c [9]float64) {
	for i := range 9 {
		r, k := i/3*3, i%3
		c[i] = a[r]*b[k] + a[r+1]*b[3+k] + a[r+2]*b[6+k]
	}
	return c
}

func inverse3(m [9]float64) [9]float64 {
	a := [9]float64{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
	det := m[0]*a[0] + m[1]*a[3] + m[2]*a[6]
	for i := range a {
		a[i] /= det
	}
	return a
}
