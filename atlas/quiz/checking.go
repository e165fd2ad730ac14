package quiz

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/photo"
)

// Fault is a kind of finding.
type Fault string

// The faults. Those marked as stops keep an exam from being released until they are put right.
const (
	Gone      Fault = "gone"      // stop: its face or label is not there any more, or may not be shown
	NotSigned Fault = "notSigned" // stop: the label is not signed, not certain or not checked
	Named     Fault = "named"     // stop: words on the station name the answer
	NoSide    Fault = "noSide"    // stop: a side is asked for that cannot be told from the picture
	NoRoom    Fault = "noRoom"    // stop: no place for the marker where it meets no other
	Outside   Fault = "outside"   // stop: the marker's tip lies outside the part that is shown
	Thin      Fault = "thin"      // the tip is less than 2 mm from the edge
	Near      Fault = "near"      // another outline is less than 3 mm from the tip, or covers it
	Uncertain Fault = "uncertain" // on a scan cut: the expected error reaches the edge, or nobody can tell
	NoScale   Fault = "noScale"   // distances cannot be told
	Numbered  Fault = "numbered"  // which of a row of alike structures it is cannot be told from one picture
	Shown     Fault = "shown"     // another station shows the answer
	SeenSoon  Fault = "seen"      // the picture was released before
	NotLooked Fault = "notLooked" // nobody looked at the finished picture with fresh eyes
)

// Stops reports whether a fault keeps an exam from being released.
func (f Fault) Stops() bool {
	return slices.Contains([]Fault{Gone, NotSigned, Named, NoSide, NoRoom, Outside}, f)
}

// Finding is one thing to look at. Station counts from 1; Letter is "" when it concerns the whole station.
type Finding struct {
	Station int     `json:"station"`
	Letter  string  `json:"letter,omitempty"`
	Fault   Fault   `json:"fault"`
	Words   string  `json:"words"`
	MM      float64 `json:"mm,omitempty"` // of Thin, Near and Uncertain
	Other   int     `json:"other,omitempty"`
}

// Report is what Check found.
type Report struct {
	Findings  []Finding `json:"findings"`
	Blueprint []Cell    `json:"blueprint"` // wanted and actual, line by line; without a blueprint what the exam has
	Gaps      []string  `json:"gaps"`      // the lines that are not met, in words
	Marks     float64   `json:"marks"`
	SeenMarks float64   `json:"seenMarks"` // of marks, those from pictures that were released before
	Warnings  []string  `json:"warnings"`  // about the exam as a whole
}

// Stops are the findings that keep the exam from being released.
func (r Report) Stops() (out []Finding) {
	for _, f := range r.Findings {
		if f.Fault.Stops() {
			out = append(out, f)
		}
	}
	return out
}

// Of are the findings of one station, which counts from 1.
func (r Report) Of(station int) (out []Finding) {
	for _, f := range r.Findings {
		if f.Station == station {
			out = append(out, f)
		}
	}
	return out
}

// Check looks an exam over: every station by itself, the stations against each other, the blueprint, and what was
// released before. It reads no pictures.
func (b Board) Check(ctx context.Context, x Spotter) (Report, error) {
	c := &checker{Board: b, x: x, r: Report{Findings: []Finding{}, Blueprint: []Cell{}, Gaps: []string{}, Warnings: []string{}}}
	var err error
	if c.pool, _, err = b.Pool(x.ID); err != nil {
		return c.r, err
	}
	if c.seen, err = b.released(x.ID); err != nil {
		return c.r, err
	}
	for i, s := range x.Stations {
		if err := ctx.Err(); err != nil {
			return c.r, err
		}
		if err := c.station(i, s); err != nil {
			return c.r, err
		}
	}
	c.cues()
	c.blueprint()
	c.r.Marks = x.Marks()
	if share := c.r.SeenMarks / math.Max(c.r.Marks, 1e-9); share > warnSeen {
		c.r.Warnings = append(c.r.Warnings, fmt.Sprintf("%.0f of %.0f marks (%.0f %%) come from pictures that students saw before; more than 20 %% makes an exam of memory.", c.r.SeenMarks, c.r.Marks, 100*share))
	}
	return c.r, nil
}

type checker struct {
	Board
	x     Spotter
	pool  []Candidate
	seen  record
	r     Report
	asked []askedPlace
}

// askedPlace is one marked place as the checks across stations need it.
type askedPlace struct {
	station int
	ask     Ask
	c       Candidate
	label   annotate.Label
	view    *sight
}

