// Package frametest holds the decoders of encapsulated frames against frames
// coded and decoded by outside software.
//
// The tables are testdata/codec/*.csv, the frames the zip files beside them;
// testdata/codec/PROVENANCE.md says what made them.
package frametest

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"sectionary/slices/scan/codec"
)

// Decoder is the signature every codec package shares.
type Decoder func([]byte, codec.Want) (codec.Frame, error)

// Case is one coded frame and what outside software decodes from it.
type Case struct {
	Name, SHA256 string
	Data         []byte
	Want         codec.Want
}

// Root returns the module's root folder.
func Root(t testing.TB) string {
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if parent := filepath.Dir(dir); parent != dir {
			dir = parent
			continue
		}
		t.Fatal("no go.mod above the test's folder")
	}
}

// Cases reads the pack testdata/codec/NAME.
func Cases(t testing.TB, name string) []Case {
	return Pack(t, filepath.Join(Root(t), "testdata", "codec", name))
}

// Pack reads BASE.csv and BASE.zip.
func Pack(t testing.TB, base string) []Case {
	z, err := zip.OpenReader(base + ".zip")
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	var cases []Case
	for _, row := range Table(t, base+".csv") {
		f, err := z.Open(row["name"])
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		cases = append(cases, Case{Name: row["name"], SHA256: row["sha256"], Data: data, Want: WantOf(t, row)})
	}
	return cases
}

// Table reads a CSV file with a heading line.
func Table(t testing.TB, path string) []map[string]string {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// WantOf reads the columns that describe a frame.
func WantOf(t testing.TB, row map[string]string) codec.Want {
	num := func(name string) int {
		n, err := strconv.Atoi(row[name])
		if err != nil {
			t.Fatalf("%s: column %s: %v", row["name"], name, err)
		}
		return n
	}
	return codec.Want{
		Rows: num("rows"), Columns: num("columns"), SamplesPerPixel: num("samples"),
		BitsAllocated: num("allocated"), BitsStored: num("stored"), Signed: num("signed") == 1,
	}
}

// Digest is the sha256 of a frame's samples: the low stored bits of each as a
// little-endian word of 1, 2 or 4 bytes, interleaved, rows from the top.
func Digest(f codec.Frame, stored int) string {
	mask := uint32(1)<<stored - 1
	if stored == 32 {
		mask = 1<<32 - 1
	}
	g := codec.Frame{Pix: make([]uint16, len(f.Pix)), Wide: make([]uint32, len(f.Wide))}
	for i, v := range f.Pix {
		g.Pix[i] = v & uint16(mask)
	}
	for i, v := range f.Wide {
		g.Wide[i] = v & mask
	}
	size := 8
	switch {
	case stored > 16:
		size = 32
	case stored > 8:
		size = 16
	}
	sum := sha256.Sum256(g.Bytes(size))
	return hex.EncodeToString(sum[:])
}

// Check decodes every case and compares the digests.
func Check(t *testing.T, decode Decoder, cases []Case) {
	if len(cases) == 0 {
		t.Fatal("no frames to check")
	}
	wrong := 0
	for _, c := range cases {
		f, err := decode(c.Data, c.Want)
		if err != nil {
			t.Errorf("%s: %v", c.Name, err)
			wrong++
		} else if got := Digest(f, c.Want.BitsStored); got != c.SHA256 {
			t.Errorf("%s: samples differ from the outside decoder's", c.Name)
			wrong++
		}
	}
	t.Logf("%d of %d frames equal", len(cases)-wrong, len(cases))
}
