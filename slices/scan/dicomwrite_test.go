package scan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/suyashkumar/dicom"
	dicomtag "github.com/suyashkumar/dicom/pkg/tag"

	"sectionary/slices/geom"
)

// invented returns slice n of a small slanted series.
func invented(n int) SyntheticSlice {
	s := SyntheticSlice{
		Seed: 7, Series: 1, Number: 40 - n, Code: "LAB-1", Description: "Trunk of the phantom, größer", BodyPart: "CHEST",
		Columns: 7, Rows: 5, Origin: geom.LPS{X: -100.5, Y: -80.25, Z: 3 * float64(n)},
		Row: geom.Vec{X: 1}, Column: geom.Vec{Y: 0.9848077530122080, Z: 0.17364817766693033},
		Spacing: [2]float64{0.7, 0.9}, Thickness: 3,
		Windows: []Window{{Centre: 40, Width: 400, Name: "soft tissue"}, {Centre: -600, Width: 1500, Name: "lung"}},
	}
	for i := range 35 {
		s.HU = append(s.HU, int16(-1024+100*n+i*37))
	}
	return s
}

func writeInvented(t testing.TB, n int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteDICOM(&b, invented(n)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestWriteRead: our own reader gets back what was written, and the bytes are the same each time.
func TestWriteRead(t *testing.T) {
	files := fstest.MapFS{}
	for n := range 6 {
		files[fmt.Sprint(n)] = &fstest.MapFile{Data: writeInvented(t, n)}
		if !bytes.Equal(files[fmt.Sprint(n)].Data, writeInvented(t, n)) {
			t.Fatal("two writings differ")
		}
	}
	s, v := only(t, files)
	if s.Size != [3]int{7, 5, 6} || s.Description != "Trunk of the phantom, größer (synthetic)" || !near(s.Tilt(), 0.17453292519943, 1e-9) {
		t.Errorf("%+v", s.Record())
	}
	for k := range 6 {
		if want := float64(-1024 + 100*k + 17*37); v.Value(3, 2, k) != want {
			t.Errorf("slice %d holds %g, want %g", k, v.Value(3, 2, k), want)
		}
	}
	if len(v.Windows) != 2 || v.Windows[1].Name != "lung" || !strings.HasPrefix(s.UID, "2.25.") {
		t.Errorf("windows %v uid %s", v.Windows, s.UID)
	}
}

// TestWriteOtherGo: github.com/suyashkumar/dicom v1.1.0, a reader that is not ours, finds the same.
func TestWriteOtherGo(t *testing.T) {
	data := writeInvented(t, 2)
	d, err := dicom.Parse(bytes.NewReader(data), int64(len(data)), nil)
	if err != nil {
		t.Fatal(err)
	}
	for tg, want := range map[dicomtag.Tag]string{
		dicomtag.ImagePositionPatient: "[-100.5 -80.25 6]", dicomtag.PixelSpacing: "[0.9 0.7]", dicomtag.Rows: "[5]", dicomtag.Columns: "[7]",
		dicomtag.RescaleIntercept: "[-1024]", dicomtag.Modality: "[CT]", dicomtag.PatientName: "[]",
	} {
		e, err := d.FindElementByTag(tg)
		if err != nil {
			t.Errorf("%v: %v", tg, err)
		} else if got := e.Value.String(); got != want {
			t.Errorf("%v is %s, want %s", tg, got, want)
		}
	}
	for i := 1; i < len(d.Elements); i++ {
		if d.Elements[i].Tag.Compare(d.Elements[i-1].Tag) <= 0 {
			t.Errorf("%v stands before %v", d.Elements[i-1].Tag, d.Elements[i].Tag)
		}
	}
}

// TestWriteDcmdump: dcmtk reads the file to its end without a warning.
func TestWriteDcmdump(t *testing.T) {
	dump, err := exec.LookPath("dcmdump")
	if err != nil {
		t.Skip("dcmdump (Debian package dcmtk) is not installed")
	}
	path := filepath.Join(t.TempDir(), "a.dcm")
	if err := os.WriteFile(path, writeInvented(t, 1), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(dump, "+E", path).CombinedOutput()
	if err != nil || bytes.Contains(out, []byte("W:")) || bytes.Contains(out, []byte("E:")) {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{"=CTImageStorage", "=LittleEndianExplicit", "(synthetic)", `-100.5\-80.25\3`} {
		if !bytes.Contains(out, []byte(want)) {
			t.Errorf("dcmdump does not show %q:\n%s", want, out)
		}
	}
}

const pydicomReads = `
import sys, json, pydicom
d = pydicom.dcmread(sys.argv[1])
print(json.dumps(dict(sum=int((d.pixel_array.astype(int) + int(d.RescaleIntercept)).sum()), shape=list(d.pixel_array.shape),
  position=[float(v) for v in d.ImagePositionPatient], meta=str(d.file_meta.MediaStorageSOPInstanceUID) == str(d.SOPInstanceUID),
  description=str(d.SeriesDescription), centres=[float(v) for v in d.WindowCenter], valid=all(pydicom.uid.UID(u).is_valid for u in
  (d.SOPInstanceUID, d.SeriesInstanceUID, d.StudyInstanceUID, d.FrameOfReferenceUID)))))
`

// TestWritePydicom: pydicom reads the same values, places and words.
func TestWritePydicom(t *testing.T) {
	python := "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import pydicom, numpy").Run(); err != nil {
		t.Skip("python3-pydicom is not installed")
	}
	path := filepath.Join(t.TempDir(), "a.dcm")
	if err := os.WriteFile(path, writeInvented(t, 1), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, "-c", pydicomReads, path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Sum         int
		Shape       []int
		Position    []float64
		Meta, Valid bool
		Description string
		Centres     []float64
	}
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	sum := 0
	for _, x := range invented(1).HU {
		sum += int(x)
	}
	if got.Sum != sum || got.Shape[0] != 5 || got.Position[2] != 3 || !got.Meta || !got.Valid || len(got.Centres) != 2 ||
		got.Description != "Trunk of the phantom, größer (synthetic)" {
		t.Errorf("pydicom reads %+v, the sum is %d", got, sum)
	}
}

func TestWriteRefusals(t *testing.T) {
	for name, change := range map[string]func(s *SyntheticSlice){
		"too few values": func(s *SyntheticSlice) { s.HU = s.HU[1:] },
		"no size":        func(s *SyntheticSlice) { s.Rows = 0 },
		"below air":      func(s *SyntheticSlice) { s.HU[3] = -1025 },
		"slanted axes":   func(s *SyntheticSlice) { s.Column = geom.Vec{X: 1} },
	} {
		s := invented(0)
		change(&s)
		if err := WriteDICOM(&bytes.Buffer{}, s); err == nil {
			t.Errorf("%s is written", name)
		}
	}
}
