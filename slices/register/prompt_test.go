package register

import (
	"encoding/json"
	"strings"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

func TestReadTables(t *testing.T) {
	ties, err := ReadPlacedTies(strings.NewReader("x_mm,y_mm,X,Y,Z\n# upper left\n12.4, 8.1,-40.752,-53.21,48.045\r\n\n96.3;15.2;38.7;-37.3;74.4\n"))
	if err != nil || len(ties) != 2 || (ties[0].Face != geom.Px{X: 12.4, Y: 8.1}) || (ties[1].Scan != geom.LPS{X: 38.7, Y: -37.3, Z: 74.4}) {
		t.Errorf("%v, %v", ties, err)
	}
	levels, err := ReadLevels(strings.NewReader("\ufeff62.4,812\n316.8,560"))
	if err != nil || len(levels) != 2 || (levels[1] != Level{316.8, 560}) {
		t.Errorf("%v, %v", levels, err)
	}
	for text, say := range map[string]string{
		"1,2\n":                      "line 1 has 2 numbers",
		"1,2,3,4,5,6\n":              "line 1 has 6 numbers",
		"1,,2,3,4,5\n":               `line 1: "" is not a number`,
		"a,b,c,d,e\n1,2,x,4,5\n":     `line 2: "x" is not a number`,
		"a,b,c,d,e\nf,b,c,d,e\n":     `line 2: "f" is not a number`,
		"1,2,3,4,NaN\n":              "is not a number",
		"1,2,3,4,1e999\n":            "is not a number",
		strings.Repeat("#\n", 3<<20): "longer than",
	} {
		if _, err := ReadPlacedTies(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%.20q: %v", text, err)
		}
	}
}

func TestReadPose(t *testing.T) {
	want := geom.Pose{Origin: geom.LPS{X: 1, Y: 2, Z: 3}, X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}
	for _, text := range []string{
		`{"origin":[1,2,3],"x":[1,0,0],"y":[0,1,0],"scale":1}`,
		`{"origin":[1,2,3],"x":[1,0,0],"y":[0,1,0]}`,
		`{"pose":{"origin":[1,2,3],"x":[1,0,0],"y":[0,1,0],"scale":1},"rms":2}`,
	} {
		got, err := ReadPose(strings.NewReader(text))
		if err != nil || got.Origin != want.Origin || got.X.Sub(want.X).Len() > 1e-12 || got.Y.Sub(want.Y).Len() > 1e-12 || got.Scale != 1 {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{``, `{}`, `[]`, `{"origin":[1,2],"x":[1,0,0],"y":[0,1,0]}`, `{"origin":[1,2,3],"x":[1,0,0],"y":[1,0,0]}`, `{"origin":[1,2,3],"x":[1,0,0],"y":[0,1,0],"scale":-1}`} {
		if _, err := ReadPose(strings.NewReader(text)); err == nil {
			t.Errorf("%s was taken", text)
		}
	}
}

// The whole of what the prompt prints, on the reference's slice pose (testdata/geom/registration.json).
func TestPoseReport(t *testing.T) {
	var truth struct {
		Slice struct {
			UV    []geom.Px  `json:"uv_mm"`
			XYZ   []geom.LPS `json:"xyz_mm"`
			Rigid struct {
				Normal geom.Vec
				RMS    float64 `json:"FRE_rms"`
			}
		} `json:"slice_pose"`
	}
	load(t, "geom/registration.json", &truth)
	var ties []Tie
	for i := range truth.Slice.UV {
		ties = append(ties, Tie{Face: truth.Slice.UV[i], Scan: truth.Slice.XYZ[i]})
	}
	r, err := FromTies("", Unity, ties, section.Inferior, false)
	if err != nil {
		t.Fatal(err)
	}
	rep, err := r.Report(section.Inferior, section.Anterior, []geom.MM{{X: 50, Y: 50}})
	if err != nil {
		t.Fatal(err)
	}
	// the reference's normal is u x v; the outward one looks the other way, here down
	near(t, "normal", rep.Normal.Add(truth.Slice.Rigid.Normal).Len(), 0, 1e-8)
	near(t, "rms", rep.RMS, truth.Slice.Rigid.RMS, 1e-8)
	if rep.TurnedOver == nil || *rep.TurnedOver || rep.Tilt == nil || len(rep.Residuals) != 6 || len(rep.LeaveOneOut) != 6 || len(rep.ErrorAt) != 1 {
		t.Errorf("%+v", rep)
	}
	b, err := json.Marshal(rep)
	if err != nil {
		t.Fatal(err)
	}
	for _, field := range []string{"pose", "residuals", "rms", "leaveOneOut", "worst", "normal", "turnedOver", "tilt", "errorAt"} {
		if !strings.Contains(string(b), `"`+field+`":`) {
			t.Errorf("no %s in %s", field, b)
		}
	}
	rep, err = r.Report(section.UnknownFacing, section.UnknownFacing, nil)
	if err != nil || rep.TurnedOver != nil || rep.Tilt != nil {
		t.Errorf("undeclared: %+v, %v", rep, err)
	}
	over, err := r.Report(section.Superior, section.Anterior, nil)
	if err != nil || over.TurnedOver == nil || !*over.TurnedOver {
		t.Errorf("declared wrongly: %+v, %v", over, err)
	}
}

func FuzzReadTables(f *testing.F) {
	f.Add("x,y,X,Y,Z\n1,2,3,4,5\n")
	f.Add("1;2;3;4;5\n# note\n")
	f.Fuzz(func(t *testing.T, text string) {
		if ties, err := ReadPlacedTies(strings.NewReader(text)); err == nil && len(ties) > 0 {
			FromTies("", Unity, ties, section.Superior, true)
		}
		if levels, err := ReadLevels(strings.NewReader(text)); err == nil {
			if l, err := NewLevels(levels, 0); err == nil {
				l.Scan(levels[0].Run)
			}
		}
	})
}

func FuzzReadPose(f *testing.F) {
	f.Add(`{"origin":[1,2,3],"x":[1,0,0],"y":[0,1,0],"scale":1}`)
	f.Add(`{"pose":{"origin":[1,2,3],"x":[1,0,0],"y":[0,1,0]}}`)
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := ReadPose(strings.NewReader(text)); err == nil && p.Check() != nil {
			t.Fatalf("%s gave a pose that cannot be used: %v", text, p.Check())
		}
	})
}
