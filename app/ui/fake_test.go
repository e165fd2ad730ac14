package ui

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"time"

	"sectionary/annotate"
	"sectionary/app/bench"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// fake is a bench whose every list is long and whose every word is the longest that is likely, so that the
// layout is tried at its worst. What it does not say itself, a real bench on its start page says.
type fake struct {
	*bench.Bench
	screen  bench.Screen
	tool    bench.Tool
	plane   section.Plane
	empty   bool // a lab without anything in it
	message *bench.Message
	jobs    []bench.Job
	ended   bool
	blanked bool
	openErr error
	calls   []string
	tray    []bench.TrayPhoto
	changed func(bench.Change)
	form    *bench.RackForm
	own     string // what the lab adds to its cautions
	reading bench.ReadingState
	ruler   bool // one was found
	glare   bool // a picture made of two is looked at
	tags    bool // a tag mask is proposed
	sheet   bool // a lens is being measured
}

func newFake() *fake {
	f := &fake{Bench: bench.New(NewRunner(), nil, bench.Options{}), screen: bench.RunScreen, plane: section.Transverse, ended: true}
	for i := range 15 {
		f.tray = append(f.tray, bench.TrayPhoto{ID: string(rune('a' + i)), Words: "IMG_20261108_134455_burst_cover.jpg, taken 8 November 2026, 13:44:55", Preview: image.NewRGBA(image.Rect(0, 0, 84, 63))})
	}
	return f
}

func (f *fake) call(what string) { f.calls = append(f.calls, what) }

func (f *fake) OnChange(g func(bench.Change)) func() { f.changed = g; return func() {} }
func (f *fake) Screen() bench.Screen                 { return f.screen }
func (f *fake) Show(s bench.Screen)                  { f.call("show"); f.screen = s; f.changed(bench.ScreenChanged) }
func (f *fake) Tool() bench.Tool                     { return f.tool }
func (f *fake) SetTool(t bench.Tool)                 { f.call("tool"); f.tool = t; f.changed(bench.SelectionChanged) }
func (f *fake) Key(name string, _ bench.Mods) bool   { f.call("key " + name); return true }
func (f *fake) KeyUp(name string)                    { f.call("up " + name) }
func (f *fake) Undo()                                { f.call("undo") }
func (f *fake) Message() *bench.Message              { return f.message }
func (f *fake) Choose(n int)                         { f.call("choose"); f.message = nil; f.changed(bench.MessageChanged) }
func (f *fake) Dismiss()                             { f.call("dismiss"); f.message = nil; f.changed(bench.MessageChanged) }
func (f *fake) Report(err error)                     { f.call("report " + err.Error()) }
func (f *fake) OpenLab(dir string) error             { f.call("open " + dir); return f.openErr }
func (f *fake) MakePractice()                        { f.call("practice") }
func (f *fake) DropPaths(p []string)                 { f.call("drop " + p[0]) }
func (f *fake) Blanked() bool                        { return f.blanked }
func (f *fake) Jobs() []bench.Job                    { return f.jobs }
func (f *fake) UndoName() string                     { return "move a point of the outline of the left renal vein" }
func (f *fake) RedoName() string                     { return "name the outline" }
func (f *fake) Saved() bench.SavedState {
	return bench.SavedState{Words: "Not saved: the disk is full", Unsafe: true, Failed: true}
}

func (f *fake) Lab() bench.LabInfo {
	return bench.LabInfo{Open: f.screen != bench.StartScreen, Synthetic: true, ReadOnly: true, Dir: "/labs/anatomy/teaching-2026", Name: "Department of Anatomy, teaching lab 2026", Unplaced: len(f.tray), Runs: 3}
}

func (f *fake) Recent() []string {
	return []string{"/srv/department-of-anatomy/shared/teaching/winter-term-2026/transverse-trunk-and-frontal-head", "/labs/two", "/labs/three"}
}

