package bench

import (
	"image"
	"sectionary/slices/section"
)

type examRoom struct{}
type packRoom struct{}
type studyRoom struct{}

func (s *studyRoom) open() bool                           { return false }
func (b *Bench) openStations()                            {}
func (b *Bench) openPack()                                {}
func (b *Bench) openDrill()                               {}
func (b *Bench) stationPage() (*image.RGBA, bool, string) { return nil, false, "" }
func (b *Bench) freshContent() fullContent                { return fullContent{} }
func needStation(b *Bench) string                         { return "" }
func needStudyScan(b *Bench) string                       { return "" }
func needDrill(b *Bench) string                           { return "" }
func (b *Bench) StepStation(n int)                        {}
func (b *Bench) AcceptFresh()                             {}
func (b *Bench) StepFresh(n int)                          {}
func (b *Bench) StepStudy(n int)                          {}
func (b *Bench) ToggleStudyNames()                        {}
func (b *Bench) ToggleStudyCompare()                      {}
func (b *Bench) CloseStudy()                              {}
func (b *Bench) drillEnter()                              {}
func (b *Bench) Exam() ExamInfo                           { return ExamInfo{} }
func (b *Bench) SetExamTitle(string)                      {}
func (b *Bench) SetExamSeed(uint64)                       {}
func (b *Bench) SetExamPaper(string)                      {}
func (b *Bench) StationsLead() string                     { return "" }
func (b *Bench) Stations() []StationRow                   { return nil }
func (b *Bench) Station() (x StationForm, ok bool)        { return }
func (b *Bench) SetStation(StationForm)                   {}
func (b *Bench) ChooseStation(id string)                  {}
func (b *Bench) MoveStation(n int)                        {}
func (b *Bench) RemoveStation()                           {}
func (b *Bench) Askable() []AskRow                        { return nil }

func (b *Bench) GoToLabel(id string)         {}
func (b *Bench) Blueprint() []BlueprintRow   { return nil }
func (b *Bench) BlueprintGaps() []string     { return nil }
func (b *Bench) WantBlueprint(i, n int)      {}
func (b *Bench) SpreadBlueprint(n int)       {}
func (b *Bench) FillBlueprint()              {}
func (b *Bench) ExamRefusal() string         { return "" }
func (b *Bench) ReleaseExam(dir string)      {}
func (b *Bench) ExamDone() *Slip             { return nil }
func (b *Bench) LookFresh()                  {}
func (b *Bench) Fresh() (x FreshInfo)        { return }
func (b *Bench) SendBack(why string)         {}
func (b *Bench) ShowRoom()                   {}
func (b *Bench) StationPane() Pane           { return b.station }
func (b *Bench) FreshPane() Pane             { return b.freshPane }
func (b *Bench) Pack() (x PackDraft)         { return }
func (b *Bench) SetPack(PackDraft)           {}
func (b *Bench) TogglePackFace(section.Face) {}
func (b *Bench) PackWords() string           { return "" }
func (b *Bench) PackRefusal() string         { return "" }
func (b *Bench) PackDone() string            { return "" }
func (b *Bench) MakePack(dir string)         {}
func (b *Bench) OpenStudy(path string)       {}
func (b *Bench) Study() (x StudyInfo)        { return }
func (b *Bench) ChooseStudy(n int)           {}
func (b *Bench) StudyPane() Pane             { return b.preview }
func (b *Bench) StudyScanPane() Pane         { return b.preview }
func (b *Bench) Drill() (x DrillInfo)        { return }
func (b *Bench) AnswerDrill(typed string)    {}
func (b *Bench) DrillHint()                  {}
func (b *Bench) DrillUnseen()                {}
func (b *Bench) DrillPane() Pane             { return b.preview }
func (b *Bench) DrillRuler() Pane            { return b.ruler }
func (b *Bench) ChoosePlace(int)             {}
func (b *Bench) ChooseQuestion(int)          {}
func (b *Bench) AddQuestion()                {}
func (b *Bench) DropQuestion()               {}
func (b *Bench) Exams() []ExamRow            { return nil }
func (b *Bench) NewExam()                    {}
func (b *Bench) ChooseExam(id string)        {}
