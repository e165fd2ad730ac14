package bench

import (
	"errors"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Again is what the screen of a new picture, or of earlier pictures, shows.
func (b *Bench) Again() AgainInfo {
	a := &b.again
	i := AgainInfo{Laying: a.laying, Face: upperFirst(a.old.Face.Name()), Old: photographed(a.old), Now: photographed(a.next), Exams: a.exams,
		Offers: len(a.offers), Seeking: a.seek != nil, Outlines: !a.hidden, Mirrored: a.next.Mirrored, AsksMirrored: a.laying && a.next.Photo.Mirrored}
	if !a.laying {
		return i
	}
	i.Ties = a.rows()
	i.State, i.Warn = a.state()
	i.Next = a.todo()
	i.Why = a.why()
	i.Ready = i.Why == "" && a.keep == nil
	if a.fault == nil {
		i.Outcome = b.outcome(a.found)
	}
	return i
}

// photographed says when a picture was taken.
func photographed(p atlas.Plate) string {
	if p.Photo.Taken.IsZero() {
		return Word("again.notime")
	}
	return Word("again.taken", p.Photo.Taken.Format("2 January 2006, 15:04"))
}

// rows lists the ties, the worst first.
func (a *againRoom) rows() []AgainTie {
	out := make([]AgainTie, len(a.ties))
	for i := range a.ties {
		r := AgainTie{N: i + 1, MM: math.NaN(), Px: math.NaN(), Words: Word("again.tie.only", i+1)}
		if f := a.found.Fit; a.fault == nil && i < len(f.Error) {
			r.MM, r.Px, r.LeftOut = f.Error[i], f.Fit.Each[i], f.LeftOut[i]
			switch {
			case r.LeftOut:
				r.Words = Word("again.tie.left", i+1, r.MM)
			case math.IsNaN(r.MM):
				r.Words = Word("again.tie.px", i+1, r.Px)
			default:
				r.Words = Word("again.tie", i+1, r.MM)
			}
		}
		out[i] = r
	}
	worth := func(r AgainTie) float64 {
		switch {
		case !math.IsNaN(r.MM):
			return r.MM
		case !math.IsNaN(r.Px):
			return r.Px
		}
		return -1
	}
	slices.SortStableFunc(out, func(x, y AgainTie) int {
		switch u, v := worth(x), worth(y); {
		case u > v:
			return -1
		case u < v:
			return 1
		}
		return 0
	})
	return out
}

// state says how the ties fit.
func (a *againRoom) state() (words string, warn bool) {
	n := len(a.ties)
	f := a.found.Fit
	switch {
	case n >= 3 && atlas.TurnedOver(a.ties, a.old, a.next) || errors.Is(a.fault, atlas.ErrOtherFace):
		return Word("again.state.over"), true
	case n == 0:
		return Word("again.state.none"), false
	case n == 3:
		return Word("again.state.three"), false
	case n < 3:
		return count("again.state.few", n), false
	case errors.Is(a.fault, atlas.ErrCrossedTies):
		return Word("again.state.crossed"), true
	case errors.Is(a.fault, geom.ErrDegenerate):
		return Word("again.state.line"), true
	case errors.Is(a.fault, atlas.ErrNotOriented):
		return Word("again.state.mirrored"), true
	case a.fault != nil:
		m := Explain(a.fault)
		return m.Title, true
	case a.found.New.Calibration.Status == photo.Nominal:
		return Word("again.state.noscale", n, f.Fit.RMS), false
	}
	worst, left := 0.0, 0
	for i, e := range f.Error {
		if f.LeftOut[i] {
			left++
		} else if !(e <= worst) {
			worst = e
		}
	}
	if left > 0 {
		return count("again.state.left", left, n-left, worst), true
	}
	return Word("again.state.good", n, worst), worst > annotate.LookAgainMM
}

// todo says what to do next.
func (a *againRoom) todo() string {
	switch {
	case a.half.old != nil:
		return Word("again.todo.now", len(a.ties)+1)
	case a.half.now != nil:
		return Word("again.todo.old", len(a.ties)+1)
	case len(a.offers) > 0:
		return count("again.todo.offers", len(a.offers))
	case a.asked:
		return Word("again.todo.nooffers")
	}
	return Word("again.todo", len(a.ties)+1)
}

// why says why the new picture cannot be accepted yet, "" when it can.
func (a *againRoom) why() string {
	switch n := len(a.ties); {
	case n < 4:
		return count("again.why.few", 4-n)
	case a.fault != nil:
		words, _ := a.state()
		return words
	}
	return ""
}

// outcome tells what comes over, a line each.
func (b *Bench) outcome(s atlas.Succession) (out []string) {
	n := s.New
	add := func(key string, args ...any) { out = append(out, Word(key, args...)) }
	out = append(out, count("again.out.labels", n.Labels.Len()))
	labels, border := 0, false
	for _, x := range n.LookAgain() {
		labels += map[bool]int{true: 1}[x.Part == atlas.OnLabel]
		border = border || x.Part == atlas.OnBorder
	}
	if labels > 0 {
		out = append(out, count("again.out.look", labels))
	}
	if border {
		add("again.out.border")
	}
	if len(n.Mask) > 0 {
		add("again.out.mask")
	}
	if len(s.Lost) > 0 {
		out = append(out, count("again.out.lost", len(s.Lost), strings.Join(b.namesOf(s.Old.Labels, s.Lost), ", ")))
	}
	if s.Unsigned > 0 {
		out = append(out, count("again.out.unsigned", s.Unsigned))
	}
	switch c := n.Calibration; {
	case s.Scale:
		add("again.out.scale", 100*c.ScaleSpread(n.MiddlePx()), 100*s.Old.Calibration.ScaleSpread(s.Old.MiddlePx()))
	case c.Status == photo.Nominal:
		add("again.out.noscale")
	default:
		add("again.out.ownscale")
	}
	switch {
	case n.PhotoUp == section.UnknownFacing:
		add("again.out.notop")
	case s.Turned:
		add("again.out.topunsure", Word("end."+n.PhotoUp.String()))
	case n.PhotoUp != s.Old.PhotoUp:
		add("again.out.top", Word("end."+n.PhotoUp.String()))
	}
	switch r := s.Old.Registration; {
	case r != nil && n.Registration == nil:
		add("again.out.placelost")
	case r != nil:
		add("again.out.place")
	}
	if s.Old.Second != nil {
		add("again.out.second")
	}
	return out
}

// namesOf are the names of labels, by id.
func (b *Bench) namesOf(l annotate.Labels, ids []string) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = b.labelName(l, id)
	}
	return out
}