func (f *fake) Run() section.Run {
	if f.empty {
		return section.Run{ID: "r", Donor: "SH-31M", Part: "trunk", Plane: f.plane, First: f.plane.Faces()[0]}
	}
	r := section.Run{ID: "r", Donor: "SH-31M-2026-08", Part: "trunk with both shoulders", Plane: f.plane, First: f.plane.Faces()[0], Length: 509}
	for i := range 24 {
		r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20.5, 19.25, 21.75}, Kerf: 1.25})
	}
	return r
}

func (f *fake) Face() section.Face {
	if f.empty {
		return section.Face{}
	}
	return section.Face{Run: "r", Slab: 13, Facing: f.plane.Faces()[1]}
}

func (f *fake) Info(x section.Face) bench.FaceInfo {
	return bench.FaceInfo{Name: x.Name(), Depth: 259.4, SE: 2.1, PlateID: "p", Photo: x.Slab%2 == 1, Scale: true, Labels: 12, Unlike: "The border is unlike both neighbours' (overlap 90 %, usual in this run 99 %)",
		Words: "259.4 mm from the datum (spread 2.1). Photographed, scale by four corners, sides declared, 12 labels of which 3 are not named yet, paired with 8 landmarks."}
}

func (f *fake) Plate() (atlas.Plate, bool) {
	return atlas.Plate{Face: f.Face(), PhotoUp: section.Anterior}, !f.empty
}

func (f *fake) Closure() bench.ClosureInfo {
	return bench.ClosureInfo{Words: "The run is 8.6 mm too long (limit 6.5). 12 slabs are not measured yet.", By: -8.6, Bad: true,
		Suspect: "Slab 13 is the likeliest mistake: 30.0 mm is written, 20.0 mm would fit.", Slab: 13, Kerf: 1.26}
}

func (f *fake) UnlikeFaces() []bench.UnlikeFace {
	return []bench.UnlikeFace{{Face: section.Face{Run: "r", Slab: 13, Facing: f.plane.Faces()[0]}, Words: "Slab 13, upper face: the border is unlike both neighbours' (overlap 90 %, usual in this run 99 %)"}}
}

func (f *fake) Tray() []bench.TrayPhoto {
	if f.empty {
		return nil
	}
	return f.tray
}

func (f *fake) Series() []bench.SeriesInfo {
	if f.empty {
		return nil
	}
	return []bench.SeriesInfo{
		{UID: "1.2", Words: "CT, soft tissue kernel, 512 x 512 x 640, spacing 0.8 x 0.8 x 1.0 mm", Chosen: true, Warnings: []string{"Slices 212 to 214 are missing (3 mm). The scan cut through them would be invented, so it is hatched."}},
		{UID: "1.3", Words: "MR T1, 256 x 256 x 180, another donor"},
	}
}

func (f *fake) Runs() []bench.RunInfo {
	return []bench.RunInfo{{ID: "r", Words: "SH-31M-2026-08 / transverse / trunk with both shoulders: 24 slabs, 41 photographs"}, {ID: "s", Words: "SH-32F, head, frontal"}}
}

func (f *fake) Agreement() atlas.Agreement {
	if f.empty {
		return atlas.Agreement{}
	}
	return atlas.Agreement{Reference: "2026/118", Ends: time.Date(2027, 3, 31, 0, 0, 0, 0, time.UTC), ChangedBy: "donor office",
		Permitted: map[atlas.Purpose]bool{atlas.Teaching: true, atlas.Exam: true, atlas.OtherInstitution: true}}
}

