package section

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"sectionary/slices/geom"
)

// The tables under testdata/laterality restate the viewing conventions in use for sections and scans
// (transverse scans from the feet, frontal from the front, sagittal from the left) and the law right x up =
// outward normal; DICOM PS3.3 C.7.6.2.1.1 for the cosines, Exif 2.32 for the turns.
func table(t *testing.T, name string, rows int) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/laterality/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for i, name := range all[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	if len(out) != rows {
		t.Fatalf("%s: %d rows, want %d", name, len(out), rows)
	}
	return out
}

var conventions = map[string]View{"radiology": Scan, "opposite": OtherSide, "bench": Bench}

func facing(t *testing.T, s string) Facing {
	t.Helper()
	f, err := ParseFacing(s)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// RG2: all 18 core rows: a face with its usual top, by plane, way it looks and convention.
func TestRG2EighteenCoreRows(t *testing.T) {
	for _, r := range table(t, "core.csv", 18) {
		f := facing(t, r["face"])
		if f.Plane().String() != r["plane"] || f.Letter() != r["outward_normal"] {
			t.Errorf("%v: plane %v, letter %v", r, f.Plane(), f.Letter())
		}
		up := Superior
		if f.Plane() == Transverse {
			up = Anterior
		}
		v := conventions[r["convention"]]
		want := Edges{r["image_left"], r["image_right"], r["image_up"], r["image_down"]}
		if got := EdgeLetters(f, up, v); got != want {
			t.Errorf("%v: letters %v, want %v", r, got, want)
		}
		_, mirror, err := Turn(f, up, v)
		if err != nil || strconv.FormatBool(mirror) != r["picture_is_mirror_of_the_face"] {
			t.Errorf("%v: mirror %v, %v", r, mirror, err)
		}
	}
}

// RG2 and RG3: all 72 rows of a photograph lying any way round: its own letters, the turn and mirror that bring it into each convention, and
// the letters after it.
func TestRG2SeventyTwoPhotoRows(t *testing.T) {
	for _, r := range table(t, "photo_ops.csv", 72) {
		f, up := facing(t, r["face"]), facing(t, r["photo_up"])
		if got, want := PhotoEdges(f, up), (Edges{r["photo_left"], r["photo_right"], r["photo_up"], r["photo_down"]}); got != want {
			t.Errorf("%v: photo letters %v, want %v", r, got, want)
		}
		q, mirror, err := Turn(f, up, conventions[r["convention"]])
		if err != nil || strconv.Itoa(90*q) != r["rotate_cw_deg"] || strconv.FormatBool(mirror) != r["then_mirror_lr"] {
			t.Errorf("%v: turn %d, mirror %v, %v", r, q, mirror, err)
		}
		want := Edges{r["out_left"], r["out_right"], r["out_up"], r["out_down"]}
		if got := EdgeLetters(f, up, conventions[r["convention"]]); got != want {
			t.Errorf("%v: letters %v, want %v", r, got, want)
		}
	}
}

func TestScanTable(t *testing.T) {
	for _, r := range table(t, "dicom.csv", 8) {
		right, down := vec(t, r["row_cosines"]), vec(t, r["col_cosines"])
		want := Edges{r["image_left"], r["image_right"], r["image_up"], r["image_down"]}
		if got := EdgesOf(right, down); got != want {
			t.Errorf("%v: letters %v, want %v", r, got, want)
		}
		// right x down looks away from the viewer
		if got := FacingOf(right.Cross(down).Neg()).Letter(); got != r["viewer_looks_from"] {
			t.Errorf("%v: looks from %v", r, got)
		}
	}
}

func vec(t *testing.T, s string) geom.Vec {
	t.Helper()
	var n [3]float64
	for i, w := range strings.Fields(s) {
		x, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatal(err)
		}
		n[i] = x
	}
	return geom.Vec{X: n[0], Y: n[1], Z: n[2]}
}

// RG2: right x up = outward normal for every face and photo-up there is, and for no other.
func TestRG2LawHoldsForEveryFaceAndPhotoUp(t *testing.T) {
	n := 0
	for f := Superior; f <= Right; f++ {
		for up := Superior; up <= Right; up++ {
			right, u, err := Axes(f.Plane(), f, up)
			if up.Plane() == f.Plane() {
				if err == nil {
					t.Errorf("%v with %v up must be refused", f, up)
				}
				continue
			}
			n++
			if err != nil || right.Cross(u) != f.Axis() {
				t.Errorf("%v with %v up: right x up = %v, %v", f, up, right.Cross(u), err)
			}
		}
	}
	if n != 24 {
		t.Errorf("%d faces and ups, want 24", n)
	}
}

// RG2: with plane, face or photo-up unknown all four edges read "?", and nothing is turned.
func TestRG2UnknownStaysUnknown(t *testing.T) {
	for _, c := range [][2]Facing{{UnknownFacing, Anterior}, {Superior, UnknownFacing}, {UnknownFacing, UnknownFacing}, {Superior, Inferior}} {
		for v := Bench; v <= OtherSide; v++ {
			if got := EdgeLetters(c[0], c[1], v); got != UnknownEdges {
				t.Errorf("%v: %v", c, got)
			}
			if _, _, err := Turn(c[0], c[1], v); err == nil {
				t.Errorf("%v: turned without knowing how", c)
			}
		}
	}
}

func TestObliqueLetters(t *testing.T) {
	// Two letters once the second part passes 0.2: common practice, no source.
	for _, c := range []struct {
		v    geom.Vec
		want string
	}{{geom.Vec{X: 1}, "L"}, {geom.Vec{X: 0.98, Y: 0.19}, "L"}, {geom.Vec{X: 0.9, Y: -0.43}, "LA"}, {geom.Vec{Z: -1, Y: 0.5}, "IP"}, {geom.Vec{}, "?"}} {
		if got := ObliqueLetter(c.v); got != c.want {
			t.Errorf("%v: %s, want %s", c.v, got, c.want)
		}
	}
}
