package drill

import (
	"cmp"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Ask is a kind of question.
type Ask string

// The kinds of question.
const (
	AskName  Ask = "name"       // what is marked? typed
	AskSide  Ask = "side"       // the donor's left or right? edge letters hidden
	AskPoint Ask = "point"      // point at the named structure
	AskFace  Ask = "face"       // which face: from above or below? edge letters hidden
	AskLevel Ask = "level"      // at which vertebra? typed or chosen
	AskBelow Ask = "below"      // what lies here one slab further along the run, or what comes into view there? typed
	AskOnRun Ask = "on-the-run" // where on the run? placed on the ruler
)

// Asks lists every kind of question in the order shown to people.
var Asks = []Ask{AskName, AskSide, AskPoint, AskFace, AskLevel, AskBelow, AskOnRun}

// Question is one question as the student sees it before the answer. It tells nothing of the answer but what its fields say.
type Question struct {
	Key  string // what progress is kept under: the same for every picture that shows the structure
	Ask  Ask
	Face string // code of the face shown
	// Picture is the file to show: the face's, or one of its scan cuts.
	Picture string
	OnScan  bool
	// Marker is where the marker's tip is, in pixels of the picture; Marked is false when nothing is marked.
	Marker geom.Px
	Marked bool
	// Letters says whether edge letters may be shown.
	Letters bool
	// Facings are the two answers of AskFace.
	Facings []section.Facing
	// Structure names what AskPoint asks for, "" else.
	Structure string
	// Again is true for a missed one that comes back in the same sitting.
	Again bool
}

// card is one thing to be known: a structure under one kind of question, or a face.
type card struct {
	key     string
	ask     Ask
	stratum string
	shows   []showing
}

// showing is one picture on which a card can be asked.
type showing struct {
	face      int // index in the pack
	structure int // index in the face, -1 for questions on the face
	picture   string
	onScan    bool
}

// cards lists all that can be asked of a pack, in order of their keys.
func (m Manifest) cards(asks []Ask) []card {
	found := map[string]*card{}
	want := func(a Ask) bool {
		return (len(m.Asks) == 0 || slices.Contains(m.Asks, a)) && (len(asks) == 0 || slices.Contains(asks, a))
	}
	add := func(key string, a Ask, stratum string, s showing) {
		if !want(a) {
			return
		}
		if found[key] == nil {
			found[key] = &card{key: key, ask: a, stratum: string(a) + "/" + stratum}
		}
		found[key].shows = append(found[key].shows, s)
	}
	terms := map[annotate.TermID]annotate.Term{}
	for _, t := range m.Terms {
		terms[t.ID] = t
	}
	for i, f := range m.Faces {
		face := showing{i, -1, f.Picture, false}
		of := func(a Ask) string { return "face|" + f.Code + "|" + string(a) }
		add(of(AskFace), AskFace, f.Run, face)
		add(of(AskOnRun), AskOnRun, f.Run, face)
		if f.Vertebra != "" {
			add(of(AskLevel), AskLevel, f.Run, face)
		}
		if len(m.comesIntoView(f)) > 0 {
			add(of(AskBelow), AskBelow, f.Run, face)
		}
		for k, s := range f.Structures {
			t := terms[s.Term]
			of := func(a Ask) string { return string(s.Term) + "|" + s.Side.String() + "|" + string(a) }
			stratum := t.Region + "/" + t.Kind.String()
			shows := []showing{{i, k, f.Picture, false}}
			for _, c := range f.Cuts {
				shows = append(shows, showing{i, k, c.Picture, true})
			}
			for _, x := range shows {
				add(of(AskName), AskName, stratum, x)
				add(of(AskPoint), AskPoint, stratum, x)
				if s.Side == annotate.Left || s.Side == annotate.Right {
					add(of(AskSide), AskSide, stratum, x)
				}
			}
			if m.changesBelow(f, s) {
				add(of(AskBelow)+"|"+f.Code, AskBelow, stratum, shows[0])
			}
		}
	}
	out := make([]card, 0, len(found))
	for _, c := range found {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b card) int { return cmp.Compare(a.key, b.key) })
	return out
}

// next is the face one slab further along the run that looks the same way.
func (m Manifest) next(f Face) (Face, bool) {
	for _, g := range m.Faces {
		if g.Run == f.Run && g.Slab == f.Slab+1 && g.Facing == f.Facing {
			return g, true
		}
	}
	return Face{}, false
}

// changesBelow reports whether another structure lies at a structure's place on the next face.
func (m Manifest) changesBelow(f Face, s Structure) bool {
	g, ok := m.next(f)
	if !ok || s.Below == "" {
		return false
	}
	y, ok := g.Find(s.Below)
	return ok && (y.Term != s.Term || y.Side != s.Side)
}

// comesIntoView lists the structures of the next face that are not on this one.
func (m Manifest) comesIntoView(f Face) (out []Structure) {
	g, ok := m.next(f)
	if !ok {
		return nil
	}
	here := map[annotate.TermID]bool{}
	for _, s := range f.Structures {
		here[s.Term] = true
	}
	for _, s := range g.Structures {
		if !here[s.Term] {
			here[s.Term] = true
			out = append(out, s)
		}
	}
	return out
}

// question puts a card to the student on one of its pictures.
func (p *Pack) question(c card, s showing, again bool) Question {
	f := p.Faces[s.face]
	q := Question{Key: c.key, Ask: c.ask, Face: f.Code, Picture: s.picture, OnScan: s.onScan, Letters: true, Again: again}
	switch c.ask {
	case AskFace:
		a := f.Facing.Plane().Faces()
		q.Letters, q.Facings = false, a[:]
	case AskOnRun, AskLevel:
	case AskSide:
		q.Letters = false
	}
	if s.structure < 0 {
		return q
	}
	x := f.Structures[s.structure]
	if c.ask == AskPoint {
		q.Structure = p.Words(x)
		return q
	}
	q.Marker, q.Marked = x.Tip, true
	return q
}

// structureOf is what a question is about, ok false for questions on the face.
func (p *Pack) structureOf(s showing) (Structure, bool) {
	if s.structure < 0 {
		return Structure{}, false
	}
	return p.Faces[s.face].Structures[s.structure], true
}

// readVertebra reads a typed vertebra: "L2", "l 2", "lumbar 2", "2nd lumbar", "Th11".
func readVertebra(text string) (index int, ok bool) {
	letter, digits := "", ""
	for _, w := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !(r >= 'a' && r <= 'z') && !(r >= '0' && r <= '9') }) {
		alpha := strings.TrimRight(w, "0123456789")
		if number := w[len(alpha):]; number != "" {
			digits += number
		} else if lead := strings.TrimLeft(w, "0123456789"); lead != w {
			digits += w[:len(w)-len(lead)]
			continue // 2nd
		}
		switch {
		case alpha == "c" || strings.HasPrefix(alpha, "cervic"):
			letter += "C"
		case alpha == "t" || alpha == "th" || alpha == "d" || strings.HasPrefix(alpha, "thorac") || alpha == "dorsal":
			letter += "T"
		case alpha == "l" || strings.HasPrefix(alpha, "lumb"):
			letter += "L"
		case alpha == "s" || strings.HasPrefix(alpha, "sacral"):
			letter += "S"
		}
	}
	index = vertebraIndex(letter + digits)
	return index, index >= 0
}