func (f *fake) Scale() bench.ScaleDraft {
	if f.ruler {
		return bench.ScaleDraft{Mode: bench.TwoTicks, Length: 170, Level: atlas.No, Drop: 25, Camera: 1000,
			Ruler: &bench.FoundRuler{Step: 10, Words: "118 ticks seen, 170 steps of 30.32 pixels (spread 0.02). The steps change by 1.9% along it: the camera leaned, or the lens bends. Four corners or a sheet would tell."},
			Fit:   "0.3298 mm per pixel. Two ticks cannot tell whether the camera leaned.", Ready: true}
	}
	if f.sheet {
		x := bench.ScaleDraft{Mode: bench.ChequerSheet, Level: atlas.No, Ready: true}
		x.Sheet = many(x.Sheet, 140)
		return x
	}
	return bench.ScaleDraft{Mode: bench.FourCorners, Width: 100, Height: 50, Level: atlas.No, Drop: 25, Camera: 1000,
		Needs: "Click the third corner of the plate, going round in one direction.", Fit: "0.1042 x 0.1043 mm per picture dot; the corners fit to 0.21 mm",
		Problem: "The scale plate is 25 mm below the face. Lengths would read 2.5% long. Corrected; spread widened to 0.6%."}
}

func (f *fake) UpChoices() [4]section.Facing {
	return [4]section.Facing{section.Anterior, section.Posterior, section.Left, section.Right}
}
func (f *fake) AsksMirrored() bool { return true }
func (f *fake) Hint() (string, bool) {
	return "Enter, or a click on the first point, closes it. Delete takes the last point back.", true
}
func (f *fake) ScaleInForce() string { return "0.334 mm per pixel (spread 0.6 %)" }
func (f *fake) ScanStep() float64    { return -3.5 }
func (f *fake) MeasureWords() string { return "123.4 mm, spread 0.7" }

func (f *fake) Labels() []bench.LabelRow {
	if f.empty {
		return nil
	}
	out := []bench.LabelRow{{ID: "1", Name: "left common iliac vein with its tributaries", Letter: "v", Kind: "vessel", Side: annotate.Left, Chosen: true, Sure: annotate.Probable, Area: "12.4 cm²",
		Warning: "Label says LEFT common iliac vein; the outline lies right of the midline on this face. Check the face, the side, or record a situs variant."}}
	for i := range 14 {
		out = append(out, bench.LabelRow{ID: string(rune('b' + i)), Name: []string{"psoas major", "", "body of the fourth lumbar vertebra"}[i%3], Letter: []string{"m", "n", "b", "o", "s"}[i%5], Side: annotate.Side(i % 4), Area: "no scale", Missing: "sureness, author", Carried: i%4 == 0})
	}
	return out
}

func (f *fake) Chosen() string { return "1" }

func (f *fake) FindTerms(typed string) []bench.TermRow {
	f.call("find " + typed)
	if typed == "zzz" {
		return nil
	}
	sides := []annotate.Side{annotate.Left, annotate.Right}
	return []bench.TermRow{
		{ID: "A", Name: "splenic vein", Latin: "vena splenica", Letter: "v"},
		{ID: "B", Name: "superficial inferior epigastric vein of the abdominal wall", Latin: "vena epigastrica superficialis", Letter: "v", Paired: true, Sides: sides, Suggested: annotate.Left},
		{ID: "C", Name: "psoas major", Letter: "m", Paired: true, Sides: sides},
	}
}

func (f *fake) NameChosen(id annotate.TermID, side annotate.Side, _ annotate.Sureness) error {
	f.call("name " + string(id) + " " + side.String())
	return nil
}

func (f *fake) PairingReady() (bool, string) {
	if f.empty {
		return false, "The scan is loaded but does not know where the slabs are. Tie one level near the top and one near the bottom."
	}
	return true, ""
}

func (f *fake) Band() string {
	return "Seen from below. Scan view. Not mirrored. Tilt 4.2°, right side 6 mm lower, front edge 3 mm higher. Different bodies: paired by level."
}
func (f *fake) FitWords() string {
	return "Landmarks fit to 1.2 mm; left out, 1.9 mm; at the skin edge expect 3.4 mm. A small residual alone proves little."
}
func (f *fake) LevelTies() []string {
	return []string{"42.0 mm on the run = 812.0 mm on the scan", "402.0 mm = 451.5 mm"}
}

func (f *fake) TieRows() []bench.TieRow {
	if f.empty {
		return nil
	}
	var out []bench.TieRow
	for i := range 9 {
		out = append(out, bench.TieRow{N: i + 1, Residual: 3.4 - float64(i)*0.3, LeaveOneOut: 5.1, Suspect: i == 0})
	}
	out[8].LeaveOneOut = math.NaN()
	return out
}

