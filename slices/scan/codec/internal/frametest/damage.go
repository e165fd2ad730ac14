package frametest

import (
	"math/rand/v2"
	"testing"

	"sectionary/slices/scan/codec"
)

// Damage changes bytes of every case in seeded ways and cuts them short. The
// decoder must not panic, must give a whole frame or an error, and must give an
// error for a frame of which half is gone.
func Damage(t *testing.T, decode Decoder, cases []Case, rounds int) {
	rng := rand.New(rand.NewPCG(1, 2))
	refused := 0
	for _, c := range cases {
		for _, part := range []int{0, 4, 16, len(c.Data) / 4, len(c.Data) / 2} {
			if _, err := decode(c.Data[:min(part, len(c.Data)/2)], c.Want); err == nil {
				t.Errorf("%s: cut to %d of %d bytes and still decoded", c.Name, part, len(c.Data))
			}
		}
		for range rounds {
			data := append([]byte(nil), c.Data...)
			for range 1 + rng.IntN(4) {
				i := rng.IntN(len(data))
				if rng.IntN(2) == 0 {
					i = rng.IntN(min(len(data), 120)) // headers
				}
				switch rng.IntN(4) {
				case 0:
					data[i] = 0xFF
				case 1:
					data[i] = 0
				default:
					data[i] ^= 1 << rng.IntN(8)
				}
			}
			f, err := decode(data, c.Want)
			if err != nil {
				refused++
				continue
			}
			Whole(t, f, c.Want)
		}
	}
	t.Logf("%d of %d damaged frames refused", refused, rounds*len(cases))
}

// Whole fails the test unless f is as large as the data set says.
func Whole(t testing.TB, f codec.Frame, w codec.Want) {
	t.Helper()
	n := w.Rows * w.Columns * w.SamplesPerPixel
	if f.Width != w.Columns || f.Height != w.Rows || f.Samples != w.SamplesPerPixel || len(f.Pix)+len(f.Wide) != n {
		t.Fatalf("frame of %d x %d x %d with %d samples for %+v", f.Width, f.Height, f.Samples, len(f.Pix)+len(f.Wide), w)
	}
}

// Fuzz runs a decoder on any bytes under any small data set, seeded with the
// cases.
func Fuzz(f *testing.F, decode Decoder, cases []Case) {
	for _, c := range cases {
		f.Add(c.Data, uint16(c.Want.Rows), uint16(c.Want.Columns), uint8(c.Want.SamplesPerPixel), uint8(c.Want.BitsAllocated), uint8(c.Want.BitsStored))
	}
	f.Fuzz(func(t *testing.T, data []byte, rows, columns uint16, samples, allocated, stored uint8) {
		w := codec.Want{Rows: int(rows), Columns: int(columns), SamplesPerPixel: int(samples), BitsAllocated: int(allocated), BitsStored: int(stored)}
		if frame, err := decode(data, w); err == nil {
			Whole(t, frame, w)
		}
	})
}
