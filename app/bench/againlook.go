package bench

import (
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

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
	b.again.exams = b.stationsOf(id)
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
	if stations := b.stationsOf(left.ID); len(stations) > 0 {
		said = append(said, Word("again.exams", someOf(stations)))
	}
	b.again = againRoom{}
	b.exchangedPictures(left.ID)
	b.enter(FaceScreen)
	b.say(Message{Title: Word("earlier.done", upperFirst(b.FaceName(kept.Face))), Hint: strings.Join(said, "\n")})
	return nil
}
