package bench

import (
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas/drill"
	"sectionary/slices/geom"
)

// drillRoom is one sitting of the drill: the question asked, what was given, what was revealed.
type drillRoom struct {
	sitting *drill.Sitting
	q       drill.Question
	asking  bool // q is asked
	turn    int
	point   *geom.Px // AskPoint, pixels of the picture
	depth   *float64 // AskOnRun, mm from the run's first face
	hints   []drill.Structure
	reveal  *drill.Reveal
	given   string
	skipped bool
}

func timeOfDay(s string) (time.Time, error) { return time.Parse(drill.Day, s) }

func needDrill(b *Bench) string {
	s := b.study.pack
	if s == nil {
		return Word("drill.nopack")
	}
	st := s.Standing(b.study.progress)
	return when(st.Due+st.Unseen+st.Later == 0, "drill.nothing")
}

// openDrill begins a sitting with what is due; unseen ones are taken when the person asks for them.
func (b *Bench) openDrill() {
	s := &b.study
	if !s.open() || s.drill.sitting != nil {
		return
	}
	b.beginDrill(-1)
}

// beginDrill begins a sitting with at most fresh unseen questions; -1 takes none unless nothing was ever answered.
func (b *Bench) beginDrill(fresh int) {
	s := &b.study
	if fresh < 0 && len(s.progress.Cards) == 0 {
		fresh = 0 // the core's own number
	}
	s.drill = drillRoom{turn: s.drill.turn, sitting: drill.NewSitting(s.pack, s.progress, drill.Options{New: fresh, Seed: uint64(len(s.progress.Cards)), Terms: s.matcher})}
	b.nextQuestion()
}

// DrillUnseen goes on with questions that were never asked.
func (b *Bench) DrillUnseen() {
	if b.study.open() && !b.study.drill.asking {
		b.beginDrill(0)
	}
}

func (b *Bench) nextQuestion() {
	d := &b.study.drill
	q, ok := d.sitting.Next()
	*d = drillRoom{sitting: d.sitting, q: q, asking: ok, turn: d.turn + 1}
	b.changed(ExamChanged)
}

// drillEnter goes on: to the next question after an answer, else it gives the answer that was placed.
func (b *Bench) drillEnter() {
	d := &b.study.drill
	switch {
	case d.sitting == nil:
	case d.reveal != nil:
		b.nextQuestion()
	case !d.asking:
		b.DrillUnseen()
	case d.q.Ask == drill.AskPoint && d.point != nil, d.q.Ask == drill.AskOnRun && d.depth != nil:
		b.giveAnswer(drill.Answer{})
	}
}

// AnswerDrill gives a typed or chosen answer, or the point or place that was set; nothing typed means "I do not know".
func (b *Bench) AnswerDrill(typed string) {
	d := &b.study.drill
	if d.sitting == nil || !d.asking || d.reveal != nil {
		return
	}
	d.given = strings.TrimSpace(typed)
	a := drill.Answer{Text: d.given}
	switch d.q.Ask {
	case drill.AskSide:
		a.Side, _ = annotate.ParseSide(d.given)
	case drill.AskFace:
		for _, f := range d.q.Facings {
			if f.SeenFrom() == d.given {
				a.Facing = f
			}
		}
	}
	placed := d.q.Ask == drill.AskPoint && d.point != nil || d.q.Ask == drill.AskOnRun && d.depth != nil
	a.Skip = d.given == "" && !placed
	b.giveAnswer(a)
}

// DrillSkip shows the answer without one being given; the question comes again soon.
func (b *Bench) DrillSkip() {
	b.study.drill.point, b.study.drill.depth = nil, nil
	b.giveAnswer(drill.Answer{Skip: true})
}

func (b *Bench) giveAnswer(a drill.Answer) {
	d := &b.study.drill
	if d.sitting == nil || !d.asking || d.reveal != nil {
		return
	}
	if d.point != nil {
		a.At = *d.point
	}
	if d.depth != nil {
		a.Depth = *d.depth
	}
	r, err := d.sitting.Answer(a)
	if err != nil {
		b.Report(err)
		return
	}
	d.reveal, d.skipped = &r, a.Skip
	b.study.progress = d.sitting.Progress()
	if b.o.DataDir != "" {
		b.Report(b.study.progress.Save(b.o.DataDir))
	}
	b.changed(ExamChanged)
}

// DrillHint shows one more structure of a face that is to be placed on the run.
func (b *Bench) DrillHint() {
	d := &b.study.drill
	if d.sitting == nil || d.reveal != nil {
		return
	}
	if x, ok := d.sitting.Hint(); ok {
		d.hints = append(d.hints, x)
		b.changed(ExamChanged)
	}
}

