package quiz

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	prng "math/rand/v2"
	"slices"
	"strconv"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// LabelRef names one label of the lab.
type LabelRef struct {
	Plate string `json:"plate"`
	Label string `json:"label"`
}

// Plan is what an exam should be. Labels are asked as they are given; without them the blueprint chooses, and without
// a blueprint the labels that bring most variety.
type Plan struct {
	Title      string
	Plates     []string // only labels of these; none takes all
	Labels     []LabelRef
	Blueprint  []Want
	Items      int           // marked places without Labels and Blueprint; 0 is 20
	PerStation int           // marked places on one picture at most; 0 is 1
	Pictures   []PictureKind // allowed; none is faces and scan cuts by turns where both can be
	Forms      []Form        // of first questions, by turns; none is writing
	Second     bool          // a second question, to reason from, at every marker where there is one
	Marker     Marker        // the zero value is a pin from anywhere
	Seconds    int           // a station; 0 is 90
	FaceView   section.View  // how faces are turned; scan cuts stand in scan view
	Bare       bool          // no edge letters
	Seed       uint64        // 0 takes a random one
	Paper      Paper
	Languages  []Language
	NoTags     bool
	Words      []string
	Respect    string
}

const (
	usualItems   = 20
	usualSeconds = 90
)

// Draft makes an exam of a plan. The same plan over the same labels gives the same exam. It keeps nothing: see Save.
// Labels that cannot be asked come back beside it with the reason. A plan that cannot be met at all is refused: see
// Sentence. Gaps of a blueprint are no refusal; Check names them.
func (b Board) Draft(ctx context.Context, p Plan) (Spotter, []LeftOut, error) {
	if err := p.check(); err != nil {
		return Spotter{}, nil, err
	}
	if p.Seed == 0 {
		var raw [8]byte
		rand.Read(raw[:]) // never fails
		p.Seed = binary.BigEndian.Uint64(raw[:])>>1 | 1
	}
	x := Spotter{ID: p.id(), Title: p.Title, Seed: p.Seed, Made: b.now().UTC(), Paper: p.Paper, Languages: p.Languages, Blueprint: p.Blueprint,
		NoTags: p.NoTags, Words: p.Words, Respect: p.Respect}
	if old, err := b.Lib.Exam(x.ID); err == nil {
		x.Rev = old.Rev
		if kept, err := readExam(old); err == nil {
			x.Made = kept.Made
		}
	}
	pool, left, err := b.Pool(x.ID)
	if err != nil {
		return x, left, err
	}
	r := prng.New(prng.NewPCG(p.Seed, 0x53454354))
	chosen, err := p.choose(pool, r, b.awkward)
	if err != nil {
		return x, left, err
	}
	if len(chosen) == 0 {
		return x, left, refusal("No label can be asked. " + firstReason(left))
	}
	d := drafter{Board: b, p: p, r: r, pool: pool}
	for i, group := range p.group(chosen) {
		if err := ctx.Err(); err != nil {
			return x, left, err
		}
		s, out, err := d.station(i, group)
		if err != nil {
			return x, left, err
		}
		left = append(left, out...)
		if len(s.Asks) > 0 {
			x.Stations = append(x.Stations, s)
		}
	}
	if len(x.Stations) == 0 {
		return x, left, refusal("No label can be asked. " + firstReason(left))
	}
	return x, left, nil
}

func firstReason(left []LeftOut) string {
	if len(left) == 0 {
		return "Name structures on a face, be certain of them, and let a second person sign them."
	}
	return capital(left[0].Name) + ": " + left[0].Reason + "."
}

func (p Plan) check() error {
	switch {
	case p.Items < 0 || p.Items > mostStations || len(p.Labels) > mostStations*mostAsks:
		return refusal(fmt.Sprintf("An exam has 1 to %d places.", mostStations))
	case p.PerStation < 0 || p.PerStation > mostAsks:
		return refusal(fmt.Sprintf("A picture takes 1 to %d markers.", mostAsks))
	case p.Seconds < 0 || p.Seconds > 3600:
		return refusal("A station takes 1 to 3600 seconds.")
	case p.Paper != "" && p.Paper != A4 && p.Paper != Letter:
		return refusal(fmt.Sprintf("There is no paper %q; choose A4 or Letter.", p.Paper))
	case p.Marker.Style != "" && !slices.Contains(Styles, p.Marker.Style):
		return refusal(fmt.Sprintf("There is no marker %q; choose pin, arrow, ring or outline.", p.Marker.Style))
	case !slices.Contains(Approaches, p.Marker.From):
		return refusal(fmt.Sprintf("A marker comes from left, right, above or below, not %q.", p.Marker.From))
	}
	for _, f := range p.Forms {
		if !slices.Contains(Forms, f) {
			return refusal(fmt.Sprintf("There is no form of answer %q; choose text, choice or hotspot.", f))
		}
	}
	for _, k := range p.Pictures {
		if k != FacePicture && k != ScanPicture {
			return refusal(fmt.Sprintf("There is no kind of picture %q; choose face or scan.", k))
		}
	}
	sum := 0
	for _, w := range p.Blueprint {
		if w.Count < 0 || w.Count > mostStations {
			return refusal(fmt.Sprintf("A line of the blueprint asks for 0 to %d places.", mostStations))
		}
		sum += w.Count
	}
	if sum > mostStations*mostAsks {
		return refusal(fmt.Sprintf("The blueprint asks for %d places; that is too many for one exam.", sum))
	}
	return nil
}

