package quiz

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// What questions are about.
const (
	AboutName      = "name"      // first order: which structure it is
	AboutPlace     = "place"     // first order: where a named structure lies, by pointing
	AboutSide      = "side"      // second order: on which side of the donor it lies
	AboutWhole     = "whole"     // second order: what it is part of
	AboutNeighbour = "neighbour" // second order: what lies next to it in a direction of the body
	AboutFacing    = "facing"    // second order: from where the face is seen
	AboutOwn       = "own"       // written by the examiner
)

// secondOrder lists the questions to reason from that can be made out of labels alone, in the order they are tried.
var secondOrder = []string{AboutNeighbour, AboutSide, AboutWhole, AboutFacing}

const choices = 4 // of a question to choose from

// topic is a candidate with what questions about it need to know.
type topic struct {
	letter string
	c      Candidate
	s      *sight
	label  annotate.Label // in pixels of the picture
	pool   []Candidate
}

// question makes a question, false when there is none of this kind here.
func (b Board) question(about string, form Form, t topic, r *rand.Rand) (Question, bool) {
	switch about {
	case AboutName:
		return b.askName(form, t, r)
	case AboutPlace:
		return b.askPlace(t)
	case AboutSide:
		return askSide(t)
	case AboutWhole:
		return b.askWhole(form, t, r)
	case AboutNeighbour:
		return b.askNeighbour(form, t, r)
	case AboutFacing:
		return askFacing(t)
	}
	return Question{}, false
}

func (b Board) askName(form Form, t topic, r *rand.Rand) (Question, bool) {
	q := Question{Order: 1, About: AboutName, Form: form, Text: "Name the structure at " + t.letter + ".", Answer: t.c.Name(), Marks: 2}
	sided := t.c.Side == annotate.Left || t.c.Side == annotate.Right
	if sided {
		q.Text = "Name the structure at " + t.letter + " and its side."
	}
	if form == Choice {
		q.Text, q.Marks = "Which structure is at "+t.letter+"?", 1
		return b.withChoices(q, t.c.Term, t, r)
	}
	q.Accept, q.Half = accepted(t.c.Term, t.c.Side)
	return q, true
}

// accepted lists the ways a structure is named: with its side, and without where it has one.
func accepted(t annotate.Term, side annotate.Side) (full, half []string) {
	var bare []string
	for _, n := range append(append([]string{t.Name, t.Latin}, t.Synonyms...), t.Abbreviations...) {
		if n != "" && !slices.Contains(bare, n) {
			bare = append(bare, n)
		}
	}
	if side != annotate.Left && side != annotate.Right {
		return bare, nil
	}
	for _, n := range bare {
		full = append(full, side.String()+" "+n, n+" "+side.String(), n+" ("+side.String()+")", n+", "+side.String())
	}
	latin := map[annotate.Side][2]string{annotate.Left: {"sinister", "sinistra"}, annotate.Right: {"dexter", "dextra"}}[side]
	if t.Latin != "" {
		full = append(full, t.Latin+" "+latin[0], t.Latin+" "+latin[1])
	}
	return full, bare
}

// askPlace asks to point at the structure; the picture must show nothing but it under that name.
func (b Board) askPlace(t topic) (Question, bool) {
	if t.s.crosses || len(t.label.Regions) == 0 {
		return Question{}, false
	}
	for _, o := range t.s.labels {
		if o.ID != t.label.ID && o.Term == t.label.Term && o.Side == t.label.Side {
			return Question{}, false
		}
	}
	return Question{Order: 1, About: AboutPlace, Form: Pointed, Text: "Point to the " + t.c.Name() + ".", Answer: t.c.Name(), Marks: 1}, true
}

func askSide(t topic) (Question, bool) {
	if t.c.Side != annotate.Left && t.c.Side != annotate.Right {
		return Question{}, false
	}
	return Question{Order: 2, About: AboutSide, Form: Choice, Text: "On which side of the donor does the structure at " + t.letter + " lie?",
		Answer: t.c.Side.String(), Options: []string{"right", "left"}, Marks: 1}, true
}

