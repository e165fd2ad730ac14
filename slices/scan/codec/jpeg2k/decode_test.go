package jpeg2k_test

import (
	"errors"
	"testing"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpeg2k"
)

// The digests are those of opj_decompress and gdcm: testdata/codec/jpeg2k.csv
// names them for each frame. A build without the library refuses every frame.
func TestDecodeEqualsOutsideDecoders(t *testing.T) {
	cases := frametest.Cases(t, "jpeg2k")
	if jpeg2k.Built {
		frametest.Check(t, jpeg2k.Decode, cases)
		return
	}
	for _, c := range cases {
		if _, err := jpeg2k.Decode(c.Data, c.Want); !errors.Is(err, codec.ErrNotBuilt) {
			t.Errorf("%s: %v, want ErrNotBuilt", c.Name, err)
		}
	}
}

func TestDecodeRealFrames(t *testing.T) {
	if !jpeg2k.Built {
		t.Skip("this build is without JPEG 2000 (tag openjp2)")
	}
	frametest.Real(t, jpeg2k.Decode, "jpeg2k")
}

func TestDecodeDamaged(t *testing.T) {
	if !jpeg2k.Built {
		t.Skip("this build is without JPEG 2000 (tag openjp2)")
	}
	frametest.Damage(t, jpeg2k.Decode, frametest.Cases(t, "jpeg2k"), 60)
}

func FuzzDecode(f *testing.F) {
	frametest.Fuzz(f, jpeg2k.Decode, frametest.Cases(f, "jpeg2k"))
}

func BenchmarkPack(b *testing.B) {
	if !jpeg2k.Built {
		b.Skip("this build is without JPEG 2000 (tag openjp2)")
	}
	frametest.BenchPack(b, jpeg2k.Decode, "jpeg2k")
}