func (f *fake) Presets() []bench.PresetRow {
	return []bench.PresetRow{{Key: "1", Name: "Soft tissue"}, {Key: "2", Name: "Lung"}, {Key: "3", Name: "Bone"}, {Key: "4", Name: "Brain"}, {Key: "5", Name: "Vessel with contrast"}, {Key: "6", Name: "Wide"}}
}

func (f *fake) Unseen() (hidden, lost []bench.UnseenRow, why string) {
	if f.empty {
		return nil, nil, "Bring in labels made on this scan (on the bench, files of labels): then what no face shows is listed here."
	}
	return []bench.UnseenRow{{Words: "Right superior suprarenal artery: only inside slab 13, 3.8 to 11.8 mm from its first face", Here: true}, {Words: "Gallbladder: only inside slab 14, 3.8 to 11.8 mm from its first face"}},
		[]bench.UnseenRow{{Words: "Thoracic duct: only in the cut after slab 12"}}, ""
}
func (f *fake) Vertebrae() ([]bench.VertebraRow, []string) {
	if f.empty {
		return nil, nil
	}
	return []bench.VertebraRow{{Name: "T9", Words: "T9 at -123.4 mm, counted up from the sacrum"}, {Name: "L1", Words: "L1 at -223.4 mm, nobody said how counted"}},
		[]string{"Level T12 was set by ribs. This donor has 13 rib pairs. Count from C2 or mark as unsure."}
}
func (f *fake) VertebraHere() (string, []string) {
	return "T12, lower third: by usual proportions between the marks.", []string{"Superior mesenteric artery: usual at L1 (measured on scans). L1; 47 %, upper third of L1 to disc L1/L2"}
}
func (f *fake) BookPane() bench.Pane { return &fakePane{} }
func (f *fake) BookKerf() (float64, string, string) {
	return 1.25, "slab 13, lower face", "slab 14, upper face"
}
func (f *fake) BookWords() (string, string, bool) {
	return "The outlines of the two faces overlap by 0.973 (1 is the same), laid best, turned by -12.4°. The two faces of a slab overlap by 0.987 here. Look at this cut: faces a whole slab apart agree better.",
		"Slabs 13 and 14 look exchanged: partner faces overlap by 0.957 as they lie and by 0.992 if the two changed places. Look at both before you believe it; bodies are alike along their length.", true
}

func (f *fake) HandOut() bench.Draft {
	return bench.Draft{Purpose: atlas.PublicWeb, Kind: bench.Exam, Faces: []section.Face{f.Face()}, Languages: []string{"English"}, Title: "Week 3: retroperitoneum and great vessels", Paper: "A4"}
}
func (f *fake) Refusal() string {
	return "May not leave: 'public web' is not in this donor's agreement. In-house teaching and exam are. Only the donor office line can change this."
}

func (f *fake) LastSlip() *bench.Slip {
	if !f.ended {
		return nil
	}
	return &bench.Slip{Code: "K7QX-22", Dir: "/labs/anatomy/hand-outs/K7QX-22", Words: "Handed out as K7QX-22 on 8 November 2026.", Files: []string{"study-slab-13-lower-face-K7QX-22.png", "study-slab-13-lower-face-K7QX-22.pdf", "answer-key-K7QX-22.csv"}}
}

func (f *fake) Reading() bench.ReadingState { return f.reading }
func (f *fake) ReadingWords() string {
	return "14 outlines by Dr Annelie Winterbottom-Schreyvogel, ended 25 November 2026."
}