func (b Board) askWhole(form Form, t topic, r *rand.Rand) (Question, bool) {
	whole, ok := b.Terms.ByID(t.c.Term.PartOf)
	if !ok || hasWords(t.c.Term.Name, whole.Name) { // a name that says what it is part of asks nothing
		return Question{}, false
	}
	q := Question{Order: 2, About: AboutWhole, Form: form, Text: "Of which larger structure is the one at " + t.letter + " a part?", Answer: whole.Name, Marks: 1}
	if form == Choice {
		return b.withChoices(q, whole, t, r)
	}
	q.Form = Typed
	q.Accept, _ = accepted(whole, annotate.NoSide)
	return q, true
}

// askFacing asks from where the face is seen. A picture shown mirrored is seen from neither side.
func askFacing(t topic) (Question, bool) {
	f := t.c.Face.Facing
	words := map[section.Plane][2]string{section.Transverse: {"above", "below"}, section.Frontal: {"the front", "behind"}, section.Sagittal: {"the left", "the right"}}[f.Plane()]
	if t.c.Picture.Kind != FacePicture || t.s.face.mirrored || words[0] == "" || t.c.Picture.Bare {
		return Question{}, false
	}
	answer := words[0]
	if f != f.Plane().Faces()[0] {
		answer = words[1]
	}
	if f.Plane() == section.Sagittal {
		answer = "the " + f.String()
	}
	return Question{Order: 2, About: AboutFacing, Form: Choice, Text: "From where is this face seen: from " + words[0] + " or from " + words[1] + "?",
		Answer: answer, Options: words[:], Marks: 1}, true
}

// askNeighbour asks what is met first on the way from the tip in a direction of the body: the nearest outline there,
// where nothing else of the face lies between.
func (b Board) askNeighbour(form Form, t topic, r *rand.Rand) (Question, bool) {
	if t.s.crosses || len(t.label.Regions) == 0 {
		return Question{}, false
	}
	ways := []section.Facing{section.Anterior, section.Posterior, section.Right, section.Left, section.Superior, section.Inferior}
	r.Shuffle(len(ways), func(i, j int) { ways[i], ways[j] = ways[j], ways[i] })
	tip := tipOf(t.label, t.s.labels)
	for _, way := range ways {
		step, ok := t.s.step(way)
		if !ok {
			continue
		}
		x, ok := nextTo(t, tip, step)
		if !ok {
			continue
		}
		term, known := b.Terms.ByID(x.Term)
		if notAsked(x, known) != "" || (x.Term == t.label.Term) {
			continue
		}
		c := Candidate{Term: term, Side: x.Side}
		q := Question{Order: 2, About: AboutNeighbour, Form: form, Answer: c.Name(), Marks: 1,
			Text: "Name the structure that lies next to the one at " + t.letter + ", " + wayWords[way] + "."}
		if form == Choice {
			q.Text = "Which structure lies next to the one at " + t.letter + ", " + wayWords[way] + "?"
			return b.withChoices(q, term, topic{letter: t.letter, c: c, s: t.s, label: x, pool: t.pool}, r)
		}
		q.Form = Typed
		q.Accept, q.Half = accepted(term, x.Side)
		return q, true
	}
	return Question{}, false
}

var wayWords = map[section.Facing]string{section.Anterior: "straight in front of the marker", section.Posterior: "straight behind the marker", section.Right: "to the donor's right of the marker",
	section.Left: "to the donor's left of the marker", section.Superior: "straight above the marker", section.Inferior: "straight below the marker"}

// step is one pixel of the picture's view in a direction of the body, false when the picture does not run that way.
func (s *sight) step(way section.Facing) (geom.Px, bool) {
	e := s.face.plate.Edges(section.Bench)
	v := spot{}
	switch way.Letter() {
	case e.Up:
		v.Y = -1
	case e.Down:
		v.Y = 1
	case e.Left:
		v.X = -1
	case e.Right:
		v.X = 1
	default:
		return geom.Px{}, false
	}
	bench, err := newFaceView(s.face.plate, s.face.picture, section.Bench)
	if err != nil {
		return geom.Px{}, false
	}
	mid := bench.plate.MiddlePx()
	a := bench.view(mid)
	q := bench.px(spot{a.X + v.X, a.Y + v.Y})
	n := math.Hypot(q.X-mid.X, q.Y-mid.Y)
	return geom.Px{X: (q.X - mid.X) / n, Y: (q.Y - mid.Y) / n}, n > 0
}

