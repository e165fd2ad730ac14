package register

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

func near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.12g, want %.12g within %g", what, got, want, within)
	}
}

// Worked by hand: 252 mm of scan for 254.4 mm of run, so 189.6 mm lies at 812 - 127.2*252/254.4 = 686.
func TestLevelsBetweenTwoTies(t *testing.T) {
	for _, direction := range []float64{-1, 0} {
		l, err := NewLevels([]Level{{316.8, 560}, {62.4, 812}}, direction)
		if err != nil {
			t.Fatal(err)
		}
		mm, beyond := l.Scan(189.6)
		near(t, "scan", mm, 686, 0.01)
		if beyond {
			t.Error("between the ties counts as beyond")
		}
		run, _ := l.Run(686)
		near(t, "run", run, 189.6, 0.01)
		mm, beyond = l.Scan(0)
		near(t, "datum", mm, 812+62.4*252/254.4, 1e-9)
		if !beyond {
			t.Error("before the first tie does not count as beyond")
		}
		if s := l.Stretches(); len(s) != 1 || math.Abs(s[0].Percent-100*(252/254.4-1)) > 1e-9 {
			t.Errorf("stretches %v", s)
		}
		r := l.Report([]float64{189.6, 400})
		if len(r.Scan) != 2 || r.Extrapolated[0] || !r.Extrapolated[1] {
			t.Errorf("report %+v", r)
		}
	}
}

func TestLevelsOfOneTie(t *testing.T) {
	for first, want := range map[section.Facing]float64{
		section.Superior: 700 - 50, section.Inferior: 700 + 50, // z rises toward the head
		section.Anterior: 700 + 50, section.Posterior: 700 - 50, // y rises toward the back
		section.Left: 700 - 50, section.Right: 700 + 50, // x rises toward the left
	} {
		l, err := NewLevels([]Level{{100, 700}}, Direction(first))
		if err != nil {
			t.Fatal(err)
		}
		mm, beyond := l.Scan(150)
		near(t, first.String(), mm, want, 1e-12)
		if !beyond {
			t.Errorf("%v: beyond one tie is not told", first)
		}
		if _, beyond = l.Scan(100); beyond {
			t.Errorf("%v: the tie itself counts as beyond", first)
		}
		run, _ := l.Run(want)
		near(t, first.String()+" back", run, 150, 1e-12)
	}
}

func TestLevelsOutOfOrder(t *testing.T) {
	for name, c := range map[string]struct {
		ties      []Level
		direction float64
		want      error
		say       string
	}{
		"turns back":     {[]Level{{62.4, 812}, {316.8, 560}, {200, 900}}, 0, ErrOutOfOrder, "62.4 mm = 812.0 and 200.0 mm = 900.0"},
		"wrong end":      {[]Level{{62.4, 560}, {316.8, 812}}, -1, ErrOutOfOrder, "62.4 mm = 560.0 and 316.8 mm = 812.0"},
		"same run place": {[]Level{{62.4, 560}, {62.4, 540}}, -1, ErrOutOfOrder, "62.4 mm"},
		"same slice":     {[]Level{{62.4, 560}, {90, 560}}, 0, ErrOutOfOrder, "560.0"},
		"none":           {nil, 1, geom.ErrTooFewPoints, "tie"},
		"one, no end":    {[]Level{{1, 2}}, 0, geom.ErrTooFewPoints, "tie"},
	} {
		_, err := NewLevels(c.ties, c.direction)
		if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := NewLevels([]Level{{math.NaN(), 1}, {1, 2}}, 1); err == nil {
		t.Error("a level that is no number was taken")
	}
	var none Levels
	if mm, _ := none.Scan(3); none.Known() || !math.IsNaN(mm) {
		t.Error("levels without ties place something")
	}
}

func TestLevelsGoThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sign := 1 - 2*float64(rapid.IntRange(0, 1).Draw(t, "down"))
		step := rapid.Float64Range(1, 200)
		var ties []Level
		run, scan := float64(rapid.IntRange(0, 100).Draw(t, "run")), rapid.Float64Range(-900, 900).Draw(t, "scan")
		for range rapid.IntRange(1, 8).Draw(t, "ties") {
			ties = append(ties, Level{run, scan})
			run, scan = run+float64(rapid.IntRange(1, 200).Draw(t, "run step")), scan+sign*step.Draw(t, "scan step")
		}
		order := rapid.Permutation(ties).Draw(t, "order")
		l, err := NewLevels(order, sign)
		if err != nil {
			t.Fatal(err)
		}
		for _, tie := range ties {
			mm, beyond := l.Scan(tie.Run)
			if mm != tie.Scan || beyond {
				t.Fatalf("%v is carried to %v, beyond %v", tie, mm, beyond)
			}
		}
		at := float64(rapid.IntRange(-30000, 200000).Draw(t, "at"))/100 + 0.001 // off the ties by more than rounding
		mm, beyond := l.Scan(at)
		back, again := l.Run(mm)
		if math.Abs(back-at) > 1e-6 || beyond != again {
			t.Fatalf("%g goes to %g and comes back as %g (beyond %v, %v)", at, mm, back, beyond, again)
		}
		next, _ := l.Scan(at + 1)
		if (next-mm)*sign <= 0 {
			t.Fatalf("order is lost at %g", at)
		}
	})
}

