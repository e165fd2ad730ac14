package geom_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"sectionary/slices/geom"
)

// load reads one of the reference tables; each names the program and paper it came from.
func load(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/geom/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatal(err)
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.12g, want %.12g within %g", what, got, want, within)
	}
}

type rotation struct {
	R      [3][3]float64
	T      geom.Vec `json:"t"`
	Origin geom.Vec `json:"origin"`
	C      float64  `json:"c"`
	Scale  float64  `json:"scale"`
	MeanSq float64  `json:"mean_sq"`
	FRE    float64  `json:"FRE_rms"`
	Normal geom.Vec `json:"normal"`
	Offset float64  `json:"plane_offset_n_dot_o"`
	Tilt   float64  `json:"tilt_from_z_deg"`
	InRMS  float64  `json:"in_plane_rms"`
	OutRMS float64  `json:"out_of_plane_rms"`
}

type registrationTruth struct {
	Paper struct {
		X, Y   []geom.MM
		R      [2][2]float64
		C      float64 `json:"c"`
		T      geom.MM `json:"t"`
		MeanSq float64 `json:"mean_sq_error"`
	} `json:"umeyama_1991_paper"`
	Rigid struct {
		rotation
		X, Y      []geom.Vec
		Residuals []float64 `json:"residual_norms"`
		Weighted  struct {
			rotation
			W []float64 `json:"w"`
		} `json:"weighted"`
		Similarity rotation `json:"similarity"`
		Truth      float64  `json:"angle_to_truth_deg"`
	} `json:"rigid_3d"`
	Mirror struct{ FRE float64 } `json:"rigid_mirror"`
	Slice  struct {
		UV         []geom.MM  `json:"uv_mm"`
		XYZ        []geom.LPS `json:"xyz_mm"`
		Rigid      rotation   `json:"rigid"`
		Similarity rotation   `json:"similarity"`
	} `json:"slice_pose"`
}

func sameTurn(t *testing.T, what string, got [9]float64, want [3][3]float64) {
	t.Helper()
	for i, g := range got {
		near(t, what+" rotation", g, want[i/3][i%3], 1e-8)
	}
}

func sameVec(t *testing.T, what string, got, want geom.Vec, within float64) {
	t.Helper()
	near(t, what+" x", got.X, want.X, within)
	near(t, what+" y", got.Y, want.Y, within)
	near(t, what+" z", got.Z, want.Z, within)
}

func det(r [9]float64) float64 {
	return geom.Vec{X: r[0], Y: r[3], Z: r[6]}.Cross(geom.Vec{X: r[1], Y: r[4], Z: r[7]}).Dot(geom.Vec{X: r[2], Y: r[5], Z: r[8]})
}

