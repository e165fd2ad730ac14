package main

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// The trunk CT (TCIA, CC BY 4.0) cut at the prompt is what the volume itself gives, byte for byte; its grey picture is the
// linear window of DICOM PS3.3 C.11.2.1.2.1, worked out here anew.
func TestCutOfTheTrunk(t *testing.T) {
	const dir = "../../../shared/data/ct-trunk-128"
	if _, err := os.Stat(dir); err != nil {
		t.Skip("the shared data is not beside the module: the trunk CT is not cut")
	}
	pose := geom.Pose{Origin: geom.LPS{X: -150, Y: -60, Z: 330}, X: geom.Vec{X: 0.96, Y: 0.28}, Y: geom.Vec{X: -0.224, Y: 0.768, Z: -0.6}, Scale: 1}
	const w, h, spacing, centre, width = 70, 50, 7.5, 40.0, 400.0
	work := t.TempDir()
	poseFile, raw, grey := filepath.Join(work, "pose.json"), filepath.Join(work, "cut.f32"), filepath.Join(work, "cut.png")
	b, err := json.Marshal(pose)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(poseFile, b, 0o644); err != nil {
		t.Fatal(err)
	}
	common := []string{"cut", "-scan", dir, "-pose", poseFile, "-size", fmt.Sprintf("%dx%d", w, h), "-spacing", fmt.Sprint(spacing), "-json"}
	out, notes, status := prompt(append(common, "-o", raw)...)
	if status != statusDone {
		t.Fatal(notes)
	}
	if _, notes, status := prompt(append(common, "-o", grey, "-window", fmt.Sprintf("%g,%g", centre, width))...); status != statusDone {
		t.Fatal(notes)
	}

	files := os.DirFS(dir)
	all, err := scan.Survey(context.Background(), files, nil)
	if err != nil || len(all) != 1 {
		t.Fatal(len(all), err)
	}
	v, err := scan.Load(context.Background(), files, all[0], nil)
	if err != nil {
		t.Fatal(err)
	}
	want := make([]float32, w*h)
	v.Slice(want, w, h, pose.Squared(), spacing)

	b, err = os.ReadFile(raw)
	if err != nil || len(b) != 4*w*h {
		t.Fatal(len(b), err)
	}
	least, most, inside := math.Inf(1), math.Inf(-1), 0
	for i := range want {
		got := math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
		if got != want[i] && !(got != got && want[i] != want[i]) {
			t.Fatalf("pixel %d: %g at the prompt, %g from the volume", i, got, want[i])
		}
		if got == got {
			least, most, inside = math.Min(least, float64(got)), math.Max(most, float64(got)), inside+1
		}
	}
	if inside == 0 || inside == w*h {
		t.Fatalf("%d of %d pixels inside: the pose should leave the scan on one side", inside, w*h)
	}
	var a struct{ Min, Max, Inside float64 }
	if err := json.Unmarshal([]byte(out), &a); err != nil {
		t.Fatal(err)
	}
	if a.Min != least || a.Max != most || math.Abs(a.Inside-float64(inside)/(w*h)) > 1e-12 {
		t.Errorf("told %+v, want %g %g %d", a, least, most, inside)
	}

	f, err := os.Open(grey)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range want {
		y := 0.0
		if x == x {
			y = math.Max(0, math.Min(255, ((float64(x)-(centre-0.5))/(width-1)+0.5)*255))
		}
		g, _, _, _ := m.At(i%w, i/w).RGBA()
		if math.Abs(float64(g>>8)-y) > 1 {
			t.Fatalf("pixel %d: grey %d, want %.1f for %g", i, g>>8, y, x)
		}
	}
}
