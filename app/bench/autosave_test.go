package bench

import (
	"errors"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// doStep makes one undo step on the open face.
func doStep(t *testing.T, b *Bench, note string) {
	t.Helper()
	err := b.edit(note, "", func(p atlas.Plate) (atlas.Plate, error) { p.Retired = !p.Retired; return p, nil })
	if err != nil {
		t.Fatal(err)
	}
}

// The pauses are those of the house plan: 2 s after the last step, 4 s after the first one not on disk.
func TestAutosave(t *testing.T) {
	b, q, m, _ := onBench(t, 400, 300)
	doStep(t, b, "one")
	q.pass(1900 * time.Millisecond)
	if m.saves != 0 || !b.Saved().Unsafe {
		t.Fatalf("saved %d times before the pause was over", m.saves)
	}
	q.pass(200 * time.Millisecond)
	if m.saves != 1 || b.Saved().Unsafe {
		t.Fatalf("saved %d times after the pause", m.saves)
	}
	for range 10 { // constant editing: a step every second
		doStep(t, b, "more")
		q.pass(time.Second)
	}
	if m.saves != 3 {
		t.Fatalf("ten seconds of constant editing saved %d times, want 2 more", m.saves-1)
	}
	doStep(t, b, "last")
	b.ChooseFace(face(1, section.Superior)) // leaving the face
	if m.saves != 4 {
		t.Fatal("leaving the face did not save")
	}
	b.ChooseFace(face(2, section.Inferior))
	doStep(t, b, "quit")
	if err := b.Quit(); err != nil || m.saves != 5 {
		t.Fatalf("quitting: %v, saved %d times", err, m.saves)
	}
	if b.Lab().Open || b.Screen() != StartScreen {
		t.Fatal("quitting leaves the lab open")
	}
}

// Saving takes nothing from undo, and undo itself is saved.
func TestUndoAfterSaving(t *testing.T) {
	b, q, m, _ := onBench(t, 400, 300)
	doStep(t, b, "one")
	q.pass(3 * time.Second)
	b.Undo()
	q.pass(3 * time.Second)
	if m.saves != 2 || m.plates["p2"].Retired || m.plates["p2"].Rev != 3 {
		t.Fatalf("saves %d, disk %+v", m.saves, m.plates["p2"].Rev)
	}
	if b.RedoName() != "one" {
		t.Fatalf("redo is %q", b.RedoName())
	}
}

func TestChangedElsewhere(t *testing.T) {
	for choice, want := range map[int]string{0: "mine", 1: "theirs", 2: "later"} {
		b, q, m, _ := onBench(t, 400, 300)
		other := m.plates["p2"]
		other.PhotoUp, other.Rev = section.Posterior, other.Rev+1
		m.plates["p2"] = other
		doStep(t, b, "mine")
		q.pass(3 * time.Second)
		msg := b.Message()
		if msg == nil || len(msg.Choices) != 3 || m.saves != 0 {
			t.Fatalf("%s: message %+v, saves %d", want, msg, m.saves)
		}
		if p, _ := b.Plate(); !p.Retired {
			t.Fatalf("%s: the person's value is gone while the question is open", want)
		}
		b.Choose(choice)
		q.pass(3 * time.Second)
		p, _ := b.Plate()
		switch want {
		case "mine":
			if d := m.plates["p2"]; !d.Retired || d.PhotoUp != section.Anterior || d.Rev != 3 {
				t.Errorf("mine: disk %+v", d)
			}
		case "theirs":
			if p.PhotoUp != section.Posterior || b.Saved().Unsafe {
				t.Errorf("theirs: shown %v", p.PhotoUp)
			}
			b.Undo()
			if p, _ := b.Plate(); !p.Retired {
				t.Error("theirs: undo does not bring mine back")
			}
		case "later":
			if !p.Retired || m.saves != 0 || !b.Saved().Unsafe {
				t.Error("later: something was done")
			}
			if err := b.Quit(); !errors.Is(err, atlas.ErrChanged) {
				t.Errorf("later: quitting loses it: %v", err)
			}
		}
	}
}

func TestFailedSaveIsSaidAndTriedAgain(t *testing.T) {
	b, q, m, _ := onBench(t, 400, 300)
	m.fail = errors.New("disk full")
	doStep(t, b, "one")
	q.pass(3 * time.Second)
	if b.Message() == nil || !b.Saved().Failed {
		t.Fatal("a failed save was not said")
	}
	doStep(t, b, "two")
	q.pass(3 * time.Second)
	if m.saves != 1 || b.Saved().Failed {
		t.Fatalf("the next pause did not save: %d", m.saves)
	}
}

func TestReadOnlyChangesNothing(t *testing.T) {
	b, _, m := sample(t)
	m.mode = atlas.ReadOnly
	b.ChooseFace(face(2, section.Inferior))
	b.Show(FaceScreen)
	b.SetPhotoUp(section.Posterior)
	if p, _ := b.Plate(); p.PhotoUp != section.Anterior || b.Message() == nil {
		t.Fatal("a lab open for reading was changed, or nothing was said")
	}
	b.Dismiss()
	b.SetTool(ToolOutline)
	if b.Tool() != ToolPan || b.Message() == nil {
		t.Fatal("a tool that changes was handed out")
	}
	if err := b.InsertSlab(1); !errors.Is(err, atlas.ErrReadOnly) {
		t.Fatal(err)
	}
}

// Results that come late must not touch what is on the bench now.
func TestLateResults(t *testing.T) {
	t.Run("photograph of a face left", func(t *testing.T) {
		b, q, m := sample(t)
		b.ChooseFace(face(1, section.Superior))
		early, late := q.workOn(0), q.workOn(0)
		b.ChooseFace(face(2, section.Inferior))
		q.run()
		here := b.doc.picture
		late()
		early() // a preview after its photograph changes nothing either
		if b.doc.picture != here || here != m.photos["p2"] {
			t.Fatal("a late photograph came onto another face")
		}
	})
	t.Run("photograph of a lab closed", func(t *testing.T) {
		b, q, _ := sample(t)
		b.ChooseFace(face(1, section.Superior))
		early, late := q.workOn(0), q.workOn(0)
		if err := b.CloseLab(); err != nil {
			t.Fatal(err)
		}
		early()
		late()
		if _, ok := b.Plate(); ok || len(b.Jobs()) != 0 {
			t.Fatal("a late photograph opened something")
		}
	})
	t.Run("scan of a series left", func(t *testing.T) {
		b, q, m := sample(t)
		other := m.series[0]
		other.UID = "other"
		m.series = append(m.series, other)
		m.vols["other"] = bodyVolume(t)
		_ = b.readLab()
		b.ChooseFace(face(2, section.Inferior))
		q.run()
		b.Show(PairingScreen)
		done := q.workOn(0)
		b.ChooseSeries("other")
		q.run()
		done()
		if b.pair.volume != m.vols["other"] {
			t.Fatal("a late scan took the place of the chosen one")
		}
	})
	t.Run("facts older than an edit", func(t *testing.T) {
		b, q, _ := sample(t)
		b.rule.facts = map[section.Face]fact{}
		b.readFaces()
		done := q.workOn(0)
		b.ChooseFace(face(2, section.Inferior))
		b.draw.outline = square(300, 300, 40).Outer
		b.CloseOutline()
		q.pass(3 * time.Second)
		done()
		if n := b.Info(face(2, section.Inferior)).Labels; n != 1 {
			t.Fatalf("the ruler shows %d labels after a late reading, want 1", n)
		}
	})
}

func TestJobsAndMessages(t *testing.T) {
	b, q, _ := sample(t)
	b.ChooseFace(face(1, section.Superior))
	jobs := b.Jobs()
	if len(jobs) != 1 { // the photograph; its preview is there before one could stop it
		t.Fatalf("jobs %+v", jobs)
	}
	b.CancelJob(jobs[0].ID)
	q.run()
	if len(b.Jobs()) != 0 {
		t.Fatal("the job is still there")
	}
	b.Report(annotate.ErrSide)
	b.Report(annotate.ErrSide)
	b.Report(atlas.ErrReadOnly)
	first := b.Message().Title
	b.Back() // Esc closes the message first
	if second := b.Message(); second == nil || second.Title == first {
		t.Fatal("the same message came twice, or the next did not come")
	}
	b.Back()
	if b.Message() != nil || b.Screen() != RunScreen {
		t.Fatal("closing a message left the screen")
	}
}
