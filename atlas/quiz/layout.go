package quiz

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// mark is one label on its way to a page.
type mark struct {
	label annotate.Label
	term  annotate.Term
	n     int     // the number on the page, 0 until given
	deep  geom.Px // the deepest place inside the outline
	notes []string
}

// sheet is one face of a hand-out with all that goes onto its page.
type sheet struct {
	face  *faceView
	run   section.Run
	marks []mark
}

// desk is what all pages of a hand-out share.
type desk struct {
	r     Request
	code  string
	sheet area // the paper
}

const (
	margin     = 11.0 // mm of paper left free at the edges
	headHeight = 19.0
	footHeight = 13.0
	letterRoom = 7.0  // round a picture, for the edge letters
	nameSize   = 8.5  // points
	leaderLine = 0.22 // mm
)

func newDesk(r Request, code string) desk {
	d := desk{r: r, code: code, sheet: area{0, 0, 297, 210}}
	if r.Paper == Letter {
		d.sheet = area{0, 0, 279.4, 215.9}
	}
	return d
}

// body is the part of the paper between head and foot.
func (d desk) body() area {
	return area{margin, margin + headHeight, d.sheet.W - 2*margin, d.sheet.H - 2*margin - headHeight - footHeight}
}

// newPage begins a page with head and foot. about is the line under the title.
func (d desk) newPage(about string, synthetic bool) *page {
	p := &page{W: d.sheet.W, H: d.sheet.H}
	right := d.sheet.W - margin
	title := d.r.Title
	if title == "" {
		title = map[Kind]string{Study: "Study picture", Exam: "Exam picture"}[d.r.Kind]
	}
	label := "Hand-out " + d.code
	p.textRight(spot{right, margin + 5.5}, regular, 9, grey, label)
	free := right - margin - width(regular, 9, label) - 8
	if synthetic {
		p.textRight(spot{right - width(regular, 9, label) - 6, margin + 5.5}, bold, 9.5, black, Practice)
		free -= width(bold, 9.5, Practice) + 6
	}
	p.textWithin(spot{margin, margin + 6}, free, bold, 15, black, title)
	p.textWithin(spot{margin, margin + 12.5}, right-margin, regular, 9.5, grey, about)
	p.line(spot{margin, margin + 16}, spot{right, margin + 16}, 0.25, pale)
	foot := d.sheet.H - margin - footHeight
	p.line(spot{margin, foot + 4}, spot{right, foot + 4}, 0.25, pale)
	respect := d.r.Respect
	if respect == "" {
		respect = Respect
	}
	p.text(spot{margin, foot + 9}, bold, 9, black, NotForDiagnosis)
	p.textWithin(spot{margin, foot + 13.2}, right-margin, italic, 8, grey, respect)
	return p
}

// numberPages writes "page 1 of 3" on all pages.
func numberPages(pages []*page) {
	for i, p := range pages {
		p.textRight(spot{p.W - margin, p.H - margin - footHeight + 9}, regular, 8, grey, fmt.Sprintf("page %d of %d", i+1, len(pages)))
	}
}

// about says which cut a picture shows and how it is turned. An exam picture does not say where it was cut.
func (s sheet) about(k Kind, v section.View) string {
	f := s.face.plate.Face
	parts := []string{capital(s.run.Plane.String()) + " plane"}
	if k == Study {
		parts[0] = capital(strings.TrimSpace(s.run.PartWords()+", ")) + " " + s.run.Plane.String() + " plane"
		if s.run.Part == "" {
			parts[0] = capital(s.run.Plane.String()) + " plane"
		}
		parts = append(parts, s.run.Name(f))
		if depth, se, err := s.run.Depth(f); err == nil {
			parts = append(parts, fmt.Sprintf("level %.1f mm from the datum (± %.1f)", depth, se))
		}
	}
	parts = append(parts, viewWords(s.run, f, v, s.face.mirrored))
	if s.face.corrected() {
		parts = append(parts, Corrected)
	}
	return strings.Join(parts, "  ·  ")
}