func (c *checker) find(station int, letter string, f Fault, format string, args ...any) *Finding {
	c.r.Findings = append(c.r.Findings, Finding{Station: station + 1, Letter: letter, Fault: f, Words: fmt.Sprintf(format, args...)})
	return &c.r.Findings[len(c.r.Findings)-1]
}

func (c *checker) station(i int, s Station) error {
	view, err := c.outlineSight(s.Picture, c.x.NoTags)
	if reason := Sentence(err); reason != "" {
		c.find(i, "", Gone, "%s", reason)
		return nil
	}
	if err != nil {
		return err
	}
	if err := c.permitted(view); err != "" {
		c.find(i, "", Gone, "%s", err)
	}
	if was := c.seen.of(s.Picture, ""); len(was) > 0 {
		last := was[len(was)-1]
		c.find(i, "", SeenSoon, "This picture left with hand-out %s on %s.", last.Out, last.At.Format("2 January 2006"))
		c.r.SeenMarks += s.Marks()
	}
	for _, a := range s.Asks {
		c.ask(i, s, a, view)
	}
	view.face.fit(pictureRoom.inset(headRoom + 0.6))
	_, left := placeMarkers(view.targets(s), view.face.at)
	for _, letter := range left {
		c.find(i, letter, NoRoom, "There is no place for this marker where it meets no other. Let it come from another side.")
	}
	if s.Look == nil {
		c.find(i, "", NotLooked, "Nobody looked at the finished picture yet.")
	}
	return nil
}

func (c *checker) permitted(view *sight) string {
	return Sentence(view.donor.Agreement.Permits("exam", c.now()))
}

// ask checks one marked place.
func (c *checker) ask(i int, s Station, a Ask, view *sight) {
	original, ok := view.plate.Labels.Find(a.Label)
	if !ok || a.Plate != view.plate.ID {
		c.find(i, a.Letter, Gone, "The label is not on this face any more.")
		return
	}
	term, known := c.Terms.ByID(original.Term)
	if reason := notAsked(original, known); reason != "" {
		c.find(i, a.Letter, NotSigned, "%s: %s.", capital(c.nameOf(original)), reason)
	}
	label, _ := view.label(a.Label)
	place := askedPlace{station: i, ask: a, label: label, view: view, c: view.candidate(s.Picture, label, term)}
	c.asked = append(c.asked, place)
	tip, ok := view.tip(original, label)
	if !ok || !view.face.shows(tip) {
		c.find(i, a.Letter, Outside, "The place to be marked lies outside the part of the picture that is shown.")
		return
	}
	c.distances(i, a, place, tip, view)
	if !c.sideTold(place) && asksSide(a) {
		c.find(i, a.Letter, NoSide, "A side is asked for, but the picture has neither letters nor a structure that lies on one side only.")
	}
	for _, q := range a.Questions {
		if q.About == AboutName && oneOfARow(term) {
			c.find(i, a.Letter, Numbered, "One picture does not tell which of its row %s is: say how it was counted, or ask something else.", c.nameOf(original))
		}
		if q.Form != Pointed && (anyName(q.Text, term) || (q.About != AboutSide && q.About != AboutFacing && saysName(q.Text, q.Answer))) {
			c.find(i, a.Letter, Named, "The question names the answer: %q.", q.Text)
		}
	}
	if anyName(c.x.Title, term) {
		c.find(i, a.Letter, Named, "The title of the exam names the answer: %q.", c.x.Title)
	}
}

// distances finds thin targets, near neighbours and, on a scan cut, an error that reaches the edge.
func (c *checker) distances(i int, a Ask, p askedPlace, tip photoPx, view *sight) {
	if view.face.plate.Calibration.Status == photo.Nominal {
		c.find(i, a.Letter, NoScale, "This face has no scale, so how near the marker is to an edge cannot be told in millimetres.")
		return
	}
	if view.crosses {
		c.find(i, a.Letter, Uncertain, "In this plane no outline says how near the marker is to an edge. Look at the finished picture.")
		return
	}
	near := view.nearness(p.label, tip)
	if near.edge < thinTarget {
		c.find(i, a.Letter, Thin, "Thin target: the tip is %.1f mm from the edge.", near.edge).MM = near.edge
	}
	switch {
	case near.covered != "":
		c.find(i, a.Letter, Near, "The outline of %s also covers the tip.", c.nameOfID(view, near.covered))
	case near.neighbour != "" && near.gap < nearTarget:
		c.find(i, a.Letter, Near, "The outline of %s is %.1f mm from the tip.", c.nameOfID(view, near.neighbour), near.gap).MM = near.gap
	}
	if p.c.Picture.Kind == ScanPicture {
		err := view.plate.Registration.ErrorAt(view.faceMM(view.original(p.label.ID)))
		switch {
		case math.IsNaN(err):
			c.find(i, a.Letter, Uncertain, "How far off the outline lies on the scan cannot be told: the face has too few landmarks.")
		case err > near.edge:
			c.find(i, a.Letter, Uncertain, "On the scan the outline may lie %.1f mm off, and the tip is only %.1f mm from its edge.", err, near.edge).MM = err
		}
	}
}

