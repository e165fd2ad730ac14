package frametest

import (
	"math"
	"math/rand/v2"
)

// Phantom is a synthetic CT-like frame: a body of soft-tissue codes with denser
// rods, noise of about 20 codes throughout, nowhere flat; 12-bit codes.
func Phantom(width, height int) []uint16 {
	rng := rand.New(rand.NewPCG(7, 11))
	pix := make([]uint16, width*height)
	for y := range height {
		for x := range width {
			u, v := 2*float64(x)/float64(width)-1, 2*float64(y)/float64(height)-1
			code := 100 + 20*rng.NormFloat64()
			if r := math.Hypot(u/0.9, v/0.7); r < 1 {
				code = 1060 + 30*math.Sin(9*u)*math.Cos(7*v) + 20*rng.NormFloat64()
				if math.Hypot(u, v-0.35) < 0.12 || r > 0.93 {
					code += 700
				}
			}
			pix[y*width+x] = uint16(min(max(code, 0), 4095))
		}
	}
	return pix
}
