package scan

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
)

// TestLookupTables: modality LUT, VOI LUT, palette and colour as pydicom 2.3.1 has them (testdata/gen/scan_luts.py).
func TestLookupTables(t *testing.T) {
	var truths map[string]struct {
		How       string
		At        []int
		Values    []float64
		Tolerance float64
	}
	readJSON(t, root(t)+"/testdata/scan/luts.json", &truths)
	folder := shared(t, "dicom-syntaxes/pydicom-data")
	for name, want := range truths {
		data, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Fatal(err)
		}
		_, v := only(t, fstest.MapFS{name: {Data: data}})
		w := v.StartWindow()
		bad := 0
		for n, at := range want.At {
			got := v.Value(at%v.Size[0], at/v.Size[0], 0)
			if want.How == "grey" {
				got = w.Level(got)
			}
			if !near(got, want.Values[n], want.Tolerance) && bad < 3 {
				bad++
				t.Errorf("%s: %s of pixel %d is %g, want %g", name, want.How, at, got, want.Values[n])
			}
		}
	}
}

// TestLookupEnds: values beyond a table take its first or last entry (PS3.3 C.11.1.1.1, C.11.2.1.1), and a descriptor's
// count of 0 stands for 65536.
func TestLookupEnds(t *testing.T) {
	little := binary.LittleEndian
	table := func(count, first, bits uint16, entries ...uint16) dataset {
		b := &build{}
		d := little.AppendUint16(little.AppendUint16(little.AppendUint16(nil, count), first), bits)
		var data []byte
		for _, e := range entries {
			data = little.AppendUint16(data, e)
		}
		b.element(0x00283002, "SS", d).element(0x00283006, "OW", data)
		f, err := parseFile(slice{more: func(x *build) { x.body = append(x.body, b.body...) }}.file().Data, true)
		if err != nil {
			t.Fatal(err)
		}
		return f.dataset
	}
	l := lookupOf(table(3, 0xfffe, 12, 100, 200, 300), true) // first value -2
	for x, want := range map[int]int{-50: 100, -2: 100, -1: 200, 0: 300, 7: 300} {
		if got := l.at(x); got != want {
			t.Errorf("%d becomes %d, want %d", x, got, want)
		}
	}
	if l := lookupOf(table(0, 0, 16, make([]uint16, 1<<16)...), false); l == nil || len(l.values) != 1<<16 {
		t.Error("a full table is not read")
	}
	if l := lookupOf(table(9, 0, 16, 1, 2), false); l != nil {
		t.Error("a table that promises more entries than it has is read")
	}
}

// TestWindowsPerFrame: several windows with names and functions in one header; impossible ones are left out.
func TestWindowsPerFrame(t *testing.T) {
	f := slice{more: func(b *build) {
		b.text(tagCentre, "DS", `40\ -600\400\ 10`).text(tagWidth, "DS", `400\1500 \0\80`).text(0x00281055, "LO", `SOFT\LUNG\NONE\BRAIN`)
		b.text(0x00281056, "CS", "LINEAR_EXACT")
	}}.file()
	_, v := only(t, fstest.MapFS{"f": f})
	if len(v.Windows) != 4 || v.Windows[1].Name != "LUNG" || v.Windows[1].Centre != -600 || v.Windows[0].Function != LinearExact {
		if len(v.Windows) != 3 || v.Windows[2].Name != "BRAIN" {
			t.Errorf("%+v", v.Windows)
		}
	}
}

// TestPaddingLeftOut: padding does not pull the starting window of an MR picture, and stays a number in the volume.
func TestPaddingLeftOut(t *testing.T) {
	f := slice{modality: "MR", fill: 1000, more: func(b *build) { b.short(0x00280120, 1000).short(0x00280121, 1009) }}.file()
	_, v := only(t, fstest.MapFS{"f": f})
	if least, most := v.Range(); least != 1010 || most != 1019 || v.Value(0, 0, 0) != 1000 {
		t.Errorf("range %g to %g, first value %g", least, most, v.Value(0, 0, 0))
	}
	if w := v.StartWindow(); w.Centre < 1010 || w.Centre > 1019 {
		t.Errorf("window %+v", w)
	}
}
