package bench

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// The practice lab is built once and opened as a person would: made up by our own code, on a real library on disk, with a
// real scan. It takes a while, so it is left out with -short.
func TestPracticeLab(t *testing.T) {
	if testing.Short() {
		t.Skip("the practice lab takes a while to build; run without -short")
	}
	data := t.TempDir()
	if keep := os.Getenv("SECTIONARY_PRACTICE"); keep != "" {
		data = keep
	}
	q := &queue{now: time.Now()}
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		t.Fatal(err)
	}
	b := New(q, terms, Options{DataDir: data, Author: "AB", Now: func() time.Time { return q.now }})
	b.MakePractice()
	q.run()
	if !b.Lab().Open || !b.Lab().Synthetic || len(b.Runs()) == 0 {
		t.Fatalf("lab %+v, message %+v", b.Lab(), b.Message())
	}
	if r := b.Recent(); len(r) != 1 || filepath.Base(r[0]) != "practice-lab" {
		t.Fatalf("recent %v", r)
	}
	for _, run := range b.Runs() {
		b.Show(RunScreen)
		b.ChooseRun(run.ID)
		q.run()
		name := "practice-" + run.Plane.String()
		show(t, name+"-ruler", painted(b.RulerPane(), 560, 900, 1))
		var best section.Face
		for _, f := range b.Run().Faces() {
			if i := b.Info(f); i.Paired && i.Labels > b.Info(best).Labels {
				best = f
			}
		}
		if best.Slab == 0 {
			t.Fatalf("%s: no face is paired", run.Words)
		}
		b.ChooseFace(best)
		b.Show(FaceScreen)
		q.run()
		show(t, name+"-face", painted(b.FacePane(), 1100, 800, 1))
		b.SetView(section.Scan)
		show(t, name+"-scanview", painted(b.FacePane(), 1100, 800, 1))
		b.Show(PairingScreen)
		q.run()
		show(t, name+"-pairface", painted(b.FacePane(), 760, 620, 1))
		show(t, name+"-pairscan", painted(b.ScanPane(), 760, 620, 1))
		show(t, name+"-strip", painted(b.StripPane(), 1400, 130, 1))
		pose, how, _ := b.cutPose()
		v, _ := b.scan.viewport(pose)
		if e := b.scan.scanEdges(pose, v); how != byTies || e.Left[:1] != b.Edges().Left || e.Up[:1] != b.Edges().Up {
			t.Errorf("%s: %s, letters of the face %v, of the scan %v", run.Words, how, b.Edges(), e)
		}
		t.Log(run.Words, "|", b.Info(best).Words, "|", b.Band(), "|", b.FitWords())
		for _, row := range b.Labels() {
			if row.Warning != "" {
				t.Errorf("the side sentinel warns about true labels: %s", row.Warning)
			}
		}
		b.SetView(section.Bench)
		if run.Plane == section.Transverse {
			placesForReal(t, b, q)
			facesForReal(t, b, q)
			b.ChooseFace(best)
			q.run()
		}
	}
	handOutForReal(t, b, q)
	if err := b.Quit(); err != nil {
		t.Fatal(err)
	}
}

// handOutForReal takes a study picture and an exam through the desk; a purpose that is not recorded is refused before
// anything is written.
func handOutForReal(t *testing.T, b *Bench, q *queue) {
	b.Show(HandOutScreen)
	q.run()
	d := b.HandOut()
	d.Faces = []section.Face{b.Face()}
	d.Purpose = atlas.PublicWeb
	b.SetHandOut(d)
	q.run()
	out := filepath.Join(t.TempDir(), "out")
	b.Release(out)
	q.run()
	if _, err := os.Stat(out); err == nil || b.Message() == nil || !has(b.Message().Hint, "public web") {
		t.Fatalf("not permitted: %+v", b.Message())
	}
	b.Dismiss()
	for _, kind := range []HandOutKind{Study, Exam} {
		d.Purpose, d.Kind, d.Title = map[HandOutKind]atlas.Purpose{Study: atlas.Teaching, Exam: atlas.Exam}[kind], kind, "Practice"
		b.SetHandOut(d)
		if why := b.Refusal(); why != "" {
			t.Fatal(why)
		}
		q.run()
		show(t, map[HandOutKind]string{Study: "preview-study", Exam: "preview-exam"}[kind], painted(b.PreviewPane(), 700, 900, 1))
		if b.out.page == nil {
			t.Fatalf("no preview: %s", b.out.problem)
		}
		dir := filepath.Join(out, string(rune('a'+kind)))
		b.Release(dir)
		q.run()
		s := b.LastSlip()
		if s == nil || len(s.Files) == 0 || b.Message() != nil {
			t.Fatalf("slip %+v, message %+v", s, b.Message())
		}
		donor := b.Run().Donor
		for _, f := range s.Files {
			text, err := os.ReadFile(filepath.Join(dir, f))
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(text), donor) || strings.Contains(f, donor) {
				t.Errorf("%s holds the donor's code", f)
			}
		}
		t.Log(s.Words)
	}
}
