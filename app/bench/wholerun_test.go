package bench

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sectionary/atlas"
	"sectionary/atlas/practice"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// laidAt lays a plate of the sample on six landmarks at the level its depth has on a scan that begins at 120.
func laidAt(t *testing.T, m *memory, id string, level float64) {
	t.Helper()
	p := m.plates[id]
	pose, err := section.SquarePose(p.Face.Facing, p.PhotoUp, geom.LPS{Z: level})
	if err != nil {
		t.Fatal(err)
	}
	h, _ := faceMM(p)
	pose = pose.Shift(pose.X.Mul(-200)).Shift(pose.Y.Mul(-150))
	var ties []register.Tie
	for _, q := range places(6) {
		ties = append(ties, register.Tie{Face: q, Scan: pose.At(h.MM(q))})
	}
	if p, err = p.Lay("ct", ties, false); err != nil {
		t.Fatal(err)
	}
	m.plates[id] = p
}

// Two faces lie by landmarks; the others get a level between or beyond them with an error that grows with the way to the
// nearest, and are placed by it until something changes.
func TestWholeRunPlacesFacesWithoutLandmarks(t *testing.T) {
	b, q, m := sample(t)
	laidAt(t, m, "p1", 120)
	laidAt(t, m, "p2", 78.8) // 41.2 mm further
	b.ChooseRun("")
	b.rule.facts = map[section.Face]fact{}
	b.readFaces()
	q.run()
	b.ChooseFace(face(3, section.Inferior))
	b.Show(PairingScreen)
	q.run()
	if _, how, _ := b.basePose(); how != byLevel || b.WholeWords() != "" {
		t.Fatal(how)
	}
	b.Key("I", Mods{})
	q.run()
	w := b.solved()
	if w == nil || b.Message() != nil || len(w.Faces) != 8 || len(w.Doubts) != 0 {
		t.Fatalf("%+v, message %+v", w, b.Message())
	}
	// slab 3's lower face lies 62.4 mm from the datum; slab 1's lower face, between the two seen, is surer than slab 4's
	pose, how, _ := b.basePose()
	if z := pose.At(geom.MM{}).Z; how != byRun || math.Abs(z-57.6) > 1 || !has(b.Band(), "Placed by the whole run") {
		t.Fatalf("%s at %.2f, %s", how, z, b.Band())
	}
	if !(w.Faces[1].SE < w.Faces[5].SE && w.Faces[5].SE < w.Faces[7].SE && w.Faces[0].Own && !w.Faces[5].Own) {
		t.Fatalf("errors %+v", w.Faces)
	}
	if !has(b.WholeWords(), "Slab 3, lower face", "standard error", "carried from its neighbours", "8 faces placed, 2 seen") {
		t.Fatal(b.WholeWords())
	}
	b.ChooseFace(face(2, section.Inferior))
	q.run()
	b.RemoveTie(1)
	if b.solved() != nil {
		t.Fatal("still placed by landmarks that are gone")
	}
	b.Undo()
	b.SolveWhole()
	q.run()
	if err := b.SetSlab(2, [3]float64{30}, 1.2); err != nil || b.solved() != nil {
		t.Fatal("still placed by a thickness that is gone", err)
	}
	b.SolveWhole()
	q.run()
	if msg := b.Message(); msg == nil || !has(msg.Hint, "Slab 2's thickness, 30.0 mm", "20.") {
		t.Fatalf("a thickness mistyped by 10 mm: %+v", b.Message())
	}
}