// id names the exam of a plan, the same for the same plan.
func (p Plan) id() string { return atlas.CodeOf(p.sum("exam"), 8) }

func (p Plan) sum(what string) []byte {
	h := sha256.New()
	io.WriteString(h, what)
	fmt.Fprintf(h, " %+v", p)
	return h.Sum(nil)
}

// group puts candidates of one picture together, as many as a station takes, in the order they were chosen.
func (p Plan) group(chosen []Candidate) (out [][]Candidate) {
	most := max(1, p.PerStation)
	for _, c := range chosen {
		at := slices.IndexFunc(out, func(g []Candidate) bool {
			return len(g) < most && pictureKey(g[0].Picture.Kind, g[0].Picture.Plate, g[0].Picture.Series) == pictureKey(c.Picture.Kind, c.Picture.Plate, c.Picture.Series)
		})
		if at >= 0 {
			out[at] = append(out[at], c)
			continue
		}
		out = append(out, []Candidate{c})
	}
	return out
}

// drafter makes stations.
type drafter struct {
	Board
	p     Plan
	r     *prng.Rand
	pool  []Candidate
	asked int // first questions so far, for the turn of forms
}

// station makes one station of candidates that share a picture.
func (d *drafter) station(n int, group []Candidate) (Station, []LeftOut, error) {
	pic := group[0].Picture
	if pic.Kind == FacePicture {
		pic.View = d.p.FaceView
	}
	pic.Bare = d.p.Bare
	s := Station{Picture: pic, Seconds: d.p.Seconds, Code: atlas.CodeOf(d.p.sum("station "+strconv.Itoa(n)), 6)}
	if s.Seconds == 0 {
		s.Seconds = usualSeconds
	}
	var left []LeftOut
	view, err := d.outlineSight(pic, true)
	if err != nil {
		reason := Sentence(err)
		if reason == "" {
			return s, nil, err
		}
		for _, c := range group {
			left = append(left, LeftOut{Plate: pic.Plate, Label: c.Label, Name: c.Name(), Reason: reason})
		}
		return s, left, nil
	}
	m := d.p.Marker
	if m.Style == "" {
		m.Style = Pin
	}
	pointed := false
	for _, c := range group {
		a := Ask{Letter: markLetter(len(s.Asks)), Plate: pic.Plate, Label: c.Label, Marker: m}
		label, ok := view.label(c.Label)
		if !ok || pointed {
			continue
		}
		c.Picture = pic
		t := topic{letter: a.Letter, c: c, s: view, label: label, pool: d.pool}
		a.Questions = d.questions(t, len(group) == 1)
		pointed = a.Questions[0].Form == Pointed
		s.Asks = append(s.Asks, a)
	}
	return s, left, nil
}

// questions are the first question in the form whose turn it is, and a second one where there is one. A picture to
// point at holds nothing else.
func (d *drafter) questions(t topic, alone bool) []Question {
	form := Typed
	if len(d.p.Forms) > 0 {
		form = d.p.Forms[d.asked%len(d.p.Forms)]
	}
	d.asked++
	if form == Pointed {
		if q, ok := d.question(AboutPlace, form, t, d.r); ok && alone {
			return []Question{q}
		}
		form = Typed
	}
	first, ok := d.question(AboutName, form, t, d.r)
	if !ok {
		first, _ = d.question(AboutName, Typed, t, d.r)
		form = Typed
	}
	out := []Question{first}
	if d.p.Second {
		for i := range secondOrder {
			if q, ok := d.question(secondOrder[(i+d.asked)%len(secondOrder)], form, t, d.r); ok {
				return append(out, q)
			}
		}
	}
	return out
}