// nextTo walks from tip in steps of a pixel until it has left the label and enters another.
func nextTo(t topic, tip, step geom.Px) (annotate.Label, bool) {
	box := t.label.Bounds()
	most := 2 * math.Hypot(box.W(), box.H())
	gap := 0.0
	for d := 0.0; d < most; d++ {
		q := geom.Px{X: tip.X + d*step.X, Y: tip.Y + d*step.Y}
		if t.label.Contains(q) {
			gap = 0
			continue
		}
		if gap++; gap > 0.15*most {
			return annotate.Label{}, false // too far to be called next to it
		}
		var smallest annotate.Label
		for _, o := range t.s.labels {
			if o.ID != t.label.ID && !o.Carried && o.Contains(q) && !o.Contains(tip) && (smallest.ID == "" || o.AreaPx() < smallest.AreaPx()) {
				smallest = o
			}
		}
		if smallest.ID != "" {
			return smallest, true
		}
	}
	return annotate.Label{}, false
}

// withChoices adds wrong choices of the same kind and, where there are enough, the same region; none that lies at the
// tip too, is a part or the whole of the right one, or reads alike.
func (b Board) withChoices(q Question, right annotate.Term, t topic, r *rand.Rand) (Question, bool) {
	wrong := b.wrongChoices(right, t, r)
	if len(wrong) < choices-1 {
		return q, false
	}
	side := ""
	if q.Answer != right.Name {
		side = t.c.Side.String() + " "
	}
	q.Form = Choice
	q.Options = []string{q.Answer}
	for _, w := range wrong[:choices-1] {
		name := w.Name
		if w.Paired && side != "" {
			name = side + name
		}
		q.Options = append(q.Options, name)
	}
	r.Shuffle(len(q.Options), func(i, j int) { q.Options[i], q.Options[j] = q.Options[j], q.Options[i] })
	return q, true
}

func (b Board) wrongChoices(right annotate.Term, t topic, r *rand.Rand) []annotate.Term {
	taken := map[annotate.TermID]bool{right.ID: true, t.c.Term.ID: true}
	for id, n := right.PartOf, 0; id != "" && n < 20; n++ {
		taken[id] = true
		up, ok := b.Terms.ByID(id)
		if !ok {
			break
		}
		id = up.PartOf
	}
	if len(t.label.Regions) > 0 {
		tip := tipOf(t.label, t.s.labels)
		for _, o := range t.s.labels {
			if o.Contains(tip) {
				taken[o.Term] = true
			}
		}
	}
	var out []annotate.Term
	add := func(all []annotate.Term) {
		r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		for _, x := range all {
			if !taken[x.ID] && x.PartOf != right.ID && !alike(x.Name, right.Name) {
				taken[x.ID] = true
				out = append(out, x)
			}
		}
	}
	var near, same, list []annotate.Term
	for _, c := range t.pool {
		switch {
		case c.Term.Kind == right.Kind && c.Term.Region == right.Region:
			near = append(near, c.Term)
		case c.Term.Kind == right.Kind:
			same = append(same, c.Term)
		}
	}
	alikes := func() (n int) { // a lone name with a side among names without would give itself away
		for _, x := range out {
			if x.Paired == right.Paired {
				n++
			}
		}
		return n
	}
	add(near)
	if alikes() < choices-1 {
		add(same)
	}
	if alikes() < choices-1 {
		for _, x := range b.Terms.All() {
			if x.Kind == right.Kind && x.Region == right.Region {
				list = append(list, x)
			}
		}
		add(list)
	}
	slices.SortStableFunc(out, func(a, b annotate.Term) int {
		switch {
		case a.Paired == b.Paired:
			return 0
		case a.Paired == right.Paired:
			return -1
		}
		return 1
	})
	return out
}

// alike reports whether one name says all that the other says.
func alike(a, b string) bool {
	a, b = strings.ToLower(a), strings.ToLower(b)
	return hasWords(a, b) || hasWords(b, a)
}
