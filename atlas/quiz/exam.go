package quiz

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

const (
	markerRadius = 3.3 // mm of paper, the disc with a marker's number
	thinTarget   = 2.0 // mm of face: a marker's tip nearer to the edge than this is noted
	nearTarget   = 3.0 // mm of face: a neighbour's outline nearer to the tip than this is noted
)

// examPage lays out one face with numbered markers, the first of which is first; swap begins with those at the
// right. Markers without room come back as left. The picture with its markers is flattened.
func (d desk) examPage(s *sheet, first int, swap, synthetic bool) (p *page, left []mark) {
	p = d.newPage(s.about(Exam, d.r.View), synthetic)
	body := d.body()
	room := body
	room.H -= 9
	const disc = 2*markerRadius + 0.6
	ratio := s.face.fit(inner(room, disc, disc))
	boxes := make([]annotate.NameBox, len(s.marks))
	for i, m := range s.marks {
		boxes[i] = annotate.NameBox{ID: m.label.ID, W: disc, H: disc, At: geom.Px(s.face.paper(m.deep))}
	}
	placed, _ := annotate.Place(boxes, s.outline(), box(room))
	partLeaders(placed)
	left = s.number(placed, first, swap)
	p.flat(room, func(q *page) {
		s.face.put(q)
		for _, x := range placed {
			marker(q, x)
		}
		for _, x := range placed {
			b := x.Box
			q.numbered(spot{(b.Min.X + b.Max.X) / 2, (b.Min.Y + b.Max.Y) / 2}, markerRadius, strconv.Itoa(s.find(x.ID).n))
		}
		s.edgeLetters(q, d.r.View, placed)
	})
	s.scaleBar(p, ratio, spot{body.X, body.bottom() - 1})
	return p, left
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

// look notes what an examiner should look at before using a mark: a thin target, a near neighbour.
func (s sheet) look(m *mark, others []annotate.Label) {
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
		return // its neighbours are then near of course
	}
	for _, o := range others {
		if o.ID == m.label.ID || (o.Term == m.label.Term && o.Side == m.label.Side) {
			continue
		}
		if o.Contains(m.deep) && o.AreaPx() < m.label.AreaPx() { // the smaller of two is what is meant
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

var keyColumns = []column{{"No.", 10}, {"Structure", 56}, {"Latin", 56}, {"Also accepted", 62}, {"Face", 36}, {"Look at", 54}}

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
				s.run.Name(s.face.plate.Face), strings.Join(m.notes, "; ")})
		}
	}
	return d.tablePages("Answers", unsignedNote(sheets), "Keep apart from the pictures.", synthetic, keyColumns, rows)
}

// unsignedNote says how many labels of an exam nobody but their author has checked, "" when none.
func unsignedNote(sheets []*sheet) string {
	n, all := 0, 0
	for _, s := range sheets {
		for _, m := range s.marks {
			if all++; m.label.Signed == nil {
				n++
			}
		}
	}
	switch {
	case n == 0:
		return ""
	case n == all:
		return "No label here is signed by a second person."
	}
	return fmt.Sprintf("%d of %d labels are not signed by a second person.", n, all)
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
		return " " + strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ") + " "
	}
	return strings.Contains(split(text), split(name))
}