func (b *Bench) labelName(l annotate.Labels, id string) string {
	x, _ := l.Find(id)
	if t, ok := b.term(x.Term); ok {
		return sided(t.Name, x.Side)
	}
	return Word("label.unnamed")
}

// sided is a name with its side.
func sided(name string, s annotate.Side) string {
	if s == annotate.Left || s == annotate.Right {
		return Word("look.sided", name, Word("look.side."+s.String()))
	}
	return name
}

// LookRow is one thing that came over from an earlier picture and waits for a person.
type LookRow struct {
	N      int // from 1
	Name   string
	Words  string // why
	Chosen bool
}

// LookAgain lists what of the chosen face waits to be looked at since it was photographed anew.
func (b *Bench) LookAgain() []LookRow {
	p, ok := b.Plate()
	if !ok || b.Reading().Blind {
		return nil
	}
	var out []LookRow
	for i, x := range p.LookAgain() {
		r := LookRow{N: i + 1, Words: Word("look.unknown")}
		if x.Off > 0 {
			r.Words = Word("look.off", x.Off)
		}
		switch x.Part {
		case atlas.OnLabel:
			r.Name, r.Chosen = b.labelName(p.Labels, x.Label), x.Label == b.draw.chosen
		case atlas.OnBorder:
			r.Name = Word("look.border")
		case atlas.OnMask:
			r.Name, r.Words = Word("look.mask"), Word("look.mask.why")
		}
		r.Chosen = r.Chosen || x.Part != atlas.OnLabel && b.draw.chosen == "" && b.again.chosen == i+1
		out = append(out, r)
	}
	return out
}

// ChooseLook chooses thing n of what waits, from 1, and brings it to the middle of the bench.
func (b *Bench) ChooseLook(n int) {
	p, ok := b.Plate()
	list := p.LookAgain()
	if !ok || n < 1 || n > len(list) {
		return
	}
	b.again.chosen = n
	var shown []annotate.Polygon
	switch x := list[n-1]; x.Part {
	case atlas.OnLabel:
		b.ChooseLabel(x.Label)
		l, _ := p.Labels.Find(x.Label)
		shown = l.Regions
	case atlas.OnBorder:
		b.ChooseLabel("")
		shown = p.Border
	case atlas.OnMask:
		b.ChooseLabel("")
		b.SetTool(ToolMask) // with it in hand one sees beneath
		shown = p.Mask
	}
	b.centreOn(shown)
	b.changed(SelectionChanged | ViewChanged)
}

// centreOn brings outlines to the middle of the bench, a third of it wide.
func (b *Bench) centreOn(shown []annotate.Polygon) {
	d := b.doc
	if len(shown) == 0 || d == nil || b.face.w == 0 {
		return
	}
	box := shown[0].Bounds()
	for _, p := range shown[1:] {
		box = box.Union(p.Bounds())
	}
	f := b.face
	f.lay(d)
	v := d.view
	v.Centre = geom.Px{X: (box.Min.X + box.Max.X) / 2, Y: (box.Min.Y + box.Max.Y) / 2}
	wide := math.Max(box.Max.X-box.Min.X, box.Max.Y-box.Min.Y)
	if room := math.Min(float64(v.W), float64(v.H)); wide > 0 && room > 0 {
		v.Zoom = math.Min(math.Max(room/3/wide, f.leastZoom(d)*2), 8)
	}
	d.view, d.moved = v, true
}

