package photo

import (
	"encoding/binary"
	"encoding/json"
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// makeProfile writes an ICC version 2 matrix profile with one gamma.
func makeProfile(name string, columns [9]float64, gamma float64) []byte {
	be := binary.BigEndian
	var body []byte
	var table []byte
	const tags = 7
	start := 128 + 4 + 12*tags
	add := func(tag string, element []byte) {
		table = append(table, tag...)
		table = be.AppendUint32(table, uint32(start+len(body)))
		table = be.AppendUint32(table, uint32(len(element)))
		body = append(body, element...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	desc := be.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(name)+1))
	add("desc", append(append(desc, name...), make([]byte, 80)...))
	curve := be.AppendUint16([]byte("curv\x00\x00\x00\x00\x00\x00\x00\x01"), uint16(math.Round(gamma*256)))
	for k, c := range [3]string{"r", "g", "b"} {
		xyz := []byte("XYZ \x00\x00\x00\x00")
		for row := range 3 {
			xyz = be.AppendUint32(xyz, uint32(int32(math.Round(columns[3*row+k]*65536))))
		}
		add(c+"XYZ", xyz)
		add(c+"TRC", curve)
	}
	head := make([]byte, 128)
	be.PutUint32(head, uint32(start+len(body)))
	be.PutUint32(head[8:], 0x02100000)
	copy(head[12:], "mntrRGB XYZ ")
	copy(head[36:], "acsp")
	for i, v := range []float64{0.9642, 1, 0.8249} { // D50
		be.PutUint32(head[68+4*i:], uint32(math.Round(v*65536)))
	}
	out := append(head, be.AppendUint32(nil, tags)...)
	return append(append(out, table...), body...)
}

// adobeRGB has the primaries of Adobe RGB (1998) adapted to D50 and its gamma of 563/256.
func adobeRGB() []byte {
	return makeProfile("Adobe RGB (1998)", [9]float64{0.60974, 0.20528, 0.14919, 0.31111, 0.62567, 0.06322, 0.01947, 0.06087, 0.74457}, 563.0/256)
}

func withICC(jpeg, icc []byte) []byte {
	out := append([]byte{}, jpeg[:2]...)
	for i, n := 0, (len(icc)+399)/400; i < n; i++ { // in pieces
		piece := icc[400*i : min(len(icc), 400*(i+1))]
		out = append(out, 0xff, markerAPP2)
		out = binary.BigEndian.AppendUint16(out, uint16(2+len(iccName)+2+len(piece)))
		out = append(append(append(out, iccName...), byte(i+1), byte(n)), piece...)
	}
	return append(out, jpeg[2:]...)
}

// TestAdobeRGB compares with testdata/photo/icc.json, made by Little CMS with the same profile bytes.
func TestAdobeRGB(t *testing.T) {
	var table struct {
		AdobeRGB, SRGB [][3]uint8
	}
	if err := json.Unmarshal(testFile(t, "icc.json"), &table); err != nil {
		t.Fatal(err)
	}
	p, ok := parseProfile(adobeRGB())
	if !ok || p.name != "Adobe RGB (1998)" || p.isSRGB() {
		t.Fatalf("%v %q", ok, p.name)
	}
	src := image.NewRGBA(image.Rect(0, 0, len(table.AdobeRGB), 1))
	for i, c := range table.AdobeRGB {
		src.SetRGBA(i, 0, color.RGBA{c[0], c[1], c[2], 255})
	}
	dst := p.toSRGB(src)
	changed := 0
	for i, want := range table.SRGB {
		c := dst.At(i, 0).(color.RGBA)
		for k, got := range [3]uint8{c.R, c.G, c.B} {
			if d := int(got) - int(want[k]); max(d, -d) > 1 {
				t.Errorf("%v: %v, want %v", table.AdobeRGB[i], c, want)
			}
			if d := int(got) - int(table.AdobeRGB[i][k]); max(d, -d) > 8 {
				changed++
			}
		}
	}
	if changed < 20 {
		t.Error("the table hardly differs from its input")
	}
}

func TestProfileFromFile(t *testing.T) {
	src := image.NewRGBA(image.Rect(0, 0, 32, 32))
	for i := range src.Pix {
		src.Pix[i] = []uint8{60, 180, 90, 255}[i%4]
	}
	j := jpegOf(t, src)
	plain := open(t, j)
	carried := open(t, withICC(j, adobeRGB()))
	if got := carried.Info().Profile; got != "Adobe RGB (1998)" {
		t.Errorf("profile %q", got)
	}
	at := geom.Px{X: 10, Y: 10}
	if a, b := plain.At(at), carried.At(at); int(a.R)-int(b.R) < 20 { // less red: Adobe's green lies farther out
		t.Errorf("plain %v, carried over %v", a, b)
	}
	same := open(t, withICC(j, makeProfile("own", srgbXYZ, 2.2))) // the gamma stays within a level of sRGB's but in the dark
	if got := same.Info().Profile; got != "own" {
		t.Errorf("gamma 2.2: %q", got)
	}
	damaged := adobeRGB()
	for i := range damaged {
		if i%7 == 0 && i > 130 {
			damaged[i] ^= 0x55
		}
	}
	open(t, withICC(j, damaged)) // must not fail
}

func FuzzProfile(f *testing.F) {
	f.Add(adobeRGB())
	f.Fuzz(func(t *testing.T, b []byte) {
		if p, ok := parseProfile(b); ok {
			p.toSRGB(image.NewRGBA(image.Rect(0, 0, 2, 2)))
		}
	})
}
