package bench

import (
	"errors"
	"strconv"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas/drill"
	"sectionary/slices/photo"
)

// studyRoom is the open study pack, the face looked at, and the drill on it.
type studyRoom struct {
	pack     *drill.Pack
	pictures map[string]*photo.Image // the last few
	at       int
	names    bool
	compare  bool
	matcher  *annotate.Terms // judges typed answers
	progress drill.Progress
	class    map[string]drill.Spread // how a class placed each face, by its code
	drill    drillRoom
}

func (s *studyRoom) open() bool { return s.pack != nil }

// OpenStudy opens a study pack. Whoever does is a student until it is closed: the lab that was open is closed first.
func (b *Bench) OpenStudy(path string) { b.Report(b.openStudy(path)) }

func (b *Bench) openStudy(path string) error {
	progress, err := b.loadProgress()
	if err != nil {
		b.Report(err)
	}
	pack, err := drill.Open(path, b.o.Now(), progress.LatestDay())
	if err != nil {
		return err
	}
	if err := b.CloseLab(); err != nil {
		return errors.Join(err, pack.Close())
	}
	if b.study.pack != nil {
		_ = b.study.pack.Close()
	}
	matcher, err := pack.Matcher(b.shipped)
	if err != nil {
		matcher, err = pack.Matcher(nil)
	}
	if err != nil {
		return errors.Join(err, pack.Close())
	}
	b.study = studyRoom{pack: pack, pictures: map[string]*photo.Image{}, matcher: matcher, progress: progress}
	if pack.ClockBack {
		b.say(Message{Title: Word("study.clock"), Hint: Word("study.clock.hint")})
	}
	b.enter(StudyScreen)
	return nil
}

// CloseStudy closes the pack and goes to the start page.
func (b *Bench) CloseStudy() {
	if !b.study.open() {
		return
	}
	_ = b.study.pack.Close() // it was only read
	b.study = studyRoom{}
	b.enter(StartScreen)
}

// loadProgress reads the progress kept in this person's own folder; nothing of it ever stands in a lab or a pack.
func (b *Bench) loadProgress() (drill.Progress, error) {
	if b.o.DataDir == "" {
		return drill.NewProgress(), nil
	}
	return drill.LoadProgress(b.o.DataDir)
}

// Study tells what the open pack shows.
func (b *Bench) Study() StudyInfo {
	s := &b.study
	if !s.open() {
		return StudyInfo{}
	}
	i := StudyInfo{Lead: b.studyLead(), At: s.at, Names: s.names, Compare: s.compare && b.hasCut(), HasScan: b.hasCut(), HasDrill: needDrill(b) == ""}
	several := len(s.pack.Runs) > 1
	for _, f := range s.pack.Faces {
		words := s.pack.NameOf(f)
		if several {
			words = Word("study.ofrun", f.Run, words)
		}
		i.Faces = append(i.Faces, words)
	}
	f, ok := s.face()
	if !ok {
		return i
	}
	i.Stacked = f.Width*10 > f.Height*12 // wide pictures stand one above the other, so that both are larger
	i.Where = upperFirst(s.pack.NameOf(f)) + ", " + s.pack.SeenFrom(f.Run, f.Facing)
	i.Facts = Word("study.depth", f.Depth)
	if f.Vertebra != "" {
		i.Facts += " " + Word("study.level", f.Vertebra)
	}
	i.Facts += " " + Word("study.view."+f.View)
	if i.Compare {
		i.Facts += " " + Word("study.cut", f.Cuts[0].Note)
	}
	i.Spread = b.spreadWords(f.Code)
	var known []string
	for n, x := range f.Structures {
		known = append(known, strconv.Itoa(n+1)+"  "+s.pack.Words(x))
	}
	i.Known = strings.Join(known, "\n")
	return i
}

// studyLead is the pack's title and until when it can be read.
func (b *Bench) studyLead() string {
	p := b.study.pack
	title := p.Title
	if title == "" {
		title = Word("study.untitled")
	}
	if p.Expires == "" {
		return title
	}
	until, err := timeOfDay(p.Expires)
	if err != nil {
		return title
	}
	return Word("study.until", title, until.Format("2 January 2006"))
}

func (s *studyRoom) face() (f drill.Face, ok bool) {
	if s.pack == nil || s.at < 0 || s.at >= len(s.pack.Faces) {
		return f, false
	}
	return s.pack.Faces[s.at], true
}

func (b *Bench) hasCut() bool {
	f, ok := b.study.face()
	return ok && len(f.Cuts) > 0
}

func needStudyScan(b *Bench) string { return when(!b.hasCut(), "study.nocut") }

// ChooseStudy takes up a face of the pack.
func (b *Bench) ChooseStudy(n int) {
	if b.study.open() && n >= 0 && n < len(b.study.pack.Faces) {
		b.study.at = n
		b.changed(ExamChanged)
	}
}

// StepStudy takes up the face n on.
func (b *Bench) StepStudy(n int) { b.ChooseStudy(b.study.at + n) }

// ToggleStudyNames shows or hides the names.
func (b *Bench) ToggleStudyNames() { b.study.names = !b.study.names; b.changed(ExamChanged) }

// ToggleStudyCompare shows or hides the cut of the scan.
func (b *Bench) ToggleStudyCompare() { b.study.compare = !b.study.compare; b.changed(ExamChanged) }

// StudyPane is the face looked at.
func (b *Bench) StudyPane() Pane { return b.studyFace }

// StudyScanPane is the cut of the scan beside it.
func (b *Bench) StudyScanPane() Pane { return b.studyScan }

func (b *Bench) studyContent() packContent {
	f, ok := b.study.face()
	if !ok {
		return packContent{nothing: Word("study.empty")}
	}
	return packContent{picture: f.Picture, edges: f.Edges, drawn: b.namesOn(f), banner: faceBanner(f)}
}

// faceBanner is what must stand on a face's picture.
func faceBanner(f drill.Face) string {
	var words []string
	if f.Corrected {
		words = append(words, Word("band.colour"))
	}
	if f.Synthetic {
		words = append(words, Word("study.synthetic"))
	}
	return strings.Join(words, "  ·  ")
}

func (b *Bench) studyScanContent() packContent {
	f, ok := b.study.face()
	if !ok || len(f.Cuts) == 0 {
		return packContent{nothing: Word("study.nocut")}
	}
	return packContent{picture: f.Cuts[0].Picture, edges: f.Edges, drawn: b.namesOn(f), banner: f.Cuts[0].Modality + "  " + drill.NotForDiagnosis}
}

// namesOn are the outlines of a face with the numbers of the list beside it, while names are asked for.
func (b *Bench) namesOn(f drill.Face) (out []drawnStructure) {
	if !b.study.names {
		return nil
	}
	for n, x := range f.Structures {
		out = append(out, drawnStructure{regions: x.Regions, tip: x.Tip, word: strconv.Itoa(n + 1)})
	}
	return out
}