func (f *fake) CompareRows() []bench.CompareRow {
	if !f.reading.Comparing {
		return nil
	}
	return []bench.CompareRow{
		{First: "1", Second: "a", Name: "left common iliac vein with its tributaries, left", Other: "left common iliac vein with its tributaries, left", Measure: "overlap 0.93 (Dice), edges 0.6 mm apart on average, 12.1 mm at most", Agreed: true},
		{First: "2", Second: "b", Name: "body of the fourth lumbar vertebra", Other: "body of the third lumbar vertebra", Measure: "overlap 0.71 (Dice), edges 2.6 mm apart on average, 12.1 mm at most", Differs: "the names differ", Chosen: true},
		{Second: "c", Other: "psoas major, left", Differs: "only Dr Annelie Winterbottom-Schreyvogel drew it", Discuss: true},
	}
}

func (f *fake) Commands() []bench.Command {
	return []bench.Command{{ID: "a", Label: "Next face along the run", Key: "Down", Group: "run"}, {ID: "b", Label: "Partner face of the same cut, across the kerf", Key: "K", Group: "run"}, {ID: "c", Label: "Outline", Key: "O", Group: "tool"}}
}

// fakePane paints a plain ground and a few blocks, and remembers what the pointer did.
type fakePane struct {
	events []string
	w, h   int
	scale  float64
	at     geom.Px
	point  bool
}

func (p *fakePane) Resize(w, h int, scale float64) { p.w, p.h, p.scale = w, h, scale }
func (p *fakePane) Paint(dst *image.RGBA) {
	draw.Draw(dst, dst.Rect, image.NewUniform(color.RGBA{0x2b, 0x2a, 0x28, 255}), image.Point{}, draw.Src)
	draw.Draw(dst, image.Rect(p.w/6, p.h/6, p.w*5/6, p.h*5/6), image.NewUniform(color.RGBA{0xa0, 0x7a, 0x62, 255}), image.Point{}, draw.Src)
}
func (p *fakePane) Down(at geom.Px, b bench.Button, m bench.Mods) {
	p.at = at
	p.events = append(p.events, []string{"down", "down secondary", "down middle"}[b])
	if m.Clicks > 1 {
		p.events = append(p.events, "double")
	}
}
func (p *fakePane) Drag(at geom.Px)  { p.at = at; p.events = append(p.events, "drag") }
func (p *fakePane) Up(at geom.Px)    { p.at = at; p.events = append(p.events, "up") }
func (p *fakePane) Hover(at geom.Px) { p.at = at; p.point = true; p.events = append(p.events, "hover") }
func (p *fakePane) Leave()           { p.point = false; p.events = append(p.events, "leave") }
func (p *fakePane) Wheel(at geom.Px, n float64, m bench.Mods) {
	p.at = at
	p.events = append(p.events, "wheel")
}
func (p *fakePane) Cursor() bench.Cursor              { return bench.Cross }
func (p *fakePane) Pointer() (geom.Px, float64, bool) { return p.at, 12, p.point }
func (p *fakePane) Wants(bench.Change) bool           { return true }

func (f *fake) FacePane() bench.Pane    { return &fakePane{} }
func (f *fake) ScanPane() bench.Pane    { return &fakePane{} }
func (f *fake) RulerPane() bench.Pane   { return &fakePane{} }
func (f *fake) StripPane() bench.Pane   { return &fakePane{} }
func (f *fake) PreviewPane() bench.Pane { return &fakePane{} }

func (f *fake) Intake() bench.Intake {
	if f.empty {
		return bench.Intake{}
	}
	i := bench.Intake{Running: true, Done: 117, Total: 200, Left: 83, Words: "117 of 200 taken in. 48 more wait for their turn.",
		Twins: []string{"IMG_20261108_134455_burst_cover.jpg is here already: kept as an earlier picture of slab 13, lower face."}}
	for range 9 {
		i.Faults = append(i.Faults, bench.IntakeFault{Name: "IMG_20261108_134455_burst_cover.jpg",
			Words: "The picture is damaged. photo: picture is damaged: jpeg: unexpected EOF. Copy it from the card again."})
	}
	return i
}

