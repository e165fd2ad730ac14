package geom_test

import (
	"encoding/json"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/geom"
)

func unit(t *rapid.T, name string) geom.Vec {
	z, a := rapid.Float64Range(-1, 1).Draw(t, name+" z"), rapid.Float64Range(0, 2*math.Pi).Draw(t, name+" angle")
	r := math.Sqrt(1 - z*z)
	return geom.Vec{X: r * math.Cos(a), Y: r * math.Sin(a), Z: z}
}

func anyPose(t *rapid.T) geom.Pose {
	x := unit(t, "x")
	other := unit(t, "other")
	if x.Cross(other).Len() < 0.1 {
		other = geom.Vec{X: x.Y, Y: x.Z, Z: -x.X}
	}
	if x.Cross(other).Len() < 0.1 {
		other = geom.Vec{X: -x.Z, Y: x.X, Z: x.Y}
	}
	y := x.Cross(other).Unit()
	c := rapid.Float64Range(-500, 500)
	return geom.Pose{
		Origin: geom.LPS{X: c.Draw(t, "ox"), Y: c.Draw(t, "oy"), Z: c.Draw(t, "oz")},
		X:      x, Y: y, Scale: rapid.Float64Range(0.8, 1.25).Draw(t, "scale"),
	}
}

// spreadPoints gives four well-spread corners and some more points, so that every fit is well posed.
func spreadPoints(t *rapid.T) []geom.MM {
	c := rapid.Float64Range(-20, 20)
	var out []geom.MM
	for _, p := range [][2]float64{{0, 0}, {300, 0}, {300, 200}, {0, 200}} {
		out = append(out, geom.MM{X: p[0] + c.Draw(t, "dx"), Y: p[1] + c.Draw(t, "dy")})
	}
	for range rapid.IntRange(0, 8).Draw(t, "more") {
		out = append(out, geom.MM{X: rapid.Float64Range(0, 300).Draw(t, "px"), Y: rapid.Float64Range(0, 200).Draw(t, "py")})
	}
	return out
}

func TestKnownPoseIsRecovered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want, face := anyPose(t), spreadPoints(t)
		scan := make([]geom.LPS, len(face))
		for i, p := range face {
			scan[i] = want.At(p)
		}
		got, res, err := geom.FitPose(face, scan, true)
		if err != nil {
			t.Fatal(err)
		}
		if res.Max > 1e-9 || got.Origin.Dist(want.Origin) > 1e-9 || got.X.Sub(want.X).Len() > 1e-9 || got.Y.Sub(want.Y).Len() > 1e-9 || math.Abs(got.Scale-want.Scale) > 1e-9 {
			t.Fatalf("got %+v, want %+v, worst residual %g", got, want, res.Max)
		}
		for i, p := range scan { // there and back
			foot, off := got.Project(p)
			if foot.Dist(face[i]) > 1e-9 || math.Abs(off) > 1e-9 {
				t.Fatalf("point %d comes back at %v, %g off", i, foot, off)
			}
		}
	})
}

func TestFitsNeverMirrorAndIgnoreOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pose, face := anyPose(t), spreadPoints(t)
		jitter := rapid.Float64Range(-40, 40)
		mirrored := rapid.Bool().Draw(t, "mirrored")
		order := rapid.Permutation(indices(len(face))).Draw(t, "order")
		from, to := make([]geom.Vec, len(face)), make([]geom.Vec, len(face))
		mixedFrom, mixedTo := make([]geom.Vec, len(face)), make([]geom.Vec, len(face))
		for i, p := range face {
			from[i] = geom.Vec{X: p.X, Y: p.Y}
			if mirrored {
				p.X = -p.X
			}
			to[i] = geom.Vec(pose.At(p).Add(geom.Vec{X: jitter.Draw(t, "nx"), Y: jitter.Draw(t, "ny"), Z: jitter.Draw(t, "nz")}))
		}
		for i, k := range order {
			mixedFrom[i], mixedTo[i] = from[k], to[k]
		}
		a, _, err := geom.FitSimilarity(from, to, nil, true)
		if err != nil {
			t.Skip(err)
		}
		if math.Abs(det(a.R)-1) > 1e-9 {
			t.Fatalf("determinant %g", det(a.R))
		}
		b, _, err := geom.FitSimilarity(mixedFrom, mixedTo, nil, true)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range from {
			if a.At(p).Sub(b.At(p)).Len() > 1e-8 {
				t.Fatalf("order changes the fit at %v by %g mm", p, a.At(p).Sub(b.At(p)).Len())
			}
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func TestHomographyOfFourPointsIsExactAndIgnoresOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		face := spreadPoints(t)
		// a camera looking down with a lean: pixels from face points by a true projection
		lean := rapid.Float64Range(-5e-4, 5e-4)
		a, b, s := lean.Draw(t, "a"), lean.Draw(t, "b"), rapid.Float64Range(5, 20).Draw(t, "px per mm")
		px := make([]geom.Px, len(face))
		for i, p := range face {
			w := 1 + a*p.X + b*p.Y
			px[i] = geom.Px{X: (s*p.X+100)/w + 7, Y: (s*p.Y-30)/w + 5}
		}
		h, res, err := geom.FitHomography(px, face)
		if err != nil {
			t.Fatal(err)
		}
		if res.Max > 1e-7 {
			t.Fatalf("worst residual %g mm", res.Max)
		}
		order := rapid.Permutation(indices(len(face))).Draw(t, "order")
		mp, mf := make([]geom.Px, len(face)), make([]geom.MM, len(face))
		for i, k := range order {
			mp[i], mf[i] = px[k], face[k]
		}
		g, _, err := geom.FitHomography(mp, mf)
		if err != nil {
			t.Fatal(err)
		}
		probe := geom.Px{X: 900, Y: 700}
		if h.MM(probe).Dist(g.MM(probe)) > 1e-6 {
			t.Fatalf("order changes the map by %g mm", h.MM(probe).Dist(g.MM(probe)))
		}
	})
}

func TestFitFlatRecoversATurn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := geom.Flat{
			Scale: rapid.Float64Range(0.5, 2).Draw(t, "scale"), Angle: rapid.Float64Range(-3.1, 3.1).Draw(t, "angle"),
			Shift: geom.MM{X: rapid.Float64Range(-90, 90).Draw(t, "x"), Y: rapid.Float64Range(-90, 90).Draw(t, "y")},
		}
		from := spreadPoints(t)
		var to []geom.MM
		for _, p := range from {
			to = append(to, want.At(p))
		}
		got, res, err := geom.FitFlat(from, to, true)
		if err != nil || res.Max > 1e-9 || math.Abs(got.Angle-want.Angle) > 1e-9 || math.Abs(got.Scale-want.Scale) > 1e-9 {
			t.Fatalf("got %+v, want %+v, %v, %v", got, want, res, err)
		}
	})
}

