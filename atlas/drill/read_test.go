package drill

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"strings"
	"testing"
	"time"
)

// zipped packs names and contents, one after the other.
func zipped(t testing.TB, all ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(all); i += 2 {
		w, err := z.Create(all[i])
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, all[i+1])
	}
	z.Close()
	return b.Bytes()
}

func manifestWith(t testing.TB, change func(*Manifest)) string {
	t.Helper()
	m := Manifest{Format: Format, Version: Version, Made: "2026-03-01"}
	change(&m)
	b, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// XP1: every trick is refused with its own sentinel and a sentence; a sound pack opens.
func TestXP1PackTricks(t *testing.T) {
	sound := manifestWith(t, func(*Manifest) {})
	for _, x := range []struct {
		name string
		b    []byte
		want error
	}{
		{"sound", zipped(t, "manifest.json", sound), nil},
		{"no zip", []byte("PK but not"), ErrNotAPack},
		{"empty", nil, ErrNotAPack},
		{"no manifest", zipped(t, "README.txt", "x"), ErrNotAPack},
		{"another format", zipped(t, "manifest.json", `{"format":"other"}`), ErrNotAPack},
		{"newer", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Version = 2 })), ErrNewerPack},
		{"half a manifest", zipped(t, "manifest.json", sound[:len(sound)/2]), ErrDamaged},
		{"a path that climbs", zipped(t, "manifest.json", sound, "faces/../../x.jpg", ""), ErrNotAPack},
		{"an absolute path", zipped(t, "manifest.json", sound, "/etc/x.jpg", ""), ErrNotAPack},
		{"a program", zipped(t, "manifest.json", sound, "faces/A.exe", ""), ErrNotAPack},
		{"a file twice", zipped(t, "manifest.json", sound, "faces/A.jpg", "", "faces/A.jpg", ""), ErrDamaged},
		{"a picture that is not there", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Files = map[string]string{"faces/A.jpg": ""} })), ErrDamaged},
		{"ended", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Expires = "2026-03-01" })), ErrExpired},
		{"an end that is no day", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Expires = "never" })), ErrDamaged},
		{"a face of no run", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Faces = []Face{{Code: "A", Run: "X"}} })), ErrDamaged},
		{"a run without end", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Runs = []Run{{Code: "A", Plane: 1, First: 1, Extent: 1e9}} })), ErrDamaged},
		{"too many faces", zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Faces = make([]Face, maxFaces+1) })), ErrTooLarge},
		{"a bomb", bomb(t), ErrTooLarge},
	} {
		_, err := Read(bytes.NewReader(x.b), int64(len(x.b)), monday, time.Time{})
		if !errors.Is(err, x.want) {
			t.Errorf("%s: %v", x.name, err)
		}
	}
	if _, err := Read(bytes.NewReader(nil), maxPack+1, monday, time.Time{}); !errors.Is(err, ErrTooLarge) {
		t.Error(err)
	}
}

// bomb is a pack whose manifest unpacks to more than any may, while it claims a few bytes.
func bomb(t *testing.T) []byte {
	t.Helper()
	var raw bytes.Buffer
	c, _ := flate.NewWriter(&raw, 9)
	blank := bytes.Repeat([]byte(" "), 1<<20)
	for range maxManifest>>20 + 1 {
		c.Write(blank)
	}
	c.Close()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.CreateRaw(&zip.FileHeader{Name: "manifest.json", Method: zip.Deflate, CompressedSize64: uint64(raw.Len()), UncompressedSize64: maxManifest + 1<<20})
	if err != nil {
		t.Fatal(err)
	}
	w.Write(raw.Bytes())
	z.Close()
	if b.Len() > 1<<20 {
		t.Fatalf("a bomb of %d bytes", b.Len())
	}
	return b.Bytes()
}

// A picture that was changed, or that claims more pixels than any has, is refused.
func TestXP1DamagedPictures(t *testing.T) {
	// A PNG header that claims 100,000 x 100,000 pixels (PNG specification, 11.2.2).
	huge := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	huge = binary.BigEndian.AppendUint32(huge, 100_000)
	huge = binary.BigEndian.AppendUint32(huge, 100_000)
	huge = append(huge, 8, 0, 0, 0, 0)
	huge = binary.BigEndian.AppendUint32(huge, crc32.ChecksumIEEE(huge[12:]))
	for name, x := range map[string]struct {
		b, hash string
		want    error
	}{
		"changed":    {"abc", strings.Repeat("0", 64), ErrDamaged},
		"no picture": {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", ErrDamaged}, // FIPS 180-4, example of SHA-256
		"huge":       {string(huge), fmt.Sprintf("%x", sha256.Sum256(huge)), ErrTooLarge},
	} {
		b := zipped(t, "manifest.json", manifestWith(t, func(m *Manifest) { m.Files = map[string]string{"faces/A.png": x.hash} }), "faces/A.png", x.b)
		p, err := Read(bytes.NewReader(b), int64(len(b)), monday, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Picture("faces/A.png"); !errors.Is(err, x.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(zipped(f, "manifest.json", manifestWith(f, func(*Manifest) {})))
	f.Add(zipped(f, "manifest.json", manifestWith(f, func(m *Manifest) { *m = invented().Manifest })))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := Read(bytes.NewReader(b), int64(len(b)), monday, time.Time{})
		if err != nil {
			return
		}
		for name := range p.Files {
			_, _ = p.Picture(name)
		}
	})
}

// FuzzManifest drills whatever manifest passes the check.
func FuzzManifest(f *testing.F) {
	f.Add([]byte(manifestWith(f, func(m *Manifest) {
		*m = invented().Manifest
		m.Faces, m.Terms, m.Files = m.Faces[:2], m.Terms[:4], map[string]string{m.Faces[0].Picture: "", m.Faces[1].Picture: "", m.Faces[0].Cuts[0].Picture: ""}
	})))
	f.Fuzz(func(t *testing.T, b []byte) {
		var m Manifest
		if json.Unmarshal(b, &m) != nil || m.Check() != nil {
			return
		}
		p := &Pack{Manifest: m, Today: monday}
		s := NewSitting(p, NewProgress(), Options{Most: 5})
		for range 10 {
			if _, ok := s.Next(); !ok {
				break
			}
			s.Hint()
			s.Answer(Answer{Text: "liver", Depth: 3})
		}
	})
}

func FuzzReadProgress(f *testing.F) {
	f.Add([]byte(`{"format":"sectionary drill progress","version":1,"cards":{"a":{"box":1,"last":"2026-03-01"}}}`))
	f.Add([]byte(`{"format":"sectionary drill results","version":1,"placings":[{"face":"A","mm":3}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		_, _ = ReadProgress(bytes.NewReader(b))
		if r, err := ReadResults(bytes.NewReader(b)); err == nil {
			ClassSpread([]Results{r})
		}
	})
}