// viewWords says how the picture is turned, in the words of the Pairing band.
func viewWords(run section.Run, f section.Face, v section.View, mirrored bool) string {
	name := map[section.View]string{section.Bench: "bench view", section.Scan: "scan view", section.OtherSide: "other-side view"}[v]
	if mirrored {
		return name + ", mirrored against the bench"
	}
	return name + ", " + run.SeenFrom(f.Facing) + ", not mirrored"
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 || r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// edgeLetters puts the letters round the picture, in the middle of its four sides; those at the sides make way
// for leaders that would run through them.
func (s sheet) edgeLetters(p *page, v section.View, placed []annotate.Placed) {
	e, a := s.face.plate.Edges(v), s.face.at
	for _, x := range []struct {
		letter string
		at     spot
	}{
		{e.Up, spot{a.middle().X, a.Y - letterRoom/2}}, {e.Down, spot{a.middle().X, a.bottom() + letterRoom/2}},
		{e.Left, spot{a.X - letterRoom/2, clearHeight(a, placed, a.X)}},
		{e.Right, spot{a.right() + letterRoom/2, clearHeight(a, placed, a.right())}},
	} {
		p.do(func(b brush) { b.disc(x.at, 2.9, paperWhite) }) // where there is no way, leaders pass behind
		p.textMiddle(spot{x.at.X, x.at.Y + 1.75}, bold, 13.5, black, x.letter)
	}
}

// clearHeight is the height nearest the middle of a at which no leader crosses the upright line at x.
func clearHeight(a area, placed []annotate.Placed, x float64) float64 {
	const need = 3.2
	var taken []float64
	for _, l := range placed {
		for i := 1; i < len(l.Leader); i++ {
			if q, r := l.Leader[i-1], l.Leader[i]; (q.X-x)*(r.X-x) <= 0 && q.X != r.X {
				taken = append(taken, q.Y+(x-q.X)/(r.X-q.X)*(r.Y-q.Y))
			}
		}
	}
	for off := 0.0; off < 0.35*a.H; off += 0.5 {
	sides:
		for _, y := range []float64{a.middle().Y - off, a.middle().Y + off} {
			for _, t := range taken {
				if math.Abs(t-y) < need {
					continue sides
				}
			}
			return y
		}
	}
	return a.middle().Y
}

// barLengths are what a scale bar may stand for, mm of face.
var barLengths = []float64{200, 100, 50, 20, 10, 5, 2, 1, 0.5}

// scaleBar draws a bar of a round length and says how large the face is shown.
func (s sheet) scaleBar(p *page, ratio float64, at spot) {
	if !s.face.scaled {
		p.text(at, regular, 8, grey, "No scale on this picture.")
		return
	}
	length := barLengths[len(barLengths)-1]
	for _, l := range barLengths {
		if l*s.face.per <= math.Max(s.face.at.W/3, 10) {
			length = l
			break
		}
	}
	end := spot{at.X + length*s.face.per, at.Y}
	for i := range 5 { // black and white by turns, so that it reads on any print
		a := area{at.X + float64(i)*length*s.face.per/5, at.Y - 1.3, length * s.face.per / 5, 1.3}
		if i%2 == 0 {
			p.do(func(b brush) { b.fill([][]spot{a.corners()}, black) })
		}
	}
	bar := area{at.X, at.Y - 1.3, end.X - at.X, 1.3}
	p.do(func(b brush) { b.line(bar.corners(), true, 0.2, black) })
	words := fmt.Sprintf("%g mm", length)
	p.text(spot{end.X + 1.5, at.Y}, bold, 8, black, words)
	p.text(spot{end.X + 3 + width(bold, 8, words), at.Y}, regular, 8, grey, sizeWords(ratio))
}

// sizeWords says how large a face is on paper.
func sizeWords(ratio float64) string {
	if ratio == 1 {
		return "true size when printed without fitting to the page"
	}
	return fmt.Sprintf("1 mm on paper is %g mm on the face, when printed without fitting to the page", ratio)
}

// name is how a structure is called in a language, with its side.
func (m mark) name(l Language) string {
	n := m.term.Name
	if l == Latin && m.term.Latin != "" {
		n = m.term.Latin
	}
	if side := m.label.Side; side == annotate.Left || side == annotate.Right {
		if l == Latin {
			return n + " (" + side.String() + ")"
		}
		return side.String() + " " + n
	}
	return n
}

// fullName is the name on a study picture, with the author's doubt.
func (m mark) fullName(l Language) string {
	if m.label.Sure == annotate.Probable {
		return m.name(l) + " (probable)"
	}
	return m.name(l)
}

func (r Request) languages() []Language {
	if len(r.Languages) == 0 {
		return []Language{English}
	}
	return r.Languages
}

// number counts the marks that were set from first on, as one reads the page: down one column, then down the
// other, the right one first if swap is set. It parts them from those without room.
func (s *sheet) number(placed []annotate.Placed, first int, swap bool) (left []mark) {
	at := map[string]geom.Px{}
	for _, x := range placed {
		at[x.ID] = geom.Px{X: (x.Box.Min.X + x.Box.Max.X) / 2, Y: (x.Box.Min.Y + x.Box.Max.Y) / 2}
	}
	var set []mark
	for _, m := range s.marks {
		if _, ok := at[m.label.ID]; ok {
			set = append(set, m)
		} else {
			left = append(left, m)
		}
	}
	column := func(m mark) bool { return (at[m.label.ID].X > s.face.at.middle().X) != swap }
	sort.SliceStable(set, func(i, j int) bool {
		if a, b := column(set[i]), column(set[j]); a != b {
			return b
		}
		return at[set[i].label.ID].Y < at[set[j].label.ID].Y
	})
	for i := range set {
		set[i].n = first + i
	}
	s.marks = set
	return left
}

func (s *sheet) find(id string) mark {
	for _, m := range s.marks {
		if m.label.ID == id {
			return m
		}
	}
	return mark{}
}

// practiceMaterial reports whether the face must say that it is synthetic.
func (s sheet) practiceMaterial(donors map[string]atlas.Donor) bool {
	return s.face.plate.Synthetic || donors[s.face.plate.Donor].Synthetic
}
