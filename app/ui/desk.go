package ui

import (
	"image/color"
	"time"

	"sectionary/annotate"
	"sectionary/app/bench"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// desk is what the window needs of a bench. Tests of the layout hand in one whose every word is the longest.
type desk interface {
	OnChange(func(bench.Change)) (stop func())
	Screen() bench.Screen
	Show(bench.Screen)
	Back()
	Blank()
	Blanked() bool
	SetPalette(bench.Palette)
	SetAuthor(string)
	Author() string
	Quit() error
	Jobs() []bench.Job
	CancelJob(id int)
	Message() *bench.Message
	Choose(n int)
	Dismiss()
	Report(error)
	Commands() []bench.Command
	Do(id string) bool
	Key(name string, m bench.Mods) bool
	Hint() (words string, warn bool)
	KeyUp(name string)

	OpenLab(dir string) error
	MakePractice()
	CloseLab() error
	Lab() bench.LabInfo
	Recent() []string
	BeginRun(bench.NewRun) error
	Runs() []bench.RunInfo
	ChooseRun(id string)
	Run() section.Run
	Face() section.Face
	Info(section.Face) bench.FaceInfo
	Plate() (atlas.Plate, bool)
	SetSlab(n int, thickness [3]float64, kerf float64) error
	InsertSlab(n int) error
	SplitSlab(n int) error
	RemoveSlab(n int) error
	SetLength(mm float64) error
	Closure() bench.ClosureInfo
	ChooseSuspect()
	ChooseFace(section.Face)
	UnlikeFaces() []bench.UnlikeFace
	CloseByKerf() error
	SetKerf(n int, kerf float64) error
	MoveSlab(n, by int) error
	TurnRound() error
	CountFromOtherEnd() error
	NumbersStand() bool
	SetPiece(section.Limb, section.Facing) error
	Ghost(section.Slab) bool
	FaceName(section.Face) string
	AddPhotos(paths []string)
	Tray() []bench.TrayPhoto
	Place(id string, f section.Face) error
	Unplace() error
	Intake() bench.Intake
	StopIntake()
	GoOnIntake()
	ForgetFaults()
	Table() bench.TableInfo
	SetSequence(bench.Sequence)
	LayChosen()
	TakeOff()
	LookLarge()
	Propose()
	AcceptProposal()
	DropProposal()
	ShiftFrom(by int)
	LeaveOut()
	AnswerMirrored(a atlas.Answer, all bool)
	ReceivingPane() bench.Pane
	PictureCheck() bench.Checked
	CheckRun()
	glareDesk
	ProposedUp() (bench.UpProposal, bool)
	AcceptUp()
	borderDesk
	ProposedMask() (bench.MaskProposal, bool)
	AcceptMask()
	DeclineMask()
	SetMarks(bool)
	Marks() bool
	FindPlace(id string)
	AddScan(path string)
	Survey() []bench.SurveyRow
	SurveyLeft() (left []string, foreign int)
	TakeSeries(uid string)
	ForgetSurvey()
	Series() []bench.SeriesInfo
	ChooseSeries(uid string)
	DropPaths(paths []string)
	Agreement() atlas.Agreement
	SetAgreement(atlas.Agreement) error

	Tool() bench.Tool
	SetTool(bench.Tool)
	Undo()
	Redo()
	UndoName() string
	RedoName() string
	Saved() bench.SavedState
	Scale() bench.ScaleDraft
	SetScaleMode(bench.ScaleMode)
	SetScaleLength(mm float64)
	SetScaleSize(width, height float64)
	SetScaleLevel(a atlas.Answer, drop, camera float64)
	AcceptScale() error
	ClearScale()
	FindRuler()
	Seeking() bool
	SetRulerStep(mm float64)
	ScaleInForce() string
	Stands() []bench.StandRow
	ChooseStand(name string)
	StandWords() string
	KeepStand(name string) error
	RemoveStand(name string)
	ScaleThroughLens() error
	LensWaits() bool
	Sheet() bench.SheetInfo
	OpenSheet(on bool)
	SetSheet(columns, rows int, side float64)
	AddSheetPictures(paths []string)
	ShowSheet(i int)
	AcceptSheet(i int, yes bool)
	DropSheet(i int)
	MeasureLens() error
	FindSheet()
	Batch() bench.BatchInfo
	LookBatch()
	SetBatchColour(on bool)
	CarryScale() error
	TakeBackScale()
	Colour() bench.ColourDraft
	SetColourMode(bench.ColourMode)
	SetCardEdition(old bool)
	SetAsPhotographed(bool)
	AsPhotographed() bool
	AcceptColour() error
	ClearColour()
	ColourInForce() string
	UpChoices() [4]section.Facing
	SetPhotoUp(section.Facing)
	AsksMirrored() bool
	SetMirrored(atlas.Answer)
	Edges() section.Edges
	View() section.View
	SetView(section.View)
	FitView()
	SetGrid(bool)
	Grid() bool
	SetManner(bench.Manner)
	Manner() bench.Manner
	SetInto(bench.Into)
	Into() bench.Into
	SetApart(bool)
	Apart() bool
	FillMore(by float64)
	CloseOutline()
	Labels() []bench.LabelRow
	ChooseLabel(id string)
	Chosen() string
	FindTerms(typed string) []bench.TermRow
	NameChosen(annotate.TermID, annotate.Side, annotate.Sureness) error
	KeepLocalTerm(name string, kind annotate.Kind, paired bool) (annotate.TermID, error)
	SetSure(annotate.Sureness)
	ConfirmChosen()
	RemoveChosen()
	MeasureWords() string
	ScanMeasuring() bool
	ScanMeasureKind() bench.MeasureKind
	SetScanMeasureKind(k bench.MeasureKind)
	ScanMeasureWords() string
	TermParts(annotate.TermID) []bench.TermNode
	TermPath(annotate.TermID) []bench.TermNode
	TermLists() []string
	AddTermList(path string)
	SetNameLanguage(bench.NameLanguage)
	NameLanguage() bench.NameLanguage
	ExportLabels(path string) error
	ImportLabels(path string) error
	SetMeasureKind(bench.MeasureKind)
	MeasureKind() bench.MeasureKind
	MeasureTable() []bench.MeasureRow
	SetSigner(name string)
	Signer() string
	SetNote(text string) error
	Card() (bench.ChosenCard, bool)
	FaceHistory() []string
	Reading() bench.ReadingState
	ReadingWords() string
	BeginReading() error
	PauseReading()
	CompareRows() []bench.CompareRow
	ChooseCompared(row int)
	AgreeCompared() error
	DiscussCompared() error

	PairingReady() (ok bool, why string)
	TieRows() []bench.TieRow
	RemoveTie(n int)
	TieLevelHere()
	RemoveLevelTie(n int)
	LevelTies() []string
	SameBody() bool
	SetSameBody(bool)
	Band() string
	FitWords() string
	Fitted() bool
	WholeWords() string
	OutlinesOnScan() bool
	StepScan(n int)
	ScanHome()
	ScanStep() float64
	Presets() []bench.PresetRow
	Narrower()
	Wider()

	MeasureStretch(done func(bench.StretchTable))
	PrintStretch(paper string) (path string, err error)
	Unseen() (hidden, lost []bench.UnseenRow, why string)
	MarkVertebra(name string, counted int) error
	UnmarkVertebra(name string)
	Vertebrae() (rows []bench.VertebraRow, doubts []string)
	VertebraHere() (level string, usual []string)
	VertebraNames(c bench.SpineCounts) []string
	SpineCounts() bench.SpineCounts
	SetSpineCounts(bench.SpineCounts) error
	OpenBook()
	StepCut(n int)
	SetBookWay(bench.BookWay)
	BookWay() bench.BookWay
	BookWords() (cut, order string, warn bool)
	BookKerf() (kerf float64, first, second string)

	HandOut() bench.Draft
	SetHandOut(bench.Draft)
	Refusal() string
	Release(dir string)
	LastSlip() *bench.Slip

	Role() bench.Role
	SetRole(bench.Role)
	Offers(bench.Screen) bool
	Exam() bench.ExamInfo
	Exams() []bench.ExamRow
	NewExam()
	ChooseExam(id string)
	SetExamTitle(string)
	SetExamSeed(uint64)
	SetExamNoTags(bool)
	SetExamPaper(string)
	StationsLead() string
	Stations() []bench.StationRow
	Station() (bench.StationForm, bool)
	SetStation(bench.StationForm)
	ChooseStation(id string)
	Elsewhere(done func(words []string))
	ShowOn(int)
	ChoosePlace(int)
	ChooseQuestion(int)
	AddQuestion()
	DropQuestion()
	MoveStation(n int)
	RemoveStation()
	Askable() []bench.AskRow
	Ask(in, out []string)
	GoToLabel(id string)
	Blueprint() []bench.BlueprintRow
	BlueprintGaps() []string
	WantBlueprint(i, n int)
	SpreadBlueprint(n int)
	FillBlueprint()
	ExamRefusal() string
	ReleaseExam(dir string)
	ExamDone() *bench.Slip
	LookFresh()
	Fresh() bench.FreshInfo
	SendBack(why string)
	ShowRoom()
	StationTime() time.Duration
	SetStationTime(time.Duration)
	StationPane() bench.Pane
	FreshPane() bench.Pane
	RoomPane() bench.Pane

	ParcelRefusal(bench.ParcelDraft) string
	SendRun(x bench.ParcelDraft, dir string)
	TakeRun(path, dir, donor string) error
	Pack() bench.PackDraft
	PackAsks() []string
	SetPack(bench.PackDraft)
	TogglePackFace(section.Face)
	PackWords() string
	PackRefusal() string
	PackDone() string
	MakePack(dir string)
	OpenStudy(path string)
	Study() bench.StudyInfo
	ChooseStudy(n int)
	StudyPane() bench.Pane
	StudyScanPane() bench.Pane
	HandOverResults(dir string) error
	ReadClass(paths []string) error
	Drill() bench.DrillInfo
	AnswerDrill(typed string)
	DrillHint()
	DrillUnseen()
	DrillPane() bench.Pane
	DrillRuler() bench.Pane

	Rack() bench.RackInfo
	DueWords() (words string, warn bool)
	OwnCaution() string
	ChooseItem(code string)
	FindItem(typed string)
	BeginDeed(id string)
	RackForm() *bench.RackForm
	SetRackField(id, value string)
	SubmitRackForm()
	LeaveRackForm()
	Ledger() bench.LedgerInfo
	ShowHistory()
	ShowWholeLedger()
	CheckChain()
	RackPane() bench.Pane
	LedgerPane() bench.Pane

	againDesk

	FacePane() bench.Pane
	ScanPane() bench.Pane
	RulerPane() bench.Pane
	StripPane() bench.Pane
	PreviewPane() bench.Pane
	BookPane() bench.Pane
}

var _ desk = (*bench.Bench)(nil)

// benchPalette gives the panes the colours of the window's look.
func (l *look) benchPalette() bench.Palette {
	p := bench.LightPalette()
	if l.dark {
		p = bench.DarkPalette()
	}
	c := l.palette()
	solid := func(n color.NRGBA) color.RGBA { return color.RGBA{n.R, n.G, n.B, 255} }
	p.Paper, p.Ink, p.Muted, p.Line = solid(c.paper), solid(c.ink), solid(c.muted), solid(c.edge)
	p.Surround, p.Chosen, p.ChosenOnDark, p.Warn = solid(c.surround), solid(c.chosen), solid(evening.chosen), solid(c.warn)
	return p
}
