package ui

import (
	"time"

	"sectionary/app/bench"
	"sectionary/slices/section"
)

// What the fake bench says of exams, study packs and the drill: many of everything, and the longest words.

func (f *fake) study() bool { return f.screen == bench.StudyScreen || f.screen == bench.DrillScreen }

func (f *fake) Offers(s bench.Screen) bool {
	if f.study() {
		return s == bench.StudyScreen || s == bench.DrillScreen
	}
	return f.screen != bench.StartScreen && s != bench.StartScreen && s != bench.StudyScreen && s != bench.DrillScreen && !s.Fills()
}

func (f *fake) Exam() bench.ExamInfo {
	if f.empty {
		return bench.ExamInfo{Paper: "A4", Seed: 7}
	}
	return bench.ExamInfo{Title: "Winter term: retroperitoneum, great vessels and the walls of the trunk", Paper: "A4", Seed: 18446744073709551615,
		Notes:    []string{"24 stations, 48 marks.", "4 of 24 stations show a picture that was released before."},
		Warnings: []string{"31 % of the marks come from pictures already released; 20 % is the most that is wise.", "Station 4 shows the answer to station 17: the left renal vein is named in its question."}}
}

func (f *fake) StationsLead() string {
	if f.empty {
		return ""
	}
	return "24 stations. 21 looked at with fresh eyes, 1 sent back, 3 with something to look at."
}

func (f *fake) Stations() []bench.StationRow {
	if f.empty {
		return nil
	}
	var out []bench.StationRow
	for i := range 24 {
		out = append(out, bench.StationRow{ID: string(rune('a' + i)), N: i + 1, Name: []string{"left common iliac vein with its tributaries", "psoas major", "body of the fourth lumbar vertebra"}[i%3],
			Words: "slab 13, lower face · scan cut · accepted · shown before", Look: i%5 == 0, Chosen: i == 3})
	}
	return out
}

func (f *fake) Station() (bench.StationForm, bool) {
	return bench.StationForm{ID: "d", Name: "left renal vein", N: 4, Where: "Slab 13, lower face, seen from below.",
		Checks: []string{"Thin target: the tip is 1.4 mm from the edge.", "The marker lies 1.2 mm from the splenic vein. Candidates could name either.", "The side cannot be told from the picture: it bears no edge letters."},
		Places: []string{"A", "B"}, Questions: 2, Marker: 1, Second: true, Form: 1, Question: "Which organ does the vessel at the arrow drain, and into which vessel does it open?",
		Answer: "left kidney; inferior vena cava", Accepts: "kidney, left; ren sinister", Options: "left kidney; spleen; pancreas; descending colon"}, !f.empty
}

func (f *fake) ExamRefusal() string {
	if f.empty {
		return "An exam with no stations cannot be handed out."
	}
	return f.Refusal()
}

func (f *fake) ExamDone() *bench.Slip {
	if f.empty {
		return nil
	}
	return f.LastSlip()
}

func (f *fake) Askable() []bench.AskRow {
	var out []bench.AskRow
	for i := range 60 {
		out = append(out, bench.AskRow{ID: string(rune('a' + i)), Name: "superficial inferior epigastric vein of the abdominal wall", Where: "slab 13, lower face", Kind: "vessel", Ready: i%4 != 0,
			Why: "not signed by a second person: sign it on the bench (C)", On: i%3 == 1})
	}
	return out
}

func (f *fake) Blueprint() []bench.BlueprintRow {
	var out []bench.BlueprintRow
	for i := range 14 {
		out = append(out, bench.BlueprintRow{Region: "abdomen and retroperitoneum", System: "blood vessels", Plane: "transverse", Picture: "photograph", There: 120 + i, Wanted: 3, Actual: i % 4})
	}
	return out
}

func (f *fake) BlueprintGaps() []string {
	return []string{"1 of 3 wanted in abdomen and retroperitoneum, nerves, transverse, scan: no more labels there are signed and certain."}
}

