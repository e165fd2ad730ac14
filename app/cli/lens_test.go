package main

import (
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// sheetPicture is a grey picture of a chequer sheet of 9 x 7 corners 10 mm apart, at 8.1 px a mm from a corner on, through a bent lens.
func sheetPicture(t *testing.T, path string, l photo.Lens) {
	t.Helper()
	m := image.NewGray(image.Rectangle{Max: l.Size})
	for y := range l.Size.Y {
		for x := range l.Size.X {
			sum := 0
			for k := range 9 {
				q, _ := l.Straight(geom.Px{X: float64(x) + float64(k%3-1)/3, Y: float64(y) + float64(k/3-1)/3})
				i, j := math.Floor((q.X-75)/81), math.Floor((q.Y-57)/81)
				if i >= -1 && j >= -1 && i < 9 && j < 7 && int(i+j)&1 == 0 {
					sum += 30
				} else {
					sum += 225
				}
			}
			m.SetGray(x, y, color.Gray{Y: uint8(sum / 9)})
		}
	}
	writePNG(t, path, m)
}

func writePNG(t *testing.T, path string, m image.Image) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
}

// A lens is measured at the prompt from one picture of a sheet and used for a scale: the sheet in the picture itself then fits to a
// hundredth of a mm, and does not without the lens. It is kept for a stand, and refused for pictures of another size.
func TestLensAtThePrompt(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	made := photo.Lens{FX: 800, FY: 800, CX: 399.5, CY: 299.5, K1: -0.12, K2: 0.02, Size: image.Pt(800, 600)}
	sheetPicture(t, at("sheet.png"), made)
	out, notes, status := prompt("lens", at("sheet.png"), "-sheet", "9x7,10", "-json")
	if status != statusDone {
		t.Fatal(notes)
	}
	var l photo.Lens
	if err := json.Unmarshal([]byte(out), &l); err != nil || l.Views != 1 || l.RMS > 0.2 || l.Size != made.Size || l.Reach < 0.7 {
		t.Fatalf("%v: %+v", err, l)
	}
	if err := os.WriteFile(at("lens.json"), []byte(out), 0o644); err != nil {
		t.Fatal(err)
	}
	rms := func(more ...string) float64 {
		t.Helper()
		out, notes, status := prompt(append([]string{"scale", "-photo", at("sheet.png"), "-sheet", "9x7,10", "-json"}, more...)...)
		var r photo.ScaleReport
		if status != statusDone || json.Unmarshal([]byte(out), &r) != nil {
			t.Fatal(notes)
		}
		return r.RMS
	}
	through, plain := rms("-lens", at("lens.json")), rms()
	t.Logf("the sheet fits to %.4f mm through the lens, %.4f mm without", through, plain)
	if through > 0.03 || plain < 0.1 {
		t.Errorf("the sheet fits to %.4f mm through the lens, %.4f mm without", through, plain)
	}
	writePNG(t, at("other.png"), image.NewGray(image.Rect(0, 0, 640, 480)))
	for _, bad := range [][]string{
		{"scale", "-photo", at("other.png"), "-sheet", "9x7,10"},
		{"lens", at("sheet.png"), at("other.png"), "-sheet", "9x7,10"},
		{"lens", at("sheet.png"), "-sheet", "8x6,10"},
		{"scale", "-photo", at("sheet.png"), "-sheet", "9x7,10", "-lens", at("sheet.png")},
	} {
		if _, notes, status := prompt(bad...); status != statusFailed {
			t.Errorf("%v: status %d, %s", bad, status, notes)
		}
	}
	if _, _, status := prompt("lens", at("sheet.png"), "-sheet", "9,10"); status != statusMisused {
		t.Errorf("status %d", status)
	}

	lab := at("lab")
	for _, do := range [][]string{
		{"new", lab, "-donor", "DA-12", "-part", "trunk", "-plane", "transverse", "-thickness", "20", "-slabs", "3"},
		{"stand", lab, "Column A", "-lens", at("lens.json"), "-height", "25,1000", "-plate", "100,40"},
	} {
		if _, notes, status := prompt(do...); status != statusDone {
			t.Fatal(notes)
		}
	}
	out, _, _ = prompt("stand", lab)
	if !strings.Contains(out, "Column A") || !strings.Contains(out, "one picture") || !strings.Contains(out, "Camera 1000 mm") {
		t.Errorf("%q", out)
	}
	if _, _, status := prompt("stand", lab, "Column A", "-remove"); status != statusDone {
		t.Error("not taken away")
	}
}

// 100 mm of a board photographed by OpenCV (testdata/photo/lens_grid.json) at the prompt, through its lens and without.
func TestMeasureThroughALens(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/photo/lens_grid.json")
	if err != nil {
		t.Fatal(err)
	}
	var v struct {
		Size   [2]int
		Boards []struct {
			K      [3][3]float64
			D      [5]float64
			MM, Px [][2]float64
		}
	}
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	b, dir := v.Boards[0], t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	px := map[[2]float64][2]float64{}
	for i, m := range b.MM {
		px[m] = b.Px[i]
	}
	write := func(name string, rows ...string) {
		if err := os.WriteFile(at(name), []byte(strings.Join(rows, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	tie := func(x, y float64) string {
		p := px[[2]float64{x, y}]
		return fmt.Sprintf("%.9f,%.9f,%g,%g", p[0], p[1], x, y)
	}
	write("ties.csv", tie(-100, 0), tie(100, 0))
	p, q := px[[2]float64{400, -200}], px[[2]float64{500, -200}]
	write("points.csv", fmt.Sprintf("%.9f,%.9f", p[0], p[1]), fmt.Sprintf("%.9f,%.9f", q[0], q[1]))
	lens, err := json.Marshal(photo.Lens{FX: b.K[0][0], FY: b.K[1][1], CX: b.K[0][2], CY: b.K[1][2], K1: b.D[0], K2: b.D[1], P1: b.D[2], P2: b.D[3], K3: b.D[4],
		Size: image.Pt(v.Size[0], v.Size[1])})
	if err != nil {
		t.Fatal(err)
	}
	write("lens.json", string(lens))
	writePNG(t, at("board.png"), image.NewGray(image.Rect(0, 0, v.Size[0], v.Size[1])))
	length := func(more ...string) (value, spread float64) {
		out, notes, status := prompt(append([]string{"measure", "-photo", at("board.png"), "-ties", at("ties.csv"), "-points", at("points.csv"), "-json"}, more...)...)
		var m struct{ Value, Spread float64 }
		if status != statusDone || json.Unmarshal([]byte(out), &m) != nil {
			t.Fatal(notes)
		}
		return m.Value, m.Spread
	}
	through, sd := length("-lens", at("lens.json"))
	plain, _ := length()
	_, wide := length("-lens", at("lens.json"), "-height", "unknown")
	t.Logf("100 mm near the corner: %.3f ± %.3f through the lens, %.2f without; ± %.2f with the height unknown", through, sd, plain, wide)
	if math.Abs(through-100) > 0.2 || math.Abs(plain-100) < 2 || wide < 1.4 {
		t.Error("not as it should be")
	}
}
