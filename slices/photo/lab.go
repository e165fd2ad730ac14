package photo

import "math"

// Lab is a colour in CIE L*a*b* (CIE 15), 2-degree observer.
type Lab struct{ L, A, B float64 }

// Linear is a colour in linear light with the primaries and white of sRGB, 0 to 1 within its gamut.
type Linear [3]float64

// Tristimulus values of the whites, Y = 1, and the matrices of IEC 61966-2-1 and of Bradford's adaptation.
var (
	whiteD65 = [3]float64{0.95047, 1, 1.08883}
	whiteD50 = [3]float64{0.96422, 1, 0.82521}
	srgbD65  = [9]float64{0.4124564, 0.3575761, 0.1804375, 0.2126729, 0.7151522, 0.0721750, 0.0193339, 0.1191920, 0.9503041}
	bradford = [9]float64{0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296}

	srgbFromD65 = inverse3(srgbD65)
	d65FromD50  = adaptation(whiteD50, whiteD65)
	d50FromD65  = inverse3(d65FromD50)
)

func adaptation(from, to [3]float64) [9]float64 {
	a, b := transform(bradford, from), transform(bradford, to)
	gains := [9]float64{b[0] / a[0], 0, 0, 0, b[1] / a[1], 0, 0, 0, b[2] / a[2]}
	return matrixTimes(inverse3(bradford), matrixTimes(gains, bradford))
}

func transform(m [9]float64, v [3]float64) [3]float64 {
	return [3]float64{m[0]*v[0] + m[1]*v[1] + m[2]*v[2], m[3]*v[0] + m[4]*v[1] + m[5]*v[2], m[6]*v[0] + m[7]*v[1] + m[8]*v[2]}
}

// Decode turns encoded sRGB parts of 0 to 255 into linear light.
func Decode(r, g, b uint8) Linear {
	return Linear{decoded[r], decoded[g], decoded[b]}
}

var decoded = func() (t [256]float64) {
	for i := range t {
		t[i] = decodeSRGB(float64(i) / 255)
	}
	return t
}()

// LabD65 is the colour seen under the white of sRGB itself.
func (c Linear) LabD65() Lab { return labOf(transform(srgbD65, c), whiteD65) }

// LabD50 is the colour adapted to the white of printing, in which colour charts are tabled.
func (c Linear) LabD50() Lab {
	return labOf(transform(d50FromD65, transform(srgbD65, c)), whiteD50)
}

// LinearOfD50 is the inverse of LabD50. Colours outside the gamut of sRGB come out below 0 or above 1.
func LinearOfD50(c Lab) Linear {
	fy := (c.L + 16) / 116
	xyz := [3]float64{labInverse(fy + c.A/500), labInverse(fy), labInverse(fy - c.B/200)}
	for i := range xyz {
		xyz[i] *= whiteD50[i]
	}
	return transform(srgbFromD65, transform(d65FromD50, xyz))
}

const labEdge, labSlope = 216.0 / 24389, 24389.0 / 27 // CIE 15:2004

func labOf(xyz, white [3]float64) Lab {
	var f [3]float64
	for i := range f {
		f[i] = labRootOf(xyz[i] / white[i])
	}
	return Lab{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// labRootOf is the function f of CIE 15 of a part of the white.
func labRootOf(part float64) float64 {
	if part > labEdge {
		return math.Cbrt(part)
	}
	return (labSlope*part + 16) / 116
}

func labInverse(f float64) float64 {
	if v := f * f * f; v > labEdge {
		return v
	}
	return (116*f - 16) / labSlope
}

// DeltaE is the CIEDE2000 colour difference with all weights 1 (Sharma, Wu, Dalal, Color Res Appl 30:21, 2005).
func DeltaE(p, q Lab) float64 {
	const opposite = 180 + 1e-9 // hues that differ by half a turn exactly must not be left to the last bit
	root7 := func(c float64) float64 {
		c7 := math.Pow(c, 7)
		return math.Sqrt(c7 / (c7 + 6103515625)) // 25^7
	}
	g := 0.5 * (1 - root7((math.Hypot(p.A, p.B)+math.Hypot(q.A, q.B))/2))
	pa, qa := (1+g)*p.A, (1+g)*q.A
	pc, qc := math.Hypot(pa, p.B), math.Hypot(qa, q.B)
	ph, qh := hue(pa, p.B), hue(qa, q.B)
	turn, meanHue := qh-ph, (ph+qh)/2
	switch apart := math.Abs(turn); {
	case pc*qc == 0:
		turn, meanHue = 0, ph+qh
	case apart > opposite:
		turn -= math.Copysign(360, turn)
		if ph+qh < 360 {
			meanHue += 180
		} else {
			meanHue -= 180
		}
	}
	light, chroma := (p.L+q.L)/2, (pc+qc)/2
	dL, dC, dH := q.L-p.L, qc-pc, 2*math.Sqrt(pc*qc)*sinDeg(turn/2)
	t := 1 - 0.17*cosDeg(meanHue-30) + 0.24*cosDeg(2*meanHue) + 0.32*cosDeg(3*meanHue+6) - 0.20*cosDeg(4*meanHue-63)
	fromMid := (light - 50) * (light - 50)
	sL, sC, sH := 1+0.015*fromMid/math.Sqrt(20+fromMid), 1+0.045*chroma, 1+0.015*chroma*t
	blue := (meanHue - 275) / 25
	rotation := -sinDeg(60*math.Exp(-blue*blue)) * 2 * root7(chroma)
	l, c, h := dL/sL, dC/sC, dH/sH
	return math.Sqrt(l*l + c*c + h*h + rotation*c*h)
}

// hue is the angle of a colour in degrees, 0 to 360, and 0 for a neutral one.
func hue(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

func sinDeg(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosDeg(d float64) float64 { return math.Cos(d * math.Pi / 180) }
