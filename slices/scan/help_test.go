package scan

import (
	"context"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"testing/fstest"
)

// root is the folder of go.mod.
func root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if dir == filepath.Dir(dir) {
			t.Fatal("no go.mod above the test")
		}
		dir = filepath.Dir(dir)
	}
}

// truth names a file of testdata/scan/truth; PROVENANCE.md there says where each comes from.
func truth(t testing.TB, name string) string {
	return filepath.Join(root(t), "testdata", "scan", "truth", filepath.FromSlash(name))
}

// shared names real data that stands beside the project; without it the test is skipped.
func shared(t testing.TB, name string) string {
	t.Helper()
	path := filepath.Join(root(t), "..", "shared", "data", filepath.FromSlash(name))
	if _, err := os.Stat(path); err != nil {
		t.Skipf("real data is not here: ../shared/data/%s", name)
	}
	return path
}

func readJSON(t testing.TB, path string, into any) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(b, into)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func readTable(t testing.TB, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func readNumbers(t testing.TB, path string) (list []float64) {
	t.Helper()
	for _, row := range readTable(t, path) {
		for _, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, x)
		}
	}
	return list
}

// survey surveys files and returns the series and what was skipped.
func survey(t testing.TB, files fs.FS) ([]Series, map[string]error) {
	t.Helper()
	skipped := map[string]error{}
	list, err := Survey(context.Background(), files, func(path string, err error) { skipped[path] = err })
	if err != nil {
		t.Fatal(err)
	}
	return list, skipped
}

// only surveys files that hold one series and loads it.
func only(t testing.TB, files fs.FS) (Series, *Volume) {
	t.Helper()
	list, skipped := survey(t, files)
	if len(list) != 1 {
		t.Fatalf("%d series, want 1; skipped %v", len(list), skipped)
	}
	v, err := Load(context.Background(), files, list[0], nil)
	if err != nil {
		t.Fatal(err)
	}
	return list[0], v
}

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// build makes DICOM files in memory for tests. Elements come in the order given; numbers are written as DS.
type build struct {
	enc  encoding
	body []byte
}

func (b *build) element(t tag, vr string, value []byte) *build {
	if len(value)%2 == 1 {
		value = append(append([]byte(nil), value...), ' ')
	}
	o := b.enc.order().(binary.AppendByteOrder)
	b.body = o.AppendUint16(o.AppendUint16(b.body, uint16(t>>16)), uint16(t))
	switch {
	case b.enc.implicit:
		b.body = o.AppendUint32(b.body, uint32(len(value)))
	case longVR(vr):
		b.body = o.AppendUint32(append(append(b.body, vr...), 0, 0), uint32(len(value)))
	default:
		b.body = o.AppendUint16(append(b.body, vr...), uint16(len(value)))
	}
	b.body = append(b.body, value...)
	return b
}

func (b *build) text(t tag, vr, value string) *build { return b.element(t, vr, []byte(value)) }

func (b *build) numbers(t tag, xs ...float64) *build { return b.text(t, "DS", decimal(xs...)) }

func (b *build) short(t tag, x int) *build {
	return b.element(t, "US", b.enc.order().(binary.AppendByteOrder).AppendUint16(nil, uint16(x)))
}

// file puts a preamble and group 2 before the data set.
func (b *build) file(syntax string) *fstest.MapFile {
	var meta dicomBuffer
	meta.Write(make([]byte, 128))
	meta.WriteString("DICM")
	meta.text(0x00020010, "UI", syntax)
	meta.Write(b.body)
	return &fstest.MapFile{Data: meta.Bytes()}
}

// slice is a small picture for geometry tests; zero fields get plain values.
type slice struct {
	series, sop, kind, modality string
	instance, acquisition       int
	echo                        float64
	position                    [3]float64
	orientation                 [6]float64
	spacing                     [2]float64 // rows, columns, as DICOM writes them
	thickness                   float64
	rows, columns               int
	fill                        int // value of the first pixel; each further one is one more
	more                        func(b *build)
}

func (s slice) file() *fstest.MapFile {
	if s.series == "" {
		s.series = "1.2.3"
	}
	if s.orientation == ([6]float64{}) {
		s.orientation = [6]float64{1, 0, 0, 0, 1, 0}
	}
	if s.spacing == ([2]float64{}) {
		s.spacing = [2]float64{1, 1}
	}
	if s.rows == 0 {
		s.rows, s.columns = 4, 5
	}
	if s.modality == "" {
		s.modality = "CT"
	}
	if s.kind == "" {
		s.kind = `ORIGINAL\PRIMARY\AXIAL`
	}
	b := &build{}
	b.text(tagImageType, "CS", s.kind)
	if s.sop != "" {
		b.text(0x00080018, "UI", s.sop)
	}
	b.text(0x00080060, "CS", s.modality)
	if s.thickness > 0 {
		b.numbers(tagThickness, s.thickness)
	}
	if s.echo > 0 {
		b.numbers(0x00180081, s.echo)
	}
	b.text(0x0020000E, "UI", s.series)
	b.text(0x00200012, "IS", strconv.Itoa(s.acquisition))
	b.text(0x00200013, "IS", strconv.Itoa(s.instance))
	b.numbers(tagPosition, s.position[:]...)
	b.numbers(tagOrientation, s.orientation[:]...)
	b.short(tagSamples, 1).text(tagPhotometric, "CS", "MONOCHROME2")
	b.short(tagRows, s.rows).short(tagColumns, s.columns)
	b.numbers(tagSpacing, s.spacing[:]...)
	b.short(tagAllocated, 16).short(tagStored, 16).short(tagHighBit, 15).short(tagSigned, 0)
	if s.more != nil {
		s.more(b)
	}
	var pixels []byte
	for i := range s.rows * s.columns {
		pixels = binary.LittleEndian.AppendUint16(pixels, uint16(s.fill+i))
	}
	return b.element(tagPixels, "OW", pixels).file(syntaxExplicit)
}
