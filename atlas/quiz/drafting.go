package quiz

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	prng "math/rand/v2"
	"regexp"
	"slices"
	"strconv"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
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

// choose picks the candidates to be asked, in order.
func (p Plan) choose(pool []Candidate, r *prng.Rand, awkward func(Candidate) (float64, error)) ([]Candidate, error) {
	some := slices.DeleteFunc(slices.Clone(pool), func(c Candidate) bool {
		return (len(p.Pictures) > 0 && !slices.Contains(p.Pictures, c.Picture.Kind)) || (len(p.Plates) > 0 && !slices.Contains(p.Plates, c.Picture.Plate))
	})
	if len(p.Labels) > 0 {
		return p.named(some), nil
	}
	r.Shuffle(len(some), func(i, j int) { some[i], some[j] = some[j], some[i] })
	c := &chooser{p: p, pool: some, used: map[string]int{}, plates: map[string]int{}, systems: map[System]int{}, kinds: map[PictureKind]int{},
		taken: map[int]bool{}, measured: map[int]float64{}, awkward: awkward}
	if len(p.Blueprint) > 0 {
		for _, w := range narrowFirst(p.Blueprint) {
			if err := c.take(w, w.Count); err != nil {
				return nil, err
			}
		}
		return c.out, nil
	}
	n := p.Items
	if n == 0 {
		n = usualItems
	}
	return c.out, c.take(Want{}, n)
}

// narrowFirst orders lines so that those that take least go first.
func narrowFirst(lines []Want) []Want {
	out := slices.Clone(lines)
	open := func(w Want) (n int) {
		for _, free := range []bool{w.Region == "", w.System == "", w.Plane == section.UnknownPlane, w.Picture == ""} {
			if free {
				n++
			}
		}
		return n
	}
	slices.SortStableFunc(out, func(a, b Want) int { return open(a) - open(b) })
	return out
}

// named are the labels that were chosen, faces and scan cuts by turns where both can be.
func (p Plan) named(pool []Candidate) (out []Candidate) {
	kinds := map[PictureKind]int{}
	for _, ref := range p.Labels {
		best := -1
		for i, c := range pool {
			if c.Picture.Plate == ref.Plate && c.Label == ref.Label && (best < 0 || kinds[c.Picture.Kind] < kinds[pool[best].Picture.Kind]) {
				best = i
			}
		}
		if best >= 0 {
			kinds[pool[best].Picture.Kind]++
			out = append(out, pool[best])
		}
	}
	return out
}

// chooser picks one candidate after the other, each time the one that repeats least.
type chooser struct {
	p       Plan
	pool    []Candidate
	taken   map[int]bool
	used    map[string]int // structures
	plates  map[string]int
	systems map[System]int
	kinds   map[PictureKind]int
	out     []Candidate

	measured map[int]float64
	awkward  func(Candidate) (float64, error)
}

func (c *chooser) take(w Want, n int) error {
	for range n {
		best, err := c.best(w)
		if err != nil || best < 0 {
			return err
		}
		x := c.pool[best]
		c.taken[best] = true
		c.used[x.what()]++
		c.plates[x.Picture.Plate]++
		c.systems[x.System()]++
		c.kinds[x.Picture.Kind]++
		c.out = append(c.out, x)
	}
	return nil
}

// best is the candidate of a line against which least speaks, -1 when there is none. How awkward its marker would lie is
// measured only for those that would win without, since measuring takes long.
func (c *chooser) best(w Want) (int, error) {
	for {
		best, least := -1, 0.0
		for i, x := range c.pool {
			if c.taken[i] || !w.fits(x) || c.used[x.what()] > 0 {
				continue
			}
			if v := c.repeats(x) + c.measured[i]; best < 0 || v < least {
				best, least = i, v
			}
		}
		if _, known := c.measured[best]; best < 0 || known {
			return best, nil
		}
		v, err := c.awkward(c.pool[best])
		if err != nil {
			return -1, err
		}
		c.measured[best] = v
	}
}

// row is how a name begins that tells one of a row of structures which look alike on a section: vertebrae, ribs, roots, digits.
var row = regexp.MustCompile(`(?i)^([CTLS]\d+|first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|eleventh|twelfth)\s`)

// oneOfARow reports whether a term names one of a row, so that a section alone does not show which.
func oneOfARow(t annotate.Term) bool { return row.MatchString(t.Name) }

// awkward weighs how a marker would lie on a candidate: a thin target, a neighbour near the tip; and whether its name can be told at all.
func (b Board) awkward(c Candidate) (v float64, err error) {
	if oneOfARow(c.Term) {
		v = 30
	}
	view, err := b.outlineSight(c.Picture, true)
	if Sentence(err) != "" {
		return 1000, nil // cannot be shown at all
	}
	if err != nil {
		return 0, err
	}
	at := slices.IndexFunc(view.labels, func(x annotate.Label) bool { return x.ID == c.Label })
	if at < 0 || view.face.plate.Calibration.Status == photo.Nominal {
		return 0, nil
	}
	near := view.nearness(view.labels[at], tipOf(view.labels[at], view.labels))
	if near.edge < thinTarget {
		v += 20
	}
	if near.covered != "" || near.gap < nearTarget {
		v += 10
	}
	return v, nil
}

// repeats weighs what speaks against a candidate: that students saw its picture before most of all, then what the exam
// has already of its face, system and kind of picture. A picture that still has room for a marker is welcome.
func (c *chooser) repeats(x Candidate) float64 {
	v := 2*float64(c.systems[x.System()]) + float64(c.kinds[x.Picture.Kind])
	if x.Seen() {
		v += 100 + 50*float64(x.Marked)
	}
	if n := c.plates[x.Picture.Plate]; c.p.PerStation > 1 && n%c.p.PerStation != 0 {
		v -= 3
	} else {
		v += 3 * float64(n)
	}
	return v
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
		at := slices.IndexFunc(view.labels, func(x annotate.Label) bool { return x.ID == c.Label })
		if at < 0 || pointed {
			continue
		}
		c.Picture = pic
		t := topic{letter: a.Letter, c: c, s: view, label: view.labels[at], pool: d.pool}
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