// Reference: numpy and scipy, tolerance 1e-8; ITK 5.2.1 agrees to 5e-10.
func TestFitSimilarityAgainstReference(t *testing.T) {
	var truth registrationTruth
	load(t, "registration.json", &truth)
	r := truth.Rigid
	fit, res, err := geom.FitSimilarity(r.X, r.Y, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	sameTurn(t, "rigid", fit.R, r.R)
	sameVec(t, "rigid shift", fit.T, r.T, 1e-7) // the reference is rounded to 9 decimals and the arms are 100 mm
	near(t, "rigid rms", res.RMS, r.FRE, 1e-8)
	for i, d := range res.Each {
		near(t, "residual", d, r.Residuals[i], 1e-8)
	}
	if res.Freedom != 15 {
		t.Errorf("freedom %d, want 3*7-6", res.Freedom)
	}

	fit, _, err = geom.FitSimilarity(r.X, r.Y, r.Weighted.W, false)
	if err != nil {
		t.Fatal(err)
	}
	sameTurn(t, "weighted", fit.R, r.Weighted.R)
	sameVec(t, "weighted shift", fit.T, r.Weighted.T, 1e-7)

	big := make([]geom.Vec, len(r.Y))
	for i, v := range r.Y {
		big[i] = v.Mul(1.07)
	}
	fit, res, err = geom.FitSimilarity(r.X, big, nil, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", fit.Scale, r.Similarity.C, 1e-8)
	sameTurn(t, "similarity", fit.R, r.Similarity.R)
	sameVec(t, "similarity shift", fit.T, r.Similarity.T, 1e-7)
	near(t, "similarity mean square", res.RMS*res.RMS, r.Similarity.MeanSq, 1e-8)
}

func TestMirroredCloudKeepsAProperTurnAndFitsBadly(t *testing.T) {
	var truth registrationTruth
	load(t, "registration.json", &truth)
	var mirrored []geom.Vec
	for _, v := range truth.Rigid.X {
		mirrored = append(mirrored, geom.Vec{X: -v.X, Y: v.Y, Z: v.Z})
	}
	fit, res, err := geom.FitSimilarity(truth.Rigid.X, mirrored, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "determinant", det(fit.R), 1, 1e-12)
	near(t, "rms", res.RMS, truth.Mirror.FRE, 1e-8)
}

// A face is flat, so the third singular value is 0 and the sign has to come from the determinant.
func TestFlatCloudIsRecoveredExactly(t *testing.T) {
	var truth registrationTruth
	load(t, "registration.json", &truth)
	a, b, c := 14*math.Pi/180, -9*math.Pi/180, 22*math.Pi/180
	turn := func(v geom.Vec) geom.Vec { // about x, then y, then z
		v = geom.Vec{X: v.X, Y: v.Y*math.Cos(c) - v.Z*math.Sin(c), Z: v.Y*math.Sin(c) + v.Z*math.Cos(c)}
		v = geom.Vec{X: v.X*math.Cos(b) + v.Z*math.Sin(b), Y: v.Y, Z: -v.X*math.Sin(b) + v.Z*math.Cos(b)}
		return geom.Vec{X: v.X*math.Cos(a) - v.Y*math.Sin(a), Y: v.X*math.Sin(a) + v.Y*math.Cos(a), Z: v.Z}
	}
	var flat, moved []geom.Vec
	for _, v := range truth.Rigid.X {
		v.Z = 0
		flat, moved = append(flat, v), append(moved, turn(v).Add(geom.Vec{X: 12.5, Y: -8.25, Z: 31.75}))
	}
	fit, res, err := geom.FitSimilarity(flat, moved, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "determinant", det(fit.R), 1, 1e-12)
	near(t, "rms", res.RMS, 0, 1e-12)
	sameVec(t, "normal", fit.Turn(geom.Vec{Z: 1}), turn(geom.Vec{Z: 1}), 1e-12)
}

func TestFitPoseAgainstReference(t *testing.T) {
	var truth registrationTruth
	load(t, "registration.json", &truth)
	s := truth.Slice
	pose, res, err := geom.FitPose(s.UV, s.XYZ, false)
	if err != nil {
		t.Fatal(err)
	}
	col := func(r rotation, n int) geom.Vec { return geom.Vec{X: r.R[0][n], Y: r.R[1][n], Z: r.R[2][n]} }
	sameVec(t, "x", pose.X, col(s.Rigid, 0), 1e-8)
	sameVec(t, "y", pose.Y, col(s.Rigid, 1), 1e-8)
	sameVec(t, "normal", pose.Normal(), s.Rigid.Normal, 1e-8)
	sameVec(t, "origin", geom.Vec(pose.Origin), s.Rigid.Origin, 1e-7)
	near(t, "rms", res.RMS, s.Rigid.FRE, 1e-8)
	near(t, "plane offset", pose.Normal().Dot(geom.Vec(pose.Origin)), s.Rigid.Offset, 1e-7)
	near(t, "tilt", math.Acos(pose.Normal().Z)*180/math.Pi, s.Rigid.Tilt, 1e-7)
	var in, out float64
	for i := range s.UV {
		foot, off := pose.Project(s.XYZ[i])
		in, out = in+math.Pow(foot.Dist(s.UV[i]), 2)/6, out+off*off/6
	}
	near(t, "in-plane rms", math.Sqrt(in), s.Rigid.InRMS, 1e-8)
	near(t, "out-of-plane rms", math.Sqrt(out), s.Rigid.OutRMS, 1e-8)

	pose, res, err = geom.FitPose(s.UV, s.XYZ, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", pose.Scale, s.Similarity.Scale, 1e-8)
	sameVec(t, "similarity origin", geom.Vec(pose.Origin), s.Similarity.Origin, 1e-7)
	near(t, "similarity mean square", res.RMS*res.RMS, s.Similarity.MeanSq, 1e-8)
}

// Umeyama's own example: a mirrored triangle, which a turn cannot meet (R, c and t as printed in the paper,
// recalled; computed by numpy).
func TestFitFlatOnThePapersMirroredTriangle(t *testing.T) {
	var truth registrationTruth
	load(t, "registration.json", &truth)
	p := truth.Paper
	fit, res, err := geom.FitFlat(p.X, p.Y, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "c", fit.Scale, p.C, 1e-9)
	near(t, "R11", math.Cos(fit.Angle), p.R[0][0], 1e-9)
	near(t, "R21", math.Sin(fit.Angle), p.R[1][0], 1e-9)
	near(t, "t x", fit.Shift.X, p.T.X, 1e-9)
	near(t, "t y", fit.Shift.Y, p.T.Y, 1e-9)
	near(t, "mean square", res.RMS*res.RMS, p.MeanSq, 1e-9)
}

// Reference: DICOM PS3.3 C.7.6.2.1.1, worked out by numpy; tolerance 1e-6 mm.
func TestAffineAgainstStandard(t *testing.T) {
	var truth struct {
		Planes struct {
			Cases []struct {
				Name        string
				Position    geom.Vec   `json:"ImagePositionPatient"`
				Orientation [6]float64 `json:"ImageOrientationPatient"`
				Spacing     [2]float64 `json:"PixelSpacing_row_col"`
				Normal      geom.Vec   `json:"normal"`
				Points      []struct {
					Col, Row float64
					LPS      geom.LPS   `json:"lps_mm"`
					Back     [3]float64 `json:"back"`
				}
			}
		} `json:"plane_mapping"`
		Off struct {
			P    geom.LPS   `json:"P_lps"`
			Want [3]float64 `json:"col_row_dist_mm"`
		} `json:"point_to_plane"`
	}
	load(t, "planes.json", &truth)
	for _, c := range truth.Planes.Cases {
		o := c.Orientation
		along, down := geom.Vec{X: o[0], Y: o[1], Z: o[2]}, geom.Vec{X: o[3], Y: o[4], Z: o[5]}
		normal := along.Cross(down)
		sameVec(t, c.Name+" normal", normal, c.Normal, 1e-9)
		a := geom.NewAffine(along.Mul(c.Spacing[1]), down.Mul(c.Spacing[0]), normal, geom.LPS(c.Position))
		back, err := a.Inverse()
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range c.Points {
			at := a.LPS(geom.IJK{I: p.Col, J: p.Row})
			sameVec(t, c.Name, geom.Vec(at), geom.Vec(p.LPS), 1e-6)
			v := back(p.LPS)
			near(t, c.Name+" column", v.I, p.Back[0], 1e-6)
			near(t, c.Name+" row", v.J, p.Back[1], 1e-6)
			near(t, c.Name+" off", v.K, p.Back[2], 1e-6)
		}
		if c.Name == "double_oblique" {
			v := back(truth.Off.P)
			near(t, "column", v.I, truth.Off.Want[0], 1e-6)
			near(t, "row", v.J, truth.Off.Want[1], 1e-6)
			near(t, "distance", v.K, truth.Off.Want[2], 1e-6)
			pose := geom.Pose{Origin: geom.LPS(c.Position), X: along, Y: down, Scale: 1}
			foot, off := pose.Project(truth.Off.P)
			near(t, "foot x", foot.X, truth.Off.Want[0]*c.Spacing[1], 1e-6)
			near(t, "foot y", foot.Y, truth.Off.Want[1]*c.Spacing[0], 1e-6)
			near(t, "foot off", off, truth.Off.Want[2], 1e-6)
		}
	}
}

// Reference: Hartley and Zisserman 2004, algorithm 4.2, by numpy (1e-6 mm); OpenCV 4.6 on the grid (0.02 mm,
// since it refines further).
func TestFitHomographyAgainstReference(t *testing.T) {
	var truth struct {
		Four struct {
			Src    []geom.Px `json:"src_px"`
			Dst    []geom.MM `json:"dst_mm"`
			Points []geom.Px `json:"points"`
			Mapped []geom.MM `json:"mapped_mm"`
			Local  struct {
				At  geom.Px       `json:"at"`
				J   [2][2]float64 `json:"J"`
				Det float64       `json:"sqrt_abs_det"`
			} `json:"local_scale_mm_per_px_at_centre"`
		} `json:"homography4"`
		Grid struct {
			Px    []geom.Px `json:"px"`
			MM    []geom.MM `json:"mm"`
			RMS   float64   `json:"rms_mm_dlt"`
			Query []geom.Px `json:"query"`
			CV2   []geom.MM `json:"mapped_cv2"`
			DLT   []geom.MM `json:"mapped_dlt"`
		} `json:"homography_grid"`
	}
	load(t, "homography.json", &truth)
	f := truth.Four
	h, res, err := geom.FitHomography(f.Src, f.Dst)
	if err != nil {
		t.Fatal(err)
	}
	if res.Freedom != 0 || res.RMS > 1e-9 {
		t.Errorf("four points: freedom %d, rms %g", res.Freedom, res.RMS)
	}
	for i, p := range f.Points {
		near(t, "mapped", h.MM(p).Dist(f.Mapped[i]), 0, 1e-6)
		near(t, "back", h.Px(h.MM(p)).Dist(p), 0, 1e-6)
	}
	j := h.Jacobian(f.Local.At)
	for i, v := range j {
		near(t, "jacobian", v, f.Local.J[i/2][i%2], 1e-9)
	}
	near(t, "local scale", math.Sqrt(math.Abs(j[0]*j[3]-j[1]*j[2])), f.Local.Det, 1e-9)

	g := truth.Grid
	h, res, err = geom.FitHomography(g.Px, g.MM)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "grid rms", res.RMS, g.RMS, 1e-6)
	if res.Freedom != 88 {
		t.Errorf("grid freedom %d, want 2*48-8", res.Freedom)
	}
	for i, q := range g.Query {
		near(t, "grid against direct linear transform", h.MM(q).Dist(g.DLT[i]), 0, 1e-6)
		near(t, "grid against refined", h.MM(q).Dist(g.CV2[i]), 0, 0.02)
	}
}