// LookRight says that thing n of what waits, from 1, is right as it is.
func (b *Bench) LookRight(n int) error {
	p, ok := b.Plate()
	list := p.LookAgain()
	if !ok || n < 1 || n > len(list) {
		return nil
	}
	x := list[n-1]
	var err error
	if x.Part == atlas.OnLabel {
		err = b.editLabels(Word("step.look"), "", func(l annotate.Labels) (annotate.Labels, error) { return l.Confirm(x.Label, b.stamp()) })
	} else {
		err = b.edit(Word("step.look"), "", func(p atlas.Plate) (atlas.Plate, error) { return p.Looked(x.Part), nil })
	}
	if err == nil {
		b.again.chosen = 0
		if x.Part == atlas.OnMask {
			b.SetTool(ToolPan)
		}
		if left := len(b.LookAgain()); left > 0 {
			b.ChooseLook(min(n, left))
		}
	}
	return err
}

// nextLook chooses the next thing that waits.
func (b *Bench) nextLook() {
	list := b.LookAgain()
	if len(list) == 0 {
		return
	}
	at := slices.IndexFunc(list, func(r LookRow) bool { return r.Chosen })
	b.ChooseLook((at+1)%len(list) + 1)
}

func needLook(b *Bench) string { return when(len(b.LookAgain()) == 0, "look.none") }

// WaitingOnRun counts what waits to be looked at on all faces of the run, and on how many faces.
func (b *Bench) WaitingOnRun() (things, faces int) {
	for _, x := range b.rule.facts {
		if x.again > 0 {
			things, faces = things+x.again, faces+1
		}
	}
	return things, faces
}

// LookWords says how much of the run waits to be looked at, "" when nothing does.
func (b *Bench) LookWords() string {
	if n, faces := b.WaitingOnRun(); n > 0 {
		return Word("look.run", count("look.things", n), count("look.faces", faces))
	}
	return ""
}

// EarlierRow is one earlier picture of the chosen face.
type EarlierRow struct {
	ID, Words string
	Shown     bool
}

// EarlierPictures lists the earlier pictures of the chosen face, the last retired first.
func (b *Bench) EarlierPictures() []EarlierRow {
	f := b.Face()
	if b.pictures() == nil || f == (section.Face{}) {
		return nil
	}
	all, err := b.pictures().EarlierPhotos(f)
	if err != nil {
		return nil
	}
	out := make([]EarlierRow, len(all))
	for i, e := range all {
		out[i] = EarlierRow{ID: e.Plate, Shown: b.screen == AgainScreen && b.again.shown == e.Plate,
			Words: Word("earlier.line", e.Saved.Format("2 January 2006"), count("outlines", len(e.Labels)))}
	}
	return out
}

// ShowEarlier shows an earlier picture beside the current one; nothing on it can be changed.
func (b *Bench) ShowEarlier(id string) {
	if b.doc == nil {
		return
	}
	b.saveNow()
	lib := b.lab.lib
	p, err := lib.Plate(id)
	if err != nil {
		b.Report(err)
		return
	}
	last := b.again.last
	b.again = againRoom{old: p, next: b.doc.plate(), is: b.doc.picture, shown: id, last: last}
	if e := b.again.next.Earlier; e != nil && e.Plate == id {
		b.again.ties = e.Ties
	}
	if board, ok := b.board(); ok {
		uses, err := board.UsesOf(id)
		b.Report(err)
		b.again.exams = useWords(uses)
	}
	b.againOld.reset()
	b.againNow.reset()
	b.wantOld(id)
	b.enter(AgainScreen)
}

// MakeCurrentAgain makes the earlier picture that is shown the current one of its face. Outlines drawn since stay with the picture that was
// current until now.
func (b *Bench) MakeCurrentAgain() error {
	a := &b.again
	if err := b.writable(); err != nil {
		return err
	}
	if a.laying || a.shown == "" || b.doc == nil {
		return nil
	}
	b.saveNow()
	left := b.doc.plate()
	kept, err := b.pictures().MakeCurrent(a.shown)
	if err != nil {
		return err
	}
	said := []string{Word("earlier.swapped", photographed(kept))}
	if n := left.Labels.Len(); n > 0 {
		said = append(said, count("earlier.stay", n))
	}
	if board, ok := b.board(); ok {
		if uses, err := board.UsesOf(left.ID); err == nil && len(uses) > 0 {
			said = append(said, Word("again.exams", someOf(useWords(uses))))
		}
	}
	b.again = againRoom{}
	b.exchangedPictures(left.ID)
	b.enter(FaceScreen)
	b.say(Message{Title: Word("earlier.done", upperFirst(kept.Face.Name())), Hint: strings.Join(said, "\n")})
	return nil
}
