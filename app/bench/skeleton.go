package bench

import (
	"image"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

type core struct {
	r     Runner
	terms *annotate.Terms
	o     Options
}

func newBench(r Runner, terms *annotate.Terms, o Options) *Bench {
	return &Bench{core{r: r, terms: terms, o: o}}
}

// OnChange calls f after every change, until stop.
func (b *Bench) OnChange(f func(Change)) (stop func()) { return func() {} }

// Screen is where the person is.
func (b *Bench) Screen() Screen { return StartScreen }

// Show goes to a screen; it stays where it is and says why when there is nothing to show there.
func (b *Bench) Show(s Screen) {}

// Back goes one step back: closes the draft, puts the tool away, leaves the screen. Always safe.
func (b *Bench) Back() {}

// Blank hides or shows everything at once; while hidden, panes paint only their ground.
func (b *Bench) Blank() {}

// Blanked reports whether everything is hidden.
func (b *Bench) Blanked() bool { return false }

// SetPalette changes the colours of the panes.
func (b *Bench) SetPalette(p Palette) {}

// SetAuthor sets who labels and signs from now on.
func (b *Bench) SetAuthor(name string) {}

// Author is who labels.
func (b *Bench) Author() string { return "" }

// Quit saves everything and ends all jobs. It returns an error when something could not be saved.
func (b *Bench) Quit() error { return nil }

// LosingFocus saves now.
func (b *Bench) LosingFocus() {}

// Jobs lists the work under way.
func (b *Bench) Jobs() []Job { return nil }

// CancelJob stops one.
func (b *Bench) CancelJob(id int) {}

// Message is what a person must know or decide now, nil when nothing.
func (b *Bench) Message() *Message { return nil }

// Choose answers the message with choice n and closes it.
func (b *Bench) Choose(n int) {}

// Dismiss closes the message without a choice.
func (b *Bench) Dismiss() {}

// Report shows an error as a message.
func (b *Bench) Report(err error) {}

// Explain turns an error into words: what happened and what to do.
func Explain(err error) Message { return Message{} }

// Word returns the words for a key of the table, with its gaps filled as fmt does.
func Word(key string, gaps ...any) string { return key }

// CreateLab makes a lab in an empty folder and opens it.
func (b *Bench) CreateLab(dir string) error { return nil }

// OpenLab opens a lab; when it is open elsewhere a message offers reading only.
func (b *Bench) OpenLab(dir string) error { return nil }

// OpenLabReadOnly opens a lab without the right to change it.
func (b *Bench) OpenLabReadOnly(dir string) error { return nil }

// MakePractice opens the practice lab, building it first when it is not there yet, as a job.
func (b *Bench) MakePractice() {}

// CloseLab saves and goes back to the start page.
func (b *Bench) CloseLab() error { return nil }

// Lab tells about the open lab.
func (b *Bench) Lab() LabInfo { return LabInfo{} }

// Recent lists folders of labs opened before, the latest first.
func (b *Bench) Recent() []string { return nil }

// BeginRun adds a run, making the lab and the donor when they are not there.
func (b *Bench) BeginRun(n NewRun) error { return nil }

// Runs lists the runs of the lab.
func (b *Bench) Runs() []RunInfo { return nil }

// ChooseRun opens a run on the ruler.
func (b *Bench) ChooseRun(id string) {}

// Run is the chosen run, the zero Run when none.
func (b *Bench) Run() section.Run { return section.Run{} }

// Face is the chosen face, the zero Face when none.
func (b *Bench) Face() section.Face { return section.Face{} }

// ChooseFace chooses a face of the run.
func (b *Bench) ChooseFace(f section.Face) {}

// Step goes n faces along the run, stopping at its ends.
func (b *Bench) Step(n int) {}

// StepSlab goes n slabs along the run to the same kind of face.
func (b *Bench) StepSlab(n int) {}

// Across goes to the partner face, on the other side of the same cut.
func (b *Bench) Across() {}

// OtherFace goes to the other face of the same slab.
func (b *Bench) OtherFace() {}

// Info tells about any face of the run.
func (b *Bench) Info(f section.Face) FaceInfo { return FaceInfo{} }

// Plate is the chosen face as it stands, drafts left out.
func (b *Bench) Plate() (p atlas.Plate, ok bool) { return }

// SetSlab writes the thicknesses (mm, 0 where not measured) and the kerf after slab number n.
func (b *Bench) SetSlab(n int, thickness [3]float64, kerf float64) error { return nil }

// InsertSlab puts a slab with the run's usual thickness after slab number n, 0 for before the first.
func (b *Bench) InsertSlab(n int) error { return nil }

// SplitSlab cuts slab number n in two halves with the run's usual kerf between.
func (b *Bench) SplitSlab(n int) error { return nil }

// RemoveSlab takes slab number n out of the run; refused while a face of it has a photograph.
func (b *Bench) RemoveSlab(n int) error { return nil }

// SetLength writes the length before cutting in mm, 0 for not measured.
func (b *Bench) SetLength(mm float64) error { return nil }

// Closure tells whether thickness and kerf add up to the length, in words; bad when beyond the limit.
func (b *Bench) Closure() (words string, bad bool) { return }

// AddPhotos takes photographs in, as a job: a single one goes onto the chosen face when that has none, all others
// into the tray in the order they were taken.
func (b *Bench) AddPhotos(paths []string) {}

// Tray lists photographs not yet laid on a face, in the order they were taken.
func (b *Bench) Tray() []TrayPhoto { return nil }

// Place lays a photograph of the tray on a face.
func (b *Bench) Place(id string, f section.Face) error { return nil }

// Unplace takes the photograph off the chosen face and back into the tray.
func (b *Bench) Unplace() error { return nil }

// LayTwoPerCut lays the tray on the run's empty faces in order, two for each cut.
func (b *Bench) LayTwoPerCut() error { return nil }

// AddScan looks through a folder, archive or file for scan series, as a job. One usable series is taken at once, of
// several Survey asks.
func (b *Bench) AddScan(path string) {}

// Survey lists the series found and waiting for an answer.
func (b *Bench) Survey() []SurveyRow { return nil }

// TakeSeries takes one series of the survey in, as a job.
func (b *Bench) TakeSeries(uid string) {}

// ForgetSurvey leaves them all.
func (b *Bench) ForgetSurvey() {}

// Series lists the scan series of the run's donor, then others of the lab.
func (b *Bench) Series() []SeriesInfo { return nil }

// ChooseSeries pairs with this series.
func (b *Bench) ChooseSeries(uid string) {}

// DropPaths takes what was dropped on the window: pictures as photographs, anything else as a scan.
func (b *Bench) DropPaths(paths []string) {}

// Agreement is what the donor of the run agreed to.
func (b *Bench) Agreement() atlas.Agreement { return atlas.Agreement{} }

// SetAgreement records it.
func (b *Bench) SetAgreement(a atlas.Agreement) error { return nil }

// Tool is the tool in hand.
func (b *Bench) Tool() Tool { return ToolPan }

// SetTool takes another tool, or says why it cannot be used.
func (b *Bench) SetTool(t Tool) {}

// Undo takes back the last step of the run (on the ruler) or of the face.
func (b *Bench) Undo() {}

// Redo does it again.
func (b *Bench) Redo() {}

// UndoName names the step Undo would take back, "" when there is none.
func (b *Bench) UndoName() string { return "" }

// RedoName names the step Redo would do again.
func (b *Bench) RedoName() string { return "" }

// Saved tells whether all is on disk.
func (b *Bench) Saved() SavedState { return SavedState{} }

// Scale is the scale being laid.
func (b *Bench) Scale() ScaleDraft { return ScaleDraft{} }

// SetScaleMode starts again with two ticks or four corners.
func (b *Bench) SetScaleMode(m ScaleMode) {}

// SetScaleLength says how many mm lie between the two ticks.
func (b *Bench) SetScaleLength(mm float64) {}

// SetScaleSize says the plate's width and height in mm.
func (b *Bench) SetScaleSize(width, height float64) {}

// SetScaleLevel answers "Is the plate level with the face?"; with No, drop and camera in mm correct the lengths.
func (b *Bench) SetScaleLevel(a atlas.Answer, drop, camera float64) {}

// AcceptScale makes the draft the scale of the face, one undo step.
func (b *Bench) AcceptScale() error { return nil }

// ClearScale takes the scale away.
func (b *Bench) ClearScale() {}

// UpChoices are the directions that can be at the top of the photograph.
func (b *Bench) UpChoices() [4]section.Facing { return [4]section.Facing{} }

// SetPhotoUp says which side of the body is at the top of the photograph as taken.
func (b *Bench) SetPhotoUp(f section.Facing) {}

// AsksMirrored reports whether the camera's tag holds a mirror that must be answered before letters show.
func (b *Bench) AsksMirrored() bool { return false }

// SetMirrored answers whether the photograph shows the face mirrored.
func (b *Bench) SetMirrored(a atlas.Answer) {}

// Edges are the letters round the face in the view shown.
func (b *Bench) Edges() section.Edges { return section.UnknownEdges }

// View is how the face is shown.
func (b *Bench) View() section.View { return section.Bench }

// SetView shows the face another way.
func (b *Bench) SetView(v section.View) {}

// ToggleView changes between bench view and scan view.
func (b *Bench) ToggleView() {}

// FitView lets the whole face be seen again.
func (b *Bench) FitView() {}

// SetGrid shows or hides the 10 mm grid.
func (b *Bench) SetGrid(on bool) {}

// Grid reports whether the 10 mm grid is shown.
func (b *Bench) Grid() bool { return false }

// SetFreehand chooses between drawing by points and freehand.
func (b *Bench) SetFreehand(on bool) {}

// Freehand reports how outlines are drawn.
func (b *Bench) Freehand() bool { return false }

// CloseOutline closes the outline being drawn.
func (b *Bench) CloseOutline() {}

// Labels lists the labels of the face, the latest first.
func (b *Bench) Labels() []LabelRow { return nil }

// ChooseLabel chooses an outline; "" chooses none.
func (b *Bench) ChooseLabel(id string) {}

// Chosen is the id of the chosen outline.
func (b *Bench) Chosen() string { return "" }

// FindTerms finds structures by part-words, best first.
func (b *Bench) FindTerms(typed string) []TermRow { return nil }

// NameChosen names the chosen outline. It fails with annotate.ErrSide when the structure does not take that side.
func (b *Bench) NameChosen(id annotate.TermID, side annotate.Side, sure annotate.Sureness) error {
	return nil
}

// KeepLocalTerm adds a structure of the lab's own and returns its id.
func (b *Bench) KeepLocalTerm(name string, kind annotate.Kind, paired bool) (annotate.TermID, error) {
	return "", nil
}

// SetSure says how sure the name of the chosen outline is.
func (b *Bench) SetSure(s annotate.Sureness) {}

// ConfirmChosen accepts a carried outline as checked.
func (b *Bench) ConfirmChosen() {}

// RemoveChosen removes the chosen point, or the chosen outline.
func (b *Bench) RemoveChosen() {}

// MeasureWords is the length measured, "no scale" without one.
func (b *Bench) MeasureWords() string { return "" }

// PairingReady tells whether face and scan can be compared, and why not.
func (b *Bench) PairingReady() (ok bool, why string) { return }

// TieRows lists the landmarks found on both.
func (b *Bench) TieRows() []TieRow { return nil }

// RemoveTie removes landmark n.
func (b *Bench) RemoveTie(n int) {}

// TieLevelHere declares the chosen face and the shown place of the scan the same level.
func (b *Bench) TieLevelHere() {}

// RemoveLevelTie removes tie level n, from 0.
func (b *Bench) RemoveLevelTie(n int) {}

// LevelTies lists the tie levels in words.
func (b *Bench) LevelTies() []string { return nil }

// SameBody reports whether the scan and the run are of the same donor.
func (b *Bench) SameBody() bool { return false }

// SetSameBody says whether they are.
func (b *Bench) SetSameBody(same bool) {}

// Band says in plain words how face and scan stand to each other.
func (b *Bench) Band() string { return "" }

// FitWords tells how good the pairing is: residual, leave-one-out, worst error at the edge.
func (b *Bench) FitWords() string { return "" }

// StepScan moves the cut n slices along its normal, off the face.
func (b *Bench) StepScan(n int) {}

// ScanHome brings the cut back onto the face.
func (b *Bench) ScanHome() {}

// Window is the scan's window.
func (b *Bench) Window() scan.Window { return scan.Window{} }

// SetWindow sets it.
func (b *Bench) SetWindow(w scan.Window) {}

// Presets lists the windows by tissue with keys 1 to 9.
func (b *Bench) Presets() []PresetRow { return nil }

// Narrower and Wider change the window's width.
func (b *Bench) Narrower() {}

// Wider widens the window.
func (b *Bench) Wider() {}

// HandOut is the hand-out being prepared.
func (b *Bench) HandOut() Draft { return Draft{} }

// SetHandOut replaces the draft.
func (b *Bench) SetHandOut(d Draft) {}

// Refusal says why the draft may not leave, "" when it may.
func (b *Bench) Refusal() string { return "" }

// Release writes the finished files into dir, as a job; LastSlip tells what came of it.
func (b *Bench) Release(dir string) {}

// LastSlip is the last hand-out of this sitting, nil when none.
func (b *Bench) LastSlip() *Slip { return nil }

// FacePane is the face on its frame.
func (b *Bench) FacePane() Pane { return blankPane{} }

// ScanPane is the cut of the scan beside the face.
func (b *Bench) ScanPane() Pane { return blankPane{} }

// RulerPane is the run as a body-long ruler.
func (b *Bench) RulerPane() Pane { return blankPane{} }

// StripPane is 60 mm of the ruler round the face, with kerf and slab inside, below the pairing.
func (b *Bench) StripPane() Pane { return blankPane{} }

// PreviewPane shows the picture to be handed out.
func (b *Bench) PreviewPane() Pane { return blankPane{} }

// Commands lists everything the program can do.
func (b *Bench) Commands() []Command { return nil }

// Do runs a command by its id and reports whether it could.
func (b *Bench) Do(id string) bool { return false }

// Key takes a key pressed ("Up", "Page Down", "A", "[", "Escape", "Return", "Delete", "F9"); it reports whether it was used.
func (b *Bench) Key(name string, m Mods) bool { return false }

// KeyUp takes a key let go.
func (b *Bench) KeyUp(name string) {}

type blankPane struct{}

func (blankPane) Resize(w, h int, scale float64)                 {}
func (blankPane) Paint(dst *image.RGBA)                          {}
func (blankPane) Down(at geom.Px, b Button, m Mods)              {}
func (blankPane) Drag(at geom.Px)                                {}
func (blankPane) Up(at geom.Px)                                  {}
func (blankPane) Hover(at geom.Px)                               {}
func (blankPane) Leave()                                         {}
func (blankPane) Wheel(at geom.Px, notches float64, m Mods)      {}
func (blankPane) Cursor() Cursor                                 { return Default }
func (blankPane) Pointer() (at geom.Px, radius float64, ok bool) { return }
func (blankPane) Wants(c Change) bool                            { return false }