func TestPointsThatDoNotFixTheAnswerAreRefused(t *testing.T) {
	line := []geom.MM{{X: 0, Y: 0}, {X: 10, Y: 20}, {X: 20, Y: 40}, {X: 35, Y: 70}}
	same := []geom.MM{{X: 4, Y: 4}, {X: 4, Y: 4}, {X: 4, Y: 4}, {X: 4, Y: 4}}
	good := []geom.MM{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 80}, {X: 0, Y: 80}}
	threeInLine := []geom.MM{{X: 0, Y: 0}, {X: 50, Y: 0}, {X: 100, Y: 0}, {X: 0, Y: 80}}
	lift := func(face []geom.MM) (out []geom.LPS) {
		for _, p := range face {
			out = append(out, geom.LPS{X: p.X, Y: -p.Y, Z: p.X / 3})
		}
		return out
	}
	px := func(face []geom.MM) (out []geom.Px) {
		for _, p := range face {
			out = append(out, geom.Px(p))
		}
		return out
	}
	for name, c := range map[string]struct {
		face []geom.MM
		scan []geom.LPS
		want error
	}{
		"two points":        {good[:2], lift(good[:2]), geom.ErrTooFewPoints},
		"none":              {nil, nil, geom.ErrTooFewPoints},
		"face on a line":    {line, lift(line), geom.ErrDegenerate},
		"face all the same": {same, lift(good), geom.ErrDegenerate},
		"scan all the same": {good, lift(same), geom.ErrDegenerate},
		"scan on a line":    {good, lift(line), geom.ErrDegenerate},
	} {
		if _, _, err := geom.FitPose(c.face, c.scan, true); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, _, err := geom.FitPose(good, lift(good[:3]), false); err == nil {
		t.Error("unequal lists were taken")
	}
	bad := lift(good)
	bad[2].Y = math.NaN()
	if _, _, err := geom.FitPose(good, bad, false); err == nil {
		t.Error("a number that is not one was taken")
	}
	if _, _, err := geom.FitPoseWeighted(good, lift(good), []float64{1, 1, -1, 1}, false); err == nil {
		t.Error("a weight below zero was taken")
	}
	if _, _, err := geom.FitPoseWeighted(good, lift(good), []float64{1, 1, 0, 0}, false); !errors.Is(err, geom.ErrDegenerate) {
		t.Error("two weighted points fixed a pose")
	}
	for name, c := range map[string]struct {
		px   []geom.Px
		mm   []geom.MM
		want error
	}{
		"three":            {px(good[:3]), good[:3], geom.ErrTooFewPoints},
		"three on a line":  {px(threeInLine), threeInLine, geom.ErrDegenerate},
		"pixels on a line": {px(line), good, geom.ErrDegenerate},
		"pixels all alike": {px(same), good, geom.ErrDegenerate},
		"places all alike": {px(good), same, geom.ErrDegenerate},
	} {
		if _, _, err := geom.FitHomography(c.px, c.mm); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, _, err := geom.FitFlat(same, good, true); !errors.Is(err, geom.ErrDegenerate) {
		t.Errorf("points all alike fixed a turn: %v", err)
	}
	if _, _, err := geom.FitFlat(good[:1], good[:1], true); !errors.Is(err, geom.ErrTooFewPoints) {
		t.Errorf("one point fixed a turn: %v", err)
	}
	if _, err := (geom.Affine{1, 2, 4, 0, 2, 4, 8, 0, 3, 6, 12, 0}).Inverse(); !errors.Is(err, geom.ErrDegenerate) {
		t.Errorf("a flat affine was inverted: %v", err)
	}
}

func TestSquaredPose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := anyPose(t)
		off := rapid.Float64Range(-4e-4, 4e-4)
		p := want
		p.X = p.X.Add(geom.Vec{X: off.Draw(t, "x1"), Y: off.Draw(t, "x2"), Z: off.Draw(t, "x3")})
		p.Y = p.Y.Add(geom.Vec{X: off.Draw(t, "y1"), Y: off.Draw(t, "y2"), Z: off.Draw(t, "y3")})
		q := p.Squared()
		if math.Abs(q.X.Len()-1) > 1e-12 || math.Abs(q.Y.Len()-1) > 1e-12 || math.Abs(q.X.Dot(q.Y)) > 1e-12 {
			t.Fatalf("not square: %+v", q)
		}
		if q.X.Sub(want.X).Len() > 2e-3 || q.Normal().Dot(want.Normal()) < 0.999 {
			t.Fatalf("turned away: %+v from %+v", q, want)
		}
		if err := q.Check(); err != nil {
			t.Fatal(err)
		}
		again := q.Squared()
		if again.X.Sub(q.X).Len() > 1e-12 || again.Y.Sub(q.Y).Len() > 1e-12 {
			t.Fatal("squaring twice moves the axes")
		}
	})
}

