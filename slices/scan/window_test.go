package scan

import (
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

type greyTruth struct {
	Functions []struct {
		F       string
		C, W, X float64
		Y       float64
	}
	Notes []struct {
		Note   string
		Values [][2]float64
	}
	Ramps map[string]struct {
		Stored    []int     `json:"sample_stored"`
		Displayed []float64 `json:"sample_displayed"`
	} `json:"ramp_files"`
	Signed struct {
		Stored           []float64
		Slope, Intercept float64
		HU               []float64
	} `json:"signed_rescale"`
}

var functions = map[string]Function{"LINEAR": Linear, "LINEAR_EXACT": LinearExact, "SIGMOID": Sigmoid}

// TestLevel holds every value of grey.json (DICOM PS3.3 C.11.2.1.2.1, C.11.2.1.3.1-2; pydicom 2.3.1 agrees to 3e-14).
func TestLevel(t *testing.T) {
	var truths greyTruth
	readJSON(t, truth(t, "grey.json"), &truths)
	if len(truths.Functions) != 264 {
		t.Fatalf("%d values, want 264", len(truths.Functions))
	}
	for _, f := range truths.Functions {
		w := Window{Centre: f.C, Width: f.W, Function: functions[f.F]}
		if got := w.Level(f.X); !near(got, f.Y, 1e-9) {
			t.Errorf("%s c=%g w=%g: %g is shown as %.10f, want %.10f", f.F, f.C, f.W, f.X, got, f.Y)
		}
		w.Inverse = true
		if got := w.Level(f.X); !near(got, 255-f.Y, 1e-9) {
			t.Errorf("%s c=%g w=%g inverse: %g is shown as %.10f", f.F, f.C, f.W, f.X, got)
		}
	}
	for i, w := range []Window{{Centre: 2048, Width: 4096}, {Centre: 0, Width: 100}, {Centre: 0, Width: 1}} {
		for _, v := range truths.Notes[i].Values { // the three notes of C.11.2.1.2.1
			if got := w.Level(v[0]); !near(got, v[1], 1e-9) {
				t.Errorf("%s: %g is shown as %g, want %g", truths.Notes[i].Note, v[0], got, v[1])
			}
		}
	}
}

// TestGrayRoundsLevel: the fast painter gives the rounded Level of every value, for each kind of window.
func TestGrayRoundsLevel(t *testing.T) {
	values := make([]float32, 4000)
	for i := range values {
		values[i] = float32(i)/2 - 1000
	}
	values[17] = float32(math.NaN())
	for _, w := range []Window{
		{Centre: 40, Width: 400}, {Centre: 40, Width: 400, Inverse: true}, {Centre: 40, Width: 1},
		{Centre: 40, Width: 400, Function: LinearExact}, {Centre: 40, Width: 400, Function: Sigmoid, Inverse: true},
		{First: -20, Table: []float64{0, 0.25, 0.5, 1}},
	} {
		m := w.Gray(values, 80, 50)
		for i, x := range values {
			want := math.Floor(w.Level(float64(x)) + 0.5)
			if x != x {
				want = 0
			}
			if float64(m.Pix[i]) != want {
				t.Fatalf("%+v: %g painted %d, want %g", w, x, m.Pix[i], want)
			}
		}
	}
}

// TestRamps reads whole files: rescale, window function and MONOCHROME1 together (grey.json ramp_files, pydicom 2.3.1).
func TestRamps(t *testing.T) {
	var truths greyTruth
	readJSON(t, truth(t, "grey.json"), &truths)
	if len(truths.Ramps) != 6 {
		t.Fatalf("%d ramps, want 6", len(truths.Ramps))
	}
	for name, want := range truths.Ramps {
		data, err := os.ReadFile(truth(t, "grey/ramp_"+name+".dcm"))
		if err != nil {
			t.Fatal(err)
		}
		_, v := only(t, fstest.MapFS{"ramp.dcm": &fstest.MapFile{Data: data}})
		w := v.StartWindow()
		if v.Inverse != strings.HasSuffix(name, "MONOCHROME1") {
			t.Errorf("%s: inverse is %v", name, v.Inverse)
		}
		for i, stored := range want.Stored {
			value := v.Value(stored%64, stored/64, 0)
			if value != float64(stored-1024) {
				t.Errorf("%s: stored %d is %g HU", name, stored, value)
			}
			if got := w.Level(value); !near(got, want.Displayed[i], 1e-6) {
				t.Errorf("%s: stored %d is shown as %g, want %g", name, stored, got, want.Displayed[i])
			}
		}
	}
}

// TestSignedRescale: signed storage with slope 1.5 and intercept -10.25 (grey.json signed_rescale), exact.
func TestSignedRescale(t *testing.T) {
	var truths greyTruth
	readJSON(t, truth(t, "grey.json"), &truths)
	s := truths.Signed
	file := slice{rows: 1, columns: len(s.Stored), more: func(b *build) {
		b.short(tagSigned, 1).numbers(tagIntercept, s.Intercept).numbers(tagSlope, s.Slope)
	}}.file()
	at := len(file.Data) - 2*len(s.Stored)
	for i, x := range s.Stored {
		file.Data[at+2*i], file.Data[at+2*i+1] = byte(int16(x)), byte(uint16(int16(x))>>8)
	}
	file.Data = []byte(strings.Replace(string(file.Data), "\x03\x01US\x02\x00\x00\x00", "\x03\x01US\x02\x00\x01\x00", 1))
	_, v := only(t, fstest.MapFS{"a": file})
	for i := range s.Stored {
		if got := v.Value(i, 0, 0); got != s.HU[i] {
			t.Errorf("stored %g is %g, want %g", s.Stored[i], got, s.HU[i])
		}
	}
}

func TestWindowCheck(t *testing.T) {
	for _, w := range []Window{{Width: 0.5}, {Width: -4}, {}, {Width: math.NaN()}, {Width: 0, Function: Sigmoid}, {Centre: math.Inf(1), Width: 2}} {
		if err := w.Check(); !errors.Is(err, ErrWindow) {
			t.Errorf("%+v passes: %v", w, err)
		}
	}
	for _, w := range []Window{{Width: 1}, {Width: 0.5, Function: LinearExact}, {Width: 400, Centre: -40}} {
		if err := w.Check(); err != nil {
			t.Error(err)
		}
	}
}

// TestPresets holds the published presets to windows_ct.csv, figure by figure; embalmed ones stand apart.
func TestPresets(t *testing.T) {
	rows := readTable(t, truth(t, "windows_ct.csv"))[1:]
	presets := Presets()
	for i, row := range rows {
		c, _ := strconv.ParseFloat(row[1], 64)
		w, _ := strconv.ParseFloat(row[2], 64)
		p := presets[i]
		if p.Window.Centre != c || p.Window.Width != w || p.Embalmed || p.Source == "" {
			t.Errorf("%s: %+v, want level %g width %g", row[0], p, c, w)
		}
	}
	for _, p := range presets[len(rows):] {
		if !p.Embalmed || p.Window.Check() != nil || p.Source == "" {
			t.Errorf("%+v", p)
		}
	}
	if len(presets) == len(rows) {
		t.Error("no presets for embalmed bodies")
	}
}
