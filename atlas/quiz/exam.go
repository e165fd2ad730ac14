package quiz

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

const (
	markerRadius = 3.3 // mm of paper, the disc with a marker's number
	thinTarget   = 2.0 // mm of face: a marker's tip nearer to the edge than this is noted
	nearTarget   = 3.0 // mm of face: a neighbour's outline nearer to the tip than this is noted
)

// examPage lays out one face with numbered markers, the first of which is first. Markers without room come
// back as left; those set are numbered in s.marks. The picture with its markers is flattened.
func (d desk) examPage(s *sheet, first int, start float64, synthetic bool) (p *page, left []mark) {
	p = d.newPage(s.about(Exam, d.r.View), synthetic)
	body := d.body()
	room := body
	room.H -= 9
	edge := letterRoom + 2*markerRadius + 6
	ratio := s.face.fit(area{room.X + edge, room.Y + letterRoom + 2*markerRadius + 2, room.W - 2*edge, room.H - 2*(letterRoom+2*markerRadius+2)})
	s.clockwise(start)
	var boxes []annotate.NameBox
	for _, m := range s.marks {
		boxes = append(boxes, annotate.NameBox{ID: m.label.ID, W: 2*markerRadius + 0.6, H: 2*markerRadius + 0.6, At: geom.Px(s.face.paper(m.deep))})
	}
	placed, out := annotate.Place(boxes, s.outline(), box(room))
	s.marks, left = s.number(first, out)
	p.flat(room, func(q *page) {
		s.face.put(q)
		for _, x := range placed {
			marker(q, x)
		}
		for _, x := range placed {
			b := x.Box
			q.numbered(spot{(b.Min.X + b.Max.X) / 2, (b.Min.Y + b.Max.Y) / 2}, markerRadius, strconv.Itoa(s.find(x.ID).n))
		}
		s.edgeLetters(q, d.r.View)
	})
	s.scaleBar(p, ratio, spot{body.X, body.bottom() - 1})
	return p, left
}

// number counts the marks that were set, from first on, and parts them from those left out.
func (s *sheet) number(first int, out []string) (set, left []mark) {
	gone := map[string]bool{}
	for _, id := range out {
		gone[id] = true
	}
	for _, m := range s.marks {
		if gone[m.label.ID] {
			left = append(left, m)
			continue
		}
		m.n = first + len(set)
		set = append(set, m)
	}
	return set, left
}

func (s *sheet) find(id string) mark {
	for _, m := range s.marks {
		if m.label.ID == id {
			return m
		}
	}
	return mark{}
}

// marker draws a marker's line with an arrow head whose tip is the place meant.
func marker(p *page, x annotate.Placed) {
	if len(x.Leader) < 2 {
		return
	}
	line := make([]spot, len(x.Leader))
	for i, q := range x.Leader {
		line[i] = spot(q)
	}
	tip, from := line[len(line)-1], line[len(line)-2]
	dx, dy := tip.X-from.X, tip.Y-from.Y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return
	}
	dx, dy = dx/n, dy/n
	head := func(long, half float64) []spot {
		b := spot{tip.X - long*dx, tip.Y - long*dy}
		return []spot{tip, {b.X - half*dy, b.Y + half*dx}, {b.X + half*dy, b.Y - half*dx}}
	}
	p.do(func(b brush) {
		b.line(line, false, 0.95, paperWhite)
		b.line(head(2.6, 1.0), true, 0.6, paperWhite)
		b.line(line[:len(line)-1], false, 0.35, black)
		b.line([]spot{from, {tip.X - 2*dx, tip.Y - 2*dy}}, false, 0.35, black)
		b.fill([][]spot{head(2.6, 1.0)}, black)
	})
}

// look notes what an examiner should look at before using a mark: a thin target, a near neighbour, no second
// signature.
func (s sheet) look(m *mark, others []annotate.Label) {
	if m.label.Signed == nil {
		m.notes = append(m.notes, "not signed by a second person")
	}
	if s.face.plate.Calibration.Status == photo.Nominal {
		return
	}
	x, y := s.face.plate.Calibration.PerPixel(m.deep)
	per := math.Sqrt(x * y)
	edge := 0.0
	for _, r := range m.label.Regions {
		if r.Contains(m.deep) {
			edge = r.EdgeDistance(m.deep) * per
		}
	}
	if edge < thinTarget {
		m.notes = append(m.notes, fmt.Sprintf("thin target: the tip is %.1f mm from the edge", edge))
	}
	for _, o := range others {
		if o.ID == m.label.ID || (o.Term == m.label.Term && o.Side == m.label.Side) {
			continue
		}
		if o.Contains(m.deep) {
			m.notes = append(m.notes, "another outline also covers the tip")
			return
		}
		for _, r := range o.Regions {
			if gap := r.EdgeDistance(m.deep) * per; gap < nearTarget {
				m.notes = append(m.notes, fmt.Sprintf("a neighbour's outline is %.1f mm from the tip", gap))
				return
			}
		}
	}
}

var keyColumns = []column{{"No.", 10}, {"Structure", 56}, {"Latin", 56}, {"Also accepted", 62}, {"Face", 34}, {"Look at", 56}}

// keyPages lays out the answer key of all sheets.
func (d desk) keyPages(sheets []*sheet, synthetic bool) []*page {
	d.r.Kind = Exam
	if d.r.Title == "" {
		d.r.Title = "Exam"
	}
	d.r.Title += ": answer key"
	var rows [][]string
	for _, s := range sheets {
		for _, m := range s.marks {
			latin := m.term.Latin
			if latin == "" {
				latin = "–"
			}
			rows = append(rows, []string{strconv.Itoa(m.n), m.name(English), latin, strings.Join(m.term.Synonyms, "; "),
				capital(s.run.Plane.String()) + ", " + s.face.plate.Face.Name(), strings.Join(m.notes, "; ")})
		}
	}
	return d.tablePages("Answers", "Keep apart from the pictures.", synthetic, keyColumns, rows)
}

// cue is an answer that the words of a page give away, "" when none.
func cue(p *page, marks []mark) string {
	for _, text := range p.words {
		for _, m := range marks {
			for _, name := range append([]string{m.term.Name, m.term.Latin}, m.term.Synonyms...) {
				if name != "" && hasWords(text, name) {
					return name
				}
			}
		}
	}
	return ""
}

// hasWords reports whether name stands in text as whole words, in any case.
func hasWords(text, name string) bool {
	split := func(s string) string {
		return " " + strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" .,;:·()-/", r) }), " ") + " "
	}
	return strings.Contains(split(text), split(name))
}