func (f *fake) Table() bench.TableInfo {
	if f.empty {
		return bench.TableInfo{Words: "No prints on the table.", Order: "slab 1, upper, slab 1, lower, …"}
	}
	return bench.TableInfo{Prints: 200, Chosen: 1, Words: "200 prints on the table. 117 chosen.", Edge: "Slab 13, lower face has a picture", EdgeTaken: true,
		Print: "117. 2026-11-08 13:44:55.123\nTaken at the same time as print 116: which of them came first is a guess.\nGlare over 12.3 % of the face. Dry the face, move the lamps lower and to the sides, or use crossed polarisers.",
		Sides: [2]section.Facing{f.plane.Faces()[1], f.plane.Faces()[0]}, Order: "slab 13, lower, slab 14, upper, slab 14, lower, slab 15, upper, …",
		Proposed: f.ended, Proposal: "188 prints would lie; 12 would stay on the table.", Mirrored: 117}
}

func (f *fake) AgainWaits() bool { return false }
func (f *fake) OldPictures() int {
	if f.empty {
		return 0
	}
	return 14
}

func (f *fake) Again() bench.AgainInfo {
	i := bench.AgainInfo{Laying: !f.ended, Face: "Slab 13, lower face", Warn: true, AsksMirrored: true, Outlines: true, Offers: 5,
		State: "1 point is more than 2 mm off what the others say and moves nothing; the other 11 agree within 1.4 mm.",
		Next:  "5 points are proposed, marked ?. Look at each on both pictures, then take them (Y).",
		Why:   "Four points always fit, so nothing checks them: every outline will have to be looked at.",
		Exams: []string{"Practical examination, thorax and abdomen, winter term, station 4 (X, Y)", "Practical examination, thorax and abdomen, winter term, station 14 (Z)"},
		Outcome: []string{"24 outlines come over.", "11 of them must be looked at: a point near them is more than 2 mm off, or nothing checks it.", "The tag mask must be looked at: the tag may lie elsewhere.",
			"2 outlines have no place on the new picture and stay on the earlier one: left superior pulmonary vein, right sternocleidomastoid muscle.", "The scale comes over by the points; its spread grows from 0.4 % to 1.2 %."}}
	for n := range 12 {
		i.Ties = append(i.Ties, bench.AgainTie{N: n + 1, MM: 12.4, LeftOut: n == 0, Words: "Point 12: 12.4 mm off, left out"})
	}
	return i
}

func (f *fake) LookAgain() []bench.LookRow {
	if f.empty || f.reading.There {
		return nil
	}
	return []bench.LookRow{{N: 1, Name: "superficial branch of the external pudendal artery, left", Words: "the nearest point is 12.4 mm off", Chosen: true},
		{N: 2, Name: "The face's border", Words: "how far off cannot be told"}, {N: 3, Name: "The tag mask", Words: "the tag may lie elsewhere now"}}
}

func (f *fake) LookWords() string { return "13 things to look at again on 12 faces." }

func (f *fake) EarlierPictures() []bench.EarlierRow {
	if f.empty {
		return nil
	}
	return []bench.EarlierRow{{ID: "a", Words: "Replaced 25 November 2026, 24 outlines", Shown: true}, {ID: "b", Words: "Replaced 25 September 2026, 24 outlines"}}
}

func (f *fake) Glare() bench.GlareInfo {
	if !f.glare {
		return bench.GlareInfo{Offered: true}
	}
	return bench.GlareInfo{Offered: true, Made: true, Words: "Of the face 12.4% is from the second picture. 10.55% shone before, 0.12% does now. The second lay turned by -2.0° and 117 pixels off, and was laid on the first."}
}

func (f *fake) ProposedMask() (bench.MaskProposal, bool) {
	return bench.MaskProposal{Words: "The tag of slab 13, upper face lay where the dashed box is. Enter covers it here, too."}, f.tags
}

func (f *fake) Border() bench.BorderInfo {
	return bench.BorderInfo{Drawn: true, Proposed: true, Words: "Found: 12 pieces. Nothing is kept yet."}
}

// many are n of what a list holds, whatever that is.
func many[T any](_ []T, n int) []T { return make([]T, n) }