func (c *checker) nameOfID(view *sight, id string) string {
	x, _ := view.plate.Labels.Find(id)
	return c.nameOf(x)
}

// sideTold reports whether left and right can be told from the picture: by its letters, or by a structure on it that
// usually lies on one side only.
func (c *checker) sideTold(p askedPlace) bool {
	if !p.c.Picture.Bare {
		return true
	}
	for _, x := range p.view.labels {
		if _, one := c.Usual[x.Term]; one && x.ID != p.label.ID && p.view.face.shows(x.Inside()) {
			return true
		}
	}
	return false
}

func asksSide(a Ask) bool {
	return slices.ContainsFunc(a.Questions, func(q Question) bool { return q.About == AboutSide || len(q.Half) > 0 })
}

// anyName reports whether text holds a name of a structure as whole words. Abbreviations count as written.
func anyName(text string, t annotate.Term) bool {
	for _, n := range append([]string{t.Name, t.Latin}, t.Synonyms...) {
		if saysName(text, n) {
			return true
		}
	}
	return slices.ContainsFunc(t.Abbreviations, func(n string) bool { return n != "" && strings.Contains(" "+text+" ", " "+n+" ") })
}

func saysName(text, name string) bool { return len(name) > 2 && hasWords(text, name) }

// cues finds answers that another station gives away: by its words, or by showing the same structure on the same
// picture, or by asking to point at it.
func (c *checker) cues() {
	for _, p := range c.asked {
		for _, o := range c.asked {
			if o.station == p.station && o.ask.Letter == p.ask.Letter {
				continue
			}
			for _, q := range o.ask.Questions {
				if q.About != AboutName && anyName(q.Text, p.c.Term) && !(o.station == p.station && q.Form == Pointed) {
					c.find(p.station, p.ask.Letter, Shown, "Station %d names it: %q.", o.station+1, q.Text).Other = o.station + 1
				}
			}
			same := p.c.Term.ID == o.c.Term.ID && p.c.Side == o.c.Side
			picture := p.c.Picture.Plate == o.c.Picture.Plate && p.c.Picture.Kind == o.c.Picture.Kind
			if same && picture && p.station < o.station {
				c.find(p.station, p.ask.Letter, Shown, "Station %d asks the same structure on the same picture.", o.station+1).Other = o.station + 1
			}
			if picture && o.station != p.station && slices.ContainsFunc(o.ask.Questions, func(q Question) bool { return slices.Contains(q.Options, p.c.Name()) }) {
				c.find(p.station, p.ask.Letter, Shown, "Station %d offers it as a choice on the same picture.", o.station+1).Other = o.station + 1
			}
		}
	}
}

// blueprint counts what the exam has.
func (c *checker) blueprint() {
	if len(c.x.Blueprint) == 0 {
		have := map[Want]int{}
		for _, p := range c.asked {
			have[Want{Region: p.c.Term.Region, System: p.c.System(), Plane: p.c.Plane, Picture: p.c.Picture.Kind}]++
		}
		for _, cell := range Cells(c.pool) {
			cell.Have = have[cell.Want]
			c.r.Blueprint = append(c.r.Blueprint, cell)
		}
		return
	}
	cells := make([]Cell, len(c.x.Blueprint))
	for i, w := range c.x.Blueprint {
		cells[i].Want = w
		for _, x := range c.pool {
			if w.fits(x) {
				cells[i].Can++
			}
		}
	}
	for _, p := range c.asked { // each place counts for one line: a fitting one that is still short, the narrowest first
		for _, w := range narrowFirst(c.x.Blueprint) {
			i := slices.Index(c.x.Blueprint, w)
			if w.fits(p.c) && cells[i].Have < w.Count {
				cells[i].Have++
				break
			}
		}
	}
	for _, cell := range cells {
		if cell.Gap() > 0 {
			c.r.Gaps = append(c.r.Gaps, fmt.Sprintf("%s: %d wanted, %d in the exam, %d labels to choose from.", capital(cell.Words()), cell.Count, cell.Have, cell.Can))
		}
	}
	c.r.Blueprint = cells
}