func TestPoseCheckRefuses(t *testing.T) {
	good := geom.Pose{X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*geom.Pose){
		"no scale":       func(p *geom.Pose) { p.Scale = 0 },
		"scale below 0":  func(p *geom.Pose) { p.Scale = -1 },
		"not a number":   func(p *geom.Pose) { p.Origin.Z = math.NaN() },
		"infinite scale": func(p *geom.Pose) { p.Scale = math.Inf(1) },
		"long axis":      func(p *geom.Pose) { p.X = geom.Vec{X: 1.01} },
		"skew axes":      func(p *geom.Pose) { p.Y = geom.Vec{X: 0.1, Y: 0.995} },
		"no axes":        func(p *geom.Pose) { p.X, p.Y = geom.Vec{}, geom.Vec{} },
	} {
		p := good
		spoil(&p)
		if p.Check() == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestAffineInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPose(t)
		step := rapid.Float64Range(0.2, 5)
		shear := rapid.Float64Range(-0.4, 0.4).Draw(t, "gantry")
		a := geom.NewAffine(p.X.Mul(step.Draw(t, "col")), p.Y.Mul(step.Draw(t, "row")), p.Normal().Add(p.Y.Mul(shear)).Mul(step.Draw(t, "slice")), p.Origin)
		back, err := a.Inverse()
		if err != nil {
			t.Fatal(err)
		}
		n := rapid.Float64Range(-600, 600)
		v := geom.IJK{I: n.Draw(t, "i"), J: n.Draw(t, "j"), K: n.Draw(t, "k")}
		w := back(a.LPS(v))
		if math.Abs(v.I-w.I)+math.Abs(v.J-w.J)+math.Abs(v.K-w.K) > 1e-8 {
			t.Fatalf("%v comes back as %v", v, w)
		}
	})
}

// A map between pixel centres and the same map between corners must agree: corner = centre + 1/2.
func TestCornerAff3(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(-5, 5)
		var m [6]float64
		for i := range m {
			m[i] = n.Draw(t, "m")
		}
		c := geom.CornerAff3(m)
		x, y := n.Draw(t, "x"), n.Draw(t, "y")
		at := func(m [6]float64, x, y float64) (float64, float64) {
			return m[0]*x + m[1]*y + m[2], m[3]*x + m[4]*y + m[5]
		}
		ux, uy := at(m, x, y)
		vx, vy := at(c, x+0.5, y+0.5)
		if math.Abs(ux+0.5-vx) > 1e-9 || math.Abs(uy+0.5-vy) > 1e-9 {
			t.Fatalf("%v %v against %v %v", ux, uy, vx, vy)
		}
	})
	if got := geom.CornerAff3([6]float64{1, 0, 3, 0, 1, -2}); got != [6]float64{1, 0, 3, 0, 1, -2} {
		t.Errorf("a shift must stay as it is: %v", got)
	}
	// twice as large: the first source pixel's centre (corner 0.5) lands at the first two pixels' middle (corner 1)
	if got := geom.CornerAff3([6]float64{2, 0, 0.5, 0, 2, 0.5}); got != [6]float64{2, 0, 0, 0, 2, 0} {
		t.Errorf("doubling: %v", got)
	}
}

func TestPointsInJSON(t *testing.T) {
	want := geom.Pose{Origin: geom.LPS{X: 1.5, Y: -2, Z: 3}, X: geom.Vec{X: 1}, Y: geom.Vec{Z: -1}, Scale: 1.01}
	b, err := json.Marshal(want)
	if err != nil || string(b) != `{"origin":[1.5,-2,3],"x":[1,0,0],"y":[0,0,-1],"scale":1.01}` {
		t.Fatalf("%s, %v", b, err)
	}
	for _, text := range []string{string(b), `{"origin":{"X":1.5,"y":-2,"Z":3},"x":[1,0,0],"y":[0,0,-1],"scale":1.01}`} {
		var got geom.Pose
		if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{`[1,2]`, `[1,2,3,4]`, `{"X":1}`, `"1,2,3"`, `[1,2,"x"]`, `7`} {
		var p geom.LPS
		if json.Unmarshal([]byte(text), &p) == nil {
			t.Errorf("%s was taken for a patient point", text)
		}
	}
	if json.Unmarshal([]byte(`{"Y":1,"Z":2}`), new(geom.MM)) == nil {
		t.Error("Y and Z were taken for a face point")
	}
	if _, err := json.Marshal(geom.MM{X: math.NaN()}); err == nil {
		t.Error("a point that is not one was written")
	}
}

func FuzzPointJSON(f *testing.F) {
	f.Add([]byte(`[1,2,3]`))
	f.Add([]byte(`{"X":1,"Y":2,"Z":3}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		var p geom.LPS
		if json.Unmarshal(b, &p) != nil {
			return
		}
		again, err := json.Marshal(p)
		var q geom.LPS
		if err != nil || json.Unmarshal(again, &q) != nil || p != q {
			t.Fatalf("%s became %v, then %s, %v", b, p, again, err)
		}
	})
}