// drillFace is the face the question is about, and its run.
func (b *Bench) drillFace() (f drill.Face, r drill.Run, ok bool) {
	d := &b.study.drill
	if b.study.pack == nil || !d.asking {
		return f, r, false
	}
	if f, ok = b.study.pack.Face(d.q.Face); ok {
		r, ok = b.study.pack.Run(f.Run)
	}
	return f, r, ok
}

// pointing reports whether a click on the picture is an answer.
func (b *Bench) pointing() bool {
	d := &b.study.drill
	return d.asking && d.reveal == nil && d.q.Ask == drill.AskPoint
}

// placing reports whether a place on the ruler is an answer.
func (b *Bench) placing() bool {
	d := &b.study.drill
	return d.asking && d.reveal == nil && d.q.Ask == drill.AskOnRun
}

// answerAt sets the point that is the answer.
func (b *Bench) answerAt(at geom.Px) {
	f, _, ok := b.drillFace()
	if !ok || !b.pointing() {
		return
	}
	at.X, at.Y = min(max(at.X, 0), float64(f.Width-1)), min(max(at.Y, 0), float64(f.Height-1))
	b.study.drill.point = &at
	b.changed(ExamChanged)
}

// placeAt sets the place on the run that is the answer, mm from its first face.
func (b *Bench) placeAt(depth float64) {
	_, r, ok := b.drillFace()
	if !ok || !b.placing() {
		return
	}
	depth = min(max(depth, 0), r.Extent)
	b.study.drill.depth = &depth
	b.changed(ExamChanged)
}

// drillKey takes arrows while a point or a place is asked for, and numbers while one of a few words is.
func (b *Bench) drillKey(name string, m Mods) bool {
	d := &b.study.drill
	if b.screen != DrillScreen || !d.asking || d.reveal != nil {
		return false
	}
	if choices := b.drillChoices(); len(name) == 1 && name[0] >= '1' && int(name[0]-'0') <= len(choices) {
		b.AnswerDrill(choices[name[0]-'1'])
		return true
	}
	way, arrow := arrows[map[string]string{"Page Up": "Up", "Page Down": "Down"}[name]]
	if !arrow {
		way, arrow = arrows[name]
	}
	f, r, ok := b.drillFace()
	switch {
	case !arrow || !ok:
		return false
	case b.placing():
		at := r.Extent / 2
		if d.depth != nil {
			step := 5.0
			if m.Shift {
				step = 1
			}
			at = *d.depth + step*(way.X+way.Y)*b.rulerWay(r)
		}
		b.placeAt(at)
	case b.pointing():
		at := geom.Px{X: float64(f.Width) / 2, Y: float64(f.Height) / 2}
		if d.point != nil {
			step := float64(f.Width) / 60
			if m.Shift {
				step = float64(f.Width) / 400
			}
			at = geom.Px{X: d.point.X + step*way.X, Y: d.point.Y + step*way.Y}
		}
		b.answerAt(at)
	default:
		return false
	}
	return true
}

func (b *Bench) drillChoices() (out []string) {
	switch d := &b.study.drill; d.q.Ask {
	case drill.AskSide:
		return []string{annotate.Right.String(), annotate.Left.String()}
	case drill.AskFace:
		at, _, _ := b.drillFace()
		for _, f := range d.q.Facings {
			out = append(out, b.study.pack.SeenFrom(at.Run, f))
		}
	}
	return out
}

// DrillPane is the picture asked about.
func (b *Bench) DrillPane() Pane { return b.drillPane }

func (b *Bench) drillContent() packContent {
	d := &b.study.drill
	f, _, ok := b.drillFace()
	if !ok {
		return packContent{nothing: Word("drill.none")}
	}
	c := packContent{picture: d.q.Picture, placed: d.point}
	if d.q.Letters || d.reveal != nil {
		c.edges = f.Edges
	}
	if d.q.OnScan {
		c.banner = drill.NotForDiagnosis
	} else {
		c.banner = faceBanner(f)
	}
	if d.q.Marked {
		c.marker = &d.q.Marker
	}
	for _, x := range d.hints {
		c.drawn = append(c.drawn, drawnStructure{regions: x.Regions, tip: x.Tip, word: b.study.pack.Words(x)})
	}
	if r := d.reveal; r != nil && r.Next == nil {
		for _, x := range r.Structures {
			c.drawn = append(c.drawn, drawnStructure{regions: x.Regions, tip: x.Tip, word: b.study.pack.Words(x), strong: len(r.Structures) == 1})
		}
		if len(r.Structures) == 1 {
			c.marker = nil
		}
	} else if r != nil { // what lies one slab on is shown there
		c.picture, c.edges, c.marker, c.banner = r.Next.Picture, r.Next.Edges, nil, Word("drill.onnext", b.study.pack.NameOf(*r.Next))
		for _, x := range r.Structures {
			c.drawn = append(c.drawn, drawnStructure{regions: x.Regions, tip: x.Tip, word: b.study.pack.Words(x), strong: true})
		}
	}
	return c
}