func (f *fake) Fresh() bench.FreshInfo {
	return bench.FreshInfo{N: 4, Of: 24, Ready: true, SentBack: true, Words: "Sent back by AB on 8 November 2026: the arrow could be taken for the splenic vein, and its letter lies on the edge of the picture."}
}

func (f *fake) StationTime() time.Duration { return 90 * time.Second }

func (f *fake) ParcelRefusal(bench.ParcelDraft) string { return f.Refusal() }

func (f *fake) Pack() bench.PackDraft {
	return bench.PackDraft{Title: "Week 3: retroperitoneum and great vessels", Cuts: true, Asks: []string{"name", "side"}, Faces: []section.Face{f.Face()}}
}
func (f *fake) PackWords() string {
	return "12 faces with 140 names, 9 cuts of the scan, 280 questions. It can be read until 31 March 2027."
}
func (f *fake) PackRefusal() string { return f.Refusal() }
func (f *fake) PackDone() string {
	return "Study pack K7QX-22 made: /labs/anatomy/teaching-2026/hand-outs/week-3-K7QX-22.zip. 31 files were searched."
}

func (f *fake) Study() bench.StudyInfo {
	if !f.study() {
		return bench.StudyInfo{}
	}
	i := bench.StudyInfo{Lead: "Week 3: retroperitoneum and great vessels. Can be read until 31 March 2027.", At: 3, Where: "Slab 13, lower face, seen from below",
		Facts: "259.4 mm from the datum. Not mirrored. Tilt 4.2°.", Names: true, Compare: true, HasScan: true, HasDrill: true, Stacked: true,
		Spread: "24 students placed this face: middle +12 mm, half of them between -8 and +31, all between -64 and +120 (above zero is too far along)."}
	for range 24 {
		i.Faces = append(i.Faces, "slab 13, lower face")
		i.Known += "superficial inferior epigastric vein of the abdominal wall\n"
	}
	return i
}

func (f *fake) Drill() bench.DrillInfo {
	if f.empty {
		return bench.DrillInfo{Nothing: true, HasUnseen: true, Question: "Nothing due. Take an unseen face?", Lead: "0 due today, 112 unseen."}
	}
	i := bench.DrillInfo{Turn: 3, Lead: "7 of 24 due today", Question: "What does the marker point at? Say its side if it has one.", Hint: "On this face: left psoas major.", HasHint: true}
	if f.ended {
		i.Answered, i.Result = true, "Not right: this is the left common iliac vein with its tributaries."
		i.Reveal = "You wrote: right common iliac artery. It lies on slab 13, lower face, 259.4 mm from the datum. It comes again today."
		i.Spread = "12 of this class placed it 4 to 61 mm away, half of them within 12 mm."
	}
	return i
}

func (f *fake) StationPane() bench.Pane   { return &fakePane{} }
func (f *fake) FreshPane() bench.Pane     { return &fakePane{} }
func (f *fake) RoomPane() bench.Pane      { return &fakePane{} }
func (f *fake) StudyPane() bench.Pane     { return &fakePane{} }
func (f *fake) StudyScanPane() bench.Pane { return &fakePane{} }
func (f *fake) DrillPane() bench.Pane     { return &fakePane{} }
func (f *fake) DrillRuler() bench.Pane    { return &fakePane{} }

func (f *fake) Exams() []bench.ExamRow {
	return []bench.ExamRow{{ID: "a", Words: "Winter term: retroperitoneum, great vessels and the walls of the trunk, 24 stations", Chosen: true}, {ID: "b", Words: "Untitled, 3 stations"}}
}

func (f *fake) Elsewhere(done func([]string)) {
	done([]string{"The scan at this face: slab 13, lower face · shown before", "The partner face: slab 14, upper face", "Another plane: trunk with both shoulders, slab 3, front face"})
}