func TestNearestSlice(t *testing.T) {
	positions := []float64{560, 563, 566, 572} // one slice missing
	for at, want := range map[float64]struct {
		i   int
		gap float64
	}{564.4: {1, 1.4}, 564.6: {2, -1.4}, 569.5: {3, -2.5}, 500: {0, -60}} {
		i, gap := Nearest(positions, at)
		if i != want.i || math.Abs(gap-want.gap) > 1e-9 {
			t.Errorf("%g: slice %d, gap %g", at, i, gap)
		}
	}
	if i, gap := Nearest(nil, 3); i != -1 || !math.IsNaN(gap) {
		t.Errorf("no slices: %d, %g", i, gap)
	}
}

func TestFromLevelInEveryPlane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plane := section.Plane(rapid.IntRange(1, 3).Draw(t, "plane"))
		run := section.Run{ID: "r", Plane: plane, First: plane.Faces()[rapid.IntRange(0, 1).Draw(t, "first")]}
		for i := range 9 {
			run.Slabs = append(run.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1.2})
		}
		faces := run.Faces()
		f := faces[rapid.IntRange(0, len(faces)-1).Draw(t, "face")]
		var ups []section.Facing
		for up := section.Superior; up <= section.Right; up++ {
			if up.Plane() != plane {
				ups = append(ups, up)
			}
		}
		up := rapid.SampledFrom(ups).Draw(t, "up")
		d := Direction(run.First)
		l, err := NewLevels([]Level{{20, 300}, {120, 300 + 95*d}}, d)
		if err != nil {
			t.Fatal(err)
		}
		c := rapid.Float64Range(-200, 200)
		centre := geom.LPS{X: c.Draw(t, "x"), Y: c.Draw(t, "y"), Z: c.Draw(t, "z")}
		middle := geom.MM{X: c.Draw(t, "mx"), Y: c.Draw(t, "my")}
		r, err := FromLevel("1.2.3", l, run, f, up, middle, centre)
		if err != nil {
			t.Fatal(err)
		}
		depth, _, _ := run.Depth(f)
		want, _ := l.Scan(depth)
		at := r.Pose.At(middle)
		if math.Abs(Along(plane, at)-want) > 1e-9 {
			t.Fatalf("%v lies at %v, want level %g", f, at, want)
		}
		away := at.Sub(centre)
		if math.Abs(away.Len()-math.Abs(Along(plane, centre)-want)) > 1e-9 {
			t.Fatalf("the middle lies at %v, not over %v", at, centre)
		}
		if section.TurnedOver(r.Pose, f.Facing) || r.Method != ByLevel || !math.IsNaN(r.ErrorAt(middle)) || len(r.Words()) == 0 {
			t.Fatalf("%+v", r)
		}
		// moving down the picture moves against photo-up in the patient
		if r.Pose.At(geom.MM{X: middle.X, Y: middle.Y - 10}).Sub(at).Dot(up.Axis()) < 9.999 {
			t.Fatalf("photo-up %v does not stand up", up)
		}
	})
}

func TestFromLevelRefuses(t *testing.T) {
	run := section.Run{ID: "r", Plane: section.Transverse, First: section.Superior, Slabs: []section.Slab{{Number: 1, Thickness: [3]float64{20}}}}
	face := section.Face{Run: "r", Slab: 1, Facing: section.Superior}
	l, _ := NewLevels([]Level{{0, 100}}, -1)
	if _, err := FromLevel("", Levels{}, run, face, section.Anterior, geom.MM{}, geom.LPS{}); !errors.Is(err, geom.ErrTooFewPoints) {
		t.Errorf("without a tie: %v", err)
	}
	if _, err := FromLevel("", l, run, face, section.UnknownFacing, geom.MM{}, geom.LPS{}); !errors.Is(err, section.ErrUnknown) {
		t.Errorf("without photo-up: %v", err)
	}
	face.Slab = 2
	if _, err := FromLevel("", l, run, face, section.Anterior, geom.MM{}, geom.LPS{}); !errors.Is(err, section.ErrNoSuchFace) {
		t.Errorf("without the slab: %v", err)
	}
}