// On the practice lab's trunk, as its truth says it was sawn, every third face keeps landmarks. Over 600 draws of what a lab
// measures the levels stray as their standard errors say (the bounds: standard deviation of z 0.9 to 1.1); a swapped
// pair and a thickness mistyped by 10 mm are named.
func TestWholeRunOnThePracticeLab(t *testing.T) {
	if testing.Short() {
		t.Skip("the practice lab takes a while to build; run without -short")
	}
	truth := practiceTruth(t)
	i := slices.IndexFunc(truth.Runs, func(r section.Run) bool { return r.Plane == section.Transverse })
	run := truth.Runs[i]
	true_ := map[section.Face]practice.TruthFace{}
	for _, f := range truth.Faces {
		if f.Face.Run == run.ID {
			true_[section.Face{Slab: f.Face.Slab, Facing: f.Face.Facing}] = f
		}
	}
	key := func(f section.Face) section.Face { return section.Face{Slab: f.Slab, Facing: f.Facing} }
	for i, f := range run.Faces() { // the last face was not photographed
		if _, ok := true_[key(f)]; !ok {
			run.Slabs = run.Slabs[:i/2]
			break
		}
	}
	if len(run.Slabs) < 8 {
		t.Fatalf("%d slabs with a truth", len(run.Slabs))
	}
	down := register.Direction(run.First)
	levelAt := func(f practice.TruthFace, at geom.LPS) float64 {
		n := f.Pose.Normal()
		return at.Z + f.Pose.Origin.Sub(at).Dot(n)/n.Z
	}
	rnd := rand.New(rand.NewPCG(5, 5))
	var centre geom.LPS
	draw := func(every int) (section.Run, []register.Sighting) {
		r := run
		r.Slabs = slices.Clone(run.Slabs)
		stretch := 1 + 0.03*rnd.NormFloat64()
		faces := run.Faces()
		for k := range r.Slabs {
			t0 := down * (levelAt(true_[key(faces[2*k+1])], centre) - levelAt(true_[key(faces[2*k])], centre))
			r.Slabs[k].Thickness = [3]float64{(t0 - 0.5*rnd.NormFloat64()) / stretch}
			if k+1 < len(r.Slabs) {
				kerf := down * (levelAt(true_[key(faces[2*k+2])], centre) - levelAt(true_[key(faces[2*k+1])], centre))
				r.Slabs[k].Kerf = math.Max(0, (kerf-0.15*rnd.NormFloat64())/stretch)
			}
		}
		var seen []register.Sighting
		for k, f := range faces {
			if k%every != 0 {
				continue
			}
			g := register.Sighting{Face: f}
			x := true_[key(f)]
			for _, tie := range x.Ties {
				m, _ := x.Pose.Project(tie.Scan)
				g.Points = append(g.Points, x.Pose.At(m).Add(geom.Vec{X: rnd.NormFloat64(), Y: rnd.NormFloat64(), Z: rnd.NormFloat64()}))
			}
			if len(g.Points) > 0 {
				seen = append(seen, g)
			}
		}
		return r, seen
	}
	var z []float64
	for range 600 {
		r, seen := draw(3)
		w, err := register.SolveRun(r, seen, register.Spreads{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range w.Faces {
			z = append(z, (p.Level-levelAt(true_[key(p.Face)], w.Middle))/p.SE)
		}
	}
	var sum float64
	for _, v := range z {
		sum += v * v
	}
	sd := math.Sqrt(sum / float64(len(z)))
	t.Logf("%d draws, %d levels: standard deviation of z %.3f", 600, len(z), sd)
	if sd < 0.9 || sd > 1.1 {
		t.Errorf("the levels stray %.2f times as far as their errors say", sd)
	}
	// mistakes, through the lab itself as a person meets them
	named := func(every int, change func(r *section.Run, k int), says func(slabs []int, k int) bool) (n, of int) {
		for k := 1; k+2 < len(run.Slabs); k++ {
			r, seen := draw(every)
			before := slices.Clone(r.Slabs)
			change(&r, k)
			if slices.Equal(before, r.Slabs) {
				continue
			}
			of++
			w, err := register.SolveRun(r, seen, register.Spreads{})
			if len(w.Doubts) > 0 && says(w.Doubts[0].Slabs, k) {
				n++
			} else {
				t.Logf("slab %d: %v, doubts %+v", r.Slabs[k].Number, err, w.Doubts)
			}
		}
		return n, of
	}
	n, of := named(3, func(r *section.Run, k int) { r.Slabs[k].Thickness[0] += 10 },
		func(slabs []int, k int) bool { return len(slabs) == 1 && slabs[0] == run.Slabs[k].Number })
	t.Logf("mistyped by 10 mm: named first %d of %d", n, of)
	// two slabs that stand in each other's place, all faces with landmarks
	m, pairs := named(1, func(r *section.Run, k int) { r.Slabs[k], r.Slabs[k+1] = r.Slabs[k+1], r.Slabs[k] },
		func(slabs []int, k int) bool {
			return len(slabs) == 2 && slices.Contains(slabs, run.Slabs[k].Number) && slices.Contains(slabs, run.Slabs[k+1].Number)
		})
	t.Logf("exchanged: named first %d of %d", m, pairs)
	if m < pairs {
		t.Errorf("an exchanged pair was named in %d of %d", m, pairs)
	}
	if n < of {
		t.Errorf("a thickness mistyped by 10 mm was named in %d of %d", n, of)
	}
}

// practiceTruth is the truth of practice material made for this test, or kept from an earlier one.
func practiceTruth(t *testing.T) practice.Truth {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "material")
	if keep := os.Getenv("SECTIONARY_PRACTICE"); keep != "" {
		dir = filepath.Join(keep, "practice-material")
	}
	if b, err := os.ReadFile(filepath.Join(dir, "truth.json")); err == nil {
		var truth practice.Truth
		if err := json.Unmarshal(b, &truth); err != nil {
			t.Fatal(err)
		}
		return truth
	}
	truth, err := practice.Write(context.Background(), dir, 7, nil)
	if err != nil {
		t.Fatal(err)
	}
	return *truth
}

// The landmarks of a lab are what the run is solved from; faces turned over, of another series or with too few do not count.
func TestSightings(t *testing.T) {
	_, _, m := sample(t)
	laidAt(t, m, "p1", 120)
	laidAt(t, m, "p2", 78.8)
	other := m.plates["p2"]
	r := *other.Registration
	r.Series = "another"
	other.Registration = &r
	got := sightings(m.runs[0], atlas.LevelTies{Levels: []register.Level{{Run: 62.4, Scan: 57}, {Run: 30, Scan: 1}}}, "ct",
		map[string]atlas.Plate{"p1": m.plates["p1"], "p2": other})
	var say []string
	for _, s := range got {
		say = append(say, s.Face.Name())
	}
	if strings.Join(say, "; ") != "slab 1, upper face; slab 3, lower face" || len(got[0].Points) != 6 || got[1].Level == nil || *got[1].Level != 57 {
		t.Fatalf("%s: %+v", strings.Join(say, "; "), got)
	}
}
